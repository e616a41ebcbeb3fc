package bench

import (
	"fmt"
	"math"
	"strings"

	"limitans/estimate"
	"limitans/evidence"
	"limitans/internal/caution"
	"limitans/internal/figure"
	"limitans/internal/figure/scene"
)

// Closure is the closure that can be expected of a hole of a given size.
type Closure struct {
	MLD            float64  `name:"mld" required:"" placeholder:"UM" label:"Minimum linear diameter" help:"Minimum linear diameter of the hole, µm, 150 to 1000."`
	Technique      string   `default:"peel" placeholder:"TECHNIQUE" offer:"peel,no-peel,inverted-flap" help:"peel, no-peel or inverted-flap. Default: peel."`
	Tamponade      string   `default:"gas" placeholder:"TAMPONADE" offer:"gas,air" help:"gas or air. Default: gas."`
	NoFaceDown     bool     `label:"Not held face down" help:"The eye is not held face down after surgery."`
	DurationMonths *float64 `placeholder:"MONTHS" label:"Symptoms for" help:"Months of symptoms; without it the curve stands as it is."`
	RowSwitches
}

// model fits the curve to the admitted rows; all rows are fitted already.
func (s RowSwitches) model() (*evidence.Closure, error) {
	if s == (RowSwitches{}) {
		return evidence.PublishedClosure()
	}
	rows, err := evidence.Rows()
	if err != nil {
		return nil, err
	}
	strata, err := evidence.Strata(evidence.Filter{WithoutDerived: s.WithoutDerived, WithoutRecalled: s.WithoutRecalled, WithoutSecondary: s.WithoutSecondary}.Rows(rows))
	if err != nil {
		return nil, err
	}
	return evidence.FitClosure(strata, 1, 4000)
}

// Answer is the closure to expect.
func (c Closure) Answer() (Answer, error) {
	if err := knownWord("--technique", c.Technique, evidence.Techniques()); err != nil {
		return Answer{}, err
	}
	if err := knownWord("--tamponade", c.Tamponade, evidence.Tamponades()); err != nil {
		return Answer{}, err
	}
	q := evidence.ClosureQuestion{MLDUM: c.MLD, Technique: evidence.Technique(c.Technique), Tamponade: evidence.Tamponade(c.Tamponade), WithoutFaceDown: c.NoFaceDown, DurationMonths: math.NaN()}
	if c.DurationMonths != nil {
		if q.DurationMonths = *c.DurationMonths; math.IsNaN(q.DurationMonths) {
			q.DurationMonths = -1 // refused below, as every other impossible duration
		}
	}
	m, err := c.model()
	if err != nil {
		return Answer{}, err
	}
	a, err := m.Expect(q)
	if err != nil {
		return Answer{}, closureFlag(err)
	}
	draw := func() (*scene.Scene, error) {
		chart, err := closureChart(m, nil)
		if err != nil {
			return nil, err
		}
		chart.Title = fmt.Sprintf("Closure to expect: %s at %g µm", shareText(a.Expected), c.MLD)
		chart.Asked = &figure.ClosureAsked{SizeUM: c.MLD, Share: a.Expected, Label: q.Technique.String() + ", " + c.Tamponade}
		return figure.DrawClosure(chart), nil
	}
	return Answer{Sheet: closureSheet(c, m, a), Document: closureDocument(c, m, a), Draw: draw}, nil
}

// closureFlag names the flag behind a refusal.
func closureFlag(err error) error {
	for where, flag := range map[string]string{"minimum linear diameter": "--mld", "technique": "--technique", "tamponade": "--tamponade", "duration": "--duration-months"} {
		if strings.HasPrefix(err.Error(), where+":") {
			return atFlag(err, flag)
		}
	}
	return err
}

const closureCaveat = "The published strata are mostly not randomised; a unit's own results say more about it than this range."

func closureDocument(c Closure, m *evidence.Closure, a evidence.ClosureAnswer) map[string]any {
	parameters := []map[string]any{}
	for _, p := range m.Parameters() {
		parameters = append(parameters, map[string]any{"name": p.Name, "estimate": p.Estimate})
	}
	strata := []map[string]any{}
	for _, s := range m.Strata {
		strata = append(strata, map[string]any{"row": s.Row.ID, "sizes_um": s.Sizes, "events": s.Row.Events, "eyes": s.Row.Eyes, "fitted": s.Fitted, "source": citation(s.Row)})
	}
	return map[string]any{
		"task": "closure", "closure": a.Expected, "middle_unit": a.Middle, "warnings": append(append([]string{}, a.Warnings...), closureCaveat),
		"sources": append([]string{}, a.Sources...), "parameters": parameters, "strata": strata, "seed": m.Seed, "valid_um": []int{evidence.LeastClosureUM, evidence.MostClosureUM},
		"inputs": map[string]any{"mld_um": c.MLD, "technique": c.Technique, "tamponade": c.Tamponade, "no_face_down": c.NoFaceDown, "duration_months": c.DurationMonths},
		"method": evidence.ClosureMethod, "cautions": caution.Full(),
	}
}

func closureSheet(c Closure, m *evidence.Closure, a evidence.ClosureAnswer) *Sheet {
	sheet := newSheet(fmt.Sprintf("Closure to expect of a hole of %g µm", c.MLD))
	sheet.line("closure", shareText(a.Expected))
	sheet.line("", "error: "+a.Expected.Basis)
	sheet.line("in the middle unit", shareText(a.Middle))
	sheet.line("", "error: "+a.Middle.Basis)
	sheet.part("Inputs")
	sheet.line("minimum linear diameter", fmt.Sprintf("%g µm (the curve holds from %d to %d)", c.MLD, evidence.LeastClosureUM, evidence.MostClosureUM))
	sheet.line("technique", evidence.Technique(c.Technique).String())
	sheet.line("tamponade", c.Tamponade)
	posture := "as in the published groups, mostly face down"
	if c.NoFaceDown {
		posture = "not face down"
	}
	sheet.line("posture", posture)
	if c.DurationMonths != nil {
		sheet.line("duration of symptoms", fmt.Sprintf("%g months", *c.DurationMonths))
	}
	sheet.part("Curve")
	for _, p := range m.Parameters() {
		sheet.line(p.Name, fmt.Sprintf("%.2f (%.2f to %.2f)", p.Estimate.Value, p.Estimate.Low, p.Estimate.High))
	}
	var rows [][]string
	for _, s := range m.Strata {
		use := "fitted"
		if !s.Fitted {
			use = "only compared"
		}
		rows = append(rows, []string{s.Row.ID, s.Row.Study, fmt.Sprintf("%4d of %-4d", s.Row.Events, s.Row.Eyes), s.Sizes, use})
	}
	sheet.table("Published strata", nil, rows)
	sources := append([]string{}, a.Sources...)
	for _, s := range m.Strata {
		sources = append(sources, citation(s.Row))
	}
	sheet.list("Sources", sources)
	sheet.list("Method", []string{fmt.Sprintf("%s (%d)", evidence.ClosureMethod, m.Seed)})
	sheet.list("Warnings", append(append([]string{}, a.Warnings...), closureCaveat))
	sheet.cautions()
	return sheet
}

// closureChart draws the curves and strata, with predictions where there are.
func closureChart(m *evidence.Closure, predicted []evidence.Predicted) (figure.ClosureChart, error) {
	c := figure.ClosureChart{Title: "Closure by hole size", Below: "Primary holes; curves fitted to published strata, not to anybody's own eyes"}
	for um := evidence.LeastClosureUM; um <= evidence.MostClosureUM; um += 25 {
		c.SizesUM = append(c.SizesUM, float64(um))
	}
	for _, curve := range []struct {
		label     string
		technique evidence.Technique
		tamponade evidence.Tamponade
		dash      []float64
	}{{"peel, gas", evidence.Peel, evidence.Gas, nil}, {"flap, gas", evidence.InvertedFlap, evidence.Gas, []float64{9, 4}}, {"peel, air", evidence.Peel, evidence.Air, []float64{2.5, 3.5}}} {
		line := figure.ClosureCurve{Label: curve.label, Dash: curve.dash}
		for _, um := range c.SizesUM {
			a, err := m.Expect(evidence.ClosureQuestion{MLDUM: um, Technique: curve.technique, Tamponade: curve.tamponade, DurationMonths: math.NaN()})
			if err != nil {
				return c, err
			}
			line.Shares = append(line.Shares, a.Expected)
		}
		c.Curves = append(c.Curves, line)
	}
	for i, s := range m.Strata {
		low, high := s.RangeUM()
		mark := figure.ClosureStratum{
			Label: s.Row.ID, SizeUM: s.MeanUM(), LowUM: low, HighUM: high, Observed: float64(s.Row.Events) / float64(s.Row.Eyes), Eyes: s.Row.Eyes,
			Predicted: estimate.Missing("not predicted"), Air: s.Row.Tamponade == evidence.Air, Flap: s.Row.Technique == evidence.InvertedFlap,
		}
		if predicted != nil {
			mark.Predicted = predicted[i].Share
		}
		c.Strata = append(c.Strata, mark)
	}
	c.Notes = []string{
		"Lines: closure to expect; pale band: where a unit not yet seen lies, peel with gas. Marks: published groups at their mean size with the range of it, area by eyes: " +
			"dot peel with gas, ring peel with air, square inverted flap (compared, not fitted).",
		"Method: " + evidence.ClosureMethod + ".",
	}
	return c, nil
}

// ClosureCheck predicts each published stratum from the others. It fits the curve
// again for each, which takes seconds to minutes.
type ClosureCheck struct {
	WholeStudy bool `help:"Predict each stratum without any stratum of its study, which is harder on the curve."`
}

// checkDraws is the size of each sample; the figure in docs is made with it.
const checkDraws = 1000

// Answer is predictions beside observations.
func (c ClosureCheck) Answer() (Answer, error) {
	m, err := evidence.PublishedClosure()
	if err != nil {
		return Answer{}, err
	}
	all, err := m.LeaveOneOut(c.WholeStudy, checkDraws)
	if err != nil {
		return Answer{}, err
	}
	covered := 0
	var rows [][]string
	for _, p := range all {
		word := "MISSED"
		if p.Covered() {
			word = "covered"
			covered++
		}
		rows = append(rows, []string{p.Stratum.Row.ID, p.Stratum.Row.Study, fmt.Sprintf("%4d of %-4d", p.Stratum.Row.Events, p.Stratum.Row.Eyes), fmt.Sprintf("%5.1f %%", 100*p.Observed()), "predicted " + shareText(p.Share), word})
	}
	from := "the other groups"
	if c.WholeStudy {
		from = "other studies"
	}
	verdict := fmt.Sprintf("%d of %d published groups lie in the 95 %% interval that was predicted from %s", covered, len(all), from)
	sheet := newSheet(verdict)
	sheet.table("", nil, rows)
	sheet.list("Method", []string{fmt.Sprintf("%s; the rest is fitted again for each, seed %d, %d draws", evidence.ClosureMethod, m.Seed, checkDraws)})
	sheet.cautions()
	draw := func() (*scene.Scene, error) {
		chart, err := closureChart(m, all)
		chart.Title, chart.Below = "Closure by hole size, and how well it predicts", verdict
		chart.Notes = append([]string{"Right: bar, where 95 % of groups of that many eyes would lie; mark, what was observed."}, chart.Notes...)
		return figure.DrawClosure(chart), err
	}
	return Answer{Sheet: sheet, Document: predictionsDocument(all, covered, verdict), Draw: draw}, nil
}

func predictionsDocument(all []evidence.Predicted, covered int, verdict string) map[string]any {
	strata := []map[string]any{}
	for _, p := range all {
		strata = append(strata, map[string]any{"row": p.Stratum.Row.ID, "events": p.Stratum.Row.Events, "eyes": p.Stratum.Row.Eyes, "predicted": p.Share, "covered": p.Covered()})
	}
	return map[string]any{"task": "check", "covered": covered, "strata_n": len(all), "verdict": verdict, "strata": strata, "method": evidence.ClosureMethod, "draws": checkDraws, "cautions": caution.Full()}
}
