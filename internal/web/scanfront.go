package web

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"strconv"

	"limitans/internal/figure"
	"limitans/internal/figure/scene"
	"limitans/oct/measure"
)

func (s *Server) scanViewRoutes() []route {
	return []route{
		{"GET", "/eyes/{eye}/scan/{scan}/front", seesEye(), s.showFront},
		{"GET", "/eyes/{eye}/scan/{scan}/body", seesEye(), s.showBody},
		{"GET", "/eyes/{eye}/scan/{scan}/thickness", seesEye(), s.showThickness},
		{"GET", "/eyes/{eye}/scan/{scan}/compare", seesEye(), s.compareScans},
	}
}

// wholePage is a view of the whole scan.
type wholePage struct {
	*scanPage
	Scene   *scene.Scene
	Why     string // there is nothing to draw
	Turns   []turn
	Rings   string // of the body, as JSON, for the module that turns it
	Pending bool
}

// turn is one direction from which the body is seen.
type turn struct {
	Degrees int
	To      string
	Now     bool
}

// whole shows a view that is drawn from the whole measurement.
func (s *Server) whole(w http.ResponseWriter, r *http.Request, v *visitor, view string, draw func(*wholePage, *measure.Result) error) error {
	p, c, err := s.pageOfScan(r, v, view)
	if err != nil {
		return err
	}
	page := &wholePage{scanPage: p}
	p.Rows, p.Classes = rowsOf(p.Figures), classesOf(p.Figures)
	ctx, cancel := context.WithTimeout(r.Context(), readingPatience)
	defer cancel()
	on, err := s.takeScan(ctx, p.Scan, c.Eye)
	var result *measure.Result
	if err == nil && p.Figures != nil {
		result, err = s.measured(ctx, on, c.Eye, p.Figures)
	}
	switch {
	case errors.Is(err, context.DeadlineExceeded):
		page.Pending = true
	case err != nil:
		f := failureOf(err)
		p.Fault = &f
	case result == nil:
		page.Why = "The scan was not measured yet; this view is drawn from its lines."
	default:
		if err := draw(page, result); err != nil {
			return err
		}
	}
	return s.render(w, v, http.StatusOK, "scanwhole", head{Title: "Scan of " + p.Eye.Name, Rail: "eyes", Scripts: []string{"scanbody.js"}, Wide: true}, page)
}

// readingPatience is how long a view that is nothing without the whole scan waits.
const readingPatience = 20 * patience

func (s *Server) showFront(w http.ResponseWriter, r *http.Request, v *visitor) error {
	return s.whole(w, r, v, "front", func(p *wholePage, result *measure.Result) error {
		p.Scene = figure.EnFace(result.Volume, result.Traced, result.Hole)
		return nil
	})
}

func (s *Server) showThickness(w http.ResponseWriter, r *http.Request, v *visitor) error {
	return s.whole(w, r, v, "thickness", func(p *wholePage, result *measure.Result) error {
		p.Scene = figure.ThicknessMap(result.Volume, result.Thickness)
		return nil
	})
}

// turnStep is the angle between two of the directions that links lead to.
const turnStep = 45

func (s *Server) showBody(w http.ResponseWriter, r *http.Request, v *visitor) error {
	return s.whole(w, r, v, "body", func(p *wholePage, result *measure.Result) error {
		deg, err := strconv.Atoi(r.FormValue("turn"))
		if err != nil {
			deg = 30
		}
		deg = ((deg % 360) + 360) % 360
		p.Scene, p.Why = figure.LumenTurned(result.Volume, result.Hole, deg)
		if p.Why != "" {
			return nil
		}
		for d := deg % turnStep; d < 360; d += turnStep {
			p.Turns = append(p.Turns, turn{d, p.At + "/body?turn=" + strconv.Itoa(d), d == deg})
		}
		body, _ := figure.BodyOf(result.Volume, result.Hole)
		rings, err := json.Marshal(body)
		p.Rings = string(rings)
		return err
	})
}
