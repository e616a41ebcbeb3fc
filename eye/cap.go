package eye

import (
	"fmt"
	"math"

	"limitans/fault"
)

// Cap is the part of a sphere on one side of a level plane: a bubble under
// its wall, heavy liquid over its floor, or a patch of retina round a point.
//
//	       top
//	     . - - .            h   height from the top to the level
//	  .'   gas   '.         x = h / 2R, from 0 to 1
//	 /             \        α   half the arc, at the sphere's centre
//	|———————————————|       chord: the level's diameter
//	|    \  α|  /   |
//	 \    \  | /   /
//	  '.   \ |/  .'
//	     ' - + -'
//	       fluid
//
// The level is flat. In an eye that is an upper limit of the wall wetted by
// gas when the fill is small: bubbles of 0.3 mL stay rounder (Lincoff and
// others on protein-coated glass, secondary), and oil wets less than the plane
// says (Rossi et al., Transl Vis Sci Technol 2021;10(8):22, doi
// 10.1167/tvst.10.8.22, abstract: 80 to 90 % fill touch 55 to 78 % of the
// retina, the plane says 71 to 80 %).
type Cap struct {
	sphere Sphere
	x      float64 // height over diameter, 0 to 1
}

// FillOfHeight returns the share of a sphere's volume that lies above a level
// plane at relativeHeight = height of the cap / diameter of the sphere,
//
//	f = 3x² − 2x³.
//
// Both run from 0 to 1. By Archimedes' theorem x is also the share of the wall
// that the cap touches.
func FillOfHeight(relativeHeight float64) (float64, error) {
	if err := checkShare("relative height", relativeHeight); err != nil {
		return math.NaN(), err
	}
	return fillOfHeight(relativeHeight), nil
}

func fillOfHeight(x float64) float64 { return x * x * (3 - 2*x) }

// HeightOfFill is the inverse of [FillOfHeight],
//
//	x = 2 sin(ψ/3) cos(π/6 − ψ/3),   ψ = asin √f,
//
// the root of the cubic between 0 and 1 in a form that loses no digits at
// small fills. fill must lie between 0 and 1.
func HeightOfFill(fill float64) (float64, error) {
	if err := checkShare("fill", fill); err != nil {
		return math.NaN(), err
	}
	return heightOfFill(fill), nil
}

func heightOfFill(f float64) float64 {
	if f > 0.5 {
		return 1 - heightOfFill(1-f) // the subtraction is exact, and asin is steep near 1
	}
	third := math.Asin(math.Sqrt(f)) / 3
	return 2 * math.Sin(third) * math.Cos(math.Pi/6-third)
}

// CapOfFill returns the cap that takes up a share of the sphere's volume;
// fill must lie between 0 and 1.
func (s Sphere) CapOfFill(fill float64) (Cap, error) {
	x, err := HeightOfFill(fill)
	return Cap{s, x}, err
}

// CapOfHeightMM returns the cap of a height in millimetres, from 0 to the
// sphere's diameter.
func (s Sphere) CapOfHeightMM(heightMM float64) (Cap, error) {
	x := heightMM / (2 * s.radiusMM)
	return Cap{s, x}, checkShare("relative height", x)
}

// CapOfHalfAngle returns the cap whose rim lies halfAngleDeg degrees from its
// top, seen from the sphere's centre; from 0 to 180,
//
//	x = (1 − cos α) / 2 = sin²(α/2).
func (s Sphere) CapOfHalfAngle(halfAngleDeg float64) (Cap, error) {
	if !(halfAngleDeg >= 0 && halfAngleDeg <= 180) {
		return Cap{}, &fault.Error{Code: fault.Invalid, Where: "half angle", What: fmt.Sprintf("%g degrees is none", halfAngleDeg), Expected: "0 to 180 degrees"}
	}
	sine := math.Sin(halfAngleDeg * math.Pi / 360)
	return Cap{s, sine * sine}, nil
}

// RelativeHeight is height over diameter, 0 to 1; the share of the wall touched.
func (c Cap) RelativeHeight() float64 { return c.x }

// Fill is the share of the sphere's volume, 0 to 1.
func (c Cap) Fill() float64 { return fillOfHeight(c.x) }

// HeightMM is the distance from the top to the level.
func (c Cap) HeightMM() float64 { return 2 * c.sphere.radiusMM * c.x }

// VolumeML is the volume in millilitres.
func (c Cap) VolumeML() float64 { return c.Fill() * c.sphere.VolumeML() }

// WallMM2 is the area of the wall that the cap touches, 2πR²(1 − cos α).
func (c Cap) WallMM2() float64 { return c.x * c.sphere.AreaMM2() }

// LevelMM2 is the area of the level, π·(chord/2)².
func (c Cap) LevelMM2() float64 { return math.Pi * c.ChordMM() * c.ChordMM() / 4 }

// ChordMM is the diameter of the level, 4R√(x(1 − x)).
func (c Cap) ChordMM() float64 { return 4 * c.sphere.radiusMM * math.Sqrt(c.x*(1-c.x)) }

// HalfAngleDeg is the angle from the top to the level's rim, seen from the
// sphere's centre, 0 to 180 degrees; the arc is twice this. A point of the
// wall is covered when it lies no farther from the top.
func (c Cap) HalfAngleDeg() float64 { return 2 * math.Asin(math.Sqrt(c.x)) * 180 / math.Pi }

func checkShare(where string, share float64) error {
	if share >= 0 && share <= 1 {
		return nil
	}
	e := &fault.Error{Code: fault.Invalid, Where: where, What: fmt.Sprintf("%g is not a share", share), Expected: "0 to 1"}
	if share > 1 && share <= 100 {
		e.Mend = "a percentage is divided by 100"
	}
	return e
}
