package record

import (
	"fmt"
	"strings"

	"limitans/estimate"
	"limitans/eye"
)

// longEyeMM is the axial length from which oil, staphyloma and the method are
// asked about; common practice, no source.
const longEyeMM = 30.0

func (c *checker) eye(e *Eye) {
	c.need(e.PatientID, "patient_id", "patient")
	if e.Side == eye.SideUnknown {
		c.add(CodeSideMissing, "side", "the side of the eye is not told", "type right or left")
	}
	for i, a := range e.AxialLengths {
		c.axialLength(a, fmt.Sprintf("axial_lengths[%d]", i))
	}
	for i, d := range e.Diagnoses {
		where := fmt.Sprintf("diagnoses[%d]", i)
		if d.Code == "" {
			c.add(CodeReference, where+".code", "no diagnosis", "")
		}
		c.notInFuture(d.Since, where+".since")
		if d.Until.CertainlyBefore(d.Since) {
			c.add(CodeOrder, where+".until", fmt.Sprintf("until %s, since %s", d.Until, d.Since), "")
		}
	}
}

// CheckEyes looks at all eyes of one patient, or of the patients that a merge would
// make one: nobody has two right eyes, and the eyes that stand double must be brought
// together by a person first. Struck eyes do not count.
func CheckEyes(eyes []*Eye) []Finding {
	var c checker
	first := map[eye.Laterality]*Eye{}
	for _, e := range standing(eyes) {
		before := first[e.Side]
		switch {
		case e.Side == eye.SideUnknown:
			c.add(CodeSideMissing, "side", fmt.Sprintf("the side of eye %s is not told", e.ID), "type right or left")
		case before == nil:
			first[e.Side] = e
		case before.ID != e.ID:
			c.add(CodeTwoOfOneSide, "side", fmt.Sprintf("two %s eyes: %s and %s", strings.ToLower(e.Side.String()), before.ID, e.ID), "the same eye entered twice, another patient, or a wrong side?")
		}
	}
	return c.findings
}

func (c *checker) axialLength(a AxialLength, where string) {
	c.notInFuture(a.On, where+".on")
	if err := eye.CheckAxialLengthMM(a.LengthMM); err != nil {
		c.add(CodeAxialLength, where, err.Error(), "")
		return
	}
	oil := a.MediumThen == MediumOil || a.MediumThen == MediumHeavyOil
	switch {
	case oil && a.Method == BiometryUltrasound && a.SpeedCorrected != Yes:
		c.add(CodeSoundInOil, where, fmt.Sprintf("%g mm by sound in an eye with oil: likely falsely long", a.LengthMM),
			"measure by light, or correct the speed of sound; until then it is used in no bubble or lens sum")
	case oil && a.Method == "":
		c.add(CodeAxialMedium, where, fmt.Sprintf("%g mm in an eye with oil, by sound or by light?", a.LengthMM), "tell the method")
	case a.MediumThen == "" || a.Method == "":
		c.add(CodeAxialMedium, where, "the method or the medium in the eye at the measurement is not told", "tell both: sound is slower in oil")
	}
	if a.LengthMM >= longEyeMM {
		c.add(CodeLongEye, where, fmt.Sprintf("%g mm is long", a.LengthMM), "oil in the eye? staphyloma? by sound or by light?")
	}
}

// UsableAxialLength returns the axial length that sums may use: the latest one
// by [Date.Compare] that is possible and not measured by sound in oil without
// correction, unless a person overrode that. Measurements by light go before those
// by sound. ok is false when there is none; why then says it for people.
func UsableAxialLength(e *Eye) (use AxialLength, ok bool, why string) {
	why = "axial length not given"
	for _, a := range e.AxialLengths {
		var c checker
		c.axialLength(a, "axial_length")
		if stops := Unresolved(c.findings, nil); len(stops) > 0 {
			why = stops[0].What
			continue
		}
		if !ok || lightRank(a) > lightRank(use) || lightRank(a) == lightRank(use) && use.On.Compare(a.On) < 0 && a.On.Known() {
			use, ok = a, true
		}
	}
	if ok {
		why = ""
	}
	return use, ok, why
}

func lightRank(a AxialLength) int {
	if a.Method == BiometryLight {
		return 1
	}
	return 0
}

// figureBound is what can be of one figure; a value outside the odd range is
// more often a slip of the unit. Limits are ours, wide around published series.
type figureBound struct {
	name                string
	value               *estimate.Estimate
	least, odd, oddHigh float64
	unit                string
}

// Diameters from which a person is asked whether the minimum or the base was
// meant: above the bands of published evidence (hard case 34).
const minimumOrBaseUM = 1000.0

func (c *checker) figures(f *HoleFigures, side eye.Laterality) {
	c.need(f.EyeID, "eye_id", "eye")
	c.happened(f.Taken, "taken")
	if f.Method == "" || f.Source == "" {
		c.add(CodeReference, "method", "how the figures came about is not told", "name the method and the source")
	}
	if f.MeasuredAt.IsZero() {
		c.add(CodeDateMissing, "measured_at", "when the figures were made is not told", "")
	}
	if f.Corrected && f.AxialLengthMM == nil {
		c.add(CodeContradiction, "corrected", "corrected for eye length, but no axial length is told", "")
	}
	if f.AxialLengthMM != nil {
		if err := eye.CheckAxialLengthMM(*f.AxialLengthMM); err != nil {
			c.add(CodeAxialLength, "axial_length_mm", err.Error(), "")
		}
	}
	for _, b := range []figureBound{
		{"mld_um", f.MLDUM, 0, 20, 2500, "µm"},
		{"mld_visible_um", f.VisibleMLDUM, 0, 20, 2500, "µm"},
		{"min_section_small_um", f.SmallUM, 0, 20, 2500, "µm"},
		{"min_section_large_um", f.LargeUM, 0, 20, 3500, "µm"},
		{"base_um", f.BaseUM, 0, 50, 5000, "µm"},
		{"opening_um", f.OpeningUM, 0, 20, 5000, "µm"},
		{"height_um", f.HeightUM, 0, 100, 1200, "µm"},
		{"central_thickness_um", f.CentralUM, 0, 50, 1500, "µm"},
		{"min_section_area_mm2", f.AreaMM2, 0, 0.0003, 8, "mm²"},
		{"volume_mm3", f.VolumeMM3, 0, 0.0005, 5, "mm³"},
	} {
		c.bounded(b)
	}
	c.orderOfDiameters(f)
	c.checkOverrides(f.Overrides, side)
}

func (c *checker) bounded(b figureBound) {
	if b.value == nil || !b.value.Known() {
		return
	}
	v := b.value.Value
	switch {
	case v < b.least:
		c.add(CodeImpossibleNumber, b.name, fmt.Sprintf("%g %s", v, b.unit), "")
	case v > 0 && v < b.odd || v > b.oddHigh:
		c.add(CodeOddNumber, b.name, fmt.Sprintf("%g %s is far from what is seen", v, b.unit), "another unit?")
	}
}

// orderOfDiameters holds the minimum linear diameter to the base and the two
// diameters of the smallest section to each other. A swap is suggested, never
// made. Intervals that overlap are measuring error and only warned about.
func (c *checker) orderOfDiameters(f *HoleFigures) {
	if m, b := f.MLDUM, f.BaseUM; m != nil && b != nil && m.Known() && b.Known() && m.Value > b.Value {
		what := fmt.Sprintf("minimum linear diameter %.0f µm above base %.0f µm", m.Value, b.Value)
		if m.Low > b.High {
			c.add(CodeMLDAboveBase, "mld_um", what, fmt.Sprintf("swapped? then the minimum is %.0f and the base %.0f µm; nothing was changed", b.Value, m.Value))
		} else {
			c.add(CodeOddOrder, "mld_um", what+"; the intervals overlap", "look at the lines")
		}
	}
	if s, l := f.SmallUM, f.LargeUM; s != nil && l != nil && s.Known() && l.Known() && s.Value > l.Value {
		c.add(CodeSmallAboveLarge, "min_section_small_um", fmt.Sprintf("the small diameter %.0f µm is above the large one %.0f µm", s.Value, l.Value), "swapped? nothing was changed")
	}
	if m := f.MLDUM; m != nil && m.Known() && m.Value >= minimumOrBaseUM && (f.BaseUM == nil || !f.BaseUM.Known()) {
		c.add(CodeMinimumOrBase, "mld_um", fmt.Sprintf("%.0f µm without a base", m.Value), "is it the minimum or the base?")
	}
}

func (c *checker) batch(b *Batch) {
	if b.Class == "" {
		c.add(CodeReference, "class", "what it is is not told", "")
	}
	if b.Lot == "" {
		c.add(CodeLotMissing, "lot", "no lot number", "read it from the label")
	}
	// No stop: a recall must be entered for it all the same, and an old
	// operation may name it.
	if b.Expiry.CertainlyBefore(c.today) {
		c.add(CodeBatchExpired, "expiry", fmt.Sprintf("expired %s", b.Expiry), "take it off the shelf")
	}
	if b.Recall != nil {
		c.notInFuture(b.Recall.On, "recall.on")
	}
}

func (c *checker) film(f *Film, side eye.Laterality) {
	c.need(f.EyeID, "eye_id", "eye")
	c.happened(f.On, "on")
	c.checkSides(f.SideSources, side)
	for i, clip := range f.Clips {
		where := fmt.Sprintf("clips[%d]", i)
		c.within(clip.DurationS, 0, 48*3600, where+".duration_s", "s")
		if clip.Number != i+1 {
			c.add(CodeOddOrder, where+".number", fmt.Sprintf("clip %d stands at place %d", clip.Number, i+1), "put the clips in the order of the operation")
		}
	}
	for i, ch := range f.Chapters {
		if !(ch.FromS >= 0 && ch.ToS >= ch.FromS) {
			c.add(CodeImpossibleNumber, fmt.Sprintf("chapters[%d]", i), fmt.Sprintf("from %g to %g s", ch.FromS, ch.ToS), "")
		}
	}
	c.checkOverrides(f.Overrides, side)
}
