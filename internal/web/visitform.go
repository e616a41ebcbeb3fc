package web

import (
	"crypto/rand"
	"errors"
	"html/template"
	"net/http"
	"strings"
	"sync"

	"limitans/acuity"
	"limitans/fault"
	"limitans/internal/figure"
	"limitans/internal/record"
	"limitans/internal/store"
)

// visitForm is the page on which a visit is entered or changed.
type visitForm struct {
	Eye  eyeHead
	New  bool
	To   string // where the form goes
	Back string
	V    entryValues

	Acuities               []acuityRow
	Roles, Through         []option
	Pressures              []int
	Methods                []option
	Lenses                 []option
	Closures               []closureChoice
	ClosureSources         []option
	Bubbles, Media         []int
	BubbleMedia, SeenMedia []option
	Looks                  []option
	Complications          []option
	Reasons                []option
	DueFor                 []option

	Found foundView
	Last  *lastVisit
	// AsBefore: the lens was taken from this day.
	LensFrom string
	InEye    []string
}

// acuityRow is a line of acuity with what is understood of it.
type acuityRow struct {
	Row     int
	Reading acuityReading
}

// closureChoice is one class with its picture.
type closureChoice struct {
	Value, Words, Source string
	Picture              template.HTML
}

// lastVisit reminds of what was found before.
type lastVisit struct {
	On       string
	Acuities []string
	Pressure string
	Closure  string
}

// closureChoices are the classes of closure with their signs, drawn once.
var closureChoices = sync.OnceValues(func() ([]closureChoice, error) {
	var out []closureChoice
	for _, c := range record.ClosureClasses() {
		var b strings.Builder
		if err := figure.DrawClosureClass(c.Class, c.Words).WriteInline(&b); err != nil {
			return nil, err
		}
		out = append(out, closureChoice{string(c.Class), c.Words, c.Source, template.HTML(b.String())})
	}
	return out, nil
})

// sectionOfVisit tells in which part of the form a field stands.
func sectionOfVisit(where string) string {
	switch field := fieldOf(where); field {
	case "acuities", "acuity":
		return "acuity"
	case "pressures", "pressure":
		return "pressure"
	case "lens", "closure", "bubble", "complications", "note":
		return field
	case "media_seen":
		return "bubble"
	case "on", "at":
		return "day"
	case "due_by", "due_for":
		return "due"
	}
	return "form"
}

// visitForm arranges the form around its values.
func (s *Server) visitForm(c *store.Course, values entryValues, found []record.Finding, before *record.Visit) (*visitForm, error) {
	closures, err := closureChoices()
	if err != nil {
		return nil, err
	}
	p := &visitForm{
		Eye: headOf(c, "visits"), V: values, New: before.Version == 0, Closures: closures,
		Roles:          []option{{"", "not told"}, {string(acuity.Corrected), "corrected"}, {string(acuity.Uncorrected), "uncorrected"}, {string(acuity.Pinhole), "pinhole"}},
		Through:        optionsOf[record.Medium]("not told"),
		Methods:        optionsOf[record.PressureMethod]("not told"),
		Lenses:         optionsOf[record.LensState]("not entered"),
		ClosureSources: optionsOf[record.ClosureFrom]("not told"),
		BubbleMedia:    optionsOf[record.Medium]("not told"), SeenMedia: optionsOf[record.Medium]("none"),
		Looks:         optionsOf[record.MediumLook]("not entered"),
		Complications: optionsOf[record.ComplicationCode]("")[1:],
		Reasons:       optionsOf[record.MissingReason]("entered, or not asked for"),
		DueFor:        optionsOf[record.DueFor]("not told"),
		Pressures:     values.rows("pressure", "mmhg", pressureRows),
		Bubbles:       values.rows("bubble", "medium", bubbleRows), Media: values.rows("media", "medium", mediaRows),
	}
	p.To = "/eyes/" + string(c.Eye.ID) + "/visits"
	p.Back = p.To
	if !p.New {
		p.To += "/" + string(before.ID)
		p.Back = p.To
	}
	for _, i := range values.rows("acuity", "raw", acuityRows) {
		r := acuityReading{Row: i}
		if raw := strings.TrimSpace(values.Get(row("acuity", i, "raw"))); raw != "" {
			a := record.AcuityEntry{Raw: record.FreeText(raw), Understood: acuity.Parse(raw, acuity.Options{})}
			r = readAcuity(i, a, values.Get(row("acuity", i, "choice")), c.Eye.Side)
		}
		p.Acuities = append(p.Acuities, acuityRow{i, r})
	}
	p.Found = viewFindings(values, found, before.Overrides, sectionOfVisit)
	state := record.StateOf(c.Course, record.DayOf(s.Now()))
	for _, in := range state.InEye {
		p.InEye = append(p.InEye, contentWords(in))
	}
	if p.New {
		p.Last = lastOf(c.Visits)
		if state.Lens != "" && values.Is("lens", string(state.Lens)) {
			p.LensFrom = dayWords(state.LensOn)
		}
	}
	return p, nil
}

// contentWords says what is in an eye and since when.
func contentWords(in record.Content) string {
	text := mediumWords(in.Medium)
	if in.Since.Known() {
		text += " since " + dayWords(in.Since)
	}
	if in.State == record.ContentUnclear {
		text += ", unclear whether it is still there"
	}
	return text
}

// lastOf reminds of the last visit.
func lastOf(visits []*record.Visit) *lastVisit {
	if len(visits) == 0 {
		return nil
	}
	v := visits[len(visits)-1]
	l := &lastVisit{On: dayWords(v.On)}
	for _, a := range v.Acuities {
		l.Acuities = append(l.Acuities, acuityShown(a))
	}
	l.Pressure = pressuresShown(v.Pressures)
	if v.Closure != nil {
		l.Closure = closureWords(v.Closure.Class)
	}
	return l
}

// closureWords are those of a class of closure.
func closureWords(class record.ClosureClass) string {
	for _, c := range record.ClosureClasses() {
		if c.Class == class {
			return c.Words
		}
	}
	return codeWords(string(class))
}

// visitDefaults begins a visit with what stays the same from visit to visit. What
// was found last time is shown beside the fields and never taken over.
func (s *Server) visitDefaults(c *store.Course) (*record.Visit, entryValues, error) {
	id, err := record.NewID(s.Now(), rand.Reader)
	if err != nil {
		return nil, entryValues{}, err
	}
	v := &record.Visit{Base: record.Base{ID: id}, PatientID: c.Eye.PatientID, EyeID: c.Eye.ID, On: record.DayOf(s.Now())}
	state := record.StateOf(c.Course, v.On)
	v.Lens = state.Lens
	values := visitValues(v)
	if n := len(c.Visits); n > 0 {
		last := c.Visits[n-1]
		for i, a := range last.Acuities {
			if i < acuityRows {
				values.put(row("acuity", i, "role"), string(a.Role))
			}
		}
		if len(last.Pressures) > 0 {
			values.put(row("pressure", 0, "method"), string(last.Pressures[0].Method))
		}
	}
	for i, in := range state.InEye {
		if i == 0 {
			values.put(row("bubble", 0, "medium"), string(in.Medium))
			for k := range acuityRows {
				values.put(row("acuity", k, "through"), string(in.Medium))
			}
		}
		values.put(row("media", i, "medium"), string(in.Medium))
	}
	return v, values, nil
}

// newVisit shows an empty form.
func (s *Server) newVisit(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, err := s.course(r)
	if err != nil {
		return err
	}
	visit, values, err := s.visitDefaults(c)
	if err != nil {
		return err
	}
	p, err := s.visitForm(c, values, nil, visit)
	if err != nil {
		return err
	}
	return s.renderVisitForm(w, v, http.StatusOK, p)
}

func (s *Server) renderVisitForm(w http.ResponseWriter, v *visitor, status int, p *visitForm) error {
	title := "Enter visit"
	if !p.New {
		title = "Change visit"
	}
	return s.render(w, v, status, "visit-form", head{Title: title, Rail: "eyes", Scripts: []string{"visit.js"}}, p)
}

// editVisit shows the form of a visit that is there.
func (s *Server) editVisit(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, visit, err := s.visitOf(r)
	if err != nil {
		return err
	}
	var found []record.Finding
	if visit.Signed != nil {
		found = []record.Finding{{Severity: record.Stop, Code: record.CodeFrozen, What: "it was signed and must not change", Mend: "strike it out with a reason and enter it anew"}}
	}
	p, err := s.visitForm(c, visitValues(visit), found, visit)
	if err != nil {
		return err
	}
	return s.renderVisitForm(w, v, http.StatusOK, p)
}

// addVisit stores a new visit, or shows the form again with what was found.
func (s *Server) addVisit(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, err := s.course(r)
	if err != nil {
		return err
	}
	values, err := formOf(r)
	if err != nil {
		return err
	}
	id := record.ID(values.Get("id"))
	if err := id.Check(); err != nil {
		return err
	}
	before := &record.Visit{Base: record.Base{ID: id}, PatientID: c.Eye.PatientID, EyeID: c.Eye.ID}
	return s.keepVisit(w, r, v, c, values, before)
}

// changeVisit stores another version of a visit.
func (s *Server) changeVisit(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, visit, err := s.visitOf(r)
	if err != nil {
		return err
	}
	values, err := formOf(r)
	if err != nil {
		return err
	}
	// The form may have been made from an earlier version; the store then keeps
	// both (see contest.go).
	before, err := s.visitVersion(r.Context(), visit, values.Get("version"))
	if err != nil {
		return err
	}
	return s.keepVisit(w, r, v, c, values, before)
}

// keepVisit reads the form, shows it again while something is open, and stores it.
func (s *Server) keepVisit(w http.ResponseWriter, r *http.Request, v *visitor, c *store.Course, values entryValues, before *record.Visit) error {
	e := &entryReader{values: values, today: record.DayOf(s.Now())}
	visit := e.readVisit(before, v.account.ID)
	if visit.SeenBy == "" && !visit.Elsewhere {
		visit.SeenBy = v.account.ID
	}
	around := aroundOf(c, e.today)
	if before.Version > 0 {
		around.Before = before
	}
	found := saidOnce(withoutChosen(append(e.found, record.Check(visit, around)...)))
	visit.Overrides = s.overridesFrom(values, found, before.Overrides, v)
	again := func(found []record.Finding) error {
		p, err := s.visitForm(c, values, found, before)
		if err != nil {
			return err
		}
		return s.renderVisitForm(w, v, http.StatusUnprocessableEntity, p)
	}
	if !settled(values, found, visit.Overrides) {
		return again(found)
	}
	err := s.Store.Write(r.Context(), v.actor(), func(tx *store.Tx) error {
		_, err := tx.Put(r.Context(), visit, strings.TrimSpace(values.Get("why")))
		return err
	})
	var refused *store.Refused
	if errors.As(err, &refused) {
		return again(refused.Stops)
	}
	return s.stored(w, r, err, "/eyes/"+string(c.Eye.ID)+"/visits/"+string(visit.ID))
}

// stored goes on after a change: to the page of what was stored, or to the two
// versions between which a person must decide.
func (s *Server) stored(w http.ResponseWriter, r *http.Request, err error, to string) error {
	var contested *store.Contested
	if errors.As(err, &contested) {
		to, err = "/contests/"+string(contested.Contests[0]), nil
	}
	if err != nil {
		return err
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}

// aroundOf is what a noun of an eye is checked against.
func aroundOf(c *store.Course, today record.Date) record.Around {
	a := record.Around{Today: today, Eye: c.Eye, Batches: c.Batches}
	if len(c.Persons) > 0 {
		a.BirthDate, a.DiedOn = c.Persons[0].BirthDate, c.Persons[0].DiedOn
	}
	return a
}

// withoutChosen takes out questions of acuity that the form asks in its own way,
// with the readings to choose from.
func withoutChosen(found []record.Finding) []record.Finding {
	out := found[:0:0]
	for _, f := range found {
		if f.Code != record.CodeAcuityUnclear {
			out = append(out, f)
		}
	}
	return out
}

// errNoVisit says that a visit is not one of the eye.
func errNoVisit() error {
	return &fault.Error{Code: fault.NotFound, Where: "visit", What: "this eye has no such visit", Mend: "go back to its visits"}
}
