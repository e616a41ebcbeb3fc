package bench

import (
	"fmt"
	"slices"
	"strconv"

	"limitans/internal/record"
	"limitans/tamponade"
)

// BubbleOfEye is what the record tells about the gas in an eye, as a question. What
// it does not tell stays empty and is listed: it is asked for, never guessed.
type BubbleOfEye struct {
	// Filling is the last one with gas or air; it may have gone.
	Filling record.Content
	// Answers are the fields of [Bubble] that the record tells, by name, and Sources
	// from where.
	Answers, Sources map[string]string
	// Missing are the names of the fields that must be asked.
	Missing []string
	// Today is the day after surgery; not told when the day of filling is vague.
	Today      int
	TodayKnown bool
	// Readings are those of visits, by day, in the words of the visit.
	Readings []BubbleLook
}

// BubbleLook is one reading of a visit.
type BubbleLook struct {
	Day   int
	On    record.Date
	Words string
	Lines string // as the field of the question takes it
	Level bool   // the level was read, not the fill
}

// needed are the fields without which nothing is computed for an eye; the lens may
// stay unknown when a person says so.
var needed = []string{"gas", "percent", "axial-length", "fill", "lens"}

// BubbleInEye finds the last filling with gas or air and what is known about it;
// false when the eye never had one.
func BubbleInEye(c record.Course, asOf record.Date) (BubbleOfEye, bool) {
	out := BubbleOfEye{Answers: map[string]string{}, Sources: map[string]string{}}
	found := false
	for _, filling := range record.Fillings(c.Operations, c.Visits, asOf) {
		if filling.Medium == record.MediumGas || filling.Medium == record.MediumAir {
			out.Filling, found = filling, true
		}
	}
	if !found {
		return out, false
	}
	tell := func(name, value, source string) {
		if value != "" {
			out.Answers[name], out.Sources[name] = value, source
		}
	}
	f := out.Filling
	from := "operation of " + f.Since.Words()
	switch {
	case f.Medium == record.MediumAir:
		tell("gas", "air", from)
	case f.Gas != "":
		if agent, err := tamponade.ParseAgent(string(f.Gas)); err == nil {
			text, _ := agent.MarshalText()
			tell("gas", string(text), from)
		}
	}
	if f.Percent != nil && f.Medium != record.MediumAir {
		tell("percent", shareWritten(*f.Percent), from)
	}
	out.eyeAnswers(c, asOf, tell)
	out.operationAnswers(c, tell)
	out.Today, out.TodayKnown = f.Since.DaysUntil(asOf)
	out.looks(c, tell)
	for _, name := range needed {
		if out.Answers[name] == "" && !(name == "percent" && out.Answers["gas"] == "air") {
			out.Missing = append(out.Missing, name)
		}
	}
	return out, true
}

// eyeAnswers are those of the eye itself.
func (b *BubbleOfEye) eyeAnswers(c record.Course, asOf record.Date, tell func(name, value, source string)) {
	state := record.StateOf(c, asOf)
	if a := state.UsableAxial; a != nil {
		tell("axial-length", strconv.FormatFloat(a.LengthMM, 'f', -1, 64), "measured "+a.On.Words())
	}
	tell("lens", lensAnswer(state.Lens), "seen "+state.LensOn.Words())
	for _, f := range slices.Backward(c.Figures) {
		if f.Struck() || f.MLDUM == nil || !f.MLDUM.Known() {
			continue
		}
		tell("hole-um", strconv.FormatFloat(f.MLDUM.Value, 'f', 0, 64), "figures of the scan")
		return
	}
}

// operationAnswers are those of the operation that filled the eye.
func (b *BubbleOfEye) operationAnswers(c record.Course, tell func(name, value, source string)) {
	for _, o := range c.Operations {
		if o.ID != b.Filling.OperationID || o.Struck() {
			continue
		}
		tell("lens", lensAnswer(o.LensAfter), "at the end of the operation")
		for _, p := range c.Plans {
			if p.ID == o.PlanID && p.Tamponade.FillPercent != nil {
				tell("fill", shareWritten(*p.Tamponade.FillPercent), "planned, not measured")
			}
		}
	}
}

// lensAnswer is a lens of the record in the words of the question.
func lensAnswer(l record.LensState) string {
	switch l {
	case record.LensClear, record.LensCataract:
		return "phakic"
	case record.LensPseudophakic, record.LensAnteriorChamber:
		return "pseudophakic"
	case record.LensAphakic:
		return "aphakic"
	}
	return ""
}

// looks gathers the readings of the visits after the filling.
func (b *BubbleOfEye) looks(c record.Course, tell func(name, value, source string)) {
	fills, levels := "", ""
	for _, v := range c.Visits {
		day, known := b.Filling.Since.DaysUntil(v.On)
		if v.Struck() || !known || day < 0 {
			continue
		}
		for _, r := range v.Bubble {
			look := BubbleLook{Day: day, On: v.On}
			switch {
			case r.FillPercent != nil:
				look.Words = fmt.Sprintf("%g %% of the cavity", *r.FillPercent)
				look.Lines = fmt.Sprintf("%d:%s", day, shareWritten(*r.FillPercent))
				fills += look.Lines + "\n"
			case r.MeniscusPercent != nil:
				look.Level, look.Words = true, fmt.Sprintf("level %g %% down from the top", *r.MeniscusPercent)
				look.Lines = fmt.Sprintf("%d:%s", day, shareWritten(*r.MeniscusPercent))
				levels += look.Lines + "\n"
			default:
				continue
			}
			b.Readings = append(b.Readings, look)
		}
	}
	tell("seen", fills, "visits")
	tell("seen-height", levels, "visits")
}

// shareWritten writes per cent so that nothing but per cent is read from it.
func shareWritten(percent float64) string {
	if percent > 0 && percent < 1 {
		return strconv.FormatFloat(percent/100, 'f', -1, 64)
	}
	return strconv.FormatFloat(percent, 'f', -1, 64) + "%"
}
