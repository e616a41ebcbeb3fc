package tamponade

import (
	"fmt"
	"math"

	"limitans/eye"
	"limitans/fault"
)

// Position is how the head is held, the eye looking straight ahead in it.
//
//	pitch   0 upright, 90 face down (prone), −90 on the back (supine)
//	roll    0 upright, 90 left ear down, −90 right ear down
//
//	up in the eye's frame ([eye.Direction]) = (−sin roll · cos pitch,
//	                                           cos roll · cos pitch, −sin pitch)
type Position struct {
	Name     string
	PitchDeg float64 // −90 to 90
	RollDeg  float64 // −180 to 180
}

// Up returns the direction in the eye that points away from gravity, where the
// bubble goes. A pitch or roll out of range gives a fault of code Invalid.
func (p Position) Up() (eye.Direction, error) {
	if !(p.PitchDeg >= -90 && p.PitchDeg <= 90 && p.RollDeg >= -180 && p.RollDeg <= 180) {
		return eye.Direction{}, &fault.Error{
			Code: fault.Invalid, Where: "position " + p.Name, What: fmt.Sprintf("pitch %g and roll %g degrees cannot be", p.PitchDeg, p.RollDeg),
			Expected: "pitch −90 to 90, roll −180 to 180",
		}
	}
	sinPitch, cosPitch := math.Sincos(p.PitchDeg * math.Pi / 180)
	sinRoll, cosRoll := math.Sincos(p.RollDeg * math.Pi / 180)
	return eye.Direction{X: -sinRoll * cosPitch, Y: cosRoll * cosPitch, Z: -sinPitch}, nil
}

// The standard positions: what people are told, and what they do.
var (
	Upright         = Position{"upright", 0, 0}
	Reading         = Position{"sitting, looking down 30°", 30, 0}
	FaceDown45      = Position{"face down 45°", 45, 0}
	FaceDown60      = Position{"face down 60°", 60, 0}
	Prone           = Position{"prone", 90, 0}
	Reclined        = Position{"reclined 30°", -30, 0}
	Supine          = Position{"supine", -90, 0}
	LeftSide        = Position{"on the left side", 0, 90}
	RightSide       = Position{"on the right side", 0, -90}
	LeftSideNosing  = Position{"on the left side, nose down 30°", 30, 90}
	RightSideNosing = Position{"on the right side, nose down 30°", 30, -90}
	// Positions of [MeasuredDiary] that nobody is told.
	LittleForward = Position{"upright, a little forward", 5, 0}
	LeaningBack   = Position{"leaning back 20°", -20, 0}
	Reclined60    = Position{"reclined 60°", -60, 0}
)

// Positions returns the standard positions, upright first. They are the choices
// of [ProposeRota], but for lying on the back.
func Positions() []Position {
	return []Position{Upright, Reading, FaceDown45, FaceDown60, Prone, LeftSide, RightSide, LeftSideNosing, RightSideNosing, Reclined, Supine}
}

// DiaryPositions returns the positions in which a day can be told, from face down to
// on the back, then the sides: those that are told and those that people take.
func DiaryPositions() []Position {
	return []Position{
		Prone, FaceDown60, FaceDown45, Reading, LittleForward, Upright, LeaningBack, Reclined, Reclined60, Supine,
		LeftSide, RightSide, LeftSideNosing, RightSideNosing,
	}
}

// Target is a place of the retina that the bubble is to touch, with room round
// it.
type Target struct {
	Name      string
	Direction eye.Direction
	// MarginDeg is the angle round the place that must be covered with it, at
	// the middle of the cavity.
	MarginDeg float64
}

// The parts of the margin of the macula: the radius of a hole of 1 mm in an eye
// of 11 mm radius, 2.6°, and how far the fovea lies off the axis that pitch is
// measured by, 2.4° (see [eye.MaculaDirection]). Together they ask for 56.4 %
// fill when upright, in the middle of the 55 to 60 % that the missing room at
// lens and iris is commonly allowed for (no source).
const (
	axisMarginDeg        = 2.4
	defaultHoleRadiusDeg = 2.6
)

// MaculaTarget returns the fovea with the margin of a hole whose diameter is
// holeDiameterUM micrometres, 0 to 3,000, in the given cavity; 0 stands for a
// hole of 1 mm.
func MaculaTarget(holeDiameterUM float64, cavity eye.Sphere) (Target, error) {
	if !(holeDiameterUM >= 0 && holeDiameterUM <= 3000) {
		return Target{}, &fault.Error{Code: fault.Invalid, Where: "hole", What: fmt.Sprintf("a diameter of %g µm is out of reach", holeDiameterUM), Expected: "0 to 3000 µm"}
	}
	margin := axisMarginDeg + defaultHoleRadiusDeg
	if holeDiameterUM > 0 {
		if cavity.RadiusMM() == 0 {
			return Target{}, noCavity()
		}
		margin = axisMarginDeg + cavity.ArcDeg(holeDiameterUM/1000/2)
	}
	return Target{"macula", eye.MaculaDirection(), margin}, nil
}

// BreakTarget returns a retinal break at a clock hour, fromMaculaMM along the
// wall from the fovea, with its own radius as margin, in the given cavity.
func BreakTarget(hour, fromMaculaMM, radiusMM float64, cavity eye.Sphere) (Target, error) {
	if cavity.RadiusMM() == 0 {
		return Target{}, noCavity()
	}
	if !(radiusMM >= 0 && radiusMM <= 15) {
		return Target{}, &fault.Error{Code: fault.Invalid, Where: "break", What: fmt.Sprintf("a radius of %g mm is out of reach", radiusMM), Expected: "0 to 15 mm"}
	}
	if !(fromMaculaMM >= 0 && cavity.ArcDeg(fromMaculaMM) <= 180) {
		return Target{}, &fault.Error{Code: fault.Invalid, Where: "break", What: fmt.Sprintf("%g mm from the macula is not in this eye", fromMaculaMM), Expected: fmt.Sprintf("0 to %.3g mm", cavity.ArcMM(180))}
	}
	d, err := eye.ClockHourDirection(hour, cavity.ArcDeg(fromMaculaMM))
	if err != nil {
		return Target{}, err
	}
	return Target{fmt.Sprintf("break at %g o'clock", hour), d, axisMarginDeg + cavity.ArcDeg(radiusMM)}, nil
}

func noCavity() error {
	return &fault.Error{Code: fault.Invalid, Where: "cavity", What: "has no radius", Expected: "a sphere made with its volume"}
}

// NeverFill is what [MinimumFill] returns where no fill below a full cavity
// covers the target.
const NeverFill = 1.0

// MinimumFill returns the least share of the cavity with which a bubble covers
// a target in a position: the cap whose half arc is the angle from the top to
// the target and its margin,
//
//	α = angle + margin,   x = sin²(α/2),   f = 3x² − 2x³;
//
// [NeverFill] where α is 180° and more. Flat level in a sphere: below 6 % fill
// a bubble is rounder and covers less; oil covers less throughout.
func MinimumFill(p Position, t Target) (float64, error) {
	up, err := p.Up()
	if err != nil {
		return nan, err
	}
	if !(t.MarginDeg >= 0 && t.MarginDeg <= 90) {
		return nan, &fault.Error{Code: fault.Invalid, Where: "target " + t.Name, What: fmt.Sprintf("a margin of %g degrees is out of reach", t.MarginDeg), Expected: "0 to 90"}
	}
	if t.Direction == (eye.Direction{}) {
		return nan, &fault.Error{Code: fault.Invalid, Where: "target " + t.Name, What: "has no place", Expected: "a direction"}
	}
	angle := up.AngleDeg(t.Direction) + t.MarginDeg
	if angle >= 180 {
		return NeverFill, nil
	}
	sine := math.Sin(angle * math.Pi / 360)
	return eye.FillOfHeight(sine * sine)
}

// Covers reports whether a bubble of a fill, 0 to below 1, covers the target in
// a position; a full cavity covers everything.
func Covers(p Position, t Target, fill float64) (bool, error) {
	if !(fill >= 0 && fill <= 1) {
		return false, &fault.Error{Code: fault.Invalid, Where: "fill", What: fmt.Sprintf("%g is not a share", fill), Expected: "0 to 1"}
	}
	least, err := MinimumFill(p, t)
	return err == nil && fill >= least && fill > 0, err
}

// retinaSteps rings give the share to four digits.
const retinaSteps = 720

// RetinaCovered returns the share of the retina, from the posterior pole to the
// ora serrata, that a bubble of a fill covers in a position. Rings round the
// macula are summed; on the ring at the angle e the share inside a cap of half
// arc α round the top at the angle γ is
//
//	acos((cos α − cos e cos γ) / (sin e sin γ)) / π.
//
// Flat level in a sphere, see [MinimumFill].
func RetinaCovered(p Position, fill float64) (float64, error) {
	up, err := p.Up()
	if err != nil {
		return nan, err
	}
	x, err := eye.HeightOfFill(fill)
	if err != nil {
		return nan, err
	}
	cosAlpha := 1 - 2*x
	gamma := up.AngleDeg(eye.MaculaDirection()) * math.Pi / 180
	sinGamma, cosGamma := math.Sincos(gamma)
	covered, area := 0.0, 0.0
	step := eye.OraFromMaculaDeg * math.Pi / 180 / retinaSteps
	for i := range retinaSteps {
		sinE, cosE := math.Sincos((float64(i) + 0.5) * step)
		area += sinE
		share := 0.0
		if across := sinE * sinGamma; across > 1e-12 {
			share = math.Acos(math.Max(-1, math.Min(1, (cosAlpha-cosE*cosGamma)/across))) / math.Pi
		} else if cosE*cosGamma >= cosAlpha {
			share = 1
		}
		covered += share * sinE
	}
	return covered / area, nil
}
