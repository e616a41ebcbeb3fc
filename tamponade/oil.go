package tamponade

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/fault"
)

// Oil is a kind of silicone oil, lighter or heavier than water.
type Oil int

// The oils, by nominal viscosity in mm²/s.
const (
	OilUnknown Oil = iota
	Oil1000
	Oil1300
	Oil5000
	HeavyOil // 5000 oil with perfluorohexyloctane; sinks
)

// OilProperties are the physical properties of one oil; NaN where none is known.
type OilProperties struct {
	Oil             Oil
	Name            string
	DensityGPerML   float64
	RefractiveIndex float64
	// SoundSpeed is in m/s; 1532 in vitreous.
	SoundSpeed Span
	// InterfacialMNPerM is the tension to water; serum proteins lower it.
	InterfacialMNPerM float64
	Source            string
}

// Physical constants of fluid and oil.
const (
	// OilRefractiveIndex is that of silicone oil (polydimethylsiloxane); 1.404
	// in the book of Lucke and Laqua 1990, doi 10.1007/978-3-642-84266-5_2
	// (abstract), 1.4034 to 1.404 in lens sums (from memory).
	OilRefractiveIndex = 1.4034
	// VitreousRefractiveIndex is also taken for aqueous humour (from memory).
	VitreousRefractiveIndex = 1.336
	// VitreousSoundSpeed in m/s (from memory).
	VitreousSoundSpeed = 1532.0
)

// Properties returns what is known of an oil; Unsupported when none is named.
func (o Oil) Properties() (OilProperties, error) {
	const book = "Lucke and Laqua 1990, doi 10.1007/978-3-642-84266-5_2 (abstract); sound speed from memory"
	switch o {
	case Oil1000:
		return OilProperties{o, "silicone oil 1000", 0.97, 1.404, Span{980, 980}, 40, book}, nil
	case Oil1300:
		return OilProperties{o, "silicone oil 1300", 0.97, 1.404, Span{980, 1040}, 40, book + ", that of 1300 taken between its neighbours"}, nil
	case Oil5000:
		return OilProperties{o, "silicone oil 5000", 0.97, 1.404, Span{1040, 1040}, 40, book}, nil
	case HeavyOil:
		return OilProperties{o, "heavy silicone oil", 1.06, nan, Span{nan, nan}, nan, "Optom Vis Sci 2011;88:772, doi 10.1097/OPX.0b013e318216d345 (abstract)"}, nil
	}
	return OilProperties{}, &fault.Error{Code: fault.Unsupported, Where: "oil", What: "no oil is named", Expected: "1000, 1300, 5000 or heavy"}
}

// OilFill is an injected volume against the cavity.
type OilFill struct {
	// FillPercent is injected over cavity; above 100 is overfill.
	FillPercent estimate.Estimate
	// UnderfillPercent is 100 less the fill; negative when overfilled.
	UnderfillPercent estimate.Estimate
	Warnings         []Warning
}

// AssessOilFill compares an injected volume in millilitres with the estimate of
// the cavity. The cavity is an estimate, so an underfill is a question to be
// answered by looking, not a finding.
func AssessOilFill(injectedML float64, cavityML estimate.Estimate) (OilFill, error) {
	if !(injectedML >= 0 && injectedML <= 30) {
		return OilFill{}, &fault.Error{Code: fault.Invalid, Where: "injected oil", What: fmt.Sprintf("%g mL cannot be", injectedML), Expected: "0 to 30 mL"}
	}
	for _, v := range []float64{cavityML.Low, cavityML.Value, cavityML.High} {
		if err := checkCavity(v); err != nil {
			return OilFill{}, err
		}
	}
	basis := "injected volume over the estimate of the cavity; interval from the cavity alone"
	fill := estimate.Estimate{Value: 100 * injectedML / cavityML.Value, Low: 100 * injectedML / cavityML.High, High: 100 * injectedML / cavityML.Low, Basis: basis}
	out := OilFill{
		FillPercent:      fill,
		UnderfillPercent: estimate.Estimate{Value: 100 - fill.Value, Low: 100 - fill.High, High: 100 - fill.Low, Basis: basis},
	}
	add := func(code, text, source string) { out.Warnings = append(out.Warnings, Warning{code, text, source}) }
	switch {
	case fill.Value < 95:
		sure := "the cavity's interval does not exclude a full eye"
		if fill.High < 100 {
			sure = "even the smallest cavity of the interval would not be full"
		}
		add("underfill", fmt.Sprintf("By the estimate %.0f %% of the cavity holds no oil (%s). Looked for hidden air behind the lens or under the rim? Fluid takes its place later and the lower retina is bare.", out.UnderfillPercent.Value, sure),
			"Wang et al., Asia-Pac J Ophthalmol 2021;10:564 (full text, part); a journal's practice note")
	case fill.Value > 100:
		sure := "the cavity's interval does not exclude a fitting fill"
		if fill.Low > 100 {
			sure = "more than the largest cavity of the interval"
		}
		add("overfill", fmt.Sprintf("By the estimate %.0f %% more oil than cavity (%s). Pressure now and on day 1; oil in front of the lens?", fill.Value-100, sure), "common practice, no source")
	}
	add("contact", "80 to 90 % oil touches 55 to 78 % of the retina; the lower retina is poorly covered even at 90 %.", "Rossi et al., Transl Vis Sci Technol 2021;10(8):22, doi 10.1167/tvst.10.8.22 (abstract)")
	return out, nil
}

// IridectomyStatus says what was seen of the iridectomy in an eye without a lens.
type IridectomyStatus int

// What was seen of the iridectomy. NotTold is asked for, never assumed.
const (
	IridectomyNotTold IridectomyStatus = iota
	IridectomyOpen
	IridectomyClosed
	NoIridectomy
)

// AphakicWarnings are the prompts for an eye without a lens that holds oil or
// gas. Open tasks end in a question mark.
func AphakicWarnings(oil bool, iridectomy IridectomyStatus) []Warning {
	interval, _ := exactInterval(13, 13)
	if !oil {
		return []Warning{
			{"no_sphere", "No lens: gas passes forward, the space is no sphere. Height of the meniscus, fill and coverage are not predicted.", "geometry; common practice, no source"},
			{"no_supine", "Never on the back: gas lies on the cornea and closes the angle.", "common practice, no source"},
			{"iridectomy", iridectomyQuestion(iridectomy), "common practice, no source"},
			{"pressure_task", "Pressure this evening and on day 1, with who measures it?", "common practice, no source"},
		}
	}
	return []Warning{
		{"iridectomy", iridectomyQuestion(iridectomy), "Eye 1990;4:226 (abstract)"},
		{
			"pupil_block", fmt.Sprintf("Without an open iridectomy below, aqueous pushes the oil forward. All 13 aphakic oil eyes of one series had high pressure (13 of 13; exact 95 %% interval %.0f to 100 %%).", 100*interval.Low),
			"ultrasound biomicroscopy study, PMID 12172111 (abstract)",
		},
		{"day_1", "Day 1: pressure, depth of the front chamber, oil in front of the iris, iridectomy open?", "common practice, no source"},
	}
}

func iridectomyQuestion(s IridectomyStatus) string {
	switch s {
	case IridectomyOpen:
		return "Iridectomy seen open. Look again at every visit: it closes."
	case IridectomyClosed:
		return "Iridectomy closed: the oil or gas can block the pupil. Open it; face down until then."
	case NoIridectomy:
		return "No iridectomy in an eye without a lens: below (6 o'clock) for light oil and gas, above for heavy oil?"
	}
	return "Iridectomy: open, closed, or none?"
}

// PressureReading is one reading in an eye under oil.
type PressureReading struct {
	Day          float64 // since the oil went in
	PressureMMHg float64
}

// PressureMonths is the area under the readings above a threshold, in mmHg ×
// months of 30.44 days, by the trapezoid rule between readings; a stretch that
// crosses the threshold counts from where it crosses. Days must rise. Lost
// sight on oil removal without a cause went with a higher pressure under oil
// (19.6 against 14 mmHg; Int J Retina Vitreous 2017;3, s40942-017-0079-6,
// abstract); the sum itself is ours and unproven.
func PressureMonths(readings []PressureReading, thresholdMMHg float64) (float64, error) {
	const daysPerMonth = 30.44
	sum := 0.0
	for i, r := range readings {
		if !(r.PressureMMHg >= 0 && r.PressureMMHg <= 100 && r.Day >= 0) || math.IsInf(r.Day, 0) || i > 0 && !(r.Day > readings[i-1].Day) {
			return 0, &fault.Error{Code: fault.Invalid, Where: "pressure reading", What: fmt.Sprintf("number %d, %g mmHg on day %g", i+1, r.PressureMMHg, r.Day), Expected: "0 to 100 mmHg on days that rise"}
		}
		if i == 0 {
			continue
		}
		a, b := readings[i-1].PressureMMHg-thresholdMMHg, r.PressureMMHg-thresholdMMHg
		days := r.Day - readings[i-1].Day
		switch {
		case a >= 0 && b >= 0:
			sum += days * (a + b) / 2
		case a > 0 || b > 0:
			above := math.Max(a, b)
			sum += days * above / (math.Abs(a) + math.Abs(b)) * above / 2
		}
	}
	return sum / daysPerMonth, nil
}
