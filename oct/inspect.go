package oct

import (
	"fmt"
	"hash/crc64"
	"math"
	"slices"
	"strings"
)

// FindingKind names what [Inspect] noticed.
type FindingKind string

// The kinds.
const (
	FindingMirrored        FindingKind = "mirrored"         // vitreous below
	FindingBlankSlices     FindingKind = "blank_slices"     // all samples equal
	FindingDuplicateSlices FindingKind = "duplicate_slices" // equal to an earlier slice
	FindingNoData          FindingKind = "no_data"          // wedges or bands without data
	FindingResampled       FindingKind = "resampled"        // enlarged along an axis
	FindingEqualScales     FindingKind = "equal_scales"     // depth and lateral scale the same
	FindingScaleDoubtful   FindingKind = "scale_doubtful"   // retina too thin or too thick
)

// Finding is one thing noticed about a scan before anything is measured.
type Finding struct {
	Kind   FindingKind `json:"kind"`
	Slices []int       `json:"slices,omitempty"` // slices concerned, counted from 0; nil for the whole scan
	Text   string      `json:"text"`             // for people
}

// Bounds of what [Inspect] takes for a retina, micrometres from the inner
// border to the brightest outer band, median over the scan. Mean central
// thickness of normal eyes is about 250 to 350 µm and oedema rarely doubles it
// (common practice, no source); the bounds are wider, so that a scan outside
// them has a wrong scale before it has an unusual retina.
const (
	thinRetinaUM  = 150.0
	thickRetinaUM = 700.0
	// equalScales: depth and lateral scale within 1 % of each other.
	equalScales = 0.01
	// repeatedLines: share of lines equal to their neighbour.
	repeatedLines = 0.15
)

// Inspect looks a scan over and returns what a person should know before
// measuring: a mirrored scan ([Upright]), slices that are blank or repeat an
// earlier one, parts without data ([NoData]), traces of enlarging, and scales
// that do not fit the tissue. It is conservative: what it finds is worth a
// look, what it does not find is not proof.
func Inspect(v *Volume) []Finding {
	var out []Finding
	profiles := columnProfiles(v)
	o := upright(profiles, float64(v.MaxSample()))
	if o.Direction == DirectionMirrored {
		out = append(out, Finding{
			Kind: FindingMirrored,
			Text: fmt.Sprintf("the scan looks upside down, vitreous below (%s)", o.Reason),
		})
	}
	out = append(out, inspectSlices(v)...)
	out = append(out, inspectResampling(v)...)
	return append(out, inspectScale(v, profiles, o.Direction)...)
}

// inspectSlices finds slices that are blank, repeated or incomplete.
func inspectSlices(v *Volume) []Finding {
	var blank, incomplete, again []int
	var pairs []string
	earlier := map[uint64]int{}
	mask := NoData(v)
	for s := range v.Slices {
		samples := v.Slice(s)
		if constant(samples) {
			blank = append(blank, s)
			continue
		}
		if mask.Slice(s) != nil {
			incomplete = append(incomplete, s)
		}
		h := hashSamples(samples)
		if first, ok := earlier[h]; ok && slices.Equal(v.Slice(first), samples) {
			again = append(again, s)
			pairs = append(pairs, fmt.Sprintf("%d = %d", s, first))
		} else if !ok {
			earlier[h] = s
		}
	}
	var out []Finding
	if blank != nil {
		out = append(out, Finding{
			FindingBlankSlices, blank,
			fmt.Sprintf("%d of %d slices are blank (slice %s)", len(blank), v.Slices, joinInts(blank)),
		})
	}
	if again != nil {
		out = append(out, Finding{
			FindingDuplicateSlices, again,
			fmt.Sprintf("%d of %d slices repeat an earlier one (slice %s)", len(again), v.Slices, strings.Join(first(pairs, 8), ", ")),
		})
	}
	if incomplete != nil {
		out = append(out, Finding{
			FindingNoData, incomplete,
			fmt.Sprintf("%d of %d slices have wedges or bands at the frame's edge without data (slice %s)", len(incomplete), v.Slices, joinInts(incomplete)),
		})
	}
	return out
}

var sampleTable = crc64.MakeTable(crc64.ECMA)

// hashSamples only sorts candidates; equality is checked sample by sample.
func hashSamples(samples []uint16) uint64 {
	var h uint64
	var buffer [4096]byte
	for len(samples) > 0 {
		n := min(len(samples), len(buffer)/2)
		for i, x := range samples[:n] {
			buffer[2*i], buffer[2*i+1] = byte(x), byte(x>>8)
		}
		h = crc64.Update(h, sampleTable, buffer[:2*n])
		samples = samples[n:]
	}
	return h
}

func first[T any](x []T, n int) []T { return x[:min(n, len(x))] }

func joinInts(x []int) string {
	text := strings.Trim(strings.Join(strings.Fields(fmt.Sprint(first(x, 12))), ", "), "[]")
	if len(x) > 12 {
		text += " …"
	}
	return text
}

// inspectResampling finds axes that were enlarged after the scan was made. The
// scale of the scanner then no longer holds along that axis.
func inspectResampling(v *Volume) []Finding {
	var out []Finding
	for _, axis := range []struct {
		name  string
		depth bool
	}{{"depth", true}, {"lateral axis", false}} {
		how := ""
		if share := repeatedShare(v, axis.depth); share > repeatedLines {
			how = fmt.Sprintf("%.0f %% of its lines repeat their neighbour", 100*share)
		} else if over, frequency := enlargedLineAt(v, axis.depth); over > enlargedLine {
			how = fmt.Sprintf("traces of interpolation every %.3g samples", 1/frequency)
		}
		if how != "" {
			out = append(out, Finding{
				Kind: FindingResampled,
				Text: fmt.Sprintf("the %s of this export was enlarged (%s): the scanner's own scale does not hold along it", axis.name, how),
			})
		}
	}
	return out
}

// inspectScale holds given scales against the tissue.
func inspectScale(v *Volume, profiles []columnProfile, direction Direction) []Finding {
	var out []Finding
	depth, lateral := v.Scale.Depth, v.Scale.Lateral
	if depth.Known() && lateral.Known() &&
		math.Abs(depth.MicrometresPerSample-lateral.MicrometresPerSample) <= equalScales*depth.MicrometresPerSample {
		out = append(out, Finding{
			Kind: FindingEqualScales,
			Text: fmt.Sprintf("depth and lateral scale are given as equal (%.3g µm): true only for an export that was stretched to one-to-one", depth.MicrometresPerSample),
		})
	}
	rows, ok := retinaRows(profiles, direction, float64(v.MaxSample()))
	if !depth.Known() || !ok {
		return out
	}
	if um := rows * depth.MicrometresPerSample; um < thinRetinaUM || um > thickRetinaUM {
		text := fmt.Sprintf("with %.3g µm per row the retina is about %.0f µm thick, outside %.0f to %.0f µm: the depth scale may be wrong or the export stretched",
			depth.MicrometresPerSample, um, thinRetinaUM, thickRetinaUM)
		out = append(out, Finding{Kind: FindingScaleDoubtful, Text: text})
	}
	return out
}

// retinaRows estimates roughly how many rows lie between the inner border and
// the brightest band in the outer part of the tissue, as a median over places
// with a clear border. It serves the plausibility of a scale, nothing else.
func retinaRows(profiles []columnProfile, direction Direction, top float64) (float64, bool) {
	if direction == DirectionUnknown {
		return 0, false
	}
	mirrored := direction == DirectionMirrored
	var rows []float64
	for _, p := range profiles {
		e, ok := p.ends(top)
		if !ok || max(e.above, e.below) < uprightMinStep {
			continue
		}
		mean, inner, outer := p.mean, e.first-p.from, e.last-p.from
		if mirrored {
			mean = slices.Clone(mean)
			slices.Reverse(mean)
			inner, outer = len(mean)-1-outer, len(mean)-1-inner
		}
		// The nerve fibre layer can be as bright as the epithelium, so the
		// inner two fifths do not compete.
		best := inner + 2*(outer-inner)/5
		for r := best; r <= outer; r++ {
			if mean[r] > mean[best] {
				best = r
			}
		}
		rows = append(rows, float64(best-inner))
	}
	if len(rows) < uprightMinOpinions {
		return 0, false
	}
	return median(rows), true
}
