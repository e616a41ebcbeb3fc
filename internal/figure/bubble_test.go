package figure

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"limitans/estimate"
	"limitans/fault"
	"limitans/internal/figure/scene"
)

func bubbleChart() BubbleChart {
	c := BubbleChart{
		Title: "Bubble of 14 % C3F8", Below: "85 % fill", Answer: "not until an eye doctor has seen the eye empty",
		Levels: []BubbleLevel{{0.08, "face down"}, {0.2, "looking down"}, {0.56, "upright"}},
		Dates:  []BubbleDate{{estimate.Estimate{Value: 9, Low: 5, High: 15}, "Half full"}, {estimate.Missing("x"), "Gone"}, {estimate.Estimate{}, "Upright"}},
		Seen:   []BubbleSeen{{1, 0.9, 0.07, false}, {7, 0.2, 0.07, true}},
		Notes:  []string{"note"},
	}
	for day := range 40 {
		fill := math.Exp(-float64(day) / 10)
		c.Days = append(c.Days, float64(day))
		c.Fill = append(c.Fill, estimate.Estimate{Value: fill, Low: 0.8 * fill, High: math.Min(1, 1.2*fill)})
	}
	return c
}

// The drawing says title, levels, dates and answer in words, keeps every mark on
// the sheet, and gives the same bytes again.
func TestBubbleDrawing(t *testing.T) {
	var first, again bytes.Buffer
	s := DrawBubble(bubbleChart())
	if err := s.WriteSVG(&first); err != nil {
		t.Fatal(err)
	}
	if err := DrawBubble(bubbleChart()).WriteSVG(&again); err != nil || !bytes.Equal(first.Bytes(), again.Bytes()) {
		t.Errorf("other bytes the second time, %v", err)
	}
	for _, text := range []string{
		"Bubble of 14 % C3F8", "upright", "Half full: day 9 (5 to 15)", "Gone: not known", "Upright: no longer",
		"not until an eye doctor has seen the eye empty", "surgery", "100 %", "does not replace it", "Seen on day 1: 90 %.",
	} {
		if !strings.Contains(first.String(), text) {
			t.Errorf("%q is not on the sheet", text)
		}
	}
	staysOn(t, "bubble", s)
}

// staysOn fails for every mark that lies off the sheet and every word that begins
// or, at a guess of its width, ends off it.
func staysOn(t *testing.T, name string, s *scene.Scene) {
	t.Helper()
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
							t.Errorf("%s: a mark at %v off the sheet", name, p)
						}
					}
				}
			case *scene.Text:
				if !sheet.Contains(n.At) || (n.Anchor == scene.Start && n.At.X+0.9*scene.TextWidth(n.Value, n.Size) > s.Width) {
					t.Errorf("%s: %q runs off the sheet", name, n.Value)
				}
			}
		}
	}
	walk(s.Nodes)
}

func TestBubbleWithoutCourse(t *testing.T) {
	var out bytes.Buffer
	if err := DrawBubble(BubbleChart{Title: "Bubble"}).WriteSVG(&out); err != nil || !strings.Contains(out.String(), "no course to draw") {
		t.Errorf("%v: %s", err, out.String())
	}
	withdrawn := bubbleChart()
	withdrawn.Fill[0] = estimate.Missing("a visit contradicts it")
	out.Reset()
	if err := DrawBubble(withdrawn).WriteSVG(&out); err != nil || !strings.Contains(out.String(), "A visit contradicts it") {
		t.Errorf("%v: %s", err, out.String())
	}
}

// At most ten steps on the axis whatever its length.
func TestDayStep(t *testing.T) {
	for last := 2.0; last <= 280; last++ {
		if n := last / dayStep(last); n > 10 || n < 1 && last > 3 {
			t.Errorf("%g days: %g steps", last, n)
		}
	}
}

// A drawing replaces a file, leaves nothing else behind, and what cannot be
// written is a fault.
func TestWriteFile(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "bubble.svg")
	for range 2 {
		if err := WriteFile(path, DrawBubble(bubbleChart())); err != nil {
			t.Fatal(err)
		}
	}
	entries, err := os.ReadDir(folder)
	if err != nil || len(entries) != 1 {
		t.Errorf("%v, %v", entries, err)
	}
	for _, bad := range []string{folder, filepath.Join(folder, "none", "x.svg")} {
		if err := WriteFile(bad, DrawBubble(bubbleChart())); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", bad, err)
		}
	}
	if err := WriteFile(path, &scene.Scene{Name: "x"}); fault.CodeOf(err) != fault.Internal {
		t.Errorf("no size: %v", err)
	}
	if data, err := os.ReadFile(path); err != nil || !bytes.Contains(data, []byte("</svg>")) {
		t.Errorf("the old file is gone: %v", err)
	}
}
