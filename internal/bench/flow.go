package bench

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/eye"
	"limitans/fault"
	"limitans/fluidics"
)

// Pressures take a pressure with its unit in the name of the flag, so that
// none can be read as another.
type Pressures struct {
	PressureMmHg *float64 `name:"pressure-mmhg" placeholder:"MMHG" help:"Difference of pressure that drives the flow, mmHg."`
	PressureKPa  *float64 `name:"pressure-kpa" placeholder:"KPA" help:"The same in kPa."`
	PressurePsi  *float64 `name:"pressure-psi" placeholder:"PSI" help:"The same in psi (51.7 mmHg each)."`
	PressureBar  *float64 `name:"pressure-bar" placeholder:"BAR" help:"The same in bar (750 mmHg each)."`
}

// givenPressure is one flag that was used.
type givenPressure struct {
	flag, unit string
	value      float64
	of         func(float64) (fluidics.Pressure, error)
}

func (p Pressures) given() []givenPressure {
	var given []givenPressure
	for _, g := range []struct {
		value *float64
		givenPressure
	}{
		{p.PressureMmHg, givenPressure{flag: "--pressure-mmhg", unit: "mmHg", of: fluidics.MmHg}},
		{p.PressureKPa, givenPressure{flag: "--pressure-kpa", unit: "kPa", of: fluidics.KPa}},
		{p.PressurePsi, givenPressure{flag: "--pressure-psi", unit: "psi", of: fluidics.Psi}},
		{p.PressureBar, givenPressure{flag: "--pressure-bar", unit: "bar", of: fluidics.Bar}},
	} {
		if g.value != nil {
			g.givenPressure.value = *g.value
			given = append(given, g.givenPressure)
		}
	}
	return given
}

// onePressure wants exactly one of the pressures and enters it in the inputs.
func onePressure(r *flowResult, given []givenPressure, choices string) (fluidics.Pressure, error) {
	if len(given) != 1 {
		what := "no pressure is given"
		if len(given) > 1 {
			what = given[0].flag + " and " + given[1].flag + " both give the pressure"
		}
		return fluidics.Pressure{}, &fault.Error{Code: fault.Invalid, Where: "pressure", What: what, Expected: "one of " + choices}
	}
	p, err := given[0].of(given[0].value)
	if err != nil {
		return p, atFlag(err, given[0].flag)
	}
	// A foreign unit is shown with what it is in the unit of the trade.
	text := fmt.Sprintf("%.5g %s", given[0].value, given[0].unit)
	if given[0].unit != "mmHg" {
		text += fmt.Sprintf(" (%.4g mmHg)", p.MmHg())
	}
	r.input("pressure_mmhg", "pressure difference", p.MmHg(), text)
	return p, nil
}

// Bore describes a measured cannula instead of a gauge.
type Bore struct {
	Gauge    *int     `placeholder:"GAUGE" help:"Gauge; its usual line is looked up."`
	BoreMM   *float64 `name:"bore-mm" placeholder:"MM" help:"Measured bore instead of a gauge, mm."`
	LengthMM *float64 `name:"length-mm" placeholder:"MM" help:"Its length, mm."`
}

// measuredBoreShare is how well a bore that somebody measured is taken to be
// known: 3 %, 12 % of flow. Ours; no source.
const measuredBoreShare = 0.03

// line looks the gauge up or takes the measured bore; exactly one of them.
func (b Bore) line(r *flowResult, usual func(int) (fluidics.Line, error)) (fluidics.Line, error) {
	wrong := func(what, expected string) error {
		return &fault.Error{Code: fault.Invalid, Where: "cannula", What: what, Expected: expected}
	}
	switch {
	case b.Gauge != nil && (b.BoreMM != nil || b.LengthMM != nil):
		return fluidics.Line{}, wrong("a gauge and a measured bore are given", "one of --gauge, or --bore-mm with --length-mm")
	case b.Gauge != nil:
		l, err := usual(*b.Gauge)
		if err != nil {
			return l, atFlag(err, "--gauge")
		}
		r.input("gauge", "gauge", *b.Gauge, fmt.Sprint(*b.Gauge))
		r.cannula(l)
		return l, nil
	case b.BoreMM == nil && b.LengthMM == nil:
		return fluidics.Line{}, wrong("none is given", "one of --gauge, or --bore-mm with --length-mm")
	case b.BoreMM == nil || b.LengthMM == nil:
		return fluidics.Line{}, wrong("bore or length is missing", "--bore-mm with --length-mm")
	}
	tube, err := fluidics.NewTube(*b.BoreMM, *b.LengthMM, measuredBoreShare)
	if err != nil {
		return fluidics.Line{}, atFlag(err, "--bore-mm, --length-mm")
	}
	tube.BoreMM.Basis = fmt.Sprintf("bore as given, taken to be known to %g %%", 100*measuredBoreShare)
	l := fluidics.Line{Cannula: tube}
	r.cannula(l)
	return l, nil
}

// Infusion answers what flows of infusion fluid through a gauge at a pressure.
type Infusion struct {
	Bore
	Pressures
	BottleCM *float64 `name:"bottle-cm" placeholder:"CM" help:"Height of the fluid above the eye instead of a pressure, cm."`
}

// Answer is the flow of infusion fluid.
func (c Infusion) Answer() (Answer, error) {
	r := newFlowResult("infusion", "Infusion")
	l, err := c.line(r, fluidics.InfusionLine)
	if err != nil {
		return Answer{}, err
	}
	fluid := fluidics.BalancedSaltSolution()
	given := c.given()
	if c.BottleCM != nil {
		given = append(given, givenPressure{"--bottle-cm", "cm of fluid", *c.BottleCM, func(cm float64) (fluidics.Pressure, error) {
			return fluidics.HeadCM(cm, fluid.DensityGPerML)
		}})
	}
	p, err := onePressure(r, given, "--pressure-mmhg, --pressure-kpa, --pressure-psi, --pressure-bar or --bottle-cm")
	if err != nil {
		return Answer{}, err
	}
	r.fluid(fluid)
	flow, err := l.Flow(fluid, p)
	if err != nil {
		return Answer{}, err
	}
	r.figure("flow_ml_per_min", "flow", "mL/min", flow)
	if err := r.regime(l, fluid, flow); err != nil {
		return Answer{}, err
	}
	r.sources = append(r.sources,
		"law of infusion lines: Rossi et al., MAIO 2019;2(3):88 and Transl Vis Sci Technol 2025 (abstracts); coefficients: textbook, from memory",
	)
	r.warn("The pressure is the difference between pump or bottle and the eye. With two ports open and no valves an eye keeps 20 to 30 % of what is set (Clin Ophthalmol 2015;9:1745, abstract).")
	r.warn("Pumps that hold pressure by flow overshoot when an instrument leaves the eye: 73 mmHg at 30 set, 116 at 60 (Retina, doi 10.1097/IAE.0000000000000625, abstract).")
	if c.BottleCM != nil {
		r.warn("Under a drip chamber the height counts from the fluid's level there; glass bottles lose another 10 to 18 cm (Danis and Thompson 1990, abstract).")
	}
	return r.answer(), nil
}

// OilFlow answers how long silicone oil takes in or out.
type OilFlow struct {
	Bore
	Pressures
	VacuumMmHg    *float64 `name:"vacuum-mmhg" placeholder:"MMHG" help:"Vacuum for removal instead of a pressure, mmHg; the eye's pressure is added."`
	EyeMmHg       float64  `name:"eye-mmhg" default:"20" placeholder:"MMHG" help:"Pressure in the eye during removal, mmHg. Default: 20."`
	ViscosityCSt  float64  `name:"viscosity-cst" required:"" placeholder:"CST" help:"Viscosity on the bottle, centistokes."`
	VolumeML      *float64 `name:"volume-ml" placeholder:"ML" help:"Volume to pass, mL."`
	AxialLengthMM *float64 `name:"axial-length" placeholder:"MM" help:"Axial length instead of a volume, mm: the whole cavity."`
}

// leastInjectionMmHg: oil pumps work at 1.5 to 6 bar; what is far below is a slip
// of unit, such as the one printed in a paper of 2014.
const leastInjectionMmHg = 500

// Answer is the time that oil takes.
func (c OilFlow) Answer() (Answer, error) {
	r := newFlowResult("oil", "Silicone oil")
	l, err := c.line(r, fluidics.OilLine)
	if err != nil {
		return Answer{}, err
	}
	oil, err := fluidics.SiliconeOil(c.ViscosityCSt)
	if err != nil {
		return Answer{}, atFlag(err, "--viscosity-cst")
	}
	r.input("viscosity_cst", "name on the bottle", c.ViscosityCSt, fmt.Sprintf("%g cSt", c.ViscosityCSt))
	r.fluid(oil)
	volume, err := c.volume(r)
	if err != nil {
		return Answer{}, err
	}
	given := c.given()
	if c.VacuumMmHg != nil {
		given = append(given, givenPressure{"--vacuum-mmhg", "mmHg vacuum plus the eye's pressure", *c.VacuumMmHg, func(v float64) (fluidics.Pressure, error) { return fluidics.Drive(c.EyeMmHg, v) }})
		r.input("eye_mmhg", "eye pressure", c.EyeMmHg, fmt.Sprintf("%g mmHg", c.EyeMmHg))
	}
	p, err := onePressure(r, given, "--pressure-mmhg, --pressure-kpa, --pressure-psi, --pressure-bar or --vacuum-mmhg")
	if err != nil {
		return Answer{}, err
	}
	flow, err := l.Flow(oil, p)
	if err != nil {
		return Answer{}, err
	}
	seconds, err := l.TransferTime(oil, p, volume.Value)
	if err != nil {
		return Answer{}, err
	}
	r.figure("time_s", "time", "s", withVolume(seconds, volume))
	r.figure("flow_ml_per_min", "flow", "mL/min", flow)
	if err := r.regime(l, oil, flow); err != nil {
		return Answer{}, err
	}
	r.sources = append(r.sources,
		"law: Poiseuille with a kinetic loss, textbook, from memory",
		"times of 23 gauge: Haider et al., Pak Armed Forces Med J 2014;64:347 (abstract; its printed mmHg are psi)",
	)
	c.warnings(r, p)
	return r.answer(), nil
}

func (c OilFlow) warnings(r *flowResult, p fluidics.Pressure) {
	if c.VacuumMmHg == nil && p.MmHg() < leastInjectionMmHg {
		r.warn(fmt.Sprintf("%.4g mmHg is little for oil: injection works at 1.5 to 6 bar (1100 to 4500 mmHg). Is the unit right?", p.MmHg()))
	}
	if c.Gauge != nil && *c.Gauge == 27 && c.ViscosityCSt >= 5000 {
		r.warn("For 5000 centistokes 27 gauge is slow; a short wide route is usual (common practice, no source).")
	}
	r.warn("Blends with a long-chain part thin under shear and pass faster; for them the time is an upper bound (Williams et al. 2011, abstract).")
	r.warn("The time to build the pressure up, to change syringes and to look is not in it.")
}

// volume takes the volume or the cavity of an axial length; exactly one of them.
func (c OilFlow) volume(r *flowResult) (estimate.Estimate, error) {
	switch {
	case (c.VolumeML == nil) == (c.AxialLengthMM == nil):
		return estimate.Estimate{}, &fault.Error{Code: fault.Invalid, Where: "volume", What: "is not given once", Expected: "one of --volume-ml or --axial-length"}
	case c.VolumeML != nil:
		r.input("volume_ml", "volume", *c.VolumeML, fmt.Sprintf("%g mL", *c.VolumeML))
		return estimate.Estimate{Value: *c.VolumeML, Low: *c.VolumeML, High: *c.VolumeML}, nil
	}
	cavity, err := eye.CavityVolumeML(*c.AxialLengthMM)
	if err != nil {
		return cavity, atFlag(err, "--axial-length")
	}
	r.input("axial_length_mm", "axial length", *c.AxialLengthMM, fmt.Sprintf("%g mm", *c.AxialLengthMM))
	r.figure("cavity_ml", "cavity", "mL", cavity)
	return cavity, nil
}

// withVolume widens a time by the interval of the volume, logarithms in
// quadrature. A volume that is given has no interval.
func withVolume(seconds, volume estimate.Estimate) estimate.Estimate {
	down := math.Hypot(math.Log(seconds.Value/seconds.Low), math.Log(volume.Value/volume.Low))
	up := math.Hypot(math.Log(seconds.High/seconds.Value), math.Log(volume.High/volume.Value))
	seconds.Low, seconds.High = seconds.Value*math.Exp(-down), seconds.Value*math.Exp(up)
	if volume.Basis != "" {
		seconds.Basis += "; and from the volume of the cavity"
	}
	return seconds
}

// SubretinalLiquid answers what the aspiration of a retained droplet of heavy
// liquid through a fine cannula takes.
type SubretinalLiquid struct {
	Bore
	Liquid     string   `default:"octane" enum:"octane,decalin" help:"Heavy liquid: octane (perfluoro-n-octane) or decalin (perfluorodecalin). Default: octane."`
	DropletMM  *float64 `name:"droplet-mm" placeholder:"MM" help:"Diameter of the droplet, taken as half a ball, mm."`
	DropletUL  *float64 `name:"droplet-ul" placeholder:"UL" help:"Its volume instead, µL."`
	VacuumMmHg float64  `name:"vacuum-mmhg" default:"0" placeholder:"MMHG" help:"Vacuum, mmHg; 0 is passive. Default: 0."`
	EyeMmHg    float64  `name:"eye-mmhg" required:"" placeholder:"MMHG" help:"Pressure in the eye, mmHg; it drives too."`
}

// Answer is what the aspiration of a droplet takes.
func (c SubretinalLiquid) Answer() (Answer, error) {
	r := newFlowResult("subretinal", "Heavy liquid under the retina")
	l, err := c.line(r, fluidics.FineTip)
	if err != nil {
		return Answer{}, err
	}
	liquid := fluidics.PerfluoroNOctane()
	if c.Liquid == "decalin" {
		liquid = fluidics.Perfluorodecalin()
	}
	r.fluid(liquid)
	volume, err := c.volume(r)
	if err != nil {
		return Answer{}, err
	}
	drive, err := fluidics.Drive(c.EyeMmHg, c.VacuumMmHg)
	if err != nil {
		return Answer{}, err
	}
	r.input("eye_mmhg", "eye pressure", c.EyeMmHg, fmt.Sprintf("%g mmHg", c.EyeMmHg))
	r.input("vacuum_mmhg", "vacuum", c.VacuumMmHg, fmt.Sprintf("%g mmHg", c.VacuumMmHg))
	a, err := l.Aspirate(liquid, drive, volume)
	if err != nil {
		return Answer{}, err
	}
	r.figure("time_s", "time", "s", a.Seconds)
	r.figure("flow_ul_per_s", "flow", "µL/s", a.FlowULPerS)
	r.figure("hold_up_mmhg", "hold-up at the tip", "mmHg", a.HoldUpMmHg)
	r.word("enters", "enters the tip", a.Enters)
	r.setRegime(a.Regime)
	r.sources = append(r.sources,
		"law: Poiseuille with a kinetic loss, and 4γ/d at the mouth; textbook, from memory. No flow of heavy liquid through 38 to 41 gauge is published",
		"viscosity, density and surface tension of the liquid: textbook, from memory",
	)
	if a.Enters != "yes" {
		r.warn(fmt.Sprintf("At %.3g mmHg the surface of the droplet may hold it out of the tip; time and flow hold only once the tip is full of the liquid.", drive.MmHg()))
	}
	r.warn("Physics with an assumed bore, unproved at the bench and blind to the retina: tissue at the mouth stops the flow and can be torn. Low suction suffices on paper.")
	return r.answer(), nil
}

func (c SubretinalLiquid) volume(r *flowResult) (float64, error) {
	switch {
	case (c.DropletMM == nil) == (c.DropletUL == nil):
		return 0, &fault.Error{Code: fault.Invalid, Where: "droplet", What: "is not given once", Expected: "one of --droplet-mm or --droplet-ul"}
	case c.DropletUL != nil:
		r.input("droplet_ul", "droplet", *c.DropletUL, fmt.Sprintf("%g µL", *c.DropletUL))
		return *c.DropletUL, nil
	}
	volume, err := fluidics.HemisphereUL(*c.DropletMM)
	if err != nil {
		return 0, atFlag(err, "--droplet-mm")
	}
	r.input("droplet_mm", "droplet", *c.DropletMM, fmt.Sprintf("%g mm across", *c.DropletMM))
	r.input("droplet_ul", "its volume", volume, fmt.Sprintf("%.3g µL, taken as half a ball; a ball holds twice, a flat pool less", volume))
	return volume, nil
}

// SubretinalInjection answers what flows of salt solution under the retina
// through a fine cannula.
type SubretinalInjection struct {
	Bore
	Pressures
}

// Pressures of subretinal injection, psi: below the first nothing flowed in a
// model (Ladha et al., PLoS ONE 2026, doi 10.1371/journal.pone.0344836, abstract);
// from the second on flow was steady under a gel (bench study, abstract).
const (
	flowStartsPsi = 6
	flowSteadyPsi = 12
)

// Answer is the flow of an injection under the retina.
func (c SubretinalInjection) Answer() (Answer, error) {
	r := newFlowResult("injection", "Injection under the retina")
	l, err := c.line(r, fluidics.FineTip)
	if err != nil {
		return Answer{}, err
	}
	p, err := onePressure(r, c.given(), "--pressure-mmhg, --pressure-kpa, --pressure-psi or --pressure-bar")
	if err != nil {
		return Answer{}, err
	}
	fluid := fluidics.BalancedSaltSolution()
	r.fluid(fluid)
	flow, err := l.Flow(fluid, p)
	if err != nil {
		return Answer{}, err
	}
	r.figure("flow_ul_per_s", "flow", "µL/s", flow.Scaled(1000.0/60))
	if err := r.regime(l, fluid, flow); err != nil {
		return Answer{}, err
	}
	r.sources = append(r.sources, "law: Poiseuille with a kinetic loss, textbook, from memory; checked with 38 gauge at 8, 12 and 16 psi (bench study, abstract)")
	switch {
	case p.Psi() < flowStartsPsi:
		r.warn("Below 6 psi nothing flowed in a model of the eye (Ladha et al. 2026, doi 10.1371/journal.pone.0344836, abstract); the flow computed here meets no tissue.")
	case p.Psi() < flowSteadyPsi:
		r.warn("Below 12 psi the flow under a gel was up to a third less than computed and unsteady (bench study, abstract); the flow computed here meets no tissue.")
	}
	r.warn("Letting the pedal go does not stop the flow: in a model it went on for 28 to 47 s (Ladha et al. 2026, abstract).")
	return r.answer(), nil
}
