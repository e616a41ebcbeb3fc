package bench

import (
	"fmt"
	"strings"

	"limitans/estimate"
	"limitans/eye"
	"limitans/fault"
	"limitans/fluidics"
	"limitans/tamponade"
)

// Ports tells where to enter an eye and what reaches from there.
type Ports struct {
	AxialLengthMM float64  `name:"axial-length" required:"" placeholder:"MM" help:"Axial length, mm."`
	AgeYears      *float64 `name:"age-years" placeholder:"YEARS" help:"Age, years."`
	AgeMonths     *float64 `name:"age-months" placeholder:"MONTHS" help:"Age of a child, months."`
	Lens          string   `placeholder:"STATE" offer:"phakic,pseudophakic,aphakic" help:"Lens: phakic, pseudophakic or aphakic; from 18 years on it decides the distance."`
	Growth        string   `default:"usual" enum:"usual,prematurity,coloboma,fetal-vasculature" help:"Growth of the eye: usual, prematurity (with retinopathy), coloboma or fetal-vasculature (persistent). Default: usual."`
	BehindLimbus  *float64 `name:"behind-limbus" placeholder:"MM" more:"" help:"Entry behind the limbus instead of the published distance, 0 to 8 mm."`
	ApartDeg      float64  `name:"apart-deg" default:"120" placeholder:"DEG" label:"Ports apart" help:"The two ports of the hands apart round the limbus, 0 to 180 degrees; a clock hour is 30. Default: 120, at 10 and 2 o'clock."`

	Gauge   *int     `placeholder:"GAUGE" help:"Gauge of the instrument, 23, 25 or 27: how much it bends, and its usual length."`
	ShaftMM *float64 `name:"shaft-mm" placeholder:"MM" label:"Free length of the shaft" help:"Free length of the instrument from hub to tip, mm, instead of the gauge's usual one."`
	Target  []string `placeholder:"PLACE" label:"To be reached" help:"What is to be reached: macula, arcade, farthest, equator-opposite, ora-opposite or equator-same; may be given again. Default: all of them."`
	PushMN  float64  `name:"push-mn" default:"120" placeholder:"MN" more:"" label:"Push at the entry" help:"Push of the shaft against the wall at the entry, for the bend, mN. Default: 120, a firm one."`
	LimitMM float64  `name:"bend-limit-mm" default:"0.5" placeholder:"MM" more:"" label:"Too much bend from" help:"From which bend of the tip on it is too much, mm. Default: 0.5; no source."`
	ErrorMM float64  `name:"shaft-error-mm" default:"0.5" placeholder:"MM" more:"" page:"How well the length of the shaft is known, mm. Default: 0.5." help:"How well --shaft-mm is known, mm. Default: 0.5."`
}

// Help is printed below the flags.
func (Ports) Help() string {
	return "Ends with exit code 3 where the source gives no distance: below one month of age and after unusual growth. " +
		"Distances are a model of the eye; look at every entry before the infusion is opened."
}

// Answer is the entry, the ports and what reaches.
func (c Ports) Answer() (Answer, error) {
	d := portsAnswer{
		asked: c, shaft: estimate.Missing("neither a gauge nor --shaft-mm is told"),
		reach: estimate.Missing("the model's limbus is an adult's, which a child's is not before two years of age (from memory)"),
	}
	growth, err := c.eyeGrowth(&d)
	if err != nil {
		return Answer{}, err
	}
	if !(c.LimitMM > 0 && c.LimitMM <= 20) {
		return Answer{}, &fault.Error{Code: fault.Invalid, Where: "--bend-limit-mm", What: fmt.Sprintf("%g mm is no limit", c.LimitMM), Expected: "above 0, up to 20 mm"}
	}
	if err := eye.CheckAxialLengthMM(c.AxialLengthMM); err != nil {
		return Answer{}, atFlag(err, "--axial-length")
	}
	rule, err := eye.SclerotomyMM(growth)
	switch {
	case fault.CodeOf(err) == fault.Unsupported:
		d.refused = err.Error()
		return Answer{Sheet: d.sheet(), Document: d.document(), Stopped: d.refused}, nil
	case err != nil:
		return Answer{}, portsFlag(err)
	}
	d.rule = rule
	if err := c.geometry(&d); err != nil {
		return Answer{}, portsFlag(err)
	}
	if err := d.warn(); err != nil {
		return Answer{}, err
	}
	return Answer{Sheet: d.sheet(), Document: d.document()}, nil
}

// eyeGrowth reads age, lens and growth.
func (c Ports) eyeGrowth(d *portsAnswer) (eye.Growth, error) {
	switch {
	case (c.AgeYears == nil) == (c.AgeMonths == nil):
		return eye.Growth{}, &fault.Error{Code: fault.Invalid, Where: "age", What: "is not told once", Expected: "one of --age-years or --age-months"}
	case c.AgeYears != nil:
		d.ageMonths = 12 * *c.AgeYears
	default:
		d.ageMonths = *c.AgeMonths
	}
	growth := eye.Growth{AgeMonths: d.ageMonths, Unusual: c.Growth != "usual"}
	if c.Lens != "" {
		var err error
		if growth.Lens, err = eye.ParseLens(c.Lens); err != nil {
			return growth, atFlag(err, "--lens")
		}
	}
	d.lens = growth.Lens
	return growth, nil
}

// geometry places the entry and computes what follows from it.
func (c Ports) geometry(d *portsAnswer) error {
	d.behindMM = d.rule.MM
	if c.BehindLimbus != nil {
		d.behindMM = *c.BehindLimbus
	}
	var err error
	if d.shaft, err = c.shaft(d); err != nil {
		return err
	}
	targets, err := c.targets()
	if err != nil {
		return err
	}
	entry, err := eye.NewEntry(c.AxialLengthMM, d.behindMM)
	if err != nil {
		return err
	}
	child, err := eye.TheatreFactOf("LIMBUS-CHILD")
	if err != nil {
		return err
	}
	if d.ageMonths < child.Value { // the model's limbus is an adult's
		return nil
	}
	d.reach, d.tiltDeg = entry.ReachMM, entry.ShaftTiltDeg
	if d.chordMM, d.shaftsDeg, err = entry.Separation(c.ApartDeg); err != nil {
		return err
	}
	for _, to := range targets {
		row, err := c.place(*d, entry, to)
		if err != nil {
			return err
		}
		d.places = append(d.places, row)
	}
	return nil
}

func (c Ports) targets() ([]eye.Target, error) {
	if len(c.Target) == 0 {
		return eye.Targets(), nil
	}
	var out []eye.Target
	for _, name := range c.Target {
		known := false
		for _, t := range eye.Targets() {
			known = known || string(t) == name
		}
		if !known {
			return nil, &fault.Error{Code: fault.Invalid, Where: "target", What: fmt.Sprintf("%q is no place that is known", name), Expected: strings.Trim(fmt.Sprint(eye.Targets()), "[]")}
		}
		out = append(out, eye.Target(name))
	}
	return out, nil
}

// shaft is the instrument's, from its gauge or as given; nothing where neither is told.
func (c Ports) shaft(d *portsAnswer) (estimate.Estimate, error) {
	length := d.shaft
	if c.Gauge != nil {
		g, err := fluidics.ShaftOf(*c.Gauge)
		if err != nil {
			return length, atFlag(err, "--gauge")
		}
		d.gauge = &g
		length = g.FreeLengthMM
	}
	if c.ShaftMM == nil {
		return length, nil
	}
	if !(c.ErrorMM >= 0 && c.ErrorMM < *c.ShaftMM) {
		return length, &fault.Error{Code: fault.Invalid, Where: "--shaft-error-mm", What: fmt.Sprintf("%g mm is no error of a length", c.ErrorMM), Expected: "0 or more, below the length"}
	}
	length = estimate.Estimate{Value: *c.ShaftMM, Low: *c.ShaftMM - c.ErrorMM, High: *c.ShaftMM + c.ErrorMM, Basis: "length as given"}
	if d.gauge == nil {
		return length, nil
	}
	g, err := d.gauge.WithLength(*c.ShaftMM)
	d.gauge = &g
	return length, err
}

// place is what is told about one target.
func (c Ports) place(d portsAnswer, entry eye.Entry, to eye.Target) (portsPlace, error) {
	p := portsPlace{Place: to}
	var err error
	if p.Distance, err = entry.DistanceMM(to); err != nil {
		return p, err
	}
	if !d.shaft.Known() {
		return p, nil
	}
	check, err := entry.CheckReach(to, d.shaft)
	if err != nil {
		return p, err
	}
	p.Needed, p.Spare, p.Verdict = &check.NeededMM, &check.SpareMM, check.Verdict
	if d.gauge == nil || check.Verdict == eye.FallsShort || p.Distance.Value >= d.gauge.FreeLengthMM.Low {
		return p, nil
	}
	bend, err := d.gauge.BendIn(p.Distance.Value, fluidics.RetinalForceMN, c.PushMN)
	if err != nil {
		return p, atFlag(err, "--push-mn")
	}
	p.TipBend, p.PortBend = &bend.TipMM, &bend.PortMM
	p.BendVerdict = bendVerdict(bend.PortMM, c.LimitMM)
	return p, nil
}

func bendVerdict(bend estimate.Estimate, limit float64) string {
	switch {
	case bend.Low >= limit:
		return "too_much"
	case bend.High >= limit:
		return "may_be_too_much"
	}
	return "within"
}

// portsFlag names the flag behind a fault of the science.
func portsFlag(err error) error {
	return atFlagOf(err, map[string]string{
		"age": "--age-years, --age-months", "lens": "--lens", "distance behind the limbus": "--behind-limbus", "angle between the ports": "--apart-deg",
		"target": "--target", "shaft": "--shaft-mm",
	})
}

// warn adds what must be known beside the figures.
func (d *portsAnswer) warn() error {
	c := d.asked
	add := func(code, text, source string) {
		d.warnings = append(d.warnings, tamponade.Warning{Code: code, Text: text, Source: source})
	}
	facts := map[string]eye.TheatreFact{}
	for _, id := range []string{"REACH-LONG", "REACH-34", "OL-NASAL"} {
		f, err := eye.TheatreFactOf(id)
		if err != nil {
			return err
		}
		facts[id] = f
	}
	told := func(f eye.TheatreFact) string { return f.Source + " (" + f.HowKnown + ")" }
	if d.behindMM < d.rule.LowMM || d.behindMM > d.rule.HighMM {
		add("off_range", fmt.Sprintf("%g mm is outside the published %g to %g mm: nearer meets the pars plicata and the lens, farther the retina.", d.behindMM, d.rule.LowMM, d.rule.HighMM), d.rule.Source+" ("+d.rule.HowKnown+")")
	}
	if nasal := facts["OL-NASAL"]; d.ageMonths >= 216 && d.behindMM > nasal.Low-1 {
		add("ora", fmt.Sprintf("The retina begins %g to %g mm behind the limbus on the nasal side.", nasal.Low, nasal.High), told(nasal))
	}
	switch {
	case c.AxialLengthMM > facts["REACH-34"].Value:
		add("very_long", "In eyes above 34 mm usual instruments did not reach the retina; indentation was used.", told(facts["REACH-34"])+", doi "+facts["REACH-34"].DOI)
	case c.AxialLengthMM >= facts["REACH-LONG"].Low:
		add("long", "Plan long instruments: practice does from 27 to 30 mm on; stiffening sleeves cost 1 to 2 mm.", told(facts["REACH-LONG"]))
	}
	if d.ageMonths < 216 {
		add("child", "A child's ora lies nearer on the nasal side than elsewhere: bias nasal ports forward.", "Wright et al. 2018, doi 10.1016/j.oret.2018.06.008 (abstract)")
	}
	if c.Gauge != nil && *c.Gauge == 27 {
		add("thin", "27 gauge bends: set the ports farther apart and prefer work at the macula to work in the near periphery.", "common practice, no source; the figures of the bend are derived from Ophthalmol Retina 2022;6:1001, doi 10.1016/j.oret.2022.05.004 (abstract)")
	}
	add("infusion", "See the tip of the infusion inside the eye before it is opened.", "common practice, no source")
	return nil
}
