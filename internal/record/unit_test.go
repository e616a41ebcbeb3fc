package record

import (
	"slices"
	"strings"
	"testing"
)

// TestUnitIsOneWithNumbersThatCanBeCalled: what a patient would call in vain, or what
// no card can take, is a stop; what is not told stays empty.
func TestUnitIsOneWithNumbersThatCanBeCalled(t *testing.T) {
	whole := Unit{Base: Base{ID: UnitID}, Name: "Eye Clinic Northgate", DayPhone: "01632 960 123", NightPhone: "+44 1632 960124, ask for the eye ward", Paper: PaperLetter}
	for name, c := range map[string]struct {
		change func(*Unit)
		stops  []string // where
	}{
		"whole":               {func(*Unit) {}, nil},
		"nothing told":        {func(u *Unit) { *u = Unit{Base: u.Base} }, nil},
		"three digits":        {func(u *Unit) { u.NightPhone = "112" }, nil},
		"other digits":        {func(u *Unit) { u.DayPhone = "٠١٦٣٢ ٩٦٠" }, nil},
		"name in Devanagari":  {func(u *Unit) { u.Name = "नेत्र चिकित्सालय" }, nil},
		"a second unit":       {func(u *Unit) { u.ID = testID }, []string{"id"}},
		"no number":           {func(u *Unit) { u.DayPhone = "ask at the desk" }, []string{"day_phone"}},
		"two digits":          {func(u *Unit) { u.NightPhone = "12" }, []string{"night_phone"}},
		"two lines":           {func(u *Unit) { u.Name = "Eye\nClinic" }, []string{"name"}},
		"space before":        {func(u *Unit) { u.DayPhone = " 01632 960123" }, []string{"day_phone"}},
		"too long for a card": {func(u *Unit) { u.Name = strings.Repeat("x", MostUnitName+1) }, []string{"name"}},
		"no such paper":       {func(u *Unit) { u.Paper = "A5" }, []string{"paper"}},
	} {
		u := whole
		c.change(&u)
		var stops []string
		for _, f := range Check(&u, Around{Today: testToday}) {
			if f.Severity == Stop {
				stops = append(stops, f.Where)
			}
		}
		if !slices.Equal(stops, c.stops) {
			t.Errorf("%s: stops at %v, want %v", name, stops, c.stops)
		}
	}
	made, err := New(KindUnit)
	if err != nil || made.Links().PatientID != "" || !slices.ContainsFunc(Kinds(), func(k KindInfo) bool { return k.Kind == KindUnit && k.Identifying }) {
		t.Errorf("%v %v", made, err)
	}
}
