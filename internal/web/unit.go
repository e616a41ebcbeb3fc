package web

import (
	"encoding/json"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
)

func (s *Server) unitRoutes() []route {
	return []route{
		{"GET", "/unit", needs(account.ChangeSettings), s.showUnit},
		{"POST", "/unit", needs(account.ChangeSettings), s.keepUnit},
	}
}

// unitPage is the hospital or clinic, as its sheets print it.
type unitPage struct {
	Unit    *record.Unit
	Papers  []record.PaperSize
	Trouble map[string]string // by field
	Moved   string            // somebody else changed it meanwhile
	Done    bool
	NoCall  string
	Changes []unitChange
}

// Size is the paper that is chosen.
func (p unitPage) Size() record.PaperSize {
	return record.PaperSize(or(string(p.Unit.Paper), string(record.PaperA4)))
}

// unitChange is one entry of its history.
type unitChange struct {
	At, By string
	Lines  []string
}

// showUnit shows the form with what was changed when and by whom.
func (s *Server) showUnit(w http.ResponseWriter, r *http.Request, v *visitor) error {
	unit, err := s.Store.Unit(r.Context())
	if err != nil {
		return err
	}
	return s.unitPage(w, r, v, http.StatusOK, unitPage{Unit: unit, Done: r.FormValue("kept") != ""})
}

func (s *Server) unitPage(w http.ResponseWriter, r *http.Request, v *visitor, status int, p unitPage) error {
	history, err := s.Store.History(r.Context(), record.KindUnit, record.UnitID)
	if err != nil {
		return err
	}
	people, err := s.colleagues(r.Context())
	if err != nil {
		return err
	}
	for _, e := range slices.Backward(history[max(0, len(history)-mostUnitChanges):]) {
		lines, err := unitLines(e)
		if err != nil {
			return err
		}
		p.Changes = append(p.Changes, unitChange{momentWords(e.At), people.name(e.By.AccountID), lines})
	}
	p.Papers, p.NoCall = record.Words[record.PaperSize](), noCall(p.Unit)
	return s.render(w, v, status, "unit", head{Title: "Unit", Rail: "settings"}, p)
}

// mostUnitChanges is how many changes the page shows.
const mostUnitChanges = 50

// unitFields are what a unit is told by, with their words.
var unitFields = []struct {
	name, words string
	of          func(*record.Unit) string
}{
	{"name", "Name", func(u *record.Unit) string { return u.Name }},
	{"day_phone", "Telephone by day", func(u *record.Unit) string { return u.DayPhone }},
	{"night_phone", "Telephone out of hours", func(u *record.Unit) string { return u.NightPhone }},
	{"paper", "Paper", func(u *record.Unit) string { return string(u.Paper) }},
}

// unitLines tell what an entry changed.
func unitLines(e store.Entry) ([]string, error) {
	var before, after record.Unit
	for text, into := range map[string]*record.Unit{e.Before: &before, e.After: &after} {
		if text == "" {
			continue
		}
		if err := json.Unmarshal([]byte(text), into); err != nil {
			return nil, &fault.Error{Code: fault.Malformed, Where: "history of the unit", What: "an entry cannot be read", Mend: "run the verification", Cause: err}
		}
	}
	var lines []string
	for _, f := range unitFields {
		was, is := f.of(&before), f.of(&after)
		switch {
		case was == is:
		case was == "":
			lines = append(lines, f.words+": "+is)
		default:
			lines = append(lines, f.words+": "+or(is, "taken away")+" (was "+was+")")
		}
	}
	return lines, nil
}

// keepUnit keeps what the administrator wrote.
func (s *Server) keepUnit(w http.ResponseWriter, r *http.Request, v *visitor) error {
	version, err := strconv.ParseInt(r.PostFormValue("version"), 10, 64)
	if err != nil {
		return &fault.Error{Code: fault.Invalid, Where: "unit", What: "the form does not tell which version was read", Mend: "open it again"}
	}
	field := func(name string) string { return strings.Join(strings.Fields(r.PostFormValue(name)), " ") }
	unit := &record.Unit{
		Base: record.Base{ID: record.UnitID, Version: version}, Name: field("name"),
		DayPhone: field("day_phone"), NightPhone: field("night_phone"), Paper: record.PaperSize(field("paper")),
	}
	p := unitPage{Unit: unit, Trouble: map[string]string{}}
	for _, f := range record.Check(unit, record.Around{Today: record.DayOf(s.Now())}) {
		if f.Severity == record.Stop {
			p.Trouble[f.Where] = strings.TrimSuffix(f.What+": "+f.Mend, ": ")
		}
	}
	if len(p.Trouble) > 0 {
		return s.unitPage(w, r, v, http.StatusUnprocessableEntity, p)
	}
	var stands int64
	err = s.Store.Write(r.Context(), v.actor(), func(tx *store.Tx) error {
		out, err := tx.Put(r.Context(), unit, "")
		if out.Contest != "" { // a form of four fields is sent again instead
			stands = out.Version
			return &fault.Error{Code: fault.Conflict, Where: "unit", What: "was changed meanwhile"}
		}
		return err
	})
	if stands != 0 {
		p.Moved, unit.Version = "Somebody changed it meanwhile, see below. Send yours again if it shall stand.", stands
		return s.unitPage(w, r, v, http.StatusConflict, p)
	}
	return s.stored(w, r, err, "/unit?kept=1")
}

// noCall says what a patient is not told to call, empty where everything is told.
func noCall(unit *record.Unit) string {
	switch {
	case unit.DayPhone == "" && unit.NightPhone == "":
		return "No telephone of this unit is set. Leaflet and card have a line to write it on."
	case unit.DayPhone == "":
		return "No telephone by day is set. Leaflet and card have a line to write it on."
	case unit.NightPhone == "":
		return "No telephone out of hours is set. Leaflet and card have a line to write it on."
	}
	return ""
}

// callWords are the unit's telephones in a line, for a calendar.
func callWords(unit *record.Unit) string {
	var parts []string
	switch {
	case unit.DayPhone != "" && unit.DayPhone == unit.NightPhone:
		parts = append(parts, "Telephone, by day and by night: "+unit.DayPhone)
	default:
		if unit.DayPhone != "" {
			parts = append(parts, "Telephone by day: "+unit.DayPhone)
		}
		if unit.NightPhone != "" {
			parts = append(parts, "Telephone in the evening, at night, at weekends: "+unit.NightPhone)
		}
	}
	return strings.Join(parts, "\n")
}
