package web

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"limitans/acuity"
	"limitans/internal/record"
)

// The fields of the form of a visit. visitValues writes a visit into them and
// readVisit reads it back; what the form does not hold (medication, overrides)
// stays as it was.

// Rows of the form that are always there.
const (
	acuityRows, pressureRows, bubbleRows, mediaRows = 2, 1, 1, 1
)

// missingFields are those that the form can say a reason for.
var missingFields = []record.MissingField{
	record.FieldAcuity, record.FieldPressure, record.FieldLens, record.FieldClosure, record.FieldBubble, record.FieldScan,
}

// row names a field of a row.
func row(sort string, i int, field string) string { return fmt.Sprintf("%s-%d-%s", sort, i, field) }

// visitValues writes a visit as the form has it.
func visitValues(v *record.Visit) entryValues {
	f := entryValues{map[string][]string{}}
	f.put("id", string(v.ID))
	f.Set("version", strconv.FormatInt(v.Version, 10))
	f.date("on", v.On)
	f.put("at", string(v.At))
	if v.Elsewhere {
		f.Set("elsewhere", "yes")
	}
	for i, a := range v.Acuities {
		f.Set(row("acuity", i, "raw"), string(a.Raw))
		f.put(row("acuity", i, "role"), string(a.Role))
		f.put(row("acuity", i, "through"), string(a.Through))
		switch {
		case a.Chosen != nil:
			f.Set(row("acuity", i, "choice"), a.Chosen.As)
		case askedOf(a.Understood) != nil:
			f.Set(row("acuity", i, "choice"), leftOpen)
		}
		f.Set(row("acuity", i, "seen"), string(a.Raw))
	}
	for i, p := range v.Pressures {
		f.pressure("pressure", i, p)
	}
	f.put("lens", string(v.Lens))
	if c := v.Closure; c != nil {
		f.Set("closure", string(c.Class))
		f.put("closure-source", string(c.Source))
		f.put("closure-note", string(c.Note))
	}
	for i, b := range v.Bubble {
		f.Set(row("bubble", i, "medium"), string(b.Medium))
		f.number(row("bubble", i, "meniscus"), b.MeniscusPercent)
		f.number(row("bubble", i, "meniscus-error"), b.MeniscusErrorPercent)
		f.number(row("bubble", i, "fill"), b.FillPercent)
		f.number(row("bubble", i, "fill-error"), b.FillErrorPercent)
		f.put(row("bubble", i, "at"), string(b.At))
		f.put(row("bubble", i, "note"), string(b.Note))
	}
	for i, m := range v.MediaSeen {
		f.Set(row("media", i, "medium"), string(m.Medium))
		f.put(row("media", i, "state"), string(m.State))
		f.number(row("media", i, "droplet"), m.DropletUM)
		f.number(row("media", i, "fovea"), m.FoveaDistanceUM)
		f.put(row("media", i, "note"), string(m.Note))
	}
	for _, c := range v.Complications {
		code := string(c.Code)
		f.Add("complication", code)
		f.date("since-"+code, c.Since)
		f.put("about-"+code, string(c.Note))
	}
	if v.NoComplications {
		f.Set("no-complications", "yes")
	}
	for _, m := range v.Missing {
		f.Set("missing-"+string(m.Field), string(m.Reason))
		f.put("missing-note-"+string(m.Field), string(m.Note))
	}
	f.date("due", v.DueBy)
	f.put("due-for", string(v.DueFor))
	f.put("note", string(v.Note))
	return f
}

// pressure writes one pressure: as typed where that was kept.
func (v entryValues) pressure(sort string, i int, p record.Pressure) {
	v.Set(row(sort, i, "mmhg"), "")
	v.number(row(sort, i, "mmhg"), p.MmHg)
	v.put(row(sort, i, "mmhg"), string(p.Raw))
	v.put(row(sort, i, "method"), string(p.Method))
	v.put(row(sort, i, "at"), string(p.At))
	var drops []string
	for _, d := range p.Drops {
		drops = append(drops, string(d))
	}
	v.put(row(sort, i, "drops"), strings.Join(drops, ", "))
	if p.NoDrops {
		v.Set(row(sort, i, "no-drops"), "yes")
	}
}

// readVisit reads the form. before is the visit the form was made from, or a new
// one with its eye; it is not changed.
func (e *entryReader) readVisit(before *record.Visit, by record.AccountID) *record.Visit {
	v := *before
	v.On = e.date("on", "on", record.OrderUndecided)
	v.At = e.clock("at", "at")
	v.Elsewhere = e.text("elsewhere") != ""
	v.Acuities = e.readAcuities(before.Acuities, by)
	v.Pressures = nil
	for _, i := range e.values.rows("pressure", "mmhg", pressureRows) {
		if p, told := e.readPressure("pressure", i, fmt.Sprintf("pressures[%d]", len(v.Pressures))); told {
			v.Pressures = append(v.Pressures, p)
		}
	}
	v.Lens = record.LensState(e.text("lens"))
	v.Closure = e.readClosure(before.Closure, by)
	v.Bubble, v.MediaSeen = e.readBubble(), e.readMedia()
	v.Complications = e.readComplications()
	v.NoComplications = e.text("no-complications") != ""
	v.Missing = nil
	for _, field := range missingFields {
		if reason := e.text("missing-" + string(field)); reason != "" {
			v.Missing = append(v.Missing, record.MissingValue{
				Field: field, Reason: record.MissingReason(reason), Note: record.FreeText(e.text("missing-note-" + string(field))),
			})
		}
	}
	v.DueBy = e.dateAhead("due", "due_by")
	v.DueFor = record.DueFor(e.text("due-for"))
	v.Note = record.FreeText(strings.ReplaceAll(strings.TrimSpace(e.values.Get("note")), "\r\n", "\n"))
	return &v
}

// leftOpen is the answer that nobody can tell which reading was meant.
const leftOpen = "left open"

// readAcuities reads each line of acuity as it was written.
func (e *entryReader) readAcuities(before []record.AcuityEntry, by record.AccountID) []record.AcuityEntry {
	var out []record.AcuityEntry
	for _, i := range e.values.rows("acuity", "raw", acuityRows) {
		raw := e.text(row("acuity", i, "raw"))
		if raw == "" {
			continue
		}
		where := fmt.Sprintf("acuities[%d]", len(out))
		a := record.AcuityEntry{
			Raw: record.FreeText(raw), Role: acuity.Role(e.text(row("acuity", i, "role"))), Through: record.Medium(e.text(row("acuity", i, "through"))),
		}
		if at := slices.IndexFunc(before, func(b record.AcuityEntry) bool { return b.Raw == a.Raw }); at >= 0 {
			a.Understood = before[at].Understood // as it was read then
			a.Chosen, a.ChosenBy = before[at].Chosen, before[at].ChosenBy
		} else {
			a.Understood = acuity.Parse(raw, acuity.Options{})
		}
		e.choose(&a, e.text(row("acuity", i, "choice")), where, by)
		if e.text(row("acuity", i, "seen")) != raw {
			e.found = append(e.found, record.Finding{
				Severity: record.Ask, Code: notShownYet, Where: where, What: fmt.Sprintf("%q: see below how it is understood", raw),
			})
		}
		out = append(out, a)
	}
	return out
}

// notShownYet marks what the form understood and the person has not seen. It is
// no rule of the record and is never stored.
const notShownYet record.FindingCode = "not_shown_yet"

// choose takes the reading that a person chose of a text that has several.
func (e *entryReader) choose(a *record.AcuityEntry, choice, where string, by record.AccountID) {
	asked := askedOf(a.Understood)
	if asked == nil {
		a.Chosen, a.ChosenBy = nil, ""
		return
	}
	if a.Chosen != nil && a.Chosen.As == choice {
		return
	}
	a.Chosen, a.ChosenBy = nil, ""
	switch {
	case choice == leftOpen:
	case len(a.Understood) > 1:
		e.stop(where, fmt.Sprintf("%q holds several values, one of which can be read in two ways", string(a.Raw)), "write each value in a line of its own")
	case choice == "":
		e.stop(where, fmt.Sprintf("%q can be read in more than one way and none was chosen", string(a.Raw)), "choose the reading, or leave it open")
	default:
		at := slices.IndexFunc(asked.Readings, func(r acuity.Reading) bool { return r.As == choice })
		if at < 0 {
			e.stop(where, fmt.Sprintf("%q is no reading of %q", choice, string(a.Raw)), "choose one of those shown")
			return
		}
		chosen := asked.Readings[at]
		a.Chosen, a.ChosenBy = &chosen, by
	}
}

// askedOf is the value that has more than one reading, if one has.
func askedOf(all []acuity.Entry) *acuity.Entry {
	at := slices.IndexFunc(all, func(u acuity.Entry) bool { return u.Kind == acuity.Ask })
	if at < 0 {
		return nil
	}
	return &all[at]
}

// readPressure reads one pressure; told is false when the row is empty.
func (e *entryReader) readPressure(sort string, i int, where string) (p record.Pressure, told bool) {
	typed := e.text(row(sort, i, "mmhg"))
	p = record.Pressure{
		Method: record.PressureMethod(e.text(row(sort, i, "method"))), At: e.clock(row(sort, i, "at"), where+".at"),
		Drops: e.list(row(sort, i, "drops")), NoDrops: e.text(row(sort, i, "no-drops")) != "",
	}
	p.MmHg = e.number(row(sort, i, "mmhg"), where+".mmhg")
	if p.MmHg == nil && typed == "" {
		return p, len(p.Drops) > 0 || p.NoDrops
	}
	if p.MmHg == nil || typed != strconv.FormatFloat(*p.MmHg, 'f', -1, 64) {
		p.Raw = record.FreeText(typed)
	}
	return p, true
}

func (e *entryReader) readClosure(before *record.Closure, by record.AccountID) *record.Closure {
	c := record.Closure{
		Class:  record.ClosureClass(e.text("closure")),
		Source: record.ClosureFrom(e.text("closure-source")), Note: record.FreeText(e.text("closure-note")),
	}
	if c.Class == "" && c.Source == "" && c.Note == "" {
		return nil
	}
	c.By = by
	if before != nil {
		c.ScanID = before.ScanID
		if before.Class == c.Class {
			c.By = before.By
		}
	}
	return &c
}

func (e *entryReader) readBubble() []record.BubbleReading {
	var out []record.BubbleReading
	for _, i := range e.values.rows("bubble", "medium", bubbleRows) {
		where := fmt.Sprintf("bubble[%d].", len(out))
		b := record.BubbleReading{
			Medium:          record.Medium(e.text(row("bubble", i, "medium"))),
			MeniscusPercent: e.number(row("bubble", i, "meniscus"), where+"meniscus_percent"), MeniscusErrorPercent: e.number(row("bubble", i, "meniscus-error"), where+"meniscus_error_percent"),
			FillPercent: e.number(row("bubble", i, "fill"), where+"fill_percent"), FillErrorPercent: e.number(row("bubble", i, "fill-error"), where+"fill_error_percent"),
			At: e.clock(row("bubble", i, "at"), where+"at"), Note: record.FreeText(e.text(row("bubble", i, "note"))),
		}
		if b.MeniscusPercent == nil && b.FillPercent == nil && b.Note == "" {
			continue // a medium alone was offered by the form and says nothing
		}
		if b.Medium == "" {
			e.stop(where+"medium", "what the bubble is of is not told", "choose gas, air, oil or heavy liquid")
		}
		out = append(out, b)
	}
	return out
}

func (e *entryReader) readMedia() []record.MediumSeen {
	var out []record.MediumSeen
	for _, i := range e.values.rows("media", "medium", mediaRows) {
		where := fmt.Sprintf("media_seen[%d].", len(out))
		m := record.MediumSeen{
			Medium: record.Medium(e.text(row("media", i, "medium"))), State: record.MediumLook(e.text(row("media", i, "state"))),
			DropletUM: e.number(row("media", i, "droplet"), where+"droplet_um"), FoveaDistanceUM: e.number(row("media", i, "fovea"), where+"fovea_distance_um"),
			Note: record.FreeText(e.text(row("media", i, "note"))),
		}
		if m.State == "" && m.DropletUM == nil && m.Note == "" {
			continue
		}
		if m.Medium == "" {
			e.stop(where+"medium", "what was looked for is not told", "choose gas, air, oil or heavy liquid")
		}
		out = append(out, m)
	}
	return out
}

func (e *entryReader) readComplications() []record.Complication {
	var out []record.Complication
	for _, code := range e.values.Values["complication"] {
		c := record.Complication{Code: record.ComplicationCode(code), Note: record.FreeText(e.text("about-" + code))}
		c.Since = e.date("since-"+code, fmt.Sprintf("complications[%d].since", len(out)), record.OrderUndecided)
		out = append(out, c)
	}
	return out
}
