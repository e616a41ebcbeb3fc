package record

import (
	"fmt"
	"strings"
)

// oldestYears is above the oldest age ever proved, 122 (from memory); oddYears is
// an age at which an entry is more often wrong than right (ours, no source).
const (
	oldestYears = 122
	oddYears    = 110
)

// AgeYears returns the age in whole years on a day, as the least and the greatest
// it can be where dates are known in part; ok is false when it cannot be told or
// the day lies before birth.
func AgeYears(birth, on Date) (least, most int, ok bool) {
	if !birth.Known() || !on.Known() || birth.Relative || on.Relative {
		return 0, 0, false
	}
	earliest, latest := birth.ends()
	from, to := on.ends()
	least, most = wholeYears(latest, from), wholeYears(earliest, to)
	if most < 0 {
		return 0, 0, false
	}
	return max(least, 0), most, true
}

// ends returns the first and last day that a known calendar date may be.
func (d Date) ends() (first, last Date) {
	first, last = d, d
	if d.Month == 0 {
		first.Month, last.Month = 1, 12
	}
	if d.Day == 0 {
		first.Day, last.Day = 1, DaysIn(last.Year, last.Month)
	}
	return first, last
}

func wholeYears(birth, on Date) int {
	years := on.Year - birth.Year
	if on.Month < birth.Month || on.Month == birth.Month && on.Day < birth.Day {
		years--
	}
	return years
}

// CheckAge looks at an age in years as it stands in a list, where no birth date
// is given.
func CheckAge(years float64) []Finding {
	var c checker
	switch {
	case !(years >= 0 && years <= oldestYears):
		c.add(CodeImpossibleNumber, "age", fmt.Sprintf("%g years", years), "keep the text, leave the age unknown")
	case years < 1 || years > oddYears:
		c.add(CodeAgeOdd, "age", fmt.Sprintf("%g years: often written when the age is not known", years), "ask for the birth date")
	}
	return c.findings
}

func (c *checker) person(p *Person) {
	c.need(p.PatientID, "patient_id", "patient")
	named := false
	for _, n := range p.Names {
		named = named || strings.TrimSpace(n.Text+n.Family+n.Given) != ""
	}
	if !named && p.UnitNumber == "" && len(p.Identifiers) == 0 {
		c.add(CodeReference, "names", "neither a name nor a number tells who it is", "")
	}
	c.notInFuture(p.BirthDate, "birth_date")
	c.notInFuture(p.DiedOn, "died_on")
	if p.DiedOn.CertainlyBefore(p.BirthDate) {
		c.add(CodeOrder, "died_on", fmt.Sprintf("died %s, born %s", p.DiedOn, p.BirthDate), "")
	}
	end := c.today
	if p.DiedOn.Known() {
		end = p.DiedOn
	}
	if least, most, ok := AgeYears(p.BirthDate, end); ok && !p.BirthDate.Relative {
		switch {
		case least > oldestYears:
			c.add(CodeDateImpossible, "birth_date", fmt.Sprintf("an age of %d years", least), "keep the text, leave the date unknown")
		case least > oddYears || most < 1:
			c.add(CodeAgeOdd, "birth_date", fmt.Sprintf("an age of %d to %d years", least, most), "a birth date of today or of long ago often means that it is not known")
		}
	}
	c.within(p.DistanceKm, 0, 20_040, "distance_km", "km") // half the Earth's girth
	// From the Dead Sea to above the highest towns.
	c.within(p.HomeAltitudeM, -430, 6000, "home_altitude_m", "m")
	c.within(p.RouteAltitudeM, -430, 6000, "route_altitude_m", "m")
	if p.HomeAltitudeM != nil && p.RouteAltitudeM != nil && *p.RouteAltitudeM < *p.HomeAltitudeM {
		c.add(CodeImpossibleNumber, "route_altitude_m", fmt.Sprintf("the highest point of the way, %g m, lies below home, %g m", *p.RouteAltitudeM, *p.HomeAltitudeM), "")
	}
}

func (c *checker) patient(p *Patient, around Around) {
	if p.BirthYear != 0 {
		c.checkDate(Date{Year: p.BirthYear}, "birth_year")
		c.notInFuture(Date{Year: p.BirthYear}, "birth_year")
		if b := around.BirthDate; b.Known() && !b.Relative && b.Year != p.BirthYear {
			c.add(CodeBirthYear, "birth_year", fmt.Sprintf("%d, but the person was born in %d", p.BirthYear, b.Year), "")
		}
	}
	if p.NoAllergies && len(p.Allergies) > 0 {
		c.add(CodeContradiction, "allergies", "\"asked, none\" and a list", "take one away")
	}
	c.medication(p.Medication, "medication")
}

func (c *checker) medication(all []Medication, where string) {
	for i, m := range all {
		if m.Until.CertainlyBefore(m.From) {
			c.add(CodeOrder, fmt.Sprintf("%s[%d].until", where, i), fmt.Sprintf("until %s, from %s", m.Until, m.From), "")
		}
	}
}

func (c *checker) merge(m *Merge) {
	switch {
	case m.Undoes != "" && (m.Survivor != "" || m.Absorbed != ""):
		c.add(CodeContradiction, "undoes", "a merge and the undoing of one in the same record", "make two records")
	case m.Undoes == "":
		c.need(m.Survivor, "survivor", "person")
		c.need(m.Absorbed, "absorbed", "person")
		if m.Survivor != "" && m.Survivor == m.Absorbed {
			c.add(CodeContradiction, "absorbed", "a person cannot be merged with itself", "")
		}
	}
	if strings.TrimSpace(string(m.Reason)) == "" || m.By.AccountID == "" || m.At.IsZero() {
		c.add(CodeReference, "reason", "who, when or why is not told", "a merge is decided by a person with a reason")
	}
}
