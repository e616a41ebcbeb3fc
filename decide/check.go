package decide

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"limitans/estimate"
	"limitans/fault"
	"limitans/tamponade"
)

// Conditions returns all conditions, in the order in which they are offered.
func Conditions() []Condition {
	return []Condition{Hole, HoleWithDetachment, EpiretinalMembrane, Traction, LamellarHole, RecurrentDetachment, SubretinalBand, RetainedLiquid}
}

// conditionNames are other names that the trade gives to a condition.
var conditionNames = map[string]Condition{
	"macular-hole": Hole, "full-thickness-hole": Hole, "full-thickness-macular-hole": Hole, "ftmh": Hole,
	"macular-hole-detachment": HoleWithDetachment, "macular-hole-with-detachment": HoleWithDetachment, "macular-hole-retinal-detachment": HoleWithDetachment,
	"membrane": EpiretinalMembrane, "erm": EpiretinalMembrane, "macular-pucker": EpiretinalMembrane,
	"vitreomacular-traction": Traction, "vmt": Traction,
	"lamellar": LamellarHole, "lamellar-macular-hole": LamellarHole,
	"recurrent-retinal-detachment": RecurrentDetachment, "redetachment": RecurrentDetachment, "proliferative-vitreoretinopathy": RecurrentDetachment, "pvr": RecurrentDetachment,
	"subretinal-bands": SubretinalBand, "band": SubretinalBand, "bands": SubretinalBand,
	"retained-liquid": RetainedLiquid, "heavy-liquid": RetainedLiquid, "retained-perfluorocarbon": RetainedLiquid, "subretinal-heavy-liquid": RetainedLiquid,
}

// ParseCondition reads a condition under its own name or another one of the
// trade, in any case, words joined by hyphens, underscores or spaces. Invalid:
// any other text.
func ParseCondition(text string) (Condition, error) {
	name := strings.ToLower(strings.Join(strings.FieldsFunc(text, func(r rune) bool { return r == '-' || r == '_' || r == ' ' }), "-"))
	if slices.Contains(Conditions(), Condition(name)) {
		return Condition(name), nil
	}
	if c, is := conditionNames[name]; is {
		return c, nil
	}
	return "", invalid("condition", fmt.Sprintf("%q is none of the table", text), "one of "+joined(Conditions()))
}

// joined lists words.
func joined[T ~string](all []T) string {
	var out []string
	for _, w := range all {
		out = append(out, string(w))
	}
	return strings.Join(out, ", ")
}

// TypedDiameter is a diameter that was typed without its error: one reading by a
// person, normal with a standard deviation of 11 µm (see [hole.RealChangeUM]).
func TypedDiameter(um float64) estimate.Estimate {
	return estimate.NormalPositive(um, readingSDUM, "typed without its error: taken for one reading by a person, whose repeats lie within 31 µm (Transl Vis Sci Technol 2021;10(13), full-text excerpt)")
}

// Check refuses findings that cannot be (Invalid) or that contradict each other
// (Conflict). Nothing is corrected: swapped diameters are asked about.
func (f Findings) Check() error {
	for _, part := range []func() error{f.checkWords, f.checkNumbers, f.checkSizes, f.checkContradictions} {
		if err := part(); err != nil {
			return err
		}
	}
	return nil
}

func invalid(where, what, expected string) error {
	return &fault.Error{Code: fault.Invalid, Where: where, What: what, Expected: expected}
}

func conflict(where, what, mend string) error {
	return &fault.Error{Code: fault.Conflict, Where: where, What: what, Mend: mend}
}

func (f Findings) checkWords() error {
	if !slices.Contains(Conditions(), f.Condition) {
		return invalid("condition", fmt.Sprintf("%q is none", string(f.Condition)), "one of "+joined(Conditions()))
	}
	known := newFacts(f)
	for key, fact := range known {
		if key == "allergy" || key == "lens" {
			continue // any agent may be named; a lens is one of its type
		}
		for _, w := range fact.words {
			if !slices.Contains(wordsOf(key), w) {
				return invalid(key, fmt.Sprintf("%q is no word of it", w), "one of "+strings.Join(wordsOf(key), ", "))
			}
		}
	}
	if f.MembraneStage < 0 || f.MembraneStage > 4 {
		return invalid("stage", fmt.Sprintf("%d", f.MembraneStage), "1 to 4, 0 when not told")
	}
	if f.GaugeG != 0 && !slices.Contains([]int{20, 23, 25, 27}, f.GaugeG) {
		return invalid("gauge", fmt.Sprintf("%d", f.GaugeG), "20, 23, 25 or 27, 0 when open")
	}
	return nil
}

func (f Findings) checkNumbers() error {
	for _, n := range []struct {
		key       string
		value     *float64
		low, high float64
		unit      string
	}{
		{"duration", f.DurationMonths, 0, 600, "months"},
		{"scan-age", f.ScanAgeDays, 0, 10000, "days"},
		{"axial", f.AxialLengthMM, 15, 40, "mm"},
		{"attachment", f.AttachmentUM, 1, 12000, "µm"},
		{"acuity", f.AcuityLogMAR, -0.5, 3, "logMAR"},
		{"days-since", f.DaysSinceSurgery, 0, 30000, "days"},
		{"drop", f.DropUM, 10, 10000, "µm"},
		{"drop-distance", f.DropDistanceUM, 0, 30000, "µm"},
	} {
		if n.value != nil && !(*n.value >= n.low && *n.value <= n.high) {
			return invalid(n.key, fmt.Sprintf("%g %s", *n.value, n.unit), fmt.Sprintf("%g to %g %s", n.low, n.high, n.unit))
		}
	}
	return nil
}

func (f Findings) checkSizes() error {
	for _, d := range []struct {
		key   string
		value *estimate.Estimate
		high  float64
	}{{"mld", f.MLDUM, 3000}, {"largest", f.LargestUM, 3000}, {"base", f.BaseUM, 6000}} {
		if d.value == nil || !d.value.Known() {
			continue
		}
		e := *d.value
		if !(e.Value >= 30 && e.Value <= d.high) || !(e.Low <= e.Value && e.Value <= e.High) || math.IsInf(e.High-e.Low, 0) {
			return invalid(d.key, fmt.Sprintf("%g µm (%.0f to %.0f)", e.Value, e.Low, e.High), fmt.Sprintf("30 to %g µm within its interval", d.high))
		}
	}
	if both(f.MLDUM, f.BaseUM) && f.MLDUM.Value > f.BaseUM.Value {
		return conflict("mld and base", fmt.Sprintf("the minimum linear diameter, %g µm, is larger than the base, %g µm", f.MLDUM.Value, f.BaseUM.Value), "were the two swapped? measure again or exchange them")
	}
	if both(f.MLDUM, f.LargestUM) && f.LargestUM.Value < f.MLDUM.Value {
		return conflict("mld and largest", fmt.Sprintf("the larger diameter of the smallest section, %g µm, is below the minimum, %g µm", f.LargestUM.Value, f.MLDUM.Value), "were the two swapped? measure again or exchange them")
	}
	return nil
}

func both(a, b *estimate.Estimate) bool {
	return a != nil && b != nil && a.Known() && b.Known()
}

// checkContradictions lists pairs of findings that cannot both be.
func (f Findings) checkContradictions() error {
	fullThickness := f.Condition == Hole || f.Condition == HoleWithDetachment
	sized := classedSize(f).Known()
	for _, c := range []struct {
		is                bool
		where, what, mend string
	}{
		{sized && !fullThickness, "condition", fmt.Sprintf("a diameter through all layers and the condition %s", f.Condition), "a full-thickness hole is the condition hole; leave the diameter out otherwise"},
		{f.Condition == Hole && f.Detachment == Yes, "detachment", "the condition is hole, but the retina is detached", "take the condition hole-with-detachment, or correct the detachment"},
		{f.Condition == HoleWithDetachment && f.Detachment == No, "detachment", "the condition is hole-with-detachment, but the retina is attached", "take the condition hole, or correct the detachment"},
		{f.Condition == RecurrentDetachment && f.Detachment == No, "detachment", "the condition is recurrent-detachment, but the retina is attached", "correct one of them"},
		{f.Condition == RecurrentDetachment && f.EarlierSurgery == EarlierNone, "earlier", "the detachment is recurrent, but there was no earlier surgery", "correct one of them"},
		{f.Condition == EpiretinalMembrane && f.Membrane == No, "membrane", "the condition is epiretinal-membrane, but no membrane was seen", "correct one of them"},
		{f.Membrane == No && f.MembraneStage > 0, "stage", "no membrane was seen, but it has a stage", "correct one of them"},
		{f.EarlierSurgery == EarlierNone && f.MembraneLeft == No, "membrane-left", "no limiting membrane is left, but there was no earlier surgery", "correct one of them"},
		{f.EarlierSurgery == EarlierNone && f.DaysSinceSurgery != nil, "days-since", "days since surgery were told, but there was none", "correct one of them"},
		{f.EarlierSurgery == EarlierNone && f.OpenAs != "", "open-as", "the hole is said to stand open after surgery, but there was none", "correct one of them"},
		{f.Condition == Traction && f.VitreousAttached == No, "vitreous-attached", "the condition is traction, but the vitreous is detached from the fovea", "correct one of them"},
		{f.VitreousAttached == No && f.AttachmentUM != nil, "attachment", "the vitreous is detached from the fovea, but its attachment has a width", "correct one of them"},
		{f.Lens == tamponade.Aphakic && f.Hydrophilic == Yes, "hydrophilic", "the eye is aphakic, but its implant is hydrophilic", "correct one of them"},
	} {
		if c.is {
			return conflict(c.where, c.what, c.mend)
		}
	}
	return nil
}
