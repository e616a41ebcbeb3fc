package eye

import (
	"fmt"
	"math"

	"limitans/fault"
)

// Direction is a unit vector from the middle of the cavity, in the frame of
// an eye that looks straight ahead. The frame is that of someone facing the
// patient, and the same for right and left eyes, so that gravity is one vector
// for both:
//
//	            Y superior, 12 o'clock
//	            |
//	  9 o'clock |          3 o'clock
//	 −X —————— eye —————— +X   the patient's left
//	            |   \
//	            |    Z anterior, towards the examiner
//	          6 o'clock
//
//	right eye: nasal is +X, 3 o'clock      left eye: nasal is −X, 9 o'clock
//
//	seen from the patient's left:
//
//	            Y
//	       . - -+- - .
//	 fovea|     |     |) cornea ———> Z
//	(0,0,−1)    O     |)
//	       ' - - - - '
//
// X × Y = Z. With the head erect up is (0, 1, 0), on the back (supine) it is
// (0, 0, 1), face down (prone) it is (0, 0, −1); face down by the pitch a it is
// (0, cos a, −sin a).
type Direction struct{ X, Y, Z float64 }

// NewDirection returns the direction of a vector of any length but zero.
func NewDirection(x, y, z float64) (Direction, error) {
	largest := max(math.Abs(x), math.Abs(y), math.Abs(z))
	if !(largest > 0) || math.IsInf(largest, 1) {
		return Direction{}, &fault.Error{Code: fault.Invalid, Where: "direction", What: fmt.Sprintf("(%g, %g, %g) points nowhere", x, y, z), Expected: "a finite vector other than zero"}
	}
	x, y, z = x/largest, y/largest, z/largest // so that squares neither vanish nor overflow
	length := math.Sqrt(x*x + y*y + z*z)
	return Direction{x / length, y / length, z / length}, nil
}

// AngleDeg is the angle to another direction, 0 to 180 degrees. It is the arc
// tangent of cross and dot product, which stays exact where the arc cosine
// does not, near 0 and 180.
func (d Direction) AngleDeg(other Direction) float64 {
	cross := math.Hypot(math.Hypot(d.Y*other.Z-d.Z*other.Y, d.Z*other.X-d.X*other.Z), d.X*other.Y-d.Y*other.X)
	return math.Atan2(cross, d.X*other.X+d.Y*other.Y+d.Z*other.Z) * 180 / math.Pi
}

// MaculaDirection is the direction of the fovea, (0, 0, −1) in either eye:
// the frame is laid along the line of sight. That line passes through the
// nodal point and not through the middle of the cavity; with the fovea 5°
// from the optic axis and the nodal point 5.5 mm before the middle of a
// sphere of 11.5 mm, the fovea lies 2.4° off (derived; 5° and 5.5 mm from
// memory).
func MaculaDirection() Direction { return Direction{0, 0, -1} }

// ClockHourDirection returns the direction of a place on the wall, given as
// surgeons give it: the clock hour as seen from the front (12 superior; 3 on
// the patient's left, which is nasal in a right and temporal in a left eye) and
// the angle from the macula at the middle of the cavity,
//
//	(sin e · sin h, sin e · cos h, −cos e),   h = 30° · hour.
//
// hour runs from 0 to below 13, half hours past 12 being 12.5 or 0.5 alike;
// fromMaculaDeg from 0 (the macula itself, any hour) to 180 degrees (the
// cornea). 90 is the equator; the ora serrata lies near [OraFromMaculaDeg].
func ClockHourDirection(hour, fromMaculaDeg float64) (Direction, error) {
	if !(hour >= 0 && hour < 13) {
		return Direction{}, &fault.Error{Code: fault.Invalid, Where: "clock hour", What: fmt.Sprintf("%g is none", hour), Expected: "1 to 12, or a part of an hour such as 12.5"}
	}
	if !(fromMaculaDeg >= 0 && fromMaculaDeg <= 180) {
		return Direction{}, &fault.Error{Code: fault.Invalid, Where: "angle from the macula", What: fmt.Sprintf("%g degrees is none", fromMaculaDeg), Expected: "0 to 180 degrees"}
	}
	sinE, cosE := math.Sincos(fromMaculaDeg * math.Pi / 180)
	sinH, cosH := math.Sincos(hour * math.Pi / 6)
	return Direction{sinE * sinH, sinE * cosH, -cosE}, nil
}

// ClockHour is the inverse of [ClockHourDirection]: the hour above 0 to 12 and
// the angle from the macula. At the macula and opposite to it the hour is NaN,
// because every hour meets there.
func (d Direction) ClockHour() (hour, fromMaculaDeg float64) {
	fromMaculaDeg = d.AngleDeg(MaculaDirection())
	if math.Hypot(d.X, d.Y) < 1e-12 {
		return math.NaN(), fromMaculaDeg
	}
	hour = math.Atan2(d.X, d.Y) * 6 / math.Pi
	if hour <= 0 {
		hour += 12
	}
	return hour, fromMaculaDeg
}

// NasalDirection points to the nose: +X in a right eye, −X in a left eye. An
// unknown side is refused, never guessed.
func NasalDirection(side Laterality) (Direction, error) {
	switch side {
	case Right:
		return Direction{1, 0, 0}, nil
	case Left:
		return Direction{-1, 0, 0}, nil
	}
	return Direction{}, &fault.Error{Code: fault.Invalid, Where: "eye", What: "the side is not known, so nasal is not either", Expected: "right or left"}
}

// DiscDirection is the direction of the optic disc's centre on a retina of the
// given sphere: [DiscFoveaMM] along the wall from the fovea, nasal and, by
// [DiscFoveaAngleDeg], superior (Jonas et al. 2015, PLoS ONE 10:e0138701 and
// e0141771, abstracts; of single eyes 3.76 to 6.53 mm and −6.3 to 28.9°).
func DiscDirection(side Laterality, retina Sphere) (Direction, error) {
	nasal, err := NasalDirection(side)
	if err != nil {
		return Direction{}, err
	}
	if retina.radiusMM == 0 {
		return Direction{}, &fault.Error{Code: fault.Invalid, Where: "retina", What: "has no radius", Expected: "a sphere made with its radius or volume"}
	}
	sinE, cosE := math.Sincos(retina.ArcDeg(DiscFoveaMM) * math.Pi / 180)
	up, along := math.Sincos(DiscFoveaAngleDeg * math.Pi / 180)
	return Direction{nasal.X * sinE * along, sinE * up, -cosE}, nil
}
