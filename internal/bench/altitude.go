package bench

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"limitans/estimate"
	"limitans/eye"
	"limitans/fault"
	"limitans/internal/caution"
	"limitans/tamponade"
)

// Altitude estimates what a journey does to an eye with gas in it. It
// never permits one.
type Altitude struct {
	Gas         string   `required:"" placeholder:"GAS" offer:"air,sf6,c2f6,c3f8" help:"Gas in the eye: air, sf6, c2f6 or c3f8."`
	Fill        string   `required:"" placeholder:"SHARE" label:"Fill now" help:"Share of the cavity that the gas takes up: 50, 50% or 0.5."`
	AxialLength *float64 `placeholder:"MM" help:"Axial length, mm. Without it the cavity is that of 24 mm, with the band of 20 to 30 mm."`

	LivingM  *float64 `name:"living-m" placeholder:"M" label:"Lives at" help:"Height where the patient has been living for the last day, metres."`
	LivingFt *float64 `name:"living-ft" placeholder:"FT" label:"Lives at" help:"The same in feet."`
	ToM      *float64 `name:"to-m" placeholder:"M" label:"Highest place" help:"Highest place of the journey, metres."`
	ToFt     *float64 `name:"to-ft" placeholder:"FT" label:"Highest place" help:"The same in feet."`
	Minutes  float64  `default:"0" placeholder:"MINUTES" label:"Climb takes" help:"Minutes of the climb. Default: 0, the worst that can be."`
	Stay     float64  `name:"stay-minutes" default:"0" placeholder:"MINUTES" label:"Stay at the top" help:"Minutes at the top. Default: 0."`
	Flight   bool     `label:"By aeroplane" help:"A flight: cabin air at 8000 ft."`
	Cruise   float64  `name:"cruise-minutes" default:"120" placeholder:"MINUTES" label:"Flight at height" help:"Minutes of the flight at that height. Default: 120."`
	Route    *string  `placeholder:"MINUTE:METRES,..." help:"Places on the way, for example 0:100,60:1500,180:1500; the first is where the patient has been living."`

	PressureMMHg *float64 `name:"pressure-mmhg" placeholder:"MMHG" label:"Pressure before" help:"Pressure in the eye before the journey. Default: 15."`
	Days         *float64 `placeholder:"DAYS" label:"Since surgery" help:"Days since the gas went in."`
	Glaucoma     bool     `help:"Glaucoma, drops for it, or another outflow resistance."`
	Buckle       bool     `label:"A buckle is on the eye" help:"A buckle is on the eye."`
	Symptoms     bool     `help:"Pain, dim sight, or a bubble that the patient sees."`
}

// Help is printed below the flags.
func (Altitude) Help() string {
	return "An estimate to warn with, never a permission: the answer is \"" + tamponade.NotUntilSeenEmpty + "\" whatever the numbers say."
}

// Answer estimates.
func (c Altitude) Answer() (Answer, error) {
	d := altitudeAnswer{asked: c}
	if err := d.read(); err != nil {
		return Answer{}, err
	}
	var err error
	if d.estimate, err = tamponade.EstimateTravel(d.travel); err != nil {
		return Answer{}, altitudeFlag(err)
	}
	if d.nitrous, err = tamponade.AnswerNitrousOxide(d.travel.Agent, d.travel.DaysSinceSurgery); err != nil {
		return Answer{}, err
	}
	return Answer{Sheet: d.sheet(), Document: d.document()}, nil
}

// altitudeAnswer is the question, the answer and what was assumed.
type altitudeAnswer struct {
	asked    Altitude
	fill     tamponade.PercentReading
	travel   tamponade.Travel
	estimate tamponade.TravelEstimate
	nitrous  tamponade.NitrousOxideAnswer
	assumed  []string
}

// read turns the flags into the question.
func (d *altitudeAnswer) read() error {
	c := d.asked
	agent, err := tamponade.ParseAgent(c.Gas)
	if err != nil {
		return wrongAt(err, "--gas")
	}
	if d.fill, err = tamponade.ParsePercent(c.Fill); err != nil {
		return wrongAt(err, "--fill")
	}
	cavity := estimate.Estimate{}
	if c.AxialLength != nil {
		if cavity, err = eye.CavityVolumeML(*c.AxialLength); err != nil {
			return atFlag(err, "--axial-length")
		}
	} else if cavity, err = anyCavity(); err != nil {
		return err
	} else {
		d.assumed = append(d.assumed, "The axial length is not told: the cavity is that of 24 mm, its interval that of 20 to 30 mm.")
	}
	d.travel = tamponade.Travel{
		Agent: agent, Symptoms: c.Symptoms, DaysSinceSurgery: math.NaN(),
		Eye: tamponade.AltitudeEye{CavityML: cavity, Fill: d.fill.Percent, BaselineMMHg: 15, Glaucoma: c.Glaucoma, Buckle: c.Buckle},
	}
	if c.Days != nil {
		d.travel.DaysSinceSurgery = *c.Days
		if math.IsNaN(*c.Days) {
			return &fault.Error{Code: fault.Invalid, Where: "--days", What: "is no number", Expected: "0 or more"}
		}
	}
	if c.PressureMMHg != nil {
		d.travel.Eye.BaselineMMHg = *c.PressureMMHg
	} else {
		d.assumed = append(d.assumed, "The pressure before the journey is not told: taken as 15 mmHg.")
	}
	d.travel.Journey, err = c.journey()
	return err
}

// anyCavity is the cavity of an eye whose length nobody told.
func anyCavity() (estimate.Estimate, error) {
	var v [3]estimate.Estimate
	for i, mm := range []float64{24, 20, 30} {
		var err error
		if v[i], err = eye.CavityVolumeML(mm); err != nil {
			return estimate.Estimate{}, err
		}
	}
	return estimate.Estimate{Value: v[0].Value, Low: v[1].Low, High: v[2].High, Basis: "axial length not told: 24 mm, interval of 20 to 30 mm"}, nil
}

// oneHeight takes a height from metres or feet, never from both.
func oneHeight(name string, metres, feet *float64) (float64, error) {
	wrong := func(what string) error {
		return &fault.Error{Code: fault.Invalid, Where: name + "-m, " + name + "-ft", What: what, Expected: "one of the two"}
	}
	switch {
	case metres != nil && feet != nil:
		return 0, wrong("both are given")
	case metres != nil:
		return *metres, nil
	case feet != nil:
		return *feet * tamponade.MetresPerFoot, nil
	}
	return 0, wrong("neither is given")
}

func (c Altitude) journey() (tamponade.Journey, error) {
	if c.Route != nil {
		if c.Flight || c.LivingM != nil || c.LivingFt != nil || c.ToM != nil || c.ToFt != nil {
			return nil, &fault.Error{Code: fault.Invalid, Where: "--route", What: "stands beside other heights", Expected: "the route alone; its first place is where the patient has been living"}
		}
		return parseRoute(*c.Route)
	}
	living, err := oneHeight("--living", c.LivingM, c.LivingFt)
	if err != nil {
		return nil, err
	}
	if c.Flight {
		if c.ToM != nil || c.ToFt != nil {
			return nil, &fault.Error{Code: fault.Invalid, Where: "--flight", What: "stands beside another height", Expected: "one of them"}
		}
		return tamponade.Flight(living, math.Max(living, tamponade.CabinHeightM), living, c.Cruise), nil
	}
	to, err := oneHeight("--to", c.ToM, c.ToFt)
	if err != nil {
		return nil, err
	}
	return tamponade.Climb(living, to, c.Minutes, c.Stay), nil
}

// parseRoute reads MINUTE:METRES, one place after the other.
func parseRoute(text string) (tamponade.Journey, error) {
	var j tamponade.Journey
	for _, place := range strings.Split(text, ",") {
		minute, metres, cut := strings.Cut(place, ":")
		m, err1 := strconv.ParseFloat(strings.TrimSpace(minute), 64)
		h, err2 := strconv.ParseFloat(strings.TrimSpace(metres), 64)
		if !cut || err1 != nil || err2 != nil {
			return nil, &fault.Error{Code: fault.Invalid, Where: "--route", What: fmt.Sprintf("%q is no place", place), Expected: "MINUTE:METRES, for example 60:1500"}
		}
		j = append(j, tamponade.Waypoint{Minutes: m, HeightM: h})
	}
	return j, nil
}

// altitudeFlag names the flag behind a fault of the estimate.
func altitudeFlag(err error) error {
	return atFlagOf(err, map[string]string{"fill": "--fill", "pressure before the journey": "--pressure-mmhg", "days since surgery": "--days", "route": "--route, --minutes"})
}

const altitudeMethod = "standard atmosphere; Boyle's law with water vapour in an eye of one effective rigidity, fitted to two measured climbs, with aqueous outflow; baseline where the patient has been living; an estimate"

func (d altitudeAnswer) document() map[string]any {
	e := d.estimate
	return map[string]any{
		"gas": d.travel.Agent, "fill": d.fill, "cavity_ml": d.travel.Eye.CavityML, "pressure_before_mmhg": d.travel.Eye.BaselineMMHg,
		"route":              d.travel.Journey,
		"pressure_rise_mmhg": e.RiseMMHg, "peak_pressure_mmhg": e.PeakMMHg, "peak_at_minutes": e.PeakAtMinutes,
		"sealed_rise_mmhg": e.SealedRiseMMHg, "lowest_pressure_mmhg": e.LowestMMHg, "rule_rise_mmhg": e.RuleRiseMMHg,
		"free_expansion": e.FreeExpansion, "course": e.Course, "verdict": e.Verdict, "reasons": e.Reasons,
		"nitrous_oxide": map[string]any{"verdict": d.nitrous.Verdict, "reasons": d.nitrous.Reasons},
		"assumed":       append([]string{}, d.assumed...), "method": altitudeMethod, "cautions": caution.Full(),
	}
}

func (d altitudeAnswer) sheet() *Sheet {
	e := d.estimate
	sheet := newSheet("Height and gas in the eye")
	sheet.signal("caution", "ANSWER", e.Verdict)
	sheet.line("pressure rise", banded("%.0f", e.RiseMMHg, "mmHg"))
	sheet.line("", "error: "+e.RiseMMHg.Basis)
	sheet.line("highest", fmt.Sprintf("%s, after %.0f minutes", banded("%.0f", e.PeakMMHg, "mmHg"), e.PeakAtMinutes))
	sheet.line("lowest", banded("%.0f", e.LowestMMHg, "mmHg"))
	sheet.line("no outflow", banded("%.0f", e.SealedRiseMMHg, "mmHg")+" of rise when no fluid leaves the eye")
	if e.RuleRiseMMHg.Known() {
		sheet.line("plain rule", banded("%.0f", e.RuleRiseMMHg, "mmHg")+"; "+e.RuleRiseMMHg.Basis)
	}
	sheet.line("free gas", fmt.Sprintf("%.2f times as large at the top; an upper bound", e.FreeExpansion))
	sheet.part("Inputs")
	sheet.line("gas", fmt.Sprintf("%s, %s", d.travel.Agent, d.travel.Agent.FullName()))
	sheet.line("fill", fmt.Sprintf("%q read as %s (%s)", d.fill.Raw, d.fill.Percent, d.fill.How))
	sheet.line("cavity", banded("%.2f", d.travel.Eye.CavityML, "mL"))
	sheet.line("before", fmt.Sprintf("%g mmHg in the eye", d.travel.Eye.BaselineMMHg))
	for i, w := range d.travel.Journey {
		label := ""
		if i == 0 {
			label = "route"
		}
		sheet.line(label, fmt.Sprintf("minute %.0f: %.0f m (%.0f ft)", w.Minutes, w.HeightM, w.HeightM/tamponade.MetresPerFoot))
	}
	sheet.list("Method", append([]string{altitudeMethod}, d.assumed...))
	sheet.warnings("Why", e.Reasons)
	sheet.warnings(d.nitrous.Verdict, d.nitrous.Reasons)
	sheet.cautions()
	return sheet
}
