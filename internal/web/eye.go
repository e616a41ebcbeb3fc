package web

import (
	"errors"
	"net/http"
	"net/url"

	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/figure"
	"limitans/internal/figure/scene"
	"limitans/internal/record"
	"limitans/internal/store"
)

func (s *Server) eyeRoutes() []route {
	return []route{
		{"GET", "/eyes/{eye}", seesEye(), s.showEye},
		{"GET", "/eyes/{eye}/course", seesEye(), s.printCourse},
	}
}

// eyeHead is what every page of an eye shows of whose it is.
type eyeHead struct {
	ID         record.ID
	Person     record.ID
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
		h.Person = p.ID
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

// eyePage is the course of one eye, or of both eyes one above the other.
type eyePage struct {
	Eye      eyeHead
	State    record.State
	Picture  *scene.Scene
	Narrow   *scene.Scene
	Facts    []figure.CourseFact
	Zooms    []zoom
	Both     bool // both eyes are drawn
	Here     string
	Contests int
	MayVisit bool
}

// zoom is a window of time as a link.
type zoom struct {
	Words, To string
	Current   bool
}

// narrowWidth is the width of the course on a telephone.
const narrowWidth = 380

// showEye opens an eye on its course.
func (s *Server) showEye(w http.ResponseWriter, r *http.Request, v *visitor) error {
	p, charts, err := s.eyePage(r, v)
	if err != nil {
		return err
	}
	p.Picture = figure.DrawCourses(charts, figure.CourseForm{})
	for i := range charts {
		charts[i].Name += "-narrow"
	}
	p.Narrow = figure.DrawCourses(charts, figure.CourseForm{Width: narrowWidth})
	return s.render(w, v, http.StatusOK, "eye", head{Title: p.Eye.Name, Rail: "eyes", Scripts: []string{"course.js"}, Wide: true}, p)
}

// printCourse is the course on paper: the same picture, black on white.
func (s *Server) printCourse(w http.ResponseWriter, r *http.Request, v *visitor) error {
	p, charts, err := s.eyePage(r, v)
	if err != nil {
		return err
	}
	p.Picture = figure.DrawCourses(charts, figure.CourseForm{Print: true, Width: paperWidth})
	return s.render(w, v, http.StatusOK, "course-print", head{Title: "Course", Rail: "eyes"}, p)
}

// paperWidth fits A4 and Letter between their margins, standing.
const paperWidth = 680

// eyePage reads what the course of an eye shows.
func (s *Server) eyePage(r *http.Request, v *visitor) (*eyePage, []figure.CourseChart, error) {
	c, err := s.course(r)
	if err != nil {
		return nil, nil, err
	}
	today := record.DayOf(s.Now())
	p := &eyePage{
		Eye: headOf(c, "course"), State: record.StateOf(c.Course, today), MayVisit: v.may(account.WriteVisit),
		Both: r.FormValue("both") != "" && len(c.Fellow) > 0, Here: "/eyes/" + string(c.Eye.ID), Contests: len(c.Contests),
	}
	from, errFrom := record.DateFromISO(r.FormValue("from"))
	to, errTo := record.DateFromISO(r.FormValue("to"))
	if err := errors.Join(errFrom, errTo); err != nil {
		return nil, nil, &fault.Error{Code: fault.Invalid, Where: "window", What: "its days cannot be read", Expected: "from and to as 2026-11-24", Cause: err}
	}
	chart := courseChart(c, today, from, to)
	p.Facts = figure.CourseFacts(chart)
	for _, z := range figure.CourseZooms(chart) {
		one := zoom{Words: z.Label, Current: z.From == from && z.To == to}
		query := url.Values{}
		if z.From.Known() {
			query.Set("from", z.From.ISO())
			query.Set("to", z.To.ISO())
		}
		if p.Both {
			query.Set("both", "1")
		}
		one.To = p.Here + "?" + query.Encode()
		p.Zooms = append(p.Zooms, one)
	}
	charts := []figure.CourseChart{chart}
	if p.Both {
		fellow, err := s.Store.Course(r.Context(), c.Fellow[0].ID, false)
		if err != nil {
			return nil, nil, err
		}
		charts = append(charts, courseChart(fellow, today, from, to))
	}
	return p, charts, nil
}

// courseChart reads the picture of one eye from the record.
func courseChart(c *store.Course, today, from, to record.Date) figure.CourseChart {
	at := "/eyes/" + string(c.Eye.ID)
	return figure.CourseOf(c.Course, figure.CourseOptions{
		Name: "course-" + c.Eye.Side.String(), AsOf: today, From: from, To: to,
		Link: func(kind record.Kind, id record.ID) string {
			switch kind {
			case record.KindVisit:
				return at + "/visits/" + string(id)
			case record.KindPlan:
				return at + "/plan/" + string(id)
			}
			return ""
		},
	})
}
