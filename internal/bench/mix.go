package bench

import (
	"fmt"
	"math"
	"strings"

	"limitans/estimate"
	"limitans/eye"
	"limitans/fault"
	"limitans/tamponade"
)

// Mix makes the recipe for a gas mixture, or says what stops it.
type Mix struct {
	Gas         string   `required:"" placeholder:"GAS" offer:"air,sf6,c2f6,c3f8" label:"Gas on the bottle" help:"Gas on the bottle: air, sf6, c2f6 or c3f8."`
	Percent     *string  `placeholder:"SHARE" label:"Share of gas in air" help:"Share of gas in air: 14, 14% or 0.14. Not for air."`
	SyringeML   float64  `name:"syringe-ml" required:"" placeholder:"ML" label:"Syringe holds" help:"Capacity of the mixing syringe, mL."`
	AxialLength *float64 `placeholder:"MM" help:"Axial length of the eye, mm; without it the flush is not computed."`

	GraduationML *float64 `name:"graduation-ml" placeholder:"ML" more:"" label:"One division" help:"One division of the syringe, mL. Default: what is common for its size."`
	DeadSpaceML  *float64 `name:"dead-space-ml" placeholder:"ML" more:"" help:"Volume between the zero mark and the closed tap, mL. Default: 0 to the largest that the standard allows."`
	Rinsed       bool     `label:"Syringe rinsed with gas" help:"The mixing syringe is rinsed with gas, so its nozzle holds gas."`
	Cavity       string   `default:"air" enum:"air,fluid" label:"Cavity holds" help:"What the cavity holds when the gas goes in: air or fluid. Default: air."`
	LineML       float64  `name:"line-ml" default:"0" placeholder:"ML" more:"" label:"Line to the eye" help:"Volume of the line between syringe and eye, mL. Default: 0."`
	PneumaticML  *float64 `name:"pneumatic-ml" placeholder:"ML" more:"" label:"Pneumatic injection" help:"A pneumatic injection of this volume of pure gas instead of a whole fill, mL."`
	Lens         string   `default:"unknown" enum:"phakic,aphakic,pseudophakic,unknown" help:"State of the lens: phakic, aphakic, pseudophakic or unknown. Default: unknown."`
	Hydrophilic  bool     `label:"Hydrophilic acrylic implant" help:"The lens implant is hydrophilic acrylic."`
	Fill         string   `default:"85" placeholder:"SHARE" more:"" help:"Fill at the end of surgery for the pressures that a wrong mixture would make. Default: 85."`

	Lift    []string `sep:"none" placeholder:"STOP=REASON" more:"" label:"Lift a stop" page:"STOP=REASON on a line of its own; the reason in three words or more, and the two people below." help:"Lift a stop with a typed reason; needs --first and --second."`
	First   string   `placeholder:"NAME" more:"" label:"Who mixes" help:"Who mixes."`
	Second  string   `placeholder:"NAME" more:"" label:"Who checks" help:"Who reads bottle and syringe; another person."`
	Minutes *float64 `placeholder:"MINUTES" more:"" label:"Since mixing" help:"Minutes since the syringe was mixed."`
	Limit   *float64 `name:"limit-minutes" placeholder:"MINUTES" more:"" label:"The unit's own limit" help:"The unit's own limit for that."`
	Closure string   `default:"unknown" enum:"stopcock,cap,unknown" more:"" label:"Syringe closed with" help:"How the syringe is closed: stopcock, cap or unknown. Default: unknown."`
}

// Help is printed below the flags.
func (Mix) Help() string {
	return "Ends with exit code 3 while a stop stands: then there is no recipe. " +
		"The two people are recorded here by name only; the sheet that both sign is made with the record of the eye."
}

// Answer makes the sheet.
func (c Mix) Answer() (Answer, error) {
	d, err := c.Plan()
	if err != nil {
		return Answer{}, err
	}
	return d.Answer(), nil
}

// Plan is the answer with its parts.
func (c Mix) Plan() (*MixAnswer, error) {
	d := &MixAnswer{Asked: c, Sheet: noSheet()}
	in, err := c.input(d)
	if err != nil {
		return nil, err
	}
	if len(d.unclear) == 0 {
		if d.Sheet, err = tamponade.PlanMixing(in); err != nil {
			return nil, mixFlag(err)
		}
		if err := c.wrongMixtures(d, in); err != nil {
			return nil, err
		}
	}
	d.Sheet.Stops = append(d.unclear, d.Sheet.Stops...)
	if c.AxialLength != nil {
		d.Sheet.Warnings = append(d.Sheet.Warnings, tamponade.LongEyeQuestions(*c.AxialLength)...)
	}
	c.lensWarnings(d)
	return d, c.age(d)
}

// Answer is the recipe as sheet and document.
func (d *MixAnswer) Answer() Answer {
	a := Answer{Sheet: d.sheet(), Document: d.document()}
	if !d.Sheet.Accepted() {
		var standing []string
		for _, s := range d.Sheet.Stops {
			if !s.Lifted {
				standing = append(standing, string(s.Code))
			}
		}
		a.Stopped = strings.Join(standing, ", ") + "; there is no recipe"
	}
	return a
}

// input turns the flags into the input of the plan. What has two readings
// becomes a stop, what has none is wrong use.
func (c Mix) input(d *MixAnswer) (tamponade.MixingInput, error) {
	in := tamponade.MixingInput{CavityML: estimate.Missing("the axial length is not told"), LineML: c.LineML}
	agent, err := tamponade.ParseAgent(c.Gas)
	if err := d.orUnclear(err, tamponade.StopGasUnclear, "--gas"); err != nil {
		return in, err
	}
	share := tamponade.PercentReading{Percent: 100, How: "pure"}
	switch {
	case c.Percent != nil:
		share, err = tamponade.ParsePercent(*c.Percent)
		if err := d.orUnclear(err, tamponade.StopPercentUnclear, "--percent"); err != nil {
			return in, err
		}
	case agent != tamponade.AgentAir && c.PneumaticML == nil:
		return in, &fault.Error{Code: fault.Invalid, Where: "--percent", What: "is missing", Expected: "the share of gas in air, for example 14"}
	}
	d.Percent = share
	if len(d.unclear) == 0 {
		if in.Mixture, err = tamponade.NewMixture(agent, share.Percent); err != nil {
			return in, atFlag(err, "--percent")
		}
	}
	given := func(p *float64) float64 {
		if p == nil {
			return math.NaN()
		}
		return *p
	}
	for _, f := range []struct {
		flag  string
		value *float64
	}{{"--graduation-ml", c.GraduationML}, {"--dead-space-ml", c.DeadSpaceML}} {
		if f.value != nil && math.IsNaN(*f.value) {
			return in, &fault.Error{Code: fault.Invalid, Where: f.flag, What: "is no number", Expected: "millilitres"}
		}
	}
	if in.Syringe, err = tamponade.NewSyringe(c.SyringeML, given(c.GraduationML), given(c.DeadSpaceML)); err != nil {
		return in, err
	}
	if c.Rinsed {
		in.Syringe.Nozzle = tamponade.NozzleGas
	}
	if c.AxialLength != nil {
		if in.CavityML, err = eye.CavityVolumeML(*c.AxialLength); err != nil {
			return in, atFlag(err, "--axial-length")
		}
	}
	if c.Cavity == "fluid" {
		in.Content = tamponade.FluidFilled
	}
	if c.PneumaticML != nil {
		in.Technique, in.VolumeML = tamponade.PneumaticRetinopexy, *c.PneumaticML
	}
	in.Liftings, err = c.liftings()
	return in, err
}

// liftings reads STOP=REASON and the two people.
func (c Mix) liftings() ([]tamponade.Lifting, error) {
	if len(c.Lift) == 0 && c.First == "" && c.Second == "" {
		return nil, nil
	}
	by, err := tamponade.NewPair(tamponade.Person{Name: c.First}, tamponade.Person{Name: c.Second})
	if err != nil {
		return nil, wrongAt(err, "--first, --second")
	}
	var all []tamponade.Lifting
	for _, text := range c.Lift {
		code, reason, cut := strings.Cut(text, "=")
		if !cut {
			return nil, &fault.Error{Code: fault.Invalid, Where: "--lift", What: fmt.Sprintf("%q has no reason", text), Expected: "STOP=REASON"}
		}
		l, err := tamponade.NewLifting(tamponade.StopCode(strings.TrimSpace(code)), reason, by)
		if err != nil {
			return nil, atFlag(err, "--lift")
		}
		all = append(all, l)
	}
	return all, nil
}

// wrongMixtures adds what the mistakes would do in an eye of this size.
func (c Mix) wrongMixtures(d *MixAnswer, in tamponade.MixingInput) error {
	fill, err := tamponade.ParsePercent(c.Fill)
	if err != nil {
		return wrongAt(err, "--fill")
	}
	if !in.CavityML.Known() || in.Mixture.Agent == tamponade.AgentAir || in.Technique != tamponade.WholeFill {
		return nil
	}
	d.fill = fill.Percent
	d.wrong, err = tamponade.WrongMixtures(tamponade.PeakInput{Mixture: in.Mixture, CavityML: in.CavityML, Fill: fill.Percent, BaselineMMHg: math.NaN(), Lens: c.lens()})
	return mixFlag(err)
}

func (c Mix) lens() tamponade.Lens {
	lens, err := tamponade.ParseLens(c.Lens)
	if err != nil {
		return tamponade.LensUnknown // not reached: the flag takes no other word
	}
	return lens
}

func (c Mix) lensWarnings(d *MixAnswer) {
	if c.lens() == tamponade.Aphakic {
		d.Sheet.Warnings = append(d.Sheet.Warnings, tamponade.AphakicWarnings(false, tamponade.IridectomyNotTold)...)
	}
	if c.Hydrophilic {
		d.Sheet.Warnings = append(d.Sheet.Warnings, tamponade.ImplantWarnings(tamponade.Yes)...)
	}
}

// mixFlag names the flag behind a fault of the science.
func mixFlag(err error) error {
	return atFlagOf(err, map[string]string{"fill": "--fill", "flush": "--line-ml", "volume of the cavity": "--axial-length"})
}

func (c Mix) age(d *MixAnswer) error {
	if c.Minutes == nil {
		if c.Limit != nil {
			return &fault.Error{Code: fault.Invalid, Where: "--limit-minutes", What: "says nothing without --minutes"}
		}
		return nil
	}
	limit := math.NaN()
	if c.Limit != nil {
		limit = *c.Limit
	}
	closure := map[string]tamponade.Closure{"stopcock": tamponade.Stopcock, "cap": tamponade.PlasticCap}[c.Closure]
	warnings, err := tamponade.AgeWarnings(*c.Minutes, c.SyringeML, closure, limit)
	if err != nil {
		return atFlag(err, "--minutes")
	}
	d.Sheet.Warnings = append(d.Sheet.Warnings, warnings...)
	return nil
}
