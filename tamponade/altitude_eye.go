package tamponade

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/fault"
)

// The eye of the altitude model. The effective rigidity is the one number that
// is fitted here; a sealed eye with Friedenwald's coefficient would predict 87
// and 72 mmHg where 49 and 42 were measured, because the choroid gives up blood.
const (
	// effectiveRigidity, in log10 per µL, is the geometric mean of the two
	// values, 0.0022 and 0.0032, that give the pressures measured in two people
	// on the climb (Kokame and Ing, Retina 1994;14:356; Foulsham et al., Retin
	// Cases Brief Rep 2021;15:564; abstracts) in a cavity of 5 mL (derived).
	effectiveRigidity = 0.0027
	// softRigidity makes the pressures 10 and 8 mmHg below the measured ones,
	// the tolerance of those examples (derived, the softer of both).
	softRigidity = 0.0014
	// stiffRigidity is the living eye's manometric coefficient, 0.0126 per µL
	// read as natural logarithm (Pallikaris et al., Invest Ophthalmol Vis Sci
	// 2005, abstract; the base is not printed there).
	stiffRigidity = 0.0055

	// Outflow facility in µL/min/mmHg: 0.24 ± 0.08 in 56 healthy eyes (Invest
	// Ophthalmol Vis Sci 2017, PMC5256680, abstract), low and high at one
	// standard deviation.
	middleFacility = 0.24
	lowFacility    = 0.16
	highFacility   = 0.32
	// glaucomaFacility and glaucomaLowFacility replace them in glaucoma (from
	// memory: 0.1 to 0.15 untreated; the low one is half, ours).
	glaucomaFacility    = 0.12
	glaucomaLowFacility = 0.05
	// mostInflow bounds the refilling of a soft eye, µL/min (Toris, abstract).
	mostInflow = 2.5
	// episcleralMMHg is the pressure under which nothing flows out (from memory).
	episcleralMMHg = 8.5
	// anteriorFluidUL is the fluid in front of the cavity that can leave in a
	// full eye (textbook, from memory).
	anteriorFluidUL = 250

	// fillReadingSDML is the error of a bubble's volume judged from outside:
	// 0.35 mL in 12 aspirated eyes (Thompson 1992, doi
	// 10.1001/archopht.1992.01080230094028, abstract).
	fillReadingSDML = 0.35
)

// AltitudeEye is the eye that travels.
type AltitudeEye struct {
	CavityML estimate.Estimate
	// Fill is the bubble's share of the cavity, 0 to 100 %.
	Fill Percent
	// FillExact says that the fill is known and not judged from outside; the
	// interval then leaves the reading error out.
	FillExact bool
	// BaselineMMHg is the pressure in the eye where the patient lives, 5 to 60.
	BaselineMMHg float64
	// Glaucoma, or drops for it, or any raised outflow resistance.
	Glaucoma bool
	// Buckle is carried for the record. A buckle gives room (12 eyes in a
	// chamber a month after C3F8: peak 20 mmHg with, 32 without; secondary) but
	// never softens a result here.
	Buckle bool
}

// Check returns a fault for an eye that cannot be.
func (e AltitudeEye) Check() error {
	for _, v := range []float64{e.CavityML.Low, e.CavityML.Value, e.CavityML.High} {
		if err := checkCavity(v); err != nil {
			return err
		}
	}
	if !(e.Fill >= 0 && e.Fill <= 100) {
		return &fault.Error{Code: fault.Invalid, Where: "fill", What: fmt.Sprintf("%g %% cannot be", float64(e.Fill)), Expected: "0 to 100 % of the cavity"}
	}
	if !(e.BaselineMMHg >= 5 && e.BaselineMMHg <= 60) {
		return &fault.Error{Code: fault.Invalid, Where: "pressure before the journey", What: fmt.Sprintf("%g mmHg is outside the model", e.BaselineMMHg), Expected: "5 to 60 mmHg"}
	}
	return nil
}

// sealed is one eye of the model with all numbers fixed.
type sealed struct {
	gasUL, dry0 float64 // bubble and its dry pressure at rest
	rest        float64 // pressure in the eye at rest
	rigidity    float64
	facility    float64
	fluidUL     float64 // fluid that can leave
}

// pressure solves
//
//	gas(P) − gas₀ + water = log10(P / P₀) / K
//
// for the pressure in the eye: what bubble and aqueous gain, the wall and the
// choroid give. The misfit falls with P and is convex, so Newton's steps climb
// to the one root from its left without passing it; a start to the right of it
// is first thrown to the left, and kept positive by halving.
func (s sealed) pressure(ambient, waterUL float64) float64 {
	p := s.rest
	for range 100 {
		dry := ambient + p - WaterVapourMMHg
		misfit := s.gasUL*(s.dry0/dry-1) + waterUL - math.Log10(p/s.rest)/s.rigidity
		slope := -s.gasUL*s.dry0/(dry*dry) - 1/(math.Ln10*s.rigidity*p)
		next := p - misfit/slope
		if next <= 0 {
			next = p / 2
		}
		if math.Abs(next-p) <= 1e-12*p {
			return next
		}
		p = next
	}
	return p
}

// waterRate is the gain of aqueous in µL/min: nothing at rest, outflow by the
// pressure above it, and refilling no faster than aqueous is made.
func (s sealed) waterRate(pressure, waterUL float64) float64 {
	rate := -s.facility * (math.Max(pressure, episcleralMMHg) - s.rest)
	if rate < 0 && waterUL <= -s.fluidUL {
		return 0
	}
	return math.Min(rate, mostInflow)
}

// course runs a journey and hands every step to visit. Each stretch is cut into steps of at most a minute,
// some thirty times shorter than the eye's own time (compliance over facility),
// and integrated by the classical Runge-Kutta rule.
func (s sealed) course(j Journey, visit func(minutes, heightM, pressure float64)) {
	water := 0.0
	visit(0, j[0].HeightM, s.pressure(ambientMMHg(j[0].HeightM), 0))
	for i := 1; i < len(j); i++ {
		from, to := j[i-1], j[i]
		span := to.Minutes - from.Minutes
		steps := max(1, int(math.Ceil(span)))
		dt := span / float64(steps)
		height := func(share float64) float64 { return from.HeightM + (to.HeightM-from.HeightM)*share }
		rate := func(share, w float64) float64 {
			return s.waterRate(s.pressure(ambientMMHg(height(share)), w), w)
		}
		for k := range steps {
			a, b := float64(k)/float64(steps), float64(k+1)/float64(steps)
			if dt > 0 {
				k1 := rate(a, water)
				k2 := rate((a+b)/2, water+dt/2*k1)
				k3 := rate((a+b)/2, water+dt/2*k2)
				k4 := rate(b, water+dt*k3)
				water = math.Max(-s.fluidUL, water+dt/6*(k1+2*k2+2*k3+k4))
			}
			visit(from.Minutes+b*span, height(b), s.pressure(ambientMMHg(height(b)), water))
		}
	}
}

// peak is the highest and lowest pressure of a journey, and when the highest was.
func (s sealed) peak(j Journey) (highest, lowest, atMinutes float64) {
	highest, lowest = math.Inf(-1), math.Inf(1)
	s.course(j, func(minutes, _, p float64) {
		if p > highest+1e-9 {
			highest, atMinutes = p, minutes
		}
		lowest = math.Min(lowest, p)
	})
	return highest, lowest, atMinutes
}

func (e AltitudeEye) sealed(livingM, cavityML, fill, rigidity, facility float64) sealed {
	return sealed{
		gasUL: 1000 * cavityML * fill, dry0: ambientMMHg(livingM) + e.BaselineMMHg - WaterVapourMMHg, rest: e.BaselineMMHg,
		rigidity: rigidity, facility: facility, fluidUL: 1000*cavityML*(1-fill) + anteriorFluidUL,
	}
}

// variants are the middle eye, the most yielding and the least yielding one.
func (e AltitudeEye) variants(livingM float64) (middle, yielding, stiff sealed) {
	f, slack := e.Fill.Fraction(), 0.0
	if !e.FillExact && f > 0 {
		slack = estimate.Z95 * fillReadingSDML / e.CavityML.Value
	}
	fMiddle, fLow, fHigh := middleFacility, lowFacility, highFacility
	if e.Glaucoma {
		fMiddle, fLow, fHigh = glaucomaFacility, glaucomaLowFacility, middleFacility
	}
	return e.sealed(livingM, e.CavityML.Value, f, effectiveRigidity, fMiddle),
		e.sealed(livingM, e.CavityML.Low, math.Max(0, f-slack), softRigidity, fHigh),
		e.sealed(livingM, e.CavityML.High, math.Min(1, f+slack), stiffRigidity, fLow)
}
