package evidence

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/integrate/quad"

	"limitans/fault"
)

// The diameters of a large cohort of the trade, in which a group of unknown mean
// is taken to lie: 400 ± 156 µm in 1483 operations (Steel et al., Eye
// 2021;35:316, secondary).
const (
	cohortMeanUM = 400
	cohortSDUM   = 156
)

// The middle and unit of the size term: (d − 500 µm)/100 µm.
const (
	middleUM = 500
	stepUM   = 100
)

// sizes is the distribution of diameters in a stratum as places of a quadrature,
// in steps from the middle, with weights that add to one.
type sizes struct {
	at, weight []float64
	basis      string
}

// newSizes returns the lognormal distribution of the row's printed mean and
// standard deviation, or of the cohort, cut at the ends of its stratum.
//
//	ln d ~ Normal(ln m − s²/2, s²),  s² = ln(1 + (SD/m)²)
//
// A stratum's mean is that of all eyes of its arm, so total is the row that it
// is a stratum of, or itself.
func newSizes(stratum, total Row) (sizes, error) {
	mean, sd, basis := float64(cohortMeanUM), float64(cohortSDUM), "cohort of 400 ± 156 µm"
	if total.MLDMeanUM > 0 && total.MLDSDUM > 0 {
		mean, sd, basis = total.MLDMeanUM, total.MLDSDUM, fmt.Sprintf("%g ± %g µm", total.MLDMeanUM, total.MLDSDUM)
	}
	variance := math.Log(1 + sd*sd/(mean*mean))
	s := math.Sqrt(variance)
	place := func(um float64) float64 { return (math.Log(um) - math.Log(mean) + variance/2) / s }
	// Five standard deviations hold all but 6e-7 of a distribution.
	low, high := -5.0, 5.0
	if stratum.SizeLowUM > 0 {
		low = math.Max(low, place(stratum.SizeLowUM-0.5))
		basis += fmt.Sprintf(" from %g", stratum.SizeLowUM)
	}
	if stratum.SizeHighUM > 0 {
		high = math.Min(high, place(stratum.SizeHighUM+0.5))
		basis += fmt.Sprintf(" to %g", stratum.SizeHighUM)
	}
	if !(high > low) {
		return sizes{}, &fault.Error{Code: fault.Malformed, Where: "row " + stratum.ID, What: "its stratum lies outside its distribution of sizes"}
	}
	// The normal density and the logistic function are smooth on the scale of one
	// standard deviation: two points on each are exact to 1e-6.
	n := max(6, int(math.Ceil(2*(high-low))))
	z, w := make([]float64, n), make([]float64, n)
	quad.Legendre{}.FixedLocations(z, w, low, high)
	if z[0] > z[n-1] { // ascending, for quantiles
		slices.Reverse(z)
		slices.Reverse(w)
	}
	all := sizes{basis: basis}
	sum := 0.0
	for i := range z {
		weight := w[i] * math.Exp(-z[i]*z[i]/2)
		all.at = append(all.at, (math.Exp(math.Log(mean)-variance/2+s*z[i])-middleUM)/stepUM)
		all.weight = append(all.weight, weight)
		sum += weight
	}
	for i := range all.weight {
		all.weight[i] /= sum
	}
	return all, nil
}

// Stratum is a published group of eyes of known size, as the model sees it.
type Stratum struct {
	Row Row
	// Sizes says which distribution of diameters it is taken to have.
	Sizes string
	// Fitted is false for rows that only check the curve: flaps, whose effect is
	// taken from elsewhere, and eyes without face-down posture.
	Fitted bool

	sizes sizes
	question
}

// question is what the curve is asked for, apart from the size.
type question struct {
	air, flap, noPeel, noFaceDown bool
	monthsBeyond                  float64 // months of symptoms beyond the reference
}

// Strata chooses from the table the rows that tell closure of primary holes by
// size: peel or inverted flap, with counts, gas or air, and a stratum or a
// printed mean of minimum linear diameter. Strata stand instead of their total.
func Strata(rows []Row) ([]Stratum, error) {
	byID := map[string]Row{}
	split := map[string]bool{} // totals whose strata by size stand for them
	usable := func(r Row) bool {
		return r.Question == Hole && r.Outcome == Closed && r.Design != MetaAnalysis && r.Counted() &&
			(r.Technique == Peel || r.Technique == InvertedFlap) && r.Tamponade != Oil && r.Tamponade != NoTamponade
	}
	stratified := func(r Row) bool { return r.SizeLowUM > 0 || r.SizeHighUM > 0 }
	for _, r := range rows {
		byID[r.ID] = r
		if r.StratumOf != "" && usable(r) && stratified(r) {
			split[r.StratumOf] = true
		}
	}
	var out []Stratum
	for _, r := range rows {
		if !usable(r) || split[r.ID] || !(stratified(r) || r.MLDSDUM > 0) {
			continue
		}
		total := r
		if t, found := byID[r.StratumOf]; found {
			total = t
		}
		at, err := newSizes(r, total)
		if err != nil {
			return nil, err
		}
		s := Stratum{Row: r, Sizes: at.basis, sizes: at}
		s.air, s.flap, s.noFaceDown = r.Tamponade == Air, r.Technique == InvertedFlap, isFaceForward(r)
		s.Fitted = !s.flap && !s.noFaceDown
		out = append(out, s)
	}
	if len(out) == 0 {
		return nil, &fault.Error{Code: fault.NotMeasurable, Where: "closure by size", What: "no published stratum is among the rows", Mend: "admit more rows"}
	}
	return out, nil
}

// MeanUM is the mean diameter that the stratum is taken to have, µm.
func (s Stratum) MeanUM() float64 {
	var mean float64
	for i, x := range s.sizes.at {
		mean += s.sizes.weight[i] * (middleUM + stepUM*x)
	}
	return mean
}

// RangeUM is the stratum's ends, µm; an end that it does not have is where 2.5 %
// of its diameters lie beyond.
func (s Stratum) RangeUM() (low, high float64) {
	um := func(x float64) float64 { return middleUM + stepUM*x }
	low, high = s.Row.SizeLowUM, s.Row.SizeHighUM
	if !(low > 0) {
		low = um(weightedQuantile(s.sizes.at, s.sizes.weight, tail))
	}
	if !(high > 0) {
		high = um(weightedQuantile(s.sizes.at, s.sizes.weight, 1-tail))
	}
	return low, high
}

// isFaceForward reports a group that was told not to lie face down.
func isFaceForward(r Row) bool { return len(r.Posture) >= 12 && r.Posture[:12] == "face-forward" }

// chance is the probability of closure in the stratum at a curve and a shift of
// its logit, the complement, and the derivative by the shift: means over sizes.
func (s sizes) chance(shift, slope float64) (p, q, derivative float64) {
	for i, x := range s.at {
		e := math.Exp(-(shift + slope*x))
		own := 1 / (1 + e)
		rest := e * own
		if math.IsInf(e, 1) {
			own, rest = 0, 1
		}
		p += s.weight[i] * own
		q += s.weight[i] * rest
		derivative += s.weight[i] * own * rest
	}
	return p, q, derivative
}

// logLikelihood of the counts, without the binomial coefficient.
func (s *Stratum) logLikelihood(p, q float64) float64 {
	var l float64
	if k := float64(s.Row.Events); k > 0 {
		l += k * math.Log(p)
	}
	if k := float64(s.Row.Eyes - s.Row.Events); k > 0 {
		l += k * math.Log(q)
	}
	return l
}

// closureEffects are the odds ratios from elsewhere.
type closureEffects struct{ flap, peel, faceDown, month Effect }

func newClosureEffects() (e closureEffects, err error) {
	for id, to := range map[string]*Effect{"F01": &e.flap, "F02": &e.peel, "F03": &e.faceDown, "F04": &e.month} {
		if *to, err = effectOf(id); err != nil {
			return e, err
		}
		if math.IsNaN(to.StandardError) {
			return e, &fault.Error{Code: fault.Internal, Where: "table of effects", What: id + " has no error"}
		}
	}
	return e, nil
}

// tail is the share on each side of a central 95 % interval.
const tail = 0.025

// weightedQuantile returns the smallest value at which the cumulative weight
// reaches q; values sorted, weights adding to one.
func weightedQuantile(values, weights []float64, q float64) float64 {
	var sum float64
	for i, w := range weights {
		if sum += w; sum >= q {
			return values[i]
		}
	}
	return values[len(values)-1]
}

// logistic is 1/(1 + e^−x).
func logistic(x float64) float64 { return 1 / (1 + math.Exp(-x)) }

// halfNormalLog is the log density of a half-normal, without constant.
func halfNormalLog(x, sd float64) float64 { return -x * x / (2 * sd * sd) }
