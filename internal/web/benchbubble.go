package web

import (
	"net/http"
	"strings"

	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/bench"
)

func (s *Server) benchBubbleRoutes() []route {
	reads := needs(account.ReadClinical)
	return []route{
		{"GET", "/bench/bubble", reads, s.showBenchBubble},
		{"GET", "/bench/bubble/drawn", reads, s.drawBenchBubble},
	}
}

// benchBubblePage is the Bubble station without a patient: everything is asked in its
// form and stands in the address.
type benchBubblePage struct {
	*bubblePage
	bench.Calculator
	Calculators []bench.Calculator
	Left        bool
	Asked       bool
}

// benchBubbleOf reads the form, and predicts where something was asked.
func (s *Server) benchBubbleOf(r *http.Request) (*benchBubblePage, *bench.BubbleAnswer, error) {
	c, is := bench.CalculatorOf("bubble")
	if err := r.ParseForm(); err != nil || !is {
		return nil, nil, &fault.Error{Code: fault.Malformed, Where: "form", What: "cannot be read", Cause: err}
	}
	p := &benchBubblePage{
		bubblePage: &bubblePage{At: "/bench/bubble", Bench: true, Query: r.Form}, Calculator: c, Calculators: bench.Calculators(),
		Left: r.FormValue("side") == "left", Asked: r.FormValue("ask") != "",
	}
	if p.Left {
		p.Eye.Side = "Left"
	}
	question := new(bench.Bubble)
	if !p.Asked {
		p.Fields = bench.Form(question)
		return p, nil, nil
	}
	var err error
	p.Fields, err = bench.Read(question, r.FormValue)
	answer, err := p.answer(question, err)
	return p, answer, err
}

// Wrong reports whether something in the form must be mended.
func (p *benchBubblePage) Wrong() bool {
	for _, f := range p.Fields {
		if f.Trouble != "" {
			return true
		}
	}
	return p.Trouble != ""
}

// showBenchBubble shows the twin of the Bubble station.
func (s *Server) showBenchBubble(w http.ResponseWriter, r *http.Request, v *visitor) error {
	p, answer, err := s.benchBubbleOf(r)
	if err != nil {
		return err
	}
	status := http.StatusOK
	if answer != nil {
		err = p.fill(r, answer)
	} else if p.Wrong() {
		status = http.StatusUnprocessableEntity
	}
	if err != nil {
		return err
	}
	return s.render(w, v, status, "bench-bubble", head{Title: p.Title, Rail: "bench", Scripts: []string{"bubble.js"}, Wide: true}, p)
}

// drawBenchBubble answers a slider or a drag.
func (s *Server) drawBenchBubble(w http.ResponseWriter, r *http.Request, v *visitor) error {
	p, answer, err := s.benchBubbleOf(r)
	if err != nil {
		return err
	}
	if answer == nil {
		var troubles []string
		for _, f := range p.Fields {
			if f.Trouble != "" {
				troubles = append(troubles, f.Label+": "+f.Trouble)
			}
		}
		if p.Trouble != "" {
			troubles = append(troubles, p.Trouble)
		}
		return &fault.Error{Code: fault.Invalid, Where: "bubble", What: "cannot be drawn: " + strings.Join(troubles, ", ")}
	}
	if err := p.draw(r, answer); err != nil {
		return err
	}
	return s.renderPart(w, v, http.StatusOK, "bench-bubble", "drawn", head{}, p)
}
