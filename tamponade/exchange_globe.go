package tamponade

import (
	"fmt"
	"math"

	"limitans/eye"
	"limitans/fault"
)

// Globe is the eye round the bubble: its cavity and its water.
type Globe struct {
	// CavityML is the volume of the vitreous cavity, see [eye.CavityVolumeML].
	CavityML float64
	// BaselineMMHg is the pressure that the eye has without a bubble's change.
	BaselineMMHg float64
	// InflowULPerMin is the flow of aqueous humour into the eye.
	InflowULPerMin float64
	// FacilityULPerMinPerMMHg is the outflow for each mmHg over the episcleral
	// veins. What inflow is left at the baseline flows out by ways that do not
	// depend on pressure.
	FacilityULPerMinPerMMHg float64
	// EpiscleralMMHg is the pressure of the episcleral veins.
	EpiscleralMMHg float64
	// RigidityPerUL is Friedenwald's coefficient, log10 of pressure per µL.
	RigidityPerUL float64
	// AmbientMMHg is the air pressure where the patient lives.
	AmbientMMHg float64
}

// Defaults of the eye's water, in one place with [waterConstants].
const (
	defaultBaselineMMHg   = 15.0
	defaultInflow         = 2.5
	defaultFacility       = 0.24
	defaultEpiscleralMMHg = 8.5
	defaultRigidity       = 0.0215
)

var waterConstants = []Constant{
	{"flow of aqueous humour", defaultInflow, nan, nan, "µL/min", "Toris, Aqueous Humor Dynamics (chapter abstract; it prints mL by error)", "10.1201/b16796-3", Abstract},
	{"outflow facility", defaultFacility, 0.16, 0.32, "µL/min/mmHg", "McLaren et al., Invest Ophthalmol Vis Sci 2017 (PMC5256680), 56 healthy eyes, pneumatonography; mean ± 1 standard deviation", "", Abstract},
	{"episcleral venous pressure", defaultEpiscleralMMHg, 8, 9, "mmHg", "textbook physiology", "", Memory},
	{"ocular rigidity", defaultRigidity, 0.0126, 0.028, "log10(mmHg)/µL", "Friedenwald (from memory); range: Pallikaris 2005 and McLaren 2017, abstracts, logarithm not stated", "", Memory},
	{"pressure without a bubble", defaultBaselineMMHg, 10, 21, "mmHg", "common range of healthy eyes", "", Memory},
}

// DefaultGlobe returns a healthy eye at sea level with the given cavity.
func DefaultGlobe(cavityML float64) Globe {
	return Globe{
		CavityML: cavityML, BaselineMMHg: defaultBaselineMMHg, InflowULPerMin: defaultInflow,
		FacilityULPerMinPerMMHg: defaultFacility, EpiscleralMMHg: defaultEpiscleralMMHg,
		RigidityPerUL: defaultRigidity, AmbientMMHg: SeaLevelMMHg,
	}
}

// Check refuses an eye that cannot be: values out of reach (Invalid), or a
// baseline that the outflow cannot hold with the inflow (Conflict).
func (g Globe) Check() error {
	for _, r := range []struct {
		name             string
		value, low, high float64
		unit             string
	}{
		{"cavity", g.CavityML, 1, 25, "mL"},
		{"baseline pressure", g.BaselineMMHg, 1, 70, "mmHg"},
		{"aqueous flow", g.InflowULPerMin, 0.1, 10, "µL/min"},
		{"outflow facility", g.FacilityULPerMinPerMMHg, 0.005, 2, "µL/min/mmHg"},
		{"episcleral venous pressure", g.EpiscleralMMHg, 0, 40, "mmHg"},
		{"ocular rigidity", g.RigidityPerUL, 0.001, 0.2, "per µL"},
		{"ambient pressure", g.AmbientMMHg, 400, 850, "mmHg"},
	} {
		if !(r.value >= r.low && r.value <= r.high) {
			return &fault.Error{
				Code: fault.Invalid, Where: r.name, What: fmt.Sprintf("%g %s is out of reach", r.value, r.unit),
				Expected: fmt.Sprintf("%g to %g %s", r.low, r.high, r.unit),
			}
		}
	}
	if g.uveoscleral() < 0 {
		return &fault.Error{
			Code: fault.Conflict, Where: "outflow",
			What:     fmt.Sprintf("a baseline of %g mmHg would drain more than the %g µL/min that flow in", g.BaselineMMHg, g.InflowULPerMin),
			Expected: fmt.Sprintf("a facility of at most %.3g µL/min/mmHg", g.InflowULPerMin/(g.BaselineMMHg-g.EpiscleralMMHg)),
			Mend:     "an eye with raised pressure has a lower facility; give it",
		}
	}
	return nil
}

// uveoscleral is the outflow by other ways than the facility's at the
// baseline, µL/min.
func (g Globe) uveoscleral() float64 {
	return g.InflowULPerMin - g.FacilityULPerMinPerMMHg*math.Max(0, g.BaselineMMHg-g.EpiscleralMMHg)
}

const (
	minutesPerDay = 24 * 60
	ulPerML       = 1000
	// reserveShare of the cavity is the last water between bubble and wall; as
	// it is used up the outflow from behind the lens ends (ours; it keeps the
	// film from becoming negative and has no effect elsewhere).
	reserveShare = 0.004
)

// perDay turns µL/min into shares of the cavity a day.
func (g Globe) perDay(ulPerMin float64) float64 {
	return ulPerMin * minutesPerDay / ulPerML / g.CavityML
}

// water is the eye's flow of water in shares of the cavity a day.
type water struct {
	inflow, uveoscleral, facility float64 // the last for each mmHg
	baseline, episcleral          float64 // mmHg
}

func (g Globe) water() water {
	return water{g.perDay(g.InflowULPerMin), g.perDay(g.uveoscleral()), g.perDay(g.FacilityULPerMinPerMMHg), g.BaselineMMHg, g.EpiscleralMMHg}
}

// netInflow is what the cavity's water gains, as a share of the cavity a day:
// inflow less outflow; a loss ends with the water itself.
func (w *water) netInflow(pressureMMHg, left float64) float64 {
	net := w.inflow
	if pressureMMHg < w.baseline {
		net -= w.uveoscleral * pressureMMHg / w.baseline
	} else {
		net -= w.uveoscleral
	}
	if pressureMMHg > w.episcleral {
		net -= w.facility * (pressureMMHg - w.episcleral)
	}
	if net < 0 {
		left = math.Max(0, left)
		net *= left / (left + reserveShare)
	}
	return net
}

// stretch is how much the wall has given way since the baseline, as a share of
// the cavity: log10(P/P₀)/K, from the natural logarithm of P in mmHg; slope is
// its derivative by that logarithm. Below the baseline the wall comes in.
func (g Globe) stretch(logPressure float64) (share, slope float64) {
	slope = 1 / (g.RigidityPerUL * ulPerML * g.CavityML * math.Ln10)
	return slope * (logPressure - math.Log(g.BaselineMMHg)), slope
}

// relativeHeight is [eye.HeightOfFill] for a fill that is known to be a share.
func relativeHeight(fill float64) float64 {
	x, err := eye.HeightOfFill(math.Max(0, math.Min(1, fill)))
	if err != nil {
		return math.NaN() // not reached: the argument is a share
	}
	return x
}
