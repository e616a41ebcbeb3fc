package eye

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/fault"
)

// Target is a place on the wall that an instrument is to reach.
type Target string

// The places, on the model's sphere. Same and opposite are the sides of the
// entry: an entry above and temporal has its opposite below and nasal.
const (
	TargetMacula          Target = "macula"
	TargetArcade          Target = "arcade" // the farther side of the arcades
	TargetEquatorOpposite Target = "equator-opposite"
	TargetEquatorSame     Target = "equator-same"
	TargetOraOpposite     Target = "ora-opposite"
	TargetFarthest        Target = "farthest" // the far end of the sphere's diameter
)

// Targets returns all places.
func Targets() []Target {
	return []Target{TargetMacula, TargetArcade, TargetFarthest, TargetEquatorOpposite, TargetOraOpposite, TargetEquatorSame}
}

// DistanceMM is the straight line in millimetres from the entry to a place on the
// wall of the model sphere: the macula at the posterior pole, the arcades at
// their working value of 3.25 mm (from memory) along the wall, the equator at
// 90° from the pole at the sphere's middle, the ora at [OraFromMaculaDeg]. The
// farthest point is the entry's own antipode, one diameter away. Invalid: a place
// that is none of [Targets].
func (e Entry) DistanceMM(to Target) (estimate.Estimate, error) {
	const basis = "sphere through the limbus and the posterior pole; interval from the spread of the limbus and of the mark"
	at := func(deg, around float64) (estimate.Estimate, error) {
		return e.spread(func(m modelSphere) float64 { return m.chordMM(deg*math.Pi/180, around) }, basis), nil
	}
	switch to {
	case TargetMacula:
		return e.ReachMM, nil
	case TargetArcade:
		arcade, err := TheatreFactOf("ARCADE")
		if err != nil {
			return estimate.Estimate{}, err
		}
		return e.spread(func(m modelSphere) float64 { return m.chordMM(arcade.Value/m.radius, math.Pi) }, basis), nil
	case TargetEquatorOpposite:
		return at(90, math.Pi)
	case TargetEquatorSame:
		return at(90, 0)
	case TargetOraOpposite:
		return at(OraFromMaculaDeg, math.Pi)
	case TargetFarthest:
		return e.spread(func(m modelSphere) float64 { return 2 * m.radius }, basis), nil
	}
	return estimate.Estimate{}, &fault.Error{Code: fault.Invalid, Where: "target", What: fmt.Sprintf("%q is no place that is known", string(to)), Expected: fmt.Sprint(Targets())}
}

// ReachVerdict says whether a shaft is long enough.
type ReachVerdict string

// A shaft reaches when the whole interval of what is left lies above zero, falls
// short when all of it lies below, and may fall short otherwise.
const (
	Reaches      ReachVerdict = "reaches"
	MayFallShort ReachVerdict = "may_fall_short"
	FallsShort   ReachVerdict = "falls_short"
)

// ReachCheck compares an instrument with the way it has to go.
type ReachCheck struct {
	DistanceMM estimate.Estimate // from the entry to the place
	// NeededMM is that with what hub and bend take outside the eye.
	NeededMM estimate.Estimate
	ShaftMM  estimate.Estimate // free shaft, from hub to tip
	SpareMM  estimate.Estimate // shaft less need; below zero it falls short
	Verdict  ReachVerdict
}

// CheckReach sets a free shaft, hub to tip (5 to 80 mm, with its interval),
// against the distance to a place and the allowance for hub and bend (2 mm, 0 to
// 4; ours). The intervals are taken as independent and add in quadrature.
func (e Entry) CheckReach(to Target, shaftMM estimate.Estimate) (ReachCheck, error) {
	if !(shaftMM.Value >= 5 && shaftMM.Value <= 80 && shaftMM.Low <= shaftMM.Value && shaftMM.Value <= shaftMM.High) {
		return ReachCheck{}, &fault.Error{Code: fault.Invalid, Where: "shaft", What: fmt.Sprintf("%g mm is no instrument for the eye", shaftMM.Value), Expected: "5 to 80 mm"}
	}
	distance, err := e.DistanceMM(to)
	if err != nil {
		return ReachCheck{}, err
	}
	hub, err := TheatreFactOf("REACH-HUB")
	if err != nil {
		return ReachCheck{}, err
	}
	allowance := estimate.Estimate{Value: hub.Value, Low: hub.Low, High: hub.High}
	c := ReachCheck{DistanceMM: distance, ShaftMM: shaftMM}
	c.NeededMM = sum(distance, allowance, 1, distance.Basis+"; hub and bend take 2 mm (0 to 4, ours)")
	c.SpareMM = sum(shaftMM, c.NeededMM, -1, "intervals of shaft and need in quadrature; a staphyloma lies deeper than the sphere")
	switch {
	case c.SpareMM.Low > 0:
		c.Verdict = Reaches
	case c.SpareMM.High < 0:
		c.Verdict = FallsShort
	default:
		c.Verdict = MayFallShort
	}
	return c, nil
}

// sum is a + sign·b, the two taken as independent.
func sum(a, b estimate.Estimate, sign float64, basis string) estimate.Estimate {
	value := a.Value + sign*b.Value
	down, up := b.Value-b.Low, b.High-b.Value
	if sign < 0 {
		down, up = up, down
	}
	return estimate.Estimate{
		Value: value, Low: value - math.Hypot(a.Value-a.Low, down), High: value + math.Hypot(a.High-a.Value, up), Basis: basis,
	}
}
