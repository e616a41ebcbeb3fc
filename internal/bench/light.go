package bench

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/fault"
	"limitans/light"
	"limitans/tamponade"
)

// Light adds up the light on one spot of the retina.
type Light struct {
	PowerMW    *float64 `name:"power-mw" placeholder:"MW" help:"Power now, as measured at the tip after every filter, mW."`
	Lumens     *float64 `placeholder:"LM" more:"" label:"Luminous flux" help:"Luminous flux at the tip instead of a power, lm."`
	DistanceMM *float64 `name:"distance-mm" placeholder:"MM" help:"Distance from the tip to the retina now, mm."`
	Seconds    *float64 `placeholder:"SECONDS" label:"Time at this setting" help:"Time at this setting, s. Default: 0, what a fresh start would leave."`
	Segment    []string `sep:"none" placeholder:"TEXT" label:"Stretches before" help:"A stretch before that, with units: \"60s 10mW 8mm\", with a filter \"60s 10mW 8mm 475nm\"; may be given again."`

	Lamp     string   `placeholder:"CLASS" offer:"halogen,xenon,led,metal-halide,mercury" help:"Class of lamp: halogen, xenon, led, metal-halide or mercury."`
	MeanA    *float64 `name:"mean-a" placeholder:"WEIGHT" more:"" label:"Mean hazard weight" help:"Mean weight of the light under the aphakic hazard function instead, 0 to 6."`
	FilterNM *float64 `name:"filter-nm" placeholder:"NM" label:"Filter from" help:"Edge of a long-pass filter before the lamp, nm."`

	Gauge           *int     `placeholder:"GAUGE" label:"Gauge of the probe" help:"Gauge of a straight probe: 20, 23, 25 or 27."`
	FibreMM         *float64 `name:"fibre-mm" placeholder:"MM" more:"" label:"Fibre" help:"Diameter of the fibre instead of a gauge, mm."`
	HalfAngle       *float64 `name:"half-angle-deg" placeholder:"DEG" more:"" help:"Half angle of the cone in fluid as the maker says, degrees; wide-angle and chandelier probes need it. Default: 10."`
	Incidence       float64  `name:"incidence-deg" default:"0" placeholder:"DEG" more:"" help:"Angle between the beam and the retina's normal, degrees. Default: 0."`
	Reflection      *float64 `placeholder:"FACTOR" more:"" help:"Factor for light thrown back by the wall, 1 to 2. Default: 1, with an interval up to 2."`
	PowerErrorPart  float64  `name:"power-error-percent" default:"10" placeholder:"PERCENT" more:"" help:"How well the power is known, %. Default: 10."`
	DistanceErrorMM float64  `name:"distance-error-mm" default:"1" placeholder:"MM" more:"" help:"How well distances are known, mm. Default: 1."`

	// Measured is a measured spectrum instead of a lamp: wavelength in nm and power
	// per nm, one pair a line.
	Measured string `kong:"-" form:"-"`

	Basis string `default:"icnirp2013" enum:"icnirp2013,iso15004" label:"Basis of the first figures" help:"Basis of the first figures: icnirp2013 or iso15004. Both are always printed, each on its own. Default: icnirp2013, the stricter."`
}

// Help is printed below the flags.
func (Light) Help() string {
	return "Neither basis is a proven threshold of injury, and nothing here shows conformity with a standard. " +
		"All light is taken to fall on one spot."
}

// Answer is dose and what is left on both bases.
func (c Light) Answer() (Answer, error) {
	d := lightAnswer{preferred: c.Basis, errors: light.Errors{PowerShare: c.PowerErrorPart / 100, DistanceMM: c.DistanceErrorMM}}
	if err := c.compute(&d); err != nil {
		return Answer{}, lightFlag(err)
	}
	d.warn()
	return Answer{Sheet: d.sheet(), Document: d.document()}, nil
}

func (c Light) compute(d *lightAnswer) error {
	if err := d.errors.Check(); err != nil {
		return err
	}
	if err := c.setting(d); err != nil {
		return err
	}
	var err error
	if d.disc, err = d.setting.DiscRadiusMM(); err != nil {
		return err
	}
	if d.irradiance, err = d.setting.IrradianceMWPerCM2(); err != nil {
		return err
	}
	if d.thermal, err = d.setting.Thermal(); err != nil {
		return err
	}
	strict, err := onBasis[light.ICNIRP2013](d)
	if err != nil {
		return err
	}
	guideline, err := onBasis[light.ISO15004](d)
	d.bases = []basisAnswer{strict, guideline}
	return err
}

// setting reads lamp, probe and stretches into the document.
func (c Light) setting(d *lightAnswer) error {
	source, err := c.source()
	if err != nil {
		return err
	}
	probe, err := c.probe()
	if err != nil {
		return err
	}
	for _, text := range c.Segment {
		g, err := light.ParseSegment(text)
		if err != nil {
			return atFlag(err, "--segment")
		}
		d.segments = append(d.segments, g)
	}
	if c.Seconds != nil {
		d.seconds = *c.Seconds
	}
	power, distance, err := c.now(d, source)
	if err != nil {
		return err
	}
	if d.setting, err = light.NewSetting(power, distance, probe, source); err != nil {
		return lightFlag(err)
	}
	d.setting.IncidenceDegrees = c.Incidence
	if c.Reflection != nil {
		r := *c.Reflection
		d.setting.Reflection = estimate.Estimate{Value: r, Low: r, High: r, Basis: "light thrown back by the wall: factor as given"}
	}
	// The filter of the last stretch is that of now, when now is that stretch.
	if last := len(d.segments) - 1; last >= 0 && c.PowerMW == nil && c.Lumens == nil && d.segments[last].FilterNM != 0 {
		d.setting.Source, err = d.setting.Source.LongPass(d.segments[last].FilterNM)
		d.base = source
		return atFlag(err, "--segment")
	}
	d.base = source
	return nil
}

// now is the present power and distance: as given, or those of the last stretch.
func (c Light) now(d *lightAnswer, source light.Source) (power, distance estimate.Estimate, err error) {
	missing := func(flag, what string) error {
		return &fault.Error{Code: fault.Invalid, Where: flag, What: what}
	}
	switch {
	case c.PowerMW != nil && c.Lumens != nil:
		return power, distance, missing("--power-mw", "and --lumens both give the power")
	case c.PowerMW == nil && c.Lumens == nil && c.DistanceMM == nil && c.Seconds == nil && len(d.segments) > 0:
		last := d.segments[len(d.segments)-1]
		return d.errors.Power(last.PowerMW), d.errors.Distance(last.DistanceMM), nil
	case c.PowerMW == nil && c.Lumens == nil:
		return power, distance, missing("--power-mw", "is missing; it is measured at the tip, or give --lumens or --segment")
	case c.DistanceMM == nil:
		return power, distance, missing("--distance-mm", "is missing")
	}
	distance = d.errors.Distance(*c.DistanceMM)
	if c.PowerMW != nil {
		return d.errors.Power(*c.PowerMW), distance, nil
	}
	if power, err = source.PowerMW(*c.Lumens); err != nil {
		return power, distance, atFlag(err, "--lumens")
	}
	if !power.Known() {
		return power, distance, &fault.Error{Code: fault.Invalid, Where: "--lumens", What: "cannot be turned into a power: " + power.Basis, Mend: "give --power-mw, or a lamp or spectrum"}
	}
	return power, distance, nil
}

// source is the lamp, spectrum or mean weight; exactly one.
func (c Light) source() (light.Source, error) {
	given := 0
	for _, is := range []bool{c.Lamp != "", c.Measured != "", c.MeanA != nil} {
		if is {
			given++
		}
	}
	if given != 1 {
		what := "no lamp, spectrum or mean weight is given"
		if given > 1 {
			what = fmt.Sprintf("is told %d times", given)
		}
		return light.Source{}, &fault.Error{Code: fault.Invalid, Where: "light", What: what, Expected: "one of --lamp, --spectrum or --mean-a"}
	}
	var s light.Source
	var err error
	switch {
	case c.Lamp != "":
		var class light.Class
		if class, err = light.ParseClass(c.Lamp); err == nil {
			s, err = light.Lamp(class)
		}
		err = atFlag(err, "--lamp")
	case c.Measured != "":
		var spectrum light.Spectrum
		if spectrum, err = light.ParseSpectrum(c.Measured); err == nil {
			s, err = light.Measured(spectrum)
		}
	default:
		a := *c.MeanA
		s, err = light.MeanAphakicWeight(estimate.Estimate{Value: a, Low: a, High: a, Basis: "mean aphakic weight as given"})
		err = atFlag(err, "--mean-a")
	}
	if err != nil || c.FilterNM == nil {
		return s, err
	}
	s, err = s.LongPass(*c.FilterNM)
	return s, atFlag(err, "--filter-nm")
}

func (c Light) probe() (light.Probe, error) {
	var p light.Probe
	var err error
	switch {
	case (c.Gauge == nil) == (c.FibreMM == nil):
		return p, &fault.Error{Code: fault.Invalid, Where: "probe", What: "is not told once", Expected: "one of --gauge or --fibre-mm"}
	case c.Gauge != nil:
		if p, err = light.StraightProbe(*c.Gauge); err != nil {
			return p, wrongAt(err, "--gauge")
		}
	default:
		if p, err = light.Fibre(*c.FibreMM, math.NaN()); err != nil {
			return p, atFlag(err, "--fibre-mm")
		}
	}
	if c.HalfAngle != nil {
		p, err = p.WithHalfAngle(*c.HalfAngle)
	}
	return p, atFlag(err, "--half-angle-deg")
}

// lightFlag names the flag behind a fault of the science.
func lightFlag(err error) error {
	return atFlagOf(err, map[string]string{
		"power": "--power-mw", "distance": "--distance-mm", "incidence": "--incidence-deg", "reflection": "--reflection",
		"time": "--seconds", "errors": "--power-error-percent, --distance-error-mm",
	})
}

// basisAnswer is what one basis says; figures of two never meet.
type basisAnswer struct {
	Key        string              `json:"basis"`
	Name       string              `json:"name"`
	Limit      float64             `json:"limit_j_per_cm2"`
	Dose       estimate.Estimate   `json:"dose"`
	Share      estimate.Estimate   `json:"share"`
	State      light.State         `json:"state"`
	Rate       estimate.Estimate   `json:"rate_mw_per_cm2"`
	Left       estimate.Estimate   `json:"left"`
	Each       []estimate.Estimate `json:"segments"`
	WhatIf     []light.WhatIf      `json:"what_if"`
	MeanWeight estimate.Estimate   `json:"-"`
	Source     string              `json:"source"`
	HowKnown   string              `json:"how_known"`
}

// onBasis computes everything on one basis.
func onBasis[B light.Basis](d *lightAnswer) (basisAnswer, error) {
	var budget light.Budget[B]
	a := basisAnswer{Key: budget.Key(), Name: budget.String(), Limit: budget.JPerCM2(), Source: budget.Source(), HowKnown: budget.HowKnown(), Each: []estimate.Estimate{}}
	before := d.setting
	before.Source = d.base
	used, each, err := light.Total[B](before, d.segments, d.errors)
	if err != nil {
		return a, err
	}
	for _, e := range each {
		a.Each = append(a.Each, e.JPerCM2())
	}
	now, err := light.Exposure[B](d.setting, d.seconds)
	if err != nil {
		return a, err
	}
	used = used.Plus(now)
	a.Dose, a.Share, a.State = used.JPerCM2(), budget.Share(used), budget.State(used)
	if a.Rate, err = light.Rate[B](d.setting); err != nil {
		return a, err
	}
	if a.Left, err = budget.MinutesLeft(used, d.setting); err != nil {
		return a, err
	}
	a.WhatIf, err = light.WhatIfs(used, d.setting, d.errors)
	return a, err
}

// warn adds what must be known beside the figures.
func (d *lightAnswer) warn() {
	add := func(code, text, source string) {
		d.warnings = append(d.warnings, tamponade.Warning{Code: code, Text: text, Source: source})
	}
	for _, a := range d.bases {
		if a.State != light.Within {
			add("budget_"+a.Key, fmt.Sprintf("%s: %s the %g J/cm².", a.Name, map[light.State]string{
				light.MayBeOver: "the dose may be above", light.ProbablyOver: "the dose is probably above", light.Over: "the dose is above",
			}[a.State], a.Limit), a.Source+"; "+a.HowKnown)
		}
	}
	if d.setting.DistanceMM.Value < 5 {
		add("near", "Nearer than 5 mm nothing is published, and a tip that touches burns.", "van den Biesen 2000, Br J Ophthalmol 84:1372 (abstract)")
	} else if d.setting.DistanceMM.Value < 10 {
		add("near", "Nearer than 10 mm: for macular work the tip stays at 10 mm or more.", "van den Biesen 2000, Br J Ophthalmol 84:1372 (abstract); derived")
	}
	if t := d.thermal; t.WPerCM2.Known() && t.WPerCM2.High >= t.LimitWPerCM2 {
		add("heat", fmt.Sprintf("Heat: %.3g W/cm² (%.3g to %.3g) reaches the limit of %.3g.", t.WPerCM2.Value, t.WPerCM2.Low, t.WPerCM2.High, t.LimitWPerCM2), t.Source)
	}
	add("stricter", "Without the lens's own filter, in diabetes, after earlier light, with drugs that light excites or high oxygen the stricter basis is the one to keep.", "risk factors from memory")
	add("dye", "Dye is no shield: blue dyes absorb beyond the hazardous blue, indocyanine green not in it, and light beyond 620 nm on indocyanine dyes may harm.", "PMID 12719989, Gandorfer 2003, IOVS 44:316 (abstracts)")
	add("microscope", "The microscope's own light is not in these figures: cover it while the probe is in.", "from memory")
}
