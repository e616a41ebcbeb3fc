package figure

import (
	"bytes"
	"strings"
	"testing"

	"limitans/estimate"
	"limitans/internal/figure/scene"
)

func forestChart() ForestChart {
	share := func(v, low, high float64) estimate.Estimate {
		return estimate.Estimate{Value: v, Low: low, High: high}
	}
	return ForestChart{
		Title: "Holes: published results", Below: "by technique", Axis: "95 % interval", Notes: []string{"note"},
		Groups: []ForestGroup{
			{
				Title: "Peel", Rows: []ForestRow{{"One 2020", "derived", 9, 10, share(0.9, 0.55, 0.997), true}, {"Two 2021", "", 2000, 2000, share(1, 0.998, 1), false}, {"Three", "", 0, 5, share(0, 0, 0.52), false}},
				Pooled: &ForestPool{2009, 2015, share(0.93, 0.81, 0.98), share(0.9, 0.0001, 0.99997)},
			},
			{Title: "Two alike", Rows: []ForestRow{{"Four", "", 5, 5, share(1, 0.48, 1), false}}, Pooled: &ForestPool{10, 10, share(1, 0.69, 1), estimate.Missing("alike")}},
			{Title: "Flap", Rows: []ForestRow{{"Five", "", 4, 5, share(0.8, 0.28, 0.99), false}}, Why: "not pooled"},
		},
	}
}

func closureChart(predicted bool) ClosureChart {
	c := ClosureChart{Title: "Closure", Below: "below", SizesUM: []float64{150, 500, 1000}, Notes: []string{"note"}}
	for _, label := range []string{"peel, gas", "flap, gas"} {
		c.Curves = append(c.Curves, ClosureCurve{Label: label, Shares: []estimate.Estimate{{Value: 0.99, Low: 0.9, High: 1}, {Value: 0.9, Low: 0.6, High: 0.99}, {Value: 0.4, Low: 0, High: 0.9}}})
	}
	for i := range 3 {
		s := ClosureStratum{Label: "E1", SizeUM: 600, LowUM: 100, HighUM: 1416, Observed: 0.5 + 0.2*float64(i), Eyes: 10 + 1000*i, Predicted: estimate.Missing("no"), Air: i == 1, Flap: i == 2}
		if predicted {
			s.Predicted = estimate.Estimate{Value: 0.45 + 0.2*float64(i), Low: 0.55, High: 1}
		}
		c.Strata = append(c.Strata, s)
	}
	if !predicted {
		c.Asked = &ClosureAsked{900, estimate.Estimate{Value: 0.5, Low: 0.1, High: 0.9}, "Peel, gas"}
	}
	return c
}

// What is said stands on the sheet, every mark lies on it, and the same input
// gives the same bytes.
func TestForestAndClosureDrawings(t *testing.T) {
	for name, c := range map[string]struct {
		draw func() *scene.Scene
		says []string
	}{
		"forest":     {func() *scene.Scene { return DrawForest(forestChart()) }, []string{"One 2020", "derived", "9 of 10", "90.0 % (55.0 to 99.7)", "100 % (99.8 to 100)", "0 % (0 to 52.0)", "Together, middle unit", "a new unit: &lt;0.1 to &gt;99.9 %", "a new unit: not told", "not pooled", "note", "Peel, 3 studies: 93.0 % (81.0 to 98.0)."}},
		"closure":    {func() *scene.Scene { return DrawClosure(closureChart(false)) }, []string{"peel, gas", "flap, gas", "Peel, gas", "µm", "1000", "note"}},
		"check":      {func() *scene.Scene { return DrawClosure(closureChart(true)) }, []string{"as predicted", "predicted", "2 of 3 published groups lie in the interval predicted without them."}},
		"no forest":  {func() *scene.Scene { return DrawForest(ForestChart{Title: "t"}) }, []string{"No published counts are chosen."}},
		"no closure": {func() *scene.Scene { return DrawClosure(ClosureChart{Title: "t"}) }, []string{"There is no curve to draw."}},
	} {
		var first, again bytes.Buffer
		s := c.draw()
		if err := s.WriteSVG(&first); err != nil {
			t.Fatal(err)
		}
		if err := c.draw().WriteSVG(&again); err != nil || !bytes.Equal(first.Bytes(), again.Bytes()) {
			t.Errorf("%s: other bytes the second time, %v", name, err)
		}
		for _, text := range append(c.says, "does not replace it") {
			if !strings.Contains(first.String(), text) {
				t.Errorf("%s: %q is not on the sheet", name, text)
			}
		}
		staysOn(t, name, s)
	}
}
