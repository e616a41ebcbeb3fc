package web

import (
	"net/http"
	"strconv"
	"strings"

	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
)

func versionText(n int64) string { return strconv.FormatInt(n, 10) }

// personPage is one person with eyes, merges and who may be the same.
type personPage struct {
	ID       record.ID
	Name     string
	Rows     []factRow
	Eyes     []eyeLine
	Merges   []mergeLine
	Alike    []alikeLine
	MayWrite bool
	MayMerge bool
	ReadAs   record.ID // somebody else, when this person was merged into one
	ReadName string
}

// mergeLine is a merge that stands.
type mergeLine struct {
	ID                 record.ID
	Survivor, Absorbed string
	By, At, Reason     string
}

// personOf reads the person of a request and the patient.
func (s *Server) personOf(r *http.Request) (*record.Person, *record.Patient, error) {
	id := record.ID(r.PathValue("person"))
	if id.Check() != nil {
		return nil, nil, &fault.Error{Code: fault.NotFound, Where: "person", What: "there is no such person", Mend: "search by name or number"}
	}
	e, err := s.Store.Get(r.Context(), record.KindPerson, id)
	if err != nil {
		return nil, nil, err
	}
	p := e.(*record.Person)
	patient, err := s.Store.Get(r.Context(), record.KindPatient, p.PatientID)
	if err != nil {
		return nil, nil, err
	}
	return p, patient.(*record.Patient), nil
}

func (s *Server) showPerson(w http.ResponseWriter, r *http.Request, v *visitor) error {
	p, patient, err := s.personOf(r)
	if err != nil {
		return err
	}
	people, err := s.colleagues(r.Context())
	if err != nil {
		return err
	}
	page := personPage{ID: p.ID, Name: nameOf(p), Rows: personRows(p, patient), MayWrite: v.may(account.WritePatient), MayMerge: v.may(account.MergePatients)}
	rows, err := s.Store.EyesOfPerson(r.Context(), p.ID)
	if err != nil {
		return err
	}
	page.Eyes = linesOf(rows)
	merges, err := s.Store.MergesOf(r.Context(), p.ID)
	if err != nil {
		return err
	}
	for _, m := range merges {
		line := mergeLine{ID: m.ID, By: people.name(m.By.AccountID), At: momentWords(m.At), Reason: string(m.Reason)}
		for _, side := range []struct {
			id   record.ID
			into *string
		}{{m.Survivor, &line.Survivor}, {m.Absorbed, &line.Absorbed}} {
			e, err := s.Store.Get(r.Context(), record.KindPerson, side.id)
			if err != nil {
				return err
			}
			*side.into = nameOf(e.(*record.Person)) + " " + e.(*record.Person).UnitNumber
		}
		if m.Absorbed == p.ID {
			page.ReadAs, page.ReadName = m.Survivor, line.Survivor
		}
		page.Merges = append(page.Merges, line)
	}
	if page.Alike, err = s.alike(r.Context(), p); err != nil {
		return err
	}
	return s.render(w, v, http.StatusOK, "person", head{Title: page.Name, Rail: "eyes"}, page)
}

// personRows writes what is known of a person.
func personRows(p *record.Person, patient *record.Patient) []factRow {
	var rows []factRow
	add := func(name, value, note string) {
		if value != "" {
			rows = append(rows, factRow{name, value, note})
		}
	}
	for _, n := range p.Names {
		add("Name", n.Text, codeWords(string(n.Use)))
	}
	typed := ""
	if p.BirthDate.Raw != "" {
		typed = "written " + strconv.Quote(p.BirthDate.Raw)
	}
	add("Born", dayWords(p.BirthDate), typed)
	add("Number", p.UnitNumber, "")
	for _, i := range p.Identifiers {
		add("Number of "+i.System, i.Value, "")
	}
	for _, c := range p.Contacts {
		add("Contact", codeWords(string(c.Way))+": "+c.Value, c.Whose)
	}
	add("Sex", codeWords(string(patient.Sex)), "")
	add("Language", p.Language, "")
	number := func(name string, x *float64, unit string) {
		if x != nil {
			add(name, strconv.FormatFloat(*x, 'f', -1, 64)+" "+unit, "")
		}
	}
	number("Home above the sea", p.HomeAltitudeM, "m")
	number("Highest point of the way home", p.RouteAltitudeM, "m")
	add("Raised risk of a clot", codeWords(string(patient.ClotRisk)), string(patient.ClotRiskWhy))
	add("Cannot lie face down", codeWords(string(patient.CannotLieProne)), string(patient.PostureLimits))
	for _, a := range patient.Allergies {
		add("Allergy", string(a.Substance), string(a.Reaction))
	}
	if patient.NoAllergies {
		add("Allergies", "asked, none", "")
	}
	if p.DiedOn.Known() {
		add("Died", dayWords(p.DiedOn), "")
	}
	add("Note", string(p.Note), "")
	return rows
}

func (s *Server) editPerson(w http.ResponseWriter, r *http.Request, v *visitor) error {
	p, patient, err := s.personOf(r)
	if err != nil {
		return err
	}
	at := "/people/" + string(p.ID)
	values := personValues(p, patient)
	values.Set("patient-version", versionText(patient.Version))
	return s.renderPersonForm(w, v, http.StatusOK, &personForm{To: at, Back: at, V: values}, p.BirthDate)
}

func (s *Server) changePerson(w http.ResponseWriter, r *http.Request, v *visitor) error {
	now, patientNow, err := s.personOf(r)
	if err != nil {
		return err
	}
	values, err := formOf(r)
	if err != nil {
		return err
	}
	before, patient := &record.Person{}, &record.Patient{}
	if err := s.madeFrom(r.Context(), now, values.Get("version"), before); err != nil {
		return err
	}
	if err := s.madeFrom(r.Context(), patientNow, values.Get("patient-version"), patient); err != nil {
		return err
	}
	at := "/people/" + string(now.ID)
	return s.keepPerson(w, r, v, values, before, patient, &personForm{To: at, Back: at})
}

// mergePersons says that two persons are one.
func (s *Server) mergePersons(w http.ResponseWriter, r *http.Request, v *visitor) error {
	p, _, err := s.personOf(r)
	if err != nil {
		return err
	}
	other := record.ID(r.PostFormValue("with"))
	survivor, absorbed := p.ID, other
	if r.PostFormValue("keep") == "other" {
		survivor, absorbed = other, p.ID
	}
	if strings.TrimSpace(r.PostFormValue("reason")) == "" {
		return &fault.Error{Code: fault.Invalid, Where: "merge", What: "no reason is given", Expected: "why the two are one person", Mend: "go back and type it"}
	}
	err = s.Store.Write(r.Context(), v.actor(), func(tx *store.Tx) error {
		_, err := tx.Merge(r.Context(), survivor, absorbed, r.PostFormValue("reason"))
		return err
	})
	return s.stored(w, r, err, "/people/"+string(survivor))
}

// unmergePersons undoes a merge; both stay in the record.
func (s *Server) unmergePersons(w http.ResponseWriter, r *http.Request, v *visitor) error {
	p, _, err := s.personOf(r)
	if err != nil {
		return err
	}
	err = s.Store.Write(r.Context(), v.actor(), func(tx *store.Tx) error {
		_, err := tx.UndoMerge(r.Context(), record.ID(r.PostFormValue("merge")), r.PostFormValue("reason"))
		return err
	})
	return s.stored(w, r, err, "/people/"+string(p.ID))
}
