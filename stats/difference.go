package stats

import "math"

// Difference is the difference of two proportions, first minus second.
type Difference struct {
	Value    float64
	Interval Interval
}

// NewcombeDifference returns p₁ − p₂ of two independent groups with the
// interval joined from the Wilson limits l, u of each:
//
//	low  = d − √((p₁−l₁)² + (u₂−p₂)²)
//	high = d + √((u₁−p₁)² + (p₂−l₂)²)
//
// Source: Newcombe, Stat Med 1998;17:873 (method 10; title and abstract read,
// table figures from memory).
func NewcombeDifference(events1, trials1, events2, trials2 int, level float64) (Difference, error) {
	return newcombe("Newcombe difference", events1, trials1, events2, trials2, level, 0)
}

// NewcombeDifferenceContinuity is [NewcombeDifference] from limits with
// continuity correction (method 11 of the same source); wider.
func NewcombeDifferenceContinuity(events1, trials1, events2, trials2 int, level float64) (Difference, error) {
	return newcombe("Newcombe difference with continuity correction", events1, trials1, events2, trials2, level, 0.5)
}

func newcombe(where string, r1, n1, r2, n2 int, level, correction float64) (Difference, error) {
	if err := checkProportion(where, r1, n1, level); err != nil {
		return Difference{}, err
	}
	if err := checkCounts(where, r2, n2); err != nil {
		return Difference{}, err
	}
	z := twoSided(level)
	p1, p2 := float64(r1)/float64(n1), float64(r2)/float64(n2)
	l1, u1 := wilsonLimits(float64(r1), float64(n1), z, correction)
	l2, u2 := wilsonLimits(float64(r2), float64(n2), z, correction)
	d := p1 - p2
	return Difference{d, Interval{d - math.Hypot(p1-l1, u2-p2), d + math.Hypot(u1-p1, p2-l2), level}}, nil
}

// NewcombePairedDifference returns the difference of two proportions seen on
// the same eyes: both events, only the first, only the second, neither. The
// Wilson limits of the margins are joined with their correlation φ:
//
//	low = d − √(δ₁² − 2φ·δ₁·ε₂ + ε₂²),  δ₁ = p₁−l₁, ε₂ = u₂−p₂, and likewise high
//
// where φ is the correlation of the fourfold table, its numerator lessened by
// n/2 towards zero when positive. Source: Newcombe, Stat Med 1998;17:2635
// (method 10; from memory).
func NewcombePairedDifference(both, firstOnly, secondOnly, neither int, level float64) (Difference, error) {
	const where = "Newcombe paired difference"
	table, err := newFourfold(where, both, firstOnly, secondOnly, neither)
	if err != nil {
		return Difference{}, err
	}
	if err := checkLevel(where, level); err != nil {
		return Difference{}, err
	}
	a, b, c, d := table.float()
	n, z := a+b+c+d, twoSided(level)
	p1, p2 := (a+b)/n, (a+c)/n
	l1, u1 := wilsonLimits(a+b, n, z, 0)
	l2, u2 := wilsonLimits(a+c, n, z, 0)
	phi := 0.0
	if product := (a + b) * (c + d) * (a + c) * (b + d); product > 0 {
		numerator := a*d - b*c
		if numerator > 0 {
			numerator = math.Max(numerator-n/2, 0)
		}
		phi = numerator / math.Sqrt(product)
	}
	joined := func(x, y float64) float64 { return math.Sqrt(math.Max(0, x*x-2*phi*x*y+y*y)) }
	difference := p1 - p2
	return Difference{difference, Interval{difference - joined(p1-l1, u2-p2), difference + joined(u1-p1, p2-l2), level}}, nil
}
