package web

import (
	"net/http"

	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/record"
	"limitans/internal/store"
)

func (s *Server) eyeRoutes() []route {
	return []route{
		{"GET", "/eyes/{eye}", seesEye(), s.showEye},
	}
}

// eyeHead is what every page of an eye shows of whose it is.
type eyeHead struct {
	ID         record.ID
	Side       string
	Name       string
	Born       string
	UnitNumber string
	DiedOn     string
	Station    string // course, scans, plan, bubble or visits
	Fellow     record.ID
	FellowSide string
	Stations   []station
}

// station is one page of an eye.
type station struct{ Code, Words, To string }

// stations of an eye, in the order of its line.
var stations = []station{
	{"course", "Course", ""}, {"scan", "Scan", "/scan"}, {"plan", "Plan", "/plan"}, {"bubble", "Bubble", "/bubble"}, {"visits", "Visits", "/visits"},
}

// course reads an eye and who it belongs to. It fails with fault.NotFound.
func (s *Server) course(r *http.Request) (*store.Course, error) {
	id := record.ID(r.PathValue("eye"))
	if err := id.Check(); err != nil {
		return nil, &fault.Error{Code: fault.NotFound, Where: "eye", What: "there is no such eye", Mend: "search for it", Cause: err}
	}
	return s.Store.Course(r.Context(), id, false)
}

// headOf is the head of a page of an eye.
func headOf(c *store.Course, at string) eyeHead {
	h := eyeHead{ID: c.Eye.ID, Side: sideWords(c.Eye.Side), Station: at, Stations: stations, Name: "No person told"}
	if len(c.Persons) > 0 {
		p := c.Persons[0]
		if len(p.Names) > 0 {
			h.Name = string(p.Names[0].Text)
		}
		h.Born, h.UnitNumber = dayWords(p.BirthDate), p.UnitNumber
		if p.DiedOn.Known() {
			h.DiedOn = dayWords(p.DiedOn)
		}
	}
	if len(c.Fellow) > 0 {
		h.Fellow, h.FellowSide = c.Fellow[0].ID, sideWords(c.Fellow[0].Side)
	}
	return h
}

// eyePage is the course of one eye.
type eyePage struct {
	Eye   eyeHead
	State record.State
	*store.Course
	MayVisit bool
}

// showEye opens an eye on its course.
func (s *Server) showEye(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, err := s.course(r)
	if err != nil {
		return err
	}
	p := eyePage{Eye: headOf(c, "course"), State: record.StateOf(c.Course, record.DayOf(s.Now())), Course: c, MayVisit: v.may(account.WriteVisit)}
	return s.render(w, v, http.StatusOK, "eye", head{Title: p.Eye.Name, Rail: "eyes", Scripts: []string{"course.js"}, Wide: true}, p)
}
