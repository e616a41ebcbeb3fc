package web

import (
	"context"
	"crypto/rand"
	"errors"
	"net/http"
	"slices"
	"strings"

	"limitans/eye"
	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
)

func (s *Server) peopleRoutes() []route {
	writes := needs(account.ReadClinical, account.ReadIdentity, account.WritePatient)
	merges := needs(account.ReadClinical, account.ReadIdentity, account.MergePatients)
	return []route{
		{"GET", "/people/new", writes, s.newPerson},
		{"POST", "/people", writes, s.addPerson},
		{"GET", "/people/{person}", seesEye(), s.showPerson},
		{"POST", "/people/{person}", writes, s.changePerson},
		{"GET", "/people/{person}/edit", writes, s.editPerson},
		{"POST", "/people/{person}/merge", merges, s.mergePersons},
		{"POST", "/people/{person}/unmerge", merges, s.unmergePersons},
		{"GET", "/eyes/{eye}/facts", seesEye(), s.showEyeFacts},
		{"POST", "/eyes/{eye}/facts", writes, s.addEyeFacts},
	}
}

// personForm is the page on which somebody is entered or changed.
type personForm struct {
	New      bool
	To, Back string
	V        entryValues
	Sexes    []option
	Answers  []option
	Sides    []option
	Found    foundView
	Alike    []alikeLine
	Birth    string // how the birth date is understood
	Readings []option
}

// alikeLine is a person who may be the same.
type alikeLine struct {
	ID                 record.ID
	Name, Born, Number string
	Reasons, Against   []string
	Score              int
	Key                string
	Eyes               []store.EyeRow
}

// personValues writes a person and the patient's facts as the form has them.
func personValues(p *record.Person, patient *record.Patient) entryValues {
	f := entryValues{map[string][]string{}}
	f.put("id", string(p.ID))
	f.put("patient", string(patient.ID))
	f.Set("version", strings.TrimSpace(versionText(p.Version)))
	for i, n := range p.Names {
		if i < nameRows {
			f.Set(row("name", i, "text"), n.Text)
		}
	}
	f.date("birth", p.BirthDate)
	f.put("number", p.UnitNumber)
	f.put("language", p.Language)
	f.number("home", p.HomeAltitudeM)
	f.number("route", p.RouteAltitudeM)
	f.date("died", p.DiedOn)
	f.put("note", string(p.Note))
	f.put("sex", string(patient.Sex))
	f.put("clot", string(patient.ClotRisk))
	f.put("prone", string(patient.CannotLieProne))
	for i, a := range patient.Allergies[:min(len(patient.Allergies), allergyRows)] {
		f.put(row("allergy", i, "substance"), string(a.Substance))
		f.put(row("allergy", i, "reaction"), string(a.Reaction))
	}
	if patient.NoAllergies {
		f.Set("no-allergies", "yes")
	}
	for i, n := range p.Identifiers[:min(len(p.Identifiers), identifierRows)] {
		f.put(row("identifier", i, "system"), n.System)
		f.put(row("identifier", i, "value"), n.Value)
	}
	for _, c := range p.Contacts {
		if c.Way == record.ContactPhone && c.Whose == "" {
			f.put("phone", c.Value)
		}
	}
	return f
}

// Rows of the form. What a record has beyond them stays as it is.
const (
	nameRows       = 3
	allergyRows    = 4
	identifierRows = 2
)

// readPerson reads the form into copies of a person and a patient.
func (e *entryReader) readPerson(before *record.Person, was *record.Patient) (*record.Person, *record.Patient) {
	p, patient := *before, *was
	p.Names = nil
	for i := range nameRows {
		text := e.text(row("name", i, "text"))
		if text == "" {
			continue
		}
		n := record.PersonName{Text: text, Use: record.NameOfficial}
		if i > 0 {
			n.Use = record.NameOther
		}
		for _, old := range before.Names {
			if old.Text == text {
				n = old
			}
		}
		p.Names = append(p.Names, n)
	}
	if len(before.Names) > nameRows {
		p.Names = append(p.Names, before.Names[nameRows:]...)
	}
	p.BirthDate = e.birthDate(before.BirthDate)
	p.UnitNumber, p.Language, p.Note = e.text("number"), e.text("language"), record.FreeText(e.text("note"))
	p.HomeAltitudeM, p.RouteAltitudeM = e.number("home", "home_altitude_m"), e.number("route", "route_altitude_m")
	p.DiedOn = e.date("died", "died_on", record.OrderUndecided)
	phone := func(c record.Contact) bool { return c.Way == record.ContactPhone && c.Whose == "" }
	p.Contacts = slices.DeleteFunc(slices.Clone(before.Contacts), phone)
	if number := e.text("phone"); number != "" {
		p.Contacts = append(p.Contacts, record.Contact{Way: record.ContactPhone, Value: number})
	}
	patient.Sex = record.Sex(e.text("sex"))
	patient.ClotRisk, patient.CannotLieProne = record.Answer(e.text("clot")), record.Answer(e.text("prone"))
	patient.BirthYear = p.BirthDate.Year
	e.allergies(&patient, was)
	p.Identifiers = e.identifiers(before.Identifiers)
	return &p, &patient
}

// allergies reads what the patient must not be given.
func (e *entryReader) allergies(patient, was *record.Patient) {
	patient.NoAllergies, patient.Allergies = e.text("no-allergies") == "yes", nil
	for i := range allergyRows {
		a := record.Allergy{Substance: record.FreeText(e.text(row("allergy", i, "substance"))), Reaction: record.FreeText(e.text(row("allergy", i, "reaction")))}
		switch {
		case a.Substance != "":
			patient.Allergies = append(patient.Allergies, a)
		case a.Reaction != "":
			e.stop("allergies", "a reaction stands without what caused it", "enter the substance")
		}
	}
	if len(was.Allergies) > allergyRows {
		patient.Allergies = append(patient.Allergies, was.Allergies[allergyRows:]...)
	}
}

// identifiers reads numbers that others gave to the person.
func (e *entryReader) identifiers(before []record.Identifier) (all []record.Identifier) {
	for i := range identifierRows {
		n := record.Identifier{System: e.text(row("identifier", i, "system")), Value: e.text(row("identifier", i, "value"))}
		switch {
		case n.System != "" && n.Value != "":
			all = append(all, n)
		case n.System != "" || n.Value != "":
			e.stop("identifiers", "a number needs both itself and who gave it", "enter the other of the two, or neither")
		}
	}
	if len(before) > identifierRows {
		all = append(all, before[identifierRows:]...)
	}
	return all
}

// birthDate reads the birth date as typed; of two readings a person chooses one.
func (e *entryReader) birthDate(before record.Date) record.Date {
	typed, choice := e.text("birth"), e.text("birth-choice")
	if typed == before.ISO() && typed != "" {
		return before
	}
	if choice != "" && typed != "" {
		parsed, err := record.ParseDate(typed, record.DateOptions{Today: e.today})
		if err == nil {
			for _, d := range parsed.Readings {
				if d.ISO() == choice {
					d.Raw, d.How = typed, "chosen by a person"
					return d
				}
			}
		}
	}
	return e.date("birth", "birth_date", record.OrderUndecided)
}

// sectionOfPerson tells in which part of the form a field stands.
func sectionOfPerson(where string) string {
	switch field := fieldOf(where); field {
	case "names", "unit_number", "identifiers":
		return "names"
	case "allergies":
		return "allergies"
	case "birth_date", "birth_year", "died_on":
		return "birth"
	case "home_altitude_m", "route_altitude_m":
		return "home"
	}
	return "form"
}

func (s *Server) renderPersonForm(w http.ResponseWriter, v *visitor, status int, p *personForm, typed record.Date) error {
	p.Sexes, p.Answers = optionsOf[record.Sex]("not told"), optionsOf[record.Answer]("not told")
	if typed.Known() {
		p.Birth = dayWords(typed)
	}
	if text := p.V.Get("birth"); text != "" && !typed.Known() {
		if parsed, err := record.ParseDate(text, record.DateOptions{Today: record.DayOf(s.Now())}); err == nil {
			for _, d := range parsed.Readings {
				p.Readings = append(p.Readings, option{d.ISO(), dayWords(d)})
			}
		}
	}
	title := "Enter patient"
	if !p.New {
		title = "Change patient"
	}
	return s.render(w, v, status, "person-form", head{Title: title, Rail: "eyes"}, p)
}

func (s *Server) newPerson(w http.ResponseWriter, _ *http.Request, v *visitor) error {
	values := entryValues{map[string][]string{"right": {"yes"}, "left": {"yes"}, "version": {"0"}}}
	for _, name := range []string{"id", "patient", "right-id", "left-id"} {
		id, err := record.NewID(s.Now(), rand.Reader)
		if err != nil {
			return err
		}
		values.Set(name, string(id))
	}
	return s.renderPersonForm(w, v, http.StatusOK, &personForm{New: true, To: "/people", Back: "/eyes", V: values}, record.Date{})
}

// alike lists who may be the same person, best first.
func (s *Server) alike(ctx context.Context, p *record.Person) ([]alikeLine, error) {
	others, err := s.Store.PersonsAlike(ctx, p)
	if err != nil {
		return nil, err
	}
	merges, err := s.Store.MergesOf(ctx, p.ID)
	if err != nil {
		return nil, err
	}
	one := func(a, b record.ID) bool {
		return (a != p.ID && b != p.ID) || slices.ContainsFunc(merges, func(m *record.Merge) bool {
			return m.Survivor == a && m.Absorbed == b || m.Survivor == b && m.Absorbed == a
		})
	}
	var out []alikeLine
	for _, d := range record.ProposeDuplicates(append(others, p), one) {
		id := d.A
		if id == p.ID {
			id = d.B
		}
		at := slices.IndexFunc(others, func(o *record.Person) bool { return o.ID == id })
		line := alikeLine{ID: id, Reasons: d.Reasons, Against: d.Against, Score: d.Score, Key: "alike " + string(id)}
		line.Name, line.Born, line.Number = nameOf(others[at]), dayWords(others[at].BirthDate), others[at].UnitNumber
		if line.Eyes, err = s.Store.EyesOfPerson(ctx, id); err != nil {
			return nil, err
		}
		if out = append(out, line); len(out) == mostTwins {
			break
		}
	}
	return out, nil
}

// mostTwins is how many persons that may be the same are shown.
const mostTwins = 10

func nameOf(p *record.Person) string {
	if len(p.Names) == 0 {
		return "No name told"
	}
	return p.Names[0].Text
}

// addPerson enters a patient with eyes, after showing who may be the same.
func (s *Server) addPerson(w http.ResponseWriter, r *http.Request, v *visitor) error {
	values, err := formOf(r)
	if err != nil {
		return err
	}
	for _, name := range []string{"id", "patient", "right-id", "left-id"} {
		if err := record.ID(values.Get(name)).Check(); err != nil {
			return err
		}
	}
	before := &record.Person{Base: record.Base{ID: record.ID(values.Get("id"))}, PatientID: record.ID(values.Get("patient"))}
	patient := &record.Patient{Base: record.Base{ID: before.PatientID}}
	p := &personForm{New: true, To: "/people", Back: "/eyes"}
	return s.keepPerson(w, r, v, values, before, patient, p)
}

// eyesOf are the eyes that a new patient is entered with.
func (e *entryReader) eyesOf(patient record.ID) []*record.Eye {
	var out []*record.Eye
	for _, side := range []eye.Laterality{eye.Right, eye.Left} {
		name := strings.ToLower(sideWords(side))
		if e.text(name) != "" {
			out = append(out, &record.Eye{Base: record.Base{ID: record.ID(e.text(name + "-id"))}, PatientID: patient, Side: side})
		}
	}
	return out
}

func (s *Server) keepPerson(w http.ResponseWriter, r *http.Request, v *visitor, values entryValues, before *record.Person, was *record.Patient, page *personForm) error {
	e := &entryReader{values: values, today: record.DayOf(s.Now())}
	person, patient := e.readPerson(before, was)
	var eyes []*record.Eye
	if page.New {
		if eyes = e.eyesOf(patient.ID); len(eyes) == 0 {
			e.stop("eyes", "no eye is chosen", "choose the right eye, the left eye or both")
		}
	}
	found := saidOnce(append(e.found, record.Check(person, record.Around{Today: e.today, Before: entityOrNil(before)})...))
	if !person.BirthDate.Known() && values.Get("birth") == "" {
		found = append(found, record.Finding{Severity: record.Ask, Code: record.CodeDateMissing, Where: "birth_date", What: "no birth date is told", Mend: "enter it, or the year alone"})
	}
	alike, err := s.alike(r.Context(), person)
	if err != nil {
		return err
	}
	unseen := slices.ContainsFunc(alike, func(a alikeLine) bool { return !values.Has("seen", a.Key) })
	shown := page.New && values.Get("birth-seen") != values.Get("birth")
	page.V, page.Alike = values, alike
	if !settled(values, found, nil) || unseen || shown {
		page.Found = viewFindings(values, found, nil, sectionOfPerson)
		return s.renderPersonForm(w, v, http.StatusUnprocessableEntity, page, person.BirthDate)
	}
	err = s.Store.Write(r.Context(), v.actor(), func(tx *store.Tx) error {
		all := []record.Entity{patient, person}
		for _, one := range eyes {
			all = append(all, one)
		}
		if !page.New { // the year of birth is held to the person's
			all = []record.Entity{person, patient}
		}
		for _, one := range all {
			if _, err := tx.Put(r.Context(), one, e.text("why")); err != nil {
				return err
			}
		}
		return nil
	})
	var refused *store.Refused
	if errors.As(err, &refused) {
		page.Found = viewFindings(values, refused.Stops, nil, sectionOfPerson)
		return s.renderPersonForm(w, v, http.StatusUnprocessableEntity, page, person.BirthDate)
	}
	return s.stored(w, r, err, "/people/"+string(person.ID))
}

// entityOrNil is the stored version, if there is one.
func entityOrNil(p *record.Person) record.Entity {
	if p.Version == 0 {
		return nil
	}
	return p
}
