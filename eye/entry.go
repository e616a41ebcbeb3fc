package eye

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/fault"
)

// The front of the eye as the reach of an instrument sees it.
const (
	// limbusDepthMM and limbusRadiusMM place the ring of the limbus behind the
	// corneal apex (schematic values, from memory).
	limbusDepthMM  = 2.64
	limbusRadiusMM = 5.85
	// limbusDepthSD: ours. limbusRadiusSD: half the spread of the white-to-white
	// distance, 12.02 ± 0.46 mm in 13,012 eyes (Ferreira et al., abstract).
	// entrySD: a caliper's mark, ours.
	limbusDepthSD  = 0.2
	limbusRadiusSD = 0.23
	entrySD        = 0.25
)

// Entry is a sclerotomy and where it lies in a model eye: a sphere through the
// ring of the limbus and the posterior pole,
//
//	           entry
//	    .  - ——*- .        c = (L² − d² − r²) / (2L − 2d)   the sphere's middle
//	  .'        \   '. *limbus  (depth d, radius r)         behind the apex
//	 /           \    \
//	pole ← reach — +   ) cornea,   R = L − c
//	 \            c   /
//	  '.           .'*
//	    '  - — - '
//
// The entry lies the given distance behind the limbus along the sphere. The
// model ignores the thickness of the wall, the hub of the cannula and the
// bend of the shaft; the reference adds about 2 mm for hub and bend.
type Entry struct {
	ReachMM estimate.Estimate // straight line from the entry to the posterior pole
	// ShaftTiltDeg is the angle between the eye's axis and a straight shaft to
	// the posterior pole.
	ShaftTiltDeg                  float64
	axialLengthMM, behindLimbusMM float64
	ringMM                        float64 // radius of the ring of entries round the axis
}

// NewEntry places a sclerotomy behindLimbusMM millimetres behind the limbus (0
// to 8) of an eye of the given axial length, [MinAxialLengthMM] to
// [MaxAxialLengthMM]. The interval carries the spread of the limbus and of the
// mark, not the shape of a staphyloma. Model derived; no published check.
func NewEntry(axialLengthMM, behindLimbusMM float64) (Entry, error) {
	if err := CheckAxialLengthMM(axialLengthMM); err != nil {
		return Entry{}, err
	}
	if !(behindLimbusMM >= 0 && behindLimbusMM <= 8) {
		return Entry{}, &fault.Error{Code: fault.Invalid, Where: "distance behind the limbus", What: fmt.Sprintf("%g mm is no sclerotomy", behindLimbusMM), Expected: "0 to 8 mm"}
	}
	at := modelEntry(axialLengthMM, behindLimbusMM, limbusDepthMM, limbusRadiusMM)
	e := Entry{
		ShaftTiltDeg:  at.fromAxis / 2 * 180 / math.Pi, // the angle at the wall is half of that at the middle
		axialLengthMM: axialLengthMM, behindLimbusMM: behindLimbusMM,
		ringMM: at.radius * math.Sin(at.fromAxis),
	}
	e.ReachMM = e.spread(func(m modelSphere) float64 { return m.chordMM(0, 0) }, "sphere through the limbus and the posterior pole; interval from the spread of the limbus and of the mark")
	return e, nil
}

// modelSphere is the sphere of the model and where the entry lies on it.
type modelSphere struct {
	radius   float64 // mm
	fromAxis float64 // of the entry from the front of the axis at the middle, radians
}

func modelEntry(axialLengthMM, behindLimbusMM, depthMM, radiusMM float64) modelSphere {
	middle := (axialLengthMM*axialLengthMM - depthMM*depthMM - radiusMM*radiusMM) / (2 * (axialLengthMM - depthMM))
	r := axialLengthMM - middle
	return modelSphere{r, math.Atan2(radiusMM, middle-depthMM) + behindLimbusMM/r}
}

// chordMM is the straight line from the entry to the point of the wall that lies
// fromPole radians from the posterior pole and around radians round the axis
// from the entry's own meridian: 2R·sin(γ/2), cos γ by the spherical law.
func (m modelSphere) chordMM(fromPole, around float64) float64 {
	entry := math.Pi - m.fromAxis // from the pole
	cosine := math.Cos(entry)*math.Cos(fromPole) + math.Sin(entry)*math.Sin(fromPole)*math.Cos(around)
	return 2 * m.radius * math.Sqrt(max(0, (1-cosine)/2))
}

// spread computes a figure of the model with the interval that the spread of the
// limbus and of the mark gives it.
func (e Entry) spread(of func(modelSphere) float64, basis string) estimate.Estimate {
	value := of(modelEntry(e.axialLengthMM, e.behindLimbusMM, limbusDepthMM, limbusRadiusMM))
	variance := 0.0
	for _, moved := range [][3]float64{{entrySD, 0, 0}, {0, limbusDepthSD, 0}, {0, 0, limbusRadiusSD}} {
		other := of(modelEntry(e.axialLengthMM, e.behindLimbusMM+moved[0], limbusDepthMM+moved[1], limbusRadiusMM+moved[2]))
		variance += (other - value) * (other - value)
	}
	return estimate.Normal(value, math.Sqrt(variance), basis)
}

// Separation returns the straight distance between two such entries apartDeg
// degrees apart round the limbus (0 to 180; a clock hour is 30) and the angle
// between two shafts that meet at the posterior pole.
func (e Entry) Separation(apartDeg float64) (chordMM, shaftsDeg float64, err error) {
	if !(apartDeg >= 0 && apartDeg <= 180) {
		return math.NaN(), math.NaN(), &fault.Error{Code: fault.Invalid, Where: "angle between the ports", What: fmt.Sprintf("%g degrees is none", apartDeg), Expected: "0 to 180 degrees"}
	}
	chordMM = 2 * e.ringMM * math.Sin(apartDeg*math.Pi/360)
	return chordMM, 2 * math.Asin(chordMM/2/e.ReachMM.Value) * 180 / math.Pi, nil
}
