package web

import (
	"cmp"
	"net/http"
	"slices"

	"limitans/estimate"
	"limitans/eye"
	"limitans/internal/account"
	"limitans/internal/figure"
	"limitans/internal/figure/scene"
	"limitans/internal/record"
)

// The auditor's pages. They read the de-identified view alone: pseudonyms in
// addresses, days counted from the first operation, no text that a person wrote.

func (s *Server) caseRoutes() []route {
	return []route{
		{"GET", "/cases", needs(account.ReadDeIdentified), s.listCases},
		{"GET", "/cases/{case}", needs(account.ReadDeIdentified), s.showCase},
	}
}

// caseRows are the eyes of one page of the list.
const caseRows = 25

// casesPage is a stretch of the list of de-identified eyes.
type casesPage struct {
	Rows []apiCaseRow
	Next string
}

// apiCaseRow is one de-identified eye of a list.
type apiCaseRow struct {
	Case       record.ID              `json:"case"` // pseudonym of the eye
	Side       eye.Laterality         `json:"side"`
	Sex        record.Sex             `json:"sex"`
	Age        string                 `json:"age"` // in years at the first operation; above 89 grouped; "not known"
	Diagnoses  []record.DiagnosisCode `json:"diagnoses"`
	Operations int                    `json:"operations"` // of this eye
	// Procedure and indication of the first operation of this eye.
	Procedure  record.Procedure     `json:"procedure"`
	Indication record.DiagnosisCode `json:"indication"`
}

func (s *Server) viewOptions() record.ViewOptions { return record.ViewOptions{Key: s.ViewKey} }

// caseList reads a stretch of the list.
func (s *Server) caseList(r *http.Request, after string, limit int) (casesPage, error) {
	p := casesPage{Rows: []apiCaseRow{}}
	ids, next, err := s.cases.after(r.Context(), after, limit, s.Now())
	if err != nil || len(ids) == 0 {
		return p, err
	}
	view, err := s.Store.DeIdentifiedEyes(r.Context(), ids, s.viewOptions())
	if err != nil {
		return p, err
	}
	patients := map[record.ID]*record.Patient{}
	for _, patient := range view.Patients {
		patients[patient.ID] = patient
	}
	operations := map[record.ID][]*record.Operation{}
	for _, o := range view.Operations {
		operations[o.EyeID] = append(operations[o.EyeID], o)
	}
	for _, e := range view.Eyes { // sorted by pseudonym
		row := apiCaseRow{Case: e.ID, Side: e.Side, Age: view.AgeAtFirstSurgery[e.PatientID].String(), Diagnoses: []record.DiagnosisCode{}}
		if patient := patients[e.PatientID]; patient != nil {
			row.Sex = patient.Sex
		}
		for _, d := range e.Diagnoses {
			if !slices.Contains(row.Diagnoses, d.Code) {
				row.Diagnoses = append(row.Diagnoses, d.Code)
			}
		}
		own := operations[e.ID]
		slices.SortFunc(own, func(a, b *record.Operation) int { return cmp.Or(a.On.Compare(b.On), cmp.Compare(a.ID, b.ID)) })
		if row.Operations = len(own); len(own) > 0 {
			row.Procedure, row.Indication = own[0].Procedure, own[0].Indication
		}
		p.Rows = append(p.Rows, row)
	}
	p.Next = next
	return p, nil
}

func (s *Server) listCases(w http.ResponseWriter, r *http.Request, v *visitor) error {
	p, err := s.caseList(r, r.FormValue("after"), caseRows)
	if err != nil {
		return err
	}
	return s.render(w, v, http.StatusOK, "cases", head{Title: "Cases", Rail: "cases"}, p)
}

// oneCase is a de-identified eye with everything around it.
type oneCase struct {
	record.Course
	Patient  *record.Patient
	Age      string
	Fellow   record.ID // pseudonym; empty when the record knows one eye
	Cautions []string
}

// caseOf reads the case that the path names.
func (s *Server) caseOf(r *http.Request) (*oneCase, error) {
	id, err := s.cases.find(r.Context(), r.PathValue("case"), s.Now())
	if err != nil {
		return nil, err
	}
	view, err := s.Store.DeIdentifiedAround(r.Context(), id, s.viewOptions())
	if err != nil {
		return nil, err
	}
	mine := record.Pseudonym(s.ViewKey, id)
	c := &oneCase{Cautions: []string{
		"A rare case, an unusual age or course can identify by itself; whether this may leave the unit is for a person to decide.",
		"Days count from the patient's first operation of either eye, or from the first visit or scan where there was none. Texts that people wrote, lots, files, films and pictures are not here.",
	}}
	for _, e := range view.Eyes {
		if e.ID == mine {
			c.Eye = e
		} else {
			c.Fellow = e.ID
		}
	}
	for _, p := range view.Patients {
		c.Patient, c.Age = p, view.AgeAtFirstSurgery[p.ID].String()
	}
	c.Scans, c.Figures, c.Plans = ofEye(view.Scans, mine), ofEye(view.Figures, mine), ofEye(view.Plans, mine)
	c.Operations, c.Visits, c.Films = ofEye(view.Operations, mine), ofEye(view.Visits, mine), ofEye(view.Films, mine)
	return c, nil
}

// ofEye keeps the nouns of one eye, in the order of their days.
func ofEye[T record.Entity](all []T, eyeID record.ID) []T {
	out := []T{}
	for _, e := range all {
		if e.Links().EyeID == eyeID {
			out = append(out, e)
		}
	}
	slices.SortStableFunc(out, func(a, b T) int { return a.Links().Day.Compare(b.Links().Day) })
	return out
}

// casePage is one case for people.
type casePage struct {
	*oneCase
	Side     string
	Picture  *scene.Scene
	Narrow   *scene.Scene
	Facts    []figure.CourseFact
	Measured []caseFigures
}

// caseFigures are the figures of one scan as rows.
type caseFigures struct {
	On      record.Date
	Source  record.FigureSource
	Figures []caseFigure
}

type caseFigure struct{ Name, Value, Basis string }

func (s *Server) showCase(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, err := s.caseOf(r)
	if err != nil {
		return err
	}
	p := casePage{oneCase: c, Side: sideWords(c.Eye.Side)}
	chart := figure.CourseOf(c.Course, figure.CourseOptions{Name: "case", Title: p.Side})
	p.Facts = figure.CourseFacts(chart)
	p.Picture = figure.DrawCourse(chart, figure.CourseForm{})
	chart.Name = "case-narrow"
	p.Narrow = figure.DrawCourse(chart, figure.CourseForm{Width: narrowWidth})
	for _, f := range c.Figures {
		p.Measured = append(p.Measured, figuresOfCase(f))
	}
	return s.render(w, v, http.StatusOK, "case", head{Title: "Case", Rail: "cases", Scripts: []string{"course.js"}, Wide: true}, p)
}

// figuresOfCase writes hole figures with their intervals.
func figuresOfCase(f *record.HoleFigures) caseFigures {
	out := caseFigures{On: f.Taken, Source: f.Source}
	for _, one := range []struct {
		name     string
		estimate *estimate.Estimate
		decimals int
		unit     string
	}{
		{"Minimum linear diameter", f.MLDUM, 0, "µm"},
		{"The same between visible edges", f.VisibleMLDUM, 0, "µm"},
		{"Smallest section, smallest diameter", f.SmallUM, 0, "µm"},
		{"Smallest section, largest diameter", f.LargeUM, 0, "µm"},
		{"Smallest section, area", f.AreaMM2, 3, "mm²"},
		{"Base diameter", f.BaseUM, 0, "µm"},
		{"Inner opening", f.OpeningUM, 0, "µm"},
		{"Height", f.HeightUM, 0, "µm"},
		{"Volume", f.VolumeMM3, 4, "mm³"},
		{"Central thickness", f.CentralUM, 0, "µm"},
	} {
		if one.estimate != nil {
			out.Figures = append(out.Figures, caseFigure{one.name, estimateWords(one.estimate, one.decimals, one.unit), one.estimate.Basis})
		}
	}
	return out
}
