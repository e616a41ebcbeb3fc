package web

import (
	"fmt"
	"net/http"
	"strconv"

	"limitans/acuity"
	"limitans/eye"
	"limitans/fault"
	"limitans/internal/record"
)

// acuityReading says how a line of acuity is understood, below its field.
type acuityReading struct {
	Row     int
	Raw     string
	Lines   []acuityLine
	Choices []acuityChoice // of a text with more than one reading
	Chosen  string
	Why     string // why it is asked
	Several bool   // values in one line, one of which is asked: choose nothing, write apart
	Wrong   string // the text names the other eye
}

// acuityLine is one value of the text.
type acuityLine struct {
	Signal string // empty for what is plain
	Words  string
	Value  string // logMAR and letters, or what stands instead
	Method string
	Note   string
}

// acuityChoice is one possible reading.
type acuityChoice struct{ Value, Words string }

// readAcuity says how a text is understood on an eye.
func readAcuity(i int, a record.AcuityEntry, choice string, side eye.Laterality) acuityReading {
	r := acuityReading{Row: i, Raw: string(a.Raw), Chosen: choice}
	if asked := askedOf(a.Understood); asked != nil {
		r.Why, r.Several = asked.Note, len(a.Understood) > 1
		if !r.Several {
			for _, one := range asked.Readings {
				r.Choices = append(r.Choices, acuityChoice{one.As, one.As + valueBehind(one.LogMAR, one.Letters, one.Kind)})
			}
		}
	}
	again := acuity.Parse(r.Raw, acuity.Options{}) // words are not stored
	for i, u := range a.Understood {
		if u.Understood == "" && len(again) == len(a.Understood) && again[i].Kind == u.Kind {
			u.Understood = again[i].Understood
		}
		if u.Kind != acuity.Ask {
			r.Lines = append(r.Lines, lineOf(u))
		}
		if u.Side != eye.SideUnknown && side != eye.SideUnknown && u.Side != side {
			r.Wrong = fmt.Sprintf("the text names the %s eye, this is the %s one", sideWords(u.Side), sideWords(side))
		}
	}
	return r
}

// valueBehind writes the value of a reading behind its words.
func valueBehind(logMAR, letters *float64, kind acuity.Kind) string {
	if text := valueWords(logMAR, letters, kind); text != "" {
		return " (" + text + ")"
	}
	return ""
}

// valueWords writes logMAR and letter score; a category says that its number only
// stands for it.
func valueWords(logMAR, letters *float64, kind acuity.Kind) string {
	switch {
	case logMAR == nil:
		return ""
	case kind == acuity.CountingFingers || kind == acuity.HandMovements:
		return fmt.Sprintf("logMAR %.2f stands for it, not measured", *logMAR)
	case letters != nil:
		return fmt.Sprintf("logMAR %.2f, letter score %.0f", *logMAR, *letters)
	}
	return fmt.Sprintf("logMAR %.2f", *logMAR)
}

// lineOf writes one value that was understood, or why it was not.
func lineOf(u acuity.Entry) acuityLine {
	l := acuityLine{Words: u.Understood, Value: valueWords(u.LogMAR, u.Letters, u.Kind), Method: u.Scheme, Note: u.Note}
	if l.Words == "" {
		l.Words = codeWords(string(u.Kind))
	}
	if u.Role != acuity.RoleUnknown && u.Role != "" {
		l.Words += ", " + string(u.Role)
	}
	if u.Kind == acuity.Unusable {
		l.Signal, l.Words = "caution", "cannot be used"
	}
	return l
}

// acuityShown writes stored acuity for lists: as it was written, with what counts.
func acuityShown(a record.AcuityEntry) string {
	text := string(a.Raw)
	for _, u := range a.Values() {
		if value := valueWords(u.LogMAR, nil, u.Kind); value != "" {
			text += " · " + value
		}
		if u.Kind == acuity.Ask {
			text += " · not settled"
		}
	}
	return text
}

// showReading answers, while somebody types, how a text is understood: the block
// below the field alone.
func (s *Server) showReading(w http.ResponseWriter, r *http.Request, v *visitor) error {
	i, err := strconv.Atoi(r.FormValue("row"))
	if err != nil || i < 0 || i >= mostRows {
		return &fault.Error{Code: fault.Invalid, Where: "row", What: "is none of the form"}
	}
	id := record.ID(r.PathValue("eye"))
	found, err := s.Store.Get(r.Context(), record.KindEye, id)
	if err != nil {
		return err
	}
	raw := r.FormValue("text")
	p := acuityReading{Row: i}
	if raw != "" {
		a := record.AcuityEntry{Raw: record.FreeText(raw), Understood: acuity.Parse(raw, acuity.Options{})}
		p = readAcuity(i, a, "", found.(*record.Eye).Side)
	}
	return s.renderPart(w, v, http.StatusOK, "visit-form", "reading-alone", head{}, p)
}
