package figure

import (
	"fmt"
	"math"
	"strconv"
	"unicode"
	"unicode/utf8"

	"limitans/estimate"
	"limitans/eye"
	"limitans/oct"
	"limitans/oct/hole"
)

// intervalNote explains every ± on a sheet.
const intervalNote = "± and ranges in brackets are 95 % intervals found on made scans with known truth; on a patient's scan the error can be larger."

// fittedNote explains why the drawn line can be longer or shorter than the
// figure beside it.
const fittedNote = "The minimum linear diameter is fitted over neighbouring heights and slices; its line joins the walls of one slice, so the two can differ in length."

// withBand writes an estimate with its interval: "375 ± 8 µm" where both sides
// are equally wide after rounding, else "375 µm (0 to 760)". ok is false for a
// missing estimate, whose basis says why.
func withBand(e estimate.Estimate, decimals int, unit string) (text string, ok bool) {
	if !e.Known() || math.IsNaN(e.Low) || math.IsNaN(e.High) {
		return "", false
	}
	number := func(x float64) string { return strconv.FormatFloat(x, 'f', decimals, 64) }
	space := " "
	if unit == "°" || unit == "" {
		space = ""
	}
	below, above := number(e.Value-e.Low), number(e.High-e.Value)
	if below == above {
		return number(e.Value) + " ± " + above + space + unit, true
	}
	return fmt.Sprintf("%s%s%s (%s to %s)", number(e.Value), space, unit, number(e.Low), number(e.High)), true
}

// sideWords is the side in words.
func sideWords(side eye.Laterality) string {
	if side == eye.SideUnknown {
		return "Side not known"
	}
	return side.String() + " eye"
}

// sliceWords numbers a slice as people count.
func sliceWords(v *oct.Volume, slice int) string {
	return fmt.Sprintf("Slice %d of %d", slice+1, v.Slices)
}

// scaleWords says how many micrometres a sample is and who says so.
func scaleWords(v *oct.Volume) string {
	axis := func(name string, a oct.AxisScale) string {
		if !a.Known() {
			return name + " not known"
		}
		return fmt.Sprintf("%s %s µm (%s)", name, strconv.FormatFloat(a.MicrometresPerSample, 'g', 5, 64), a.Trust)
	}
	text := "Scale, one sample: " + axis("depth", v.Scale.Depth) + ", lateral " + axis("", v.Scale.Lateral)[1:]
	if v.Pattern == oct.PatternRaster {
		text += ", " + axis("between slices", v.Scale.Slice)
	}
	return text + "."
}

// inMicrometres reports whether a slice can be drawn to scale.
func inMicrometres(v *oct.Volume) bool {
	return v.Scale.Depth.Known() && v.Scale.Lateral.Known()
}

// inPlane reports whether the view from the front can be drawn to scale.
func inPlane(v *oct.Volume) bool {
	return v.Scale.Lateral.Known() && (v.Pattern == oct.PatternRadial || v.Scale.Slice.Known())
}

// roundLength is the longest of 1, 2, 5 · 10ⁿ that is not longer than longest,
// for bars and ticks.
func roundLength(longest float64) float64 {
	if !(longest > 0) {
		return 0
	}
	base := math.Pow(10, math.Floor(math.Log10(longest)))
	for _, f := range []float64{5, 2} {
		if f*base <= longest {
			return f * base
		}
	}
	return base
}

// lengthWords writes a bar's length.
func lengthWords(length float64, unit string) string {
	return strconv.FormatFloat(length, 'f', -1, 64) + " " + unit
}

// judgementWords says that no hole is drawn, and why.
func judgementWords(h *hole.Hole) string {
	if h.Judgement == hole.NotJudged {
		return "full-thickness hole: not judged"
	}
	return string(h.Judgement)
}

// sentence begins with a capital letter.
func sentence(text string) string {
	for i, r := range text {
		return string(unicode.ToUpper(r)) + text[i+utf8.RuneLen(r):]
	}
	return text
}
