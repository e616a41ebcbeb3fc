package oct

import (
	"fmt"
	"math"
	"slices"
)

// Direction says which way up a scan is.
type Direction int

// The directions.
const (
	DirectionUnknown  Direction = iota
	DirectionUpright            // vitreous above, at row 0
	DirectionMirrored           // vitreous below
)

// String returns the direction in words.
func (d Direction) String() string {
	switch d {
	case DirectionUpright:
		return "upright"
	case DirectionMirrored:
		return "upside down"
	}
	return "undecided"
}

// MarshalText writes the words of [Direction.String].
func (d Direction) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// Orientation is the answer of [Upright].
type Orientation struct {
	Direction Direction `json:"direction"`
	// Confidence is the share of the places with an opinion that agree, 0.5 to
	// 1; 0 when undecided. It is not a probability: neighbouring places see the
	// same tissue.
	Confidence float64 `json:"confidence"`
	Reason     string  `json:"reason"`
}

// Constants of [Upright], set on the open scans of the test data (derived).
// There the vitreous border rises by 0.35 to 0.72 of the contrast and the
// choroid by 0 to 0.22. The vitreous has 0.03 to 0.24 of the brightness of the
// brightest layer, the choroid under a scan that was cut below its inner border
// 0.24 to 0.47.
const (
	uprightSlices      = 16   // slices looked at, evenly spaced
	uprightEvery       = 8    // a place every so many columns
	uprightReach       = 4    // columns to either side averaged at a place
	uprightThreshold   = 0.35 // of the contrast: where tissue begins
	uprightMinStep     = 0.25 // of the contrast: a border that counts as sharp
	uprightMinLead     = 0.10 // by which it must be sharper than the other
	uprightMaxOutside  = 0.25 // of the maximum over black: as dark as a vitreous
	uprightMinContrast = 0.06 // of the range: a place with tissue in it
	uprightAgreement   = 0.75 // share of opinions for a decision
	uprightMinShare    = 0.30 // share of places with an opinion for a decision
	uprightMinOpinions = 6
)

// Upright tells whether the vitreous lies above, at row 0, as everything in
// this module expects. Scans of long eyes can come out mirrored.
//
// Method: the inner border of the retina is a sharp step out of the dark of the
// vitreous; on the other side the choroid fades or the frame cuts it. At places
// along the slices the mean of 9 columns is taken, parts without data left out,
// and followed from above and from below to where it passes 35 % of its
// contrast (10th percentile to maximum). The rise over a sixtieth of the rows
// (at least 4) is compared there. A place has an opinion when the sharper of
// the two is at least a quarter of the contrast, leads by a tenth, and borders
// on a quarter of the maximum or less; a tissue that is cut by the frame rises
// by nothing. The scan is decided when 75 % of the opinions agree.
//
// Where the inner border lies outside the frame the answer is undecided. Tilt
// and radial patterns do not matter, because every place stands for itself. A
// scan mirrored in part only (a wrapped scan) may be undecided.
func Upright(v *Volume) Orientation {
	return upright(columnProfiles(v), float64(v.MaxSample()))
}

// upright is [Upright] on profiles; top is the largest sample.
func upright(profiles []columnProfile, top float64) Orientation {
	above, below, places := 0, 0, 0
	var rises, falls []float64
	for _, p := range profiles {
		places++
		e, ok := p.ends(top)
		if !ok {
			continue
		}
		rises, falls = append(rises, e.above), append(falls, e.below)
		switch {
		case e.darkAbove && e.above >= uprightMinStep && e.above-e.below >= uprightMinLead:
			above++
		case e.darkBelow && e.below >= uprightMinStep && e.below-e.above >= uprightMinLead:
			below++
		}
	}
	opinions := above + below
	if opinions < uprightMinOpinions || float64(opinions) < uprightMinShare*float64(places) {
		return Orientation{Reason: fmt.Sprintf("only %d of %d places show a sharp border of the vitreous", opinions, places)}
	}
	share := float64(max(above, below)) / float64(opinions)
	reason := fmt.Sprintf("the sharper border out of the dark lies above in %d and below in %d of %d places; median rise %.2f above, %.2f below",
		above, below, places, median(rises), median(falls))
	switch {
	case share < uprightAgreement:
		return Orientation{Reason: reason}
	case above > below:
		return Orientation{DirectionUpright, share, reason}
	}
	return Orientation{DirectionMirrored, share, reason}
}

// columnProfile is the mean of a few columns: rows from to to−1 of the slice.
type columnProfile struct {
	from  int
	mean  []float64
	black float64 // 1st percentile of the slice
	step  int     // rows over which a rise is taken
}

// columnProfiles averages columns at evenly spaced places of up to 16 slices.
// A profile is the longest stretch of rows with data; places where that is less
// than half of the rows are left out.
func columnProfiles(v *Volume) []columnProfile {
	var out []columnProfile
	for _, s := range spread(v.Slices, uprightSlices) {
		samples := v.Slice(s)
		mask := noDataSlice(v, samples)
		black := lowPercentile(samples)
		for c := uprightReach; c+uprightReach < v.Columns; c += uprightEvery {
			mean := make([]float64, v.Rows)
			for r := range mean {
				sum, n := 0.0, 0
				for x := c - uprightReach; x <= c+uprightReach; x++ {
					if i := r*v.Columns + x; mask == nil || !mask[i] {
						sum += float64(samples[i])
						n++
					}
				}
				if mean[r] = math.NaN(); n > uprightReach {
					mean[r] = sum / float64(n)
				}
			}
			if from, to := longestKnown(mean); 2*(to-from) >= v.Rows && to-from >= 24 {
				out = append(out, columnProfile{from, smooth3(mean[from:to]), black, max(4, v.Rows/60)})
			}
		}
	}
	return out
}

// lowPercentile returns the 1st percentile.
func lowPercentile(samples []uint16) float64 {
	var count [1 << 16]int
	for _, x := range samples {
		count[x]++
	}
	left := len(samples) / 100
	for x, n := range count {
		if left -= n; left < 0 {
			return float64(x)
		}
	}
	return 0
}

// spread returns up to n numbers evenly spaced over 0 to of−1.
func spread(of, n int) []int {
	n = min(n, of)
	out := make([]int, n)
	for i := range out {
		out[i] = (2*i + 1) * of / (2 * n)
	}
	return out
}

func longestKnown(x []float64) (from, to int) {
	for i := 0; i < len(x); {
		j := i
		for j < len(x) && !math.IsNaN(x[j]) {
			j++
		}
		if j-i > to-from {
			from, to = i, j
		}
		i = j + 1
	}
	return from, to
}

func smooth3(x []float64) []float64 {
	out := make([]float64, len(x))
	for i := range x {
		a, b := max(0, i-1), min(len(x), i+2)
		for _, y := range x[a:b] {
			out[i] += y / float64(b-a)
		}
	}
	return out
}

// profileEnds is where tissue begins in a profile, from either end.
type profileEnds struct {
	first, last  int     // rows of the slice
	above, below float64 // rise there, share of the contrast; 0 when the frame cuts the tissue
	// darkAbove, darkBelow: what borders there is as dark as a vitreous.
	darkAbove, darkBelow bool
}

// ends finds both ends of the tissue; ok is false when there is none.
func (p columnProfile) ends(top float64) (e profileEnds, ok bool) {
	sorted := slices.Clone(p.mean)
	slices.Sort(sorted)
	floor := sorted[len(sorted)/10]
	contrast := sorted[len(sorted)-1] - floor
	if contrast < uprightMinContrast*top {
		return e, false
	}
	threshold := floor + uprightThreshold*contrast
	first := slices.IndexFunc(p.mean, func(x float64) bool { return x > threshold })
	last := len(p.mean) - 1
	for p.mean[last] <= threshold {
		last--
	}
	e.first, e.last = p.from+first, p.from+last
	dark := p.black + uprightMaxOutside*(floor+contrast-p.black)
	if first > p.step {
		e.above = p.rise(first, 1) / contrast
		e.darkAbove = p.outside(first, -1) <= dark
	}
	if last < len(p.mean)-1-p.step {
		e.below = p.rise(last, -1) / contrast
		e.darkBelow = p.outside(last, 1) <= dark
	}
	return e, true
}

// outside returns the mean of what lies beyond a border, clear of its slope.
func (p columnProfile) outside(border, direction int) float64 {
	sum, n := 0.0, 0
	for d := p.step + 2; d < 4*p.step; d++ {
		if r := border + direction*d; r >= 0 && r < len(p.mean) {
			sum += p.mean[r]
			n++
		}
	}
	if n == 0 {
		return math.Inf(1)
	}
	return sum / float64(n)
}

// rise returns the largest difference of means before and after a row, near a
// row, seen along sign.
func (p columnProfile) rise(near int, sign float64) float64 {
	best := 0.0
	for r := max(p.step, near-p.step-2); r <= min(len(p.mean)-p.step, near+p.step+2); r++ {
		sum := 0.0
		for i := range p.step {
			sum += p.mean[r+i] - p.mean[r-1-i]
		}
		best = max(best, sign*sum/float64(p.step))
	}
	return best
}

// FlipDepth returns a copy of the volume turned upside down, with a note that
// says so. The caller's volume is not changed.
func FlipDepth(v *Volume) *Volume {
	out := *v
	out.Samples = make([]uint16, len(v.Samples))
	for s := range v.Slices {
		from, to := v.Slice(s), out.Slice(s)
		for r := range v.Rows {
			copy(to[r*v.Columns:(r+1)*v.Columns], from[(v.Rows-1-r)*v.Columns:])
		}
	}
	out.SliceAnglesDeg = slices.Clone(v.SliceAnglesDeg)
	out.Notes = append(slices.Clone(v.Notes), "the scan was turned upside down: row 0 is what was the last row")
	return &out
}
