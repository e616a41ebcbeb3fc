package web

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
)

func (s *Server) visitsRoutes() []route {
	writes := needs(account.ReadClinical, account.ReadIdentity, account.WriteVisit)
	return []route{
		{"GET", "/eyes/{eye}/visits", seesEye(), s.listVisits},
		{"POST", "/eyes/{eye}/visits", writes, s.addVisit},
		{"GET", "/eyes/{eye}/visits/new", writes, s.newVisit},
		{"GET", "/eyes/{eye}/visits/reading", writes, s.showReading},
		{"GET", "/eyes/{eye}/visits/{visit}", seesEye(), s.showVisit},
		{"POST", "/eyes/{eye}/visits/{visit}", writes, s.changeVisit},
		{"GET", "/eyes/{eye}/visits/{visit}/edit", writes, s.editVisit},
		{"POST", "/eyes/{eye}/visits/{visit}/sign", writes, s.signVisit},
		{"POST", "/eyes/{eye}/visits/{visit}/strike", needs(account.ReadClinical, account.ReadIdentity, account.StrikeOut), s.strikeVisit},
	}
}

// visitOf reads an eye and one of its visits, struck out or not.
func (s *Server) visitOf(r *http.Request) (*store.Course, *record.Visit, error) {
	c, err := s.course(r)
	if err != nil {
		return nil, nil, err
	}
	id := record.ID(r.PathValue("visit"))
	if id.Check() != nil {
		return nil, nil, errNoVisit()
	}
	e, err := s.Store.Get(r.Context(), record.KindVisit, id)
	if err != nil {
		return nil, nil, err
	}
	v := e.(*record.Visit)
	if v.EyeID != c.Eye.ID {
		return nil, nil, errNoVisit()
	}
	return c, v, nil
}

// visitVersion is the version a form was made from.
func (s *Server) visitVersion(ctx context.Context, now *record.Visit, version string) (*record.Visit, error) {
	n, err := strconv.ParseInt(version, 10, 64)
	if err != nil || n < 1 || n > now.Version {
		return nil, &fault.Error{Code: fault.Invalid, Where: "visit", What: "the form does not tell from which version it was made", Mend: "open the visit again"}
	}
	if n == now.Version {
		return now, nil
	}
	all, err := s.Store.History(ctx, record.KindVisit, now.ID)
	if err != nil {
		return nil, err
	}
	for _, entry := range all {
		if entry.Version == n {
			before := &record.Visit{}
			if err := json.Unmarshal([]byte(entry.After), before); err != nil {
				return nil, &fault.Error{Code: fault.Malformed, Where: "visit", What: "an earlier version cannot be read", Mend: "run the verification", Cause: err}
			}
			return before, nil
		}
	}
	return nil, &fault.Error{Code: fault.NotFound, Where: "visit", What: "the version that the form was made from is not in the history", Mend: "run the verification"}
}

// visitPage is one visit to be read.
type visitPage struct {
	Eye       eyeHead
	Visit     *record.Visit
	Version   int64
	SeenBy    string
	Rows      []factRow
	Closure   *closureChoice
	Found     []findingView
	Contests  []record.ID
	Readings  []acuityReading
	SignedBy  string
	SignedAt  string
	StruckBy  string
	StruckAt  string
	Struck    string
	MayEdit   bool
	MaySign   bool
	MayStrike bool
}

// factRow is one named value of a page.
type factRow struct{ Name, Value, Note string }

// showVisit is one visit.
func (s *Server) showVisit(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, visit, err := s.visitOf(r)
	if err != nil {
		return err
	}
	people, err := s.colleagues(r.Context())
	if err != nil {
		return err
	}
	p := visitPage{Eye: headOf(c, "visits"), Visit: visit, Version: visit.Version, SeenBy: people.name(visit.SeenBy), Rows: visitRows(visit)}
	for i, a := range visit.Acuities {
		choice := ""
		if a.Chosen != nil {
			choice = a.Chosen.As
		}
		p.Readings = append(p.Readings, readAcuity(i, a, choice, c.Eye.Side))
	}
	if visit.Closure != nil {
		all, err := closureChoices()
		if err != nil {
			return err
		}
		for _, one := range all {
			if one.Value == string(visit.Closure.Class) {
				p.Closure = &one
			}
		}
	}
	around := aroundOf(c, record.DayOf(s.Now()))
	for _, list := range viewFindings(entryValues{}, record.Check(visit, around), visit.Overrides, func(string) string { return "" }).Sections {
		p.Found = list
	}
	for _, contest := range c.Contests {
		if contest.Entity == visit.ID {
			p.Contests = append(p.Contests, contest.ID)
		}
	}
	if signed := visit.Signed; signed != nil {
		p.SignedBy, p.SignedAt = people.name(signed.By.AccountID), momentWords(signed.At)
	}
	if struck := visit.StruckOut; struck != nil {
		p.StruckBy, p.StruckAt, p.Struck = people.name(struck.By.AccountID), momentWords(struck.At), string(struck.Reason)
	}
	open := visit.Signed == nil && !visit.Struck()
	p.MayEdit, p.MaySign = open && v.may(account.WriteVisit), open && v.may(account.WriteVisit)
	p.MayStrike = !visit.Struck() && v.may(account.StrikeOut)
	return s.render(w, v, http.StatusOK, "visit", head{Title: "Visit", Rail: "eyes"}, p)
}

// visitRows writes the values of a visit but acuity and closure.
func visitRows(v *record.Visit) []factRow {
	var rows []factRow
	add := func(name, value, note string) {
		if value != "" {
			rows = append(rows, factRow{name, value, note})
		}
	}
	for _, p := range v.Pressures {
		add("Pressure", pressureShown(p), dropsShown(p))
	}
	add("Lens", codeWords(string(v.Lens)), "")
	for _, b := range v.Bubble {
		add("Bubble", bubbleShown(b), string(b.Note))
	}
	for _, m := range v.MediaSeen {
		text := mediumWords(m.Medium) + ": " + codeWords(string(m.State))
		if m.DropletUM != nil {
			text += fmt.Sprintf(", droplet of %g µm", *m.DropletUM)
		}
		if m.FoveaDistanceUM != nil {
			text += fmt.Sprintf(", %g µm from the fovea", *m.FoveaDistanceUM)
		}
		add("Looked for", text, string(m.Note))
	}
	for _, one := range v.Complications {
		text := codeWords(string(one.Code))
		if one.Since.Known() {
			text += " since " + dayWords(one.Since)
		}
		add("Complication", text, string(one.Note))
	}
	if v.NoComplications {
		add("Complications", "asked, none", "")
	}
	for _, m := range v.Medication {
		add("Medication", strings.TrimSpace(string(m.Name)+" "+string(m.Dose)), codeWords(string(m.Class)))
	}
	for _, m := range v.Missing {
		add("Missing", codeWords(string(m.Field))+": "+codeWords(string(m.Reason)), string(m.Note))
	}
	due := ""
	if v.DueBy.Known() {
		due = dayWords(v.DueBy)
	}
	if v.DueFor != "" {
		due = strings.TrimPrefix(due+", "+codeWords(string(v.DueFor)), ", ")
	}
	add("To be seen again by", due, "")
	add("Note", string(v.Note), "")
	for _, o := range v.Overrides {
		add("Stop passed", codeWords(string(o.Code)), string(o.Reason))
	}
	return rows
}

// signVisit signs a visit: from then on it is struck out or stays.
func (s *Server) signVisit(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, visit, err := s.visitOf(r)
	if err != nil {
		return err
	}
	seen, err := s.visitVersion(r.Context(), visit, r.PostFormValue("version"))
	if err != nil {
		return err
	}
	signed := *seen
	signed.Signed = &record.Signature{By: v.actor(), At: s.Now().UTC()}
	err = s.Store.Write(r.Context(), v.actor(), func(tx *store.Tx) error {
		_, err := tx.Put(r.Context(), &signed, "signed")
		return err
	})
	return s.stored(w, r, err, "/eyes/"+string(c.Eye.ID)+"/visits/"+string(visit.ID))
}

// strikeVisit marks a visit as mistaken.
func (s *Server) strikeVisit(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, visit, err := s.visitOf(r)
	if err != nil {
		return err
	}
	return s.strike(w, r, v, visit, "/eyes/"+string(c.Eye.ID)+"/visits/"+string(visit.ID))
}

// strike strikes a noun out with the reason of the form.
func (s *Server) strike(w http.ResponseWriter, r *http.Request, v *visitor, e record.Entity, to string) error {
	version, err := strconv.ParseInt(r.PostFormValue("version"), 10, 64)
	if err != nil {
		return &fault.Error{Code: fault.Invalid, Where: string(e.Kind()), What: "the form does not tell which version was read", Mend: "open it again"}
	}
	err = s.Store.Write(r.Context(), v.actor(), func(tx *store.Tx) error {
		return tx.StrikeOut(r.Context(), e.Kind(), e.Identity().ID, version, r.PostFormValue("reason"))
	})
	return s.stored(w, r, err, to)
}
