package web

import (
	"net/http"

	"limitans/eye"
	"limitans/internal/record"
)

func (s *Server) eyesAPI() []endpoint {
	return []endpoint{
		gives("Eyes", "eyes", seesEye(), "Eyes, by name; or those whose person's names and numbers hold every fragment of a search.",
			append([]parameter{{name: "q", what: "fragments in any order; accents and capitals do not matter"}}, pageQuery...), s.apiEyes),
		gives("Eyes", "eyes/{eye}", seesEye(), "One eye with everything around it: its course.", nil, s.apiCourse),
		gives("Scans", "eyes/{eye}/scans", seesEye(), "The scans of an eye, in the order of their days.", nil, s.apiScans),
		gives("Scans", "eyes/{eye}/figures", seesEye(), "The hole figures of an eye, without the documents of their measurements.", nil, s.apiFigures),
		gives("Scans", "eyes/{eye}/figures/{figures}", seesEye(), "One set of hole figures with the document of its measurement.", nil, s.apiOneFigures),
	}
}

// apiEyes is a stretch of the list of eyes.
type apiEyes struct {
	Eyes []apiEyeRow `json:"eyes"`
	Next string      `json:"next"` // for after; empty at the end
}

// apiEyeRow is one eye of a list.
type apiEyeRow struct {
	EyeID      record.ID      `json:"eye_id"`
	PatientID  record.ID      `json:"patient_id"`
	PersonID   record.ID      `json:"person_id"`
	ReadAs     record.ID      `json:"read_as"` // the person that this one is read as after merges
	Side       eye.Laterality `json:"side"`
	Name       string         `json:"name"`
	UnitNumber string         `json:"unit_number"`
	BirthDate  string         `json:"birth_date"` // ISO 8601, as far as it is known
}

func (s *Server) apiEyes(r *http.Request, _ *visitor) (apiEyes, error) {
	out := apiEyes{Eyes: []apiEyeRow{}}
	page, err := pageOf(r)
	if err != nil {
		return out, err
	}
	found, err := s.Store.Eyes(r.Context(), shorten(r.FormValue("q")), page)
	for _, row := range found.Rows {
		out.Eyes = append(out.Eyes, apiEyeRow{row.EyeID, row.PatientID, row.PersonID, row.ReadAs, row.Side, row.Name, row.UnitNumber, row.BirthDate})
	}
	out.Next = found.Next
	return out, err
}

// apiCourse is everything that the record knows about one eye. Entries that are
// struck out are not in it.
type apiCourse struct {
	Eye     *record.Eye      `json:"eye"`
	Patient *record.Patient  `json:"patient"`
	Persons []*record.Person `json:"persons"`           // one, unless a mistake gave the patient two
	ReadAs  record.ID        `json:"read_as,omitempty"` // the person that the first is read as after merges
	Fellow  []*record.Eye    `json:"fellow"`            // the patient's other eyes
	Scans   []*record.Scan   `json:"scans"`
	// Figures come without the documents of their measurements.
	Figures    []*record.HoleFigures       `json:"figures"`
	Plans      []*record.Plan              `json:"plans"`
	Operations []*record.Operation         `json:"operations"`
	Visits     []*record.Visit             `json:"visits"`
	Films      []*record.Film              `json:"films"`
	Documents  []*record.Document          `json:"documents"`
	Contacts   []*record.ContactAttempt    `json:"contacts"`
	Batches    map[record.ID]*record.Batch `json:"batches"` // that operations refer to, by identifier
	Due        []apiDueReason              `json:"due"`
	InEye      []apiContent                `json:"in_eye"`   // what is, or may be, in the eye now
	Contests   int                         `json:"contests"` // changes that came too late and wait for a person
}

// apiDueReason is one reason why an eye is due.
type apiDueReason struct {
	Reason record.DueFor `json:"reason"`
	Source record.ID     `json:"source"` // visit, operation or plan that it comes from
	On     string        `json:"on"`     // day agreed, ISO 8601; empty when nobody agreed one
	Since  string        `json:"since"`  // day of the source
}

func (s *Server) apiCourse(r *http.Request, _ *visitor) (apiCourse, error) {
	c, err := s.course(r)
	if err != nil {
		return apiCourse{}, err
	}
	out := apiCourse{
		Eye: c.Eye, Patient: c.Patient, Persons: listOf(c.Persons), ReadAs: c.ReadAs, Fellow: listOf(c.Fellow), Scans: listOf(c.Scans),
		Figures: withoutDocuments(c.Figures), Plans: listOf(c.Plans), Operations: listOf(c.Operations), Visits: listOf(c.Visits),
		Films: listOf(c.Films), Documents: listOf(c.Documents), Contacts: listOf(c.Contacts), Batches: c.Batches,
		Due: []apiDueReason{}, InEye: []apiContent{}, Contests: len(c.Contests),
	}
	for _, d := range c.Due {
		out.Due = append(out.Due, apiDueReason{d.Reason, d.Source, d.On, d.Since})
	}
	for _, content := range c.InEye {
		out.InEye = append(out.InEye, contentOf(content))
	}
	return out, nil
}

// withoutDocuments copies figures without the whole measurement, which is large.
func withoutDocuments(all []*record.HoleFigures) []*record.HoleFigures {
	out := []*record.HoleFigures{}
	for _, f := range all {
		short := *f
		short.Document = nil
		out = append(out, &short)
	}
	return out
}

// apiContent is something that is, or may still be, in an eye.
type apiContent struct {
	Medium      record.Medium       `json:"medium"`
	State       record.ContentState `json:"state"`
	Since       record.Date         `json:"since"`                  // day of filling
	OperationID record.ID           `json:"operation_id,omitempty"` // left out when it was put in elsewhere
	Gas         record.Gas          `json:"gas,omitempty"`
	Percent     *float64            `json:"percent,omitempty"`   // of gas in air
	AmountML    *float64            `json:"amount_ml,omitempty"` // that went in
	LastSeen    record.Date         `json:"last_seen"`           // last day on which it was looked for
	LastLook    record.MediumLook   `json:"last_look,omitempty"`
	RemovedOn   record.Date         `json:"removed_on"` // day of a removal that left some
	Notes       []string            `json:"notes"`
}

func contentOf(c record.Content) apiContent {
	return apiContent{c.Medium, c.State, c.Since, c.OperationID, c.Gas, c.Percent, c.AmountML, c.LastSeen, c.LastLook, c.RemovedOn, listOf(c.Notes)}
}

// apiScans are the scans of an eye.
type apiScans struct {
	Scans []*record.Scan `json:"scans"`
}

func (s *Server) apiScans(r *http.Request, _ *visitor) (apiScans, error) {
	c, err := s.course(r)
	if err != nil {
		return apiScans{}, err
	}
	return apiScans{listOf(c.Scans)}, nil
}

// apiFigures are the hole figures of an eye.
type apiFigures struct {
	Figures []*record.HoleFigures `json:"figures"`
}

func (s *Server) apiFigures(r *http.Request, _ *visitor) (apiFigures, error) {
	c, err := s.course(r)
	if err != nil {
		return apiFigures{}, err
	}
	return apiFigures{withoutDocuments(c.Figures)}, nil
}

func (s *Server) apiOneFigures(r *http.Request, _ *visitor) (*record.HoleFigures, error) {
	return nounOfEye[*record.HoleFigures](s, r, record.KindFigures, "figures")
}

// nounOfEye reads a noun that the path names below its eye.
func nounOfEye[T record.Entity](s *Server, r *http.Request, kind record.Kind, name string) (T, error) {
	var none T
	eyeID, err := idOf(r, "eye")
	if err != nil {
		return none, err
	}
	id, err := idOf(r, name)
	if err != nil {
		return none, err
	}
	found, err := s.Store.Get(r.Context(), kind, id)
	if err != nil {
		return none, err
	}
	if found.Links().EyeID != eyeID {
		return none, notFound(name)
	}
	return found.(T), nil
}
