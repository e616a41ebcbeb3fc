package web

import (
	"net/http"
	"slices"
	"strings"

	"limitans/fault"
	"limitans/internal/account"
	"limitans/internal/bench"
	"limitans/internal/figure/scene"
)

func (s *Server) benchRoutes() []route {
	return []route{
		{"GET", "/bench", needs(account.ReadClinical), s.showBench},
		{"GET", "/bench/{calculator}", needs(account.ReadClinical), s.showCalculator},
	}
}

// calculatorPage is one calculator with its answer. The question stands in the
// address, so that an answer can be kept as a link; it names no patient.
type calculatorPage struct {
	bench.Calculator
	Calculators []bench.Calculator
	Fields      []bench.Field
	Trouble     string // what no field is to blame for
	Sheet       *bench.Sheet
	Picture     *scene.Scene
	Papers      string // address of the answer as a sheet of paper; empty where there is none
}

func (s *Server) showBench(w http.ResponseWriter, _ *http.Request, v *visitor) error {
	return s.render(w, v, http.StatusOK, "bench", head{Title: "Bench", Rail: "bench"}, calculatorPage{Calculators: bench.Calculators()})
}

// showCalculator asks one calculator.
func (s *Server) showCalculator(w http.ResponseWriter, r *http.Request, v *visitor) error {
	c, is := bench.CalculatorOf(r.PathValue("calculator"))
	if !is {
		return &fault.Error{Code: fault.NotFound, Where: "bench", What: "there is no such calculator", Mend: "choose one on the bench"}
	}
	p := calculatorPage{Calculator: c, Calculators: bench.Calculators()}
	question := c.New()
	status := http.StatusOK
	if r.FormValue("ask") == "" {
		p.Fields = bench.Form(question)
	} else if err := p.ask(question, r.FormValue); err != nil {
		if f := fault.CodeOf(err); f == fault.Internal || f == "" {
			return err
		}
		status = http.StatusUnprocessableEntity
	} else if c.Code == "mix" {
		p.Papers = "/bench/mix/sheet.pdf?" + r.URL.RawQuery
	}
	return s.render(w, v, status, "bench-one", head{Title: c.Title, Rail: "bench", Wide: true}, p)
}

// ask reads the form and computes; what is wrong stands at its field or above.
func (p *calculatorPage) ask(question bench.Question, get func(string) string) error {
	fields, err := bench.Read(question, get)
	p.Fields = fields
	if err != nil {
		return err
	}
	answer, err := question.Answer()
	if err != nil {
		if !bench.Blame(p.Fields, err) {
			p.Trouble = err.Error()
		}
		return err
	}
	p.Sheet = answer.Sheet
	if answer.Draw != nil {
		p.Picture, err = answer.Draw()
	}
	return err
}

// basisTitles are the parts of a sheet that say how it was computed.
var basisTitles = []string{"Method", "Inputs", "Sources", "Curve", "Marks", "Published strata", "Left out", "Course"}

// shownParts are the parts of a sheet that a page shows at once; the cautions stand
// in the foot of every page.
func shownParts(s *bench.Sheet) []bench.Part {
	var out []bench.Part
	for _, p := range s.Parts {
		if p.Title != "Cautions" && !slices.Contains(basisTitles, p.Title) && !emptyPart(p) {
			out = append(out, p)
		}
	}
	return out
}

// basisParts are the others.
func basisParts(s *bench.Sheet) []bench.Part {
	var out []bench.Part
	for _, p := range s.Parts {
		if slices.Contains(basisTitles, p.Title) && !emptyPart(p) {
			out = append(out, p)
		}
	}
	return out
}

// emptyPart reports a part of which nothing is left once its signals stand above.
func emptyPart(p bench.Part) bool {
	plain := slices.ContainsFunc(p.Lines, func(l bench.Line) bool { return l.Signal == "" })
	return !plain && len(p.Steps) == 0 && len(p.Items) == 0 && len(p.Rows) == 0
}

// hasMore reports fields that stand apart, troubleInMore that one of them is wrong.
func hasMore(fields []bench.Field) bool {
	return slices.ContainsFunc(fields, func(f bench.Field) bool { return f.More })
}

func troubleInMore(fields []bench.Field) bool {
	return slices.ContainsFunc(fields, func(f bench.Field) bool { return f.More && f.Trouble != "" })
}

// choiceWords writes a choice as people say it.
func choiceWords(code string) string {
	if gas, is := map[string]string{"sf6": "SF6, sulphur hexafluoride", "c2f6": "C2F6, hexafluoroethane", "c3f8": "C3F8, octafluoropropane"}[code]; is {
		return gas
	}
	return strings.ReplaceAll(code, "-", " ")
}
