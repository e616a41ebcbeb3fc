package web

import (
	"net/http"
	"strconv"

	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
)

func (s *Server) casesAPI() []endpoint {
	who := needs(account.ReadDeIdentified)
	return []endpoint{
		gives("Cases", "cases", who, "Eyes without their persons, in the order of their pseudonyms.", pageQuery, s.apiCases),
		gives("Cases", "cases/{case}", who, "One de-identified eye. Its identifiers are pseudonyms, its days count from the patient's first operation; what people wrote, lots, names and hashes of files are left out.", nil, s.apiCase),
	}
}

// apiCases is a stretch of the list of de-identified eyes.
type apiCases struct {
	Cases []apiCaseRow `json:"cases"`
	Next  string       `json:"next"` // for after; empty at the end
}

func (s *Server) apiCases(r *http.Request, _ *visitor) (apiCases, error) {
	page, err := pageOf(r)
	if err != nil {
		return apiCases{}, err
	}
	limit := page.Limit
	switch {
	case limit == 0:
		limit = store.DefaultPage
	case limit > store.MaxPage:
		return apiCases{}, &fault.Error{Code: fault.Invalid, Where: "limit", What: strconv.Itoa(limit) + " rows", Expected: "1 to " + strconv.Itoa(store.MaxPage)}
	}
	found, err := s.caseList(r, page.After, limit)
	return apiCases{found.Rows, found.Next}, err
}

// apiCaseFull is a de-identified eye.
type apiCaseFull struct {
	Case       record.ID             `json:"case"`             // pseudonym of the eye
	Fellow     record.ID             `json:"fellow,omitempty"` // pseudonym of the patient's other eye
	Age        string                `json:"age"`              // in years at the first operation; above 89 grouped; "not known"
	Eye        *record.Eye           `json:"eye"`
	Patient    *record.Patient       `json:"patient"`
	Scans      []*record.Scan        `json:"scans"`
	Figures    []*record.HoleFigures `json:"figures"`
	Plans      []*record.Plan        `json:"plans"`
	Operations []*record.Operation   `json:"operations"`
	Visits     []*record.Visit       `json:"visits"`
	Films      []*record.Film        `json:"films"`
	Cautions   []string              `json:"cautions"` // about what this view cannot promise
}

func (s *Server) apiCase(r *http.Request, _ *visitor) (apiCaseFull, error) {
	c, err := s.caseOf(r)
	if err != nil {
		return apiCaseFull{}, err
	}
	return apiCaseFull{c.Eye.ID, c.Fellow, c.Age, c.Eye, c.Patient, c.Scans, c.Figures, c.Plans, c.Operations, c.Visits, c.Films, c.Cautions}, nil
}
