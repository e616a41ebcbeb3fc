package figure

import (
	"bytes"
	"strings"
	"testing"

	"limitans/estimate"
	"limitans/internal/figure/scene"
)

func optionsChart() OptionsChart {
	share := func(v, low, high float64) estimate.Estimate {
		return estimate.Estimate{Value: v, Low: low, High: high}
	}
	none := estimate.Missing("no own series")
	return OptionsChart{
		Title: "Options", Below: "below", Axis: "expected share", Notes: []string{"note"},
		Rows: []OptionRow{
			{Name: "An option whose name runs over more than one line of its column", Place: "first choice", Expected: share(0.87, 0.7, 0.98), Published: share(0.91, 0.59, 1), Own: share(0.86, 0.6, 0.96), PublishedN: 792, OwnN: 14, First: true},
			{Name: "All closed", Place: "alternative", Expected: share(1, 0.95, 1), Published: share(1, 0.95, 1), Own: none, PublishedN: 73},
			{Name: "No number", Place: "last resort", Expected: estimate.Missing("published are odds ratios and no counts, so that no share can be told, however long the sentence gets"), Own: none, Published: none},
			{Name: "None closed", Place: "advised against", Expected: share(0, 0, 0.34), Published: share(0, 0, 0.34), Own: none, PublishedN: 9, Against: true},
		},
	}
}

// What is said stands on the sheet, every mark lies on it, and the same input
// gives the same bytes.
func TestOptionsDrawing(t *testing.T) {
	for name, c := range map[string]struct {
		chart OptionsChart
		says  []string
	}{
		"options": {optionsChart(), []string{"792 published", "14 own", "own 86.0 % (60.0 to 96.0)", "100 % (95.0 to 100)", "0 % (0 to 34.0)", "none published", "No number: published are odds", "note", "advised against", "All closed, alternative: 100 % (95.0 to 100)."}},
		"empty":   {OptionsChart{Title: "t"}, []string{"There is no option to draw."}},
	} {
		var first, again bytes.Buffer
		s := DrawOptions(c.chart)
		if err := s.WriteSVG(&first); err != nil {
			t.Fatal(err)
		}
		if err := DrawOptions(c.chart).WriteSVG(&again); err != nil || !bytes.Equal(first.Bytes(), again.Bytes()) {
			t.Errorf("%s: other bytes the second time, %v", name, err)
		}
		for _, text := range append(c.says, "does not replace it") {
			if !strings.Contains(first.String(), text) {
				t.Errorf("%s: %q is not on the sheet", name, text)
			}
		}
		sheet := scene.Rect{Width: s.Width, Height: s.Height}
		var walk func(nodes []scene.Node)
		walk = func(nodes []scene.Node) {
			for _, n := range nodes {
				switch n := n.(type) {
				case *scene.Group:
					walk(n.Nodes)
				case *scene.Path:
					for _, sub := range n.Subpaths {
						for _, p := range sub.Points {
							if !sheet.Contains(p) {
								t.Errorf("%s: %v lies off the sheet", name, p)
							}
						}
					}
				case *scene.Text:
					if !sheet.Contains(n.At) {
						t.Errorf("%s: %q lies off the sheet", name, n.Value)
					}
				}
			}
		}
		walk(s.Nodes)
	}
}
