package web

import (
	"encoding/json"
	"net/http"
	"slices"

	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
)

// maySeeScan is the rule of pages that show a scan; mayMeasure of those that
// change what was measured on one.
func mayMeasure() rule {
	return needs(account.ReadClinical, account.ReadIdentity, account.MeasureScan)
}

func (s *Server) scanRoutes() []route {
	bring := needs(account.ReadClinical, account.ReadIdentity, account.ImportScan)
	sign := needs(account.ReadClinical, account.ReadIdentity, account.SignMeasurement)
	return append([]route{
		{"GET", "/eyes/{eye}/scan", seesEye(), s.listScans},
		{"POST", "/eyes/{eye}/scan", bring, s.bringScan},
		{"GET", "/eyes/{eye}/scan/{scan}", seesEye(), s.showScan},
		{"GET", "/eyes/{eye}/scan/{scan}/pictures/{content}/{slice}", seesEye(), s.slicePicture},
		{"POST", "/eyes/{eye}/scan/{scan}/measure", mayMeasure(), s.measureScan},
		{"POST", "/eyes/{eye}/scan/{scan}/cancel", mayMeasure(), s.cancelMeasuring},
		{"POST", "/eyes/{eye}/scan/{scan}/scale", mayMeasure(), s.scaleScan},
		{"POST", "/eyes/{eye}/scan/{scan}/lines", mayMeasure(), s.moveLines},
		{"POST", "/eyes/{eye}/scan/{scan}/sign", sign, s.signFigures},
	}, s.scanViewRoutes()...)
}

// scanLine is one scan of the list.
type scanLine struct {
	*record.Scan
	Figures *record.HoleFigures // those that count; nil: none
	Job     *jobLine
	To      string
	First   int // number of the slice that is shown first
	Picture string
}

// scansPage is the list of scans of an eye, the newest first, and the form that
// brings one in.
type scansPage struct {
	Eye      eyeHead
	Scans    []scanLine
	Typed    []*record.HoleFigures // figures without a scan
	MayBring bool
	CanBring bool // the server has a vault and a queue
	Most     int64
	// What a refused file was sent with, and why it was refused.
	Sent    map[string]string
	Refused *failure
	Person  bool // the refusal is about whose scan it is
	Side    bool // the refusal is about the side
	Today   record.Date
}

func (s *Server) listScans(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, err := s.course(r)
	if err != nil {
		return err
	}
	return s.scansPage(w, r, v, http.StatusOK, c, scansPage{})
}

// scansPage shows the list; p carries what a refused file was sent with.
func (s *Server) scansPage(w http.ResponseWriter, r *http.Request, v *visitor, status int, c *store.Course, p scansPage) error {
	p.Eye, p.MayBring, p.CanBring = headOf(c, "scan"), v.may(account.ImportScan), s.Vault != nil && s.Queue != nil
	p.Most, p.Today = s.MaxUploadBytes, record.DayOf(s.Now())
	jobs, err := s.jobsOf(r.Context())
	if err != nil {
		return err
	}
	for _, noun := range slices.Backward(c.Scans) {
		line := scanLine{Scan: noun, Figures: standing(c, noun.ID), Job: jobs[noun.ID], To: scanPath(noun)}
		line.First = firstSlice(noun, line.Figures)
		line.Picture = picturePath(noun, line.First)
		p.Scans = append(p.Scans, line)
	}
	for _, f := range slices.Backward(c.Figures) {
		if f.ScanID == "" {
			p.Typed = append(p.Typed, f)
		}
	}
	return s.render(w, v, status, "scans", head{Title: "Scans of " + p.Eye.Name, Rail: "eyes", Scripts: []string{"scanlist.js"}}, p)
}

func scanPath(noun *record.Scan) string {
	return "/eyes/" + string(noun.EyeID) + "/scan/" + string(noun.ID)
}

// versionsOf are the figures of a scan, the newest first.
func versionsOf(c *store.Course, scan record.ID) []*record.HoleFigures {
	var out []*record.HoleFigures
	for _, f := range slices.Backward(c.Figures) {
		if f.ScanID == scan {
			out = append(out, f)
		}
	}
	slices.SortStableFunc(out, func(a, b *record.HoleFigures) int { return b.MeasuredAt.Compare(a.MeasuredAt) })
	return out
}

// standing are the figures of a scan that count: the newest that no others
// supersede; nil where it was not measured.
func standing(c *store.Course, scan record.ID) *record.HoleFigures {
	all := versionsOf(c, scan)
	replaced := map[record.ID]bool{}
	for _, f := range all {
		replaced[f.Supersedes] = true
	}
	for _, f := range all {
		if !replaced[f.ID] {
			return f
		}
	}
	return nil
}

// firstSlice is the number of the slice that a scan opens on: the widest of its
// hole, else the middle. 0 where its size is not known yet.
func firstSlice(noun *record.Scan, f *record.HoleFigures) int {
	if f != nil {
		var told struct {
			Hole struct {
				Widest *int `json:"widest_slice"`
			} `json:"hole"`
		}
		if json.Unmarshal(f.Document, &told) == nil && told.Hole.Widest != nil && *told.Hole.Widest >= 0 && *told.Hole.Widest < noun.Slices {
			return *told.Hole.Widest + 1
		}
	}
	return (noun.Slices + 1) / 2
}

// scanOf finds the scan of the address in a course. It fails with
// fault.NotFound, also for the scan of another eye.
func scanOf(c *store.Course, id record.ID) (*record.Scan, error) {
	for _, noun := range c.Scans {
		if noun.ID == id {
			return noun, nil
		}
	}
	return nil, &fault.Error{Code: fault.NotFound, Where: "scan", What: "this eye has no such scan", Mend: "go to the list of its scans"}
}

// figuresOf finds figures of a scan by their identifier; the empty one means
// those that count, which may be nil.
func figuresOf(c *store.Course, scan, id record.ID) (*record.HoleFigures, error) {
	if id == "" {
		return standing(c, scan), nil
	}
	for _, f := range c.Figures {
		if f.ID == id && f.ScanID == scan {
			return f, nil
		}
	}
	return nil, &fault.Error{Code: fault.NotFound, Where: "figures", What: "this scan has no such figures", Mend: "go to the scan and choose a version"}
}
