package eye

import (
	"fmt"
	"math"

	"limitans/fault"
)

// The bounds of a cavity's radius: a sphere of 0.5 mL has 4.9 mm, one of 65 mL
// has 25 mm; both leave far behind what a human eye holds.
const (
	minSphereRadiusMM = 4.0
	maxSphereRadiusMM = 25.0
)

// Sphere is the vitreous cavity, or the retina, as a sphere. Its zero value is
// no sphere; make one with [NewSphere] or [SphereOfVolume].
type Sphere struct{ radiusMM float64 }

// NewSphere returns the sphere of radiusMM millimetres, which must lie between
// 4 and 25.
func NewSphere(radiusMM float64) (Sphere, error) {
	if !(radiusMM >= minSphereRadiusMM && radiusMM <= maxSphereRadiusMM) {
		return Sphere{}, &fault.Error{
			Code: fault.Invalid, Where: "radius of the cavity", What: fmt.Sprintf("%g mm is not that of a human eye", radiusMM),
			Expected: fmt.Sprintf("%g to %g mm", minSphereRadiusMM, maxSphereRadiusMM),
		}
	}
	return Sphere{radiusMM}, nil
}

// SphereOfVolume returns the sphere of volumeML millilitres,
//
//	R = ∛(3V / 4π),
//
// which must have a radius between 4 and 25 mm (0.27 to 65 mL).
func SphereOfVolume(volumeML float64) (Sphere, error) {
	s, err := NewSphere(math.Cbrt(3 * volumeML * cubicMMPerML / (4 * math.Pi)))
	if err != nil {
		return Sphere{}, &fault.Error{
			Code: fault.Invalid, Where: "volume of the cavity", What: fmt.Sprintf("%g mL is not that of a human eye", volumeML),
			Expected: "0.3 to 65 mL",
		}
	}
	return s, nil
}

// SphereOfArea returns the sphere whose whole surface has areaMM2 square
// millimetres, R = √(A / 4π); the radius must lie between 4 and 25 mm.
func SphereOfArea(areaMM2 float64) (Sphere, error) {
	return NewSphere(math.Sqrt(areaMM2 / (4 * math.Pi)))
}

const cubicMMPerML = 1000.0

// RadiusMM is the radius in millimetres.
func (s Sphere) RadiusMM() float64 { return s.radiusMM }

// VolumeML is 4πR³/3 in millilitres.
func (s Sphere) VolumeML() float64 {
	return 4 * math.Pi * s.radiusMM * s.radiusMM * s.radiusMM / 3 / cubicMMPerML
}

// AreaMM2 is 4πR² in square millimetres.
func (s Sphere) AreaMM2() float64 { return 4 * math.Pi * s.radiusMM * s.radiusMM }

// ArcMM is the length along the wall that an angle at the sphere's centre
// spans, in millimetres.
func (s Sphere) ArcMM(centreDeg float64) float64 { return s.radiusMM * centreDeg * math.Pi / 180 }

// ArcDeg is the angle at the sphere's centre, in degrees, that a length along
// the wall spans. It is not the visual angle, whose apex is the nodal point.
func (s Sphere) ArcDeg(wallMM float64) float64 { return wallMM / s.radiusMM * 180 / math.Pi }

// ClockHourMM is the length of one clock hour on the equator, 2πR/12.
func (s Sphere) ClockHourMM() float64 { return s.ArcMM(360.0 / 12) }
