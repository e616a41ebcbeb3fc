package record

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"limitans/acuity"
	"limitans/eye"
)

func (c *checker) visit(v *Visit, side eye.Laterality) {
	c.need(v.EyeID, "eye_id", "eye")
	c.happened(v.On, "on")
	for i := range v.Acuities {
		c.acuity(&v.Acuities[i], side, fmt.Sprintf("acuities[%d]", i))
	}
	for i := range v.Pressures {
		c.pressure(&v.Pressures[i], fmt.Sprintf("pressures[%d]", i))
	}
	for i, b := range v.Bubble {
		c.bubble(b, fmt.Sprintf("bubble[%d]", i))
	}
	if v.Closure != nil && v.Closure.Class == "" {
		c.add(CodeReference, "closure.class", "no class", "closure is never yes or no; choose a class, or say that it cannot be read")
	}
	if v.NoComplications && len(v.Complications) > 0 {
		c.add(CodeContradiction, "complications", "\"asked, none\" and a list", "take one away")
	}
	for i, comp := range v.Complications {
		c.notInFuture(comp.Since, fmt.Sprintf("complications[%d].since", i))
	}
	for i, seen := range v.MediaSeen {
		if seen.State == LookNone && slices.ContainsFunc(v.MediaSeen, func(o MediumSeen) bool { return o.Medium == seen.Medium && o.State != LookNone && o.State != "" }) {
			c.add(CodeContradiction, fmt.Sprintf("media_seen[%d]", i), fmt.Sprintf("%s both seen and seen gone", seen.Medium), "")
		}
	}
	c.medication(v.Medication, "medication")
	c.missing(v)
	if v.DueBy.CertainlyBefore(v.On) {
		c.add(CodeOrder, "due_by", fmt.Sprintf("due %s, seen %s", v.DueBy, v.On), "")
	}
	c.checkOverrides(v.Overrides, side)
}

// missing wants for each value of a visit either the value or the reason why not.
func (c *checker) missing(v *Visit) {
	there := map[MissingField]bool{
		FieldAcuity: len(v.Acuities) > 0, FieldPressure: len(v.Pressures) > 0, FieldLens: v.Lens != "",
		FieldClosure: v.Closure != nil, FieldBubble: len(v.Bubble) > 0,
	}
	for i, m := range v.Missing {
		where := fmt.Sprintf("missing[%d]", i)
		if there[m.Field] {
			c.add(CodeContradiction, where, fmt.Sprintf("%s is said to be missing, but it is there", m.Field), "take one away")
		}
		if m.Reason == "" {
			c.add(CodeNoReason, where, fmt.Sprintf("%s is missing without a reason", m.Field), "say why")
		}
		there[m.Field] = true
	}
	for _, f := range []MissingField{FieldAcuity, FieldPressure} {
		if !there[f] {
			c.add(CodeNoReason, string(f), "is missing without a reason", "enter it, or say why it is missing")
		}
	}
}

func (c *checker) acuity(a *AcuityEntry, side eye.Laterality, where string) {
	if strings.TrimSpace(string(a.Raw)) == "" && a.Chosen == nil {
		c.add(CodeNoReason, where+".raw", "is empty", "say under missing why there is none")
		return
	}
	for _, u := range a.Understood {
		switch {
		case u.Kind == acuity.Ask && a.Chosen == nil:
			var readings []string
			for _, r := range u.Readings {
				readings = append(readings, r.As)
			}
			c.add(CodeAcuityUnclear, where, fmt.Sprintf("%q can be: %s", string(a.Raw), strings.Join(readings, "; or ")), "choose one")
		case u.Kind == acuity.Unusable && a.Chosen == nil:
			c.add(CodeAcuityUnusable, where, fmt.Sprintf("%q cannot be used: %s", string(a.Raw), u.Note), "look at the original; it is neither zero nor missing")
		}
		if u.Side != eye.SideUnknown && side != eye.SideUnknown && u.Side != side {
			c.add(CodeAcuitySide, where, fmt.Sprintf("%q names the %s eye, this is the %s one", string(a.Raw), u.Side, side), "enter it at the other eye")
		}
	}
	if a.Chosen != nil && a.ChosenBy == "" {
		c.add(CodeReference, where+".chosen_by", "who chose the reading is not told", "")
	}
}

// bubble compares fill and meniscus where both were read. In a sphere, upright
// and looking ahead, a bubble that reaches down by the share x of the vertical
// diameter fills
//
//	f = x²·(3 − 2x)
//
// of the volume ([eye.FillOfHeight]). The readings conflict when the interval of
// the fill and that of the fill from the meniscus do not meet.
func (c *checker) bubble(b BubbleReading, where string) {
	for _, x := range []struct {
		value *float64
		name  string
	}{{b.FillPercent, "fill_percent"}, {b.MeniscusPercent, "meniscus_percent"}} {
		c.within(x.value, 0, 100, where+"."+x.name, "%")
	}
	for _, x := range []struct {
		value, err *float64
		name       string
	}{
		{b.FillPercent, b.FillErrorPercent, "fill_error_percent"},
		{b.MeniscusPercent, b.MeniscusErrorPercent, "meniscus_error_percent"},
	} {
		c.within(x.err, 0, 100, where+"."+x.name, "%")
		if x.value != nil && x.err == nil {
			c.add(CodeOddNumber, where+"."+x.name, "the error of the reading is not told", fmt.Sprintf("by eye about ± %g %% (ours, no source)", DefaultReadingErrorPercent))
		}
	}
	if low, high, expected, ok := MeniscusFill(b); ok && b.FillPercent != nil {
		half := errorOr(b.FillErrorPercent)
		if *b.FillPercent+half < low || *b.FillPercent-half > high {
			c.add(CodeBubbleConflict, where, fmt.Sprintf("fill of %g %% (± %g), but the meniscus at %g %% of the height means %.0f %% (%.0f to %.0f)",
				*b.FillPercent, half, *b.MeniscusPercent, expected, low, high), "which was seen? height is not volume; neither was changed")
		}
	}
}

// DefaultReadingErrorPercent is the half width of the interval of a fill or height
// read by eye when nobody tells one. Ours, no source.
const DefaultReadingErrorPercent = 10.0

func errorOr(x *float64) float64 {
	if x == nil {
		return DefaultReadingErrorPercent
	}
	return *x
}

// MeniscusFill returns the fill in per cent of the volume that the meniscus of a
// reading means, with the interval that its reading error gives; ok is false
// without a meniscus or when it is out of range. Model: a sphere, see
// [eye.FillOfHeight].
func MeniscusFill(b BubbleReading) (low, high, expected float64, ok bool) {
	if b.MeniscusPercent == nil || !(*b.MeniscusPercent >= 0 && *b.MeniscusPercent <= 100) {
		return 0, 0, 0, false
	}
	half := errorOr(b.MeniscusErrorPercent)
	if math.IsNaN(half) || half < 0 {
		return 0, 0, 0, false
	}
	at := func(percent float64) float64 {
		f, err := eye.FillOfHeight(min(max(percent/100, 0), 1))
		ok = ok && err == nil
		return 100 * f
	}
	ok = true
	low, expected, high = at(*b.MeniscusPercent-half), at(*b.MeniscusPercent), at(*b.MeniscusPercent+half)
	return low, high, expected, ok
}
