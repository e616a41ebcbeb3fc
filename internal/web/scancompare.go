package web

import (
	"context"
	"errors"
	"fmt"
	"math"
	"net/http"
	"strconv"

	"limitans/fault"
	"limitans/internal/figure"
	"limitans/internal/figure/scene"
	"limitans/internal/record"
	"limitans/internal/store"
	"limitans/oct/hole"
	"limitans/oct/measure"
	"limitans/oct/register"
)

// comparePage lays two scans of an eye on each other. First is the earlier one,
// whose place is kept.
type comparePage struct {
	*scanPage
	With    *record.Scan // the other scan
	Others  []*record.Scan
	First   *record.Scan
	Second  *record.Scan
	Rows    []changeRow
	Uneven  string // why figures are not held against each other
	Motion  *register.Motion
	Lines   []figureRow // the motion in words
	NotLaid string      // why they are not laid on each other
	Pending bool
	Left    *scanPicture
	Right   *scanPicture
	Front   *laidFront
	LeftNo  int
	RightNo int
}

// changeRow is one figure on both days.
type changeRow struct {
	Name, First, Second, Difference string
	Verdict                         string
	Real, Judged                    bool
}

// laidFront is the first scan from the front with the outlines of both holes.
type laidFront struct {
	figure.Front
	Image           string
	Section, Base   []scene.Point // of the second scan, laid on the first
	Frame           []scene.Point // of the second scan
	HasSectionFirst bool
}

// compareScans shows two days of one eye.
func (s *Server) compareScans(w http.ResponseWriter, r *http.Request, v *visitor) error {
	p, c, err := s.pageOfScan(r, v, "compare")
	if err != nil {
		return err
	}
	page := &comparePage{scanPage: p}
	for _, noun := range c.Scans {
		if noun.ID != p.Scan.ID {
			page.Others = append(page.Others, noun)
		}
	}
	if wanted := record.ID(r.FormValue("with")); wanted != "" {
		if page.With, err = scanOf(c, wanted); err != nil {
			return err
		}
	} else if len(page.Others) > 0 {
		page.With = page.Others[len(page.Others)-1]
	}
	if page.With != nil && page.With.ID != p.Scan.ID {
		page.First, page.Second = p.Scan, page.With
		if page.Second.Taken.CertainlyBefore(page.First.Taken) {
			page.First, page.Second = page.Second, page.First
		}
		page.hold(standing(c, page.First.ID), standing(c, page.Second.ID))
		s.lay(r.Context(), page, c)
	}
	return s.render(w, v, http.StatusOK, "scancompare", head{Title: "Two scans of " + p.Eye.Name, Rail: "eyes", Wide: true}, page)
}

// hold holds the figures of two days against each other. A change is called
// real beyond the repeatability alone; where none is published nothing is called.
func (p *comparePage) hold(first, second *record.HoleFigures) {
	switch {
	case first == nil || second == nil:
		p.Uneven = "One of the two scans was not measured yet."
		return
	case first.Corrected != second.Corrected:
		p.Uneven = "One is corrected for eye length and the other is not: lateral figures cannot be held against each other."
		return
	case first.HolePresent != second.HolePresent:
		p.Uneven = fmt.Sprintf("Hole on the first day: %s; on the second: %s.", told(first.HolePresent), told(second.HolePresent))
	}
	for _, kind := range figureKinds {
		a, b := kind.of(first), kind.of(second)
		if a == nil && b == nil {
			continue
		}
		row := changeRow{Name: kind.name, First: estimateWords(a, kind.decimals, kind.unit), Second: estimateWords(b, kind.decimals, kind.unit)}
		if a != nil && b != nil {
			if change, ok := register.ChangeOf(*a, *b); ok {
				row.Difference = signed(change.DifferenceUM.Value, kind.decimals) + " " + kind.unit
				row.Difference += fmt.Sprintf(" (95 %%: %s to %s)", signed(change.DifferenceUM.Low, kind.decimals), signed(change.DifferenceUM.High, kind.decimals))
				row.Verdict = "not judged: no repeatability is published that we could read"
				if kind.code == "mld" || kind.code == "visible" {
					row.Judged, row.Real = true, change.Real
					row.Verdict = fmt.Sprintf("within measuring error (repeatability %.0f µm)", hole.RealChangeUM)
					if change.Real {
						row.Verdict = fmt.Sprintf("real: beyond the repeatability of %.0f µm", hole.RealChangeUM)
					}
				}
			}
		}
		p.Rows = append(p.Rows, row)
	}
}

func told(a record.Answer) string {
	if a == "" {
		return "not told"
	}
	return string(a)
}

// signed writes a difference with its sign.
func signed(x float64, decimals int) string {
	text := strconv.FormatFloat(math.Abs(x), 'f', decimals, 64)
	if x < 0 {
		return "−" + text
	}
	return "+" + text
}

// lay lays the second scan on the first and works out what is drawn.
func (s *Server) lay(ctx context.Context, p *comparePage, c *store.Course) {
	ctx, cancel := context.WithTimeout(ctx, readingPatience)
	defer cancel()
	var results [2]*measure.Result
	var nouns [2]*shelved
	for i, noun := range []*record.Scan{p.First, p.Second} {
		on, err := s.takeScan(ctx, noun, c.Eye)
		if err == nil {
			nouns[i] = on
			results[i], err = s.measured(ctx, on, c.Eye, standing(c, noun.ID))
		}
		switch {
		case errors.Is(err, context.DeadlineExceeded):
			p.Pending = true
			return
		case err != nil:
			p.NotLaid = failureOf(err).What
			return
		}
	}
	first, second := results[0], results[1]
	motion, err := nouns[0].laid(keyOf(p.Second, c.Eye), func() (*register.Motion, error) {
		return register.Scans(context.WithoutCancel(ctx), register.Scan{Volume: first.Volume, Lines: first.Traced}, register.Scan{Volume: second.Volume, Lines: second.Traced})
	})
	p.LeftNo, p.RightNo = firstSlice(p.First, standing(c, p.First.ID)), firstSlice(p.Second, standing(c, p.Second.ID))
	if err != nil {
		f := failureOf(err)
		p.NotLaid = f.What
		if f.Expected != "" {
			p.NotLaid += "; expected: " + f.Expected
		}
		if fault.CodeOf(err) != fault.NotMeasurable {
			s.Log.Warn("scans not laid on each other", "error", err)
		}
	} else {
		p.Motion = motion
		p.Lines = motionRows(motion)
		p.RightNo = sliceUnder(motion, first, second, p.LeftNo)
		p.Front = laidOf(p.First, standing(c, p.First.ID), first, second, motion)
	}
	p.Left = pictureOf(&scanPage{Scan: p.First, Slice: p.LeftNo, At: scanPath(p.First), Counts: true, based: standing(c, p.First.ID)}, first.Volume, first)
	p.Right = pictureOf(&scanPage{Scan: p.Second, Slice: p.RightNo, At: scanPath(p.Second), Counts: true, based: standing(c, p.Second.ID)}, second.Volume, second)
}

// motionRows words a motion.
func motionRows(m *register.Motion) []figureRow {
	return []figureRow{
		rowOf("x", "Shift along the slices", m.XUM, 0, "µm"), rowOf("y", "Shift across the slices", m.YUM, 0, "µm"),
		rowOf("turn", "Turn", m.TurnDeg, 1, "°"), rowOf("depth", "Shift in depth", m.DepthUM, 1, "µm"),
	}
}

// sliceUnder is the number of the slice of the second scan that lies nearest to
// the middle of the hole, or of the scan, on a slice of the first.
func sliceUnder(m *register.Motion, first, second *measure.Result, number int) int {
	x := 0.0
	if first.Hole != nil && first.Hole.Lumen != nil {
		l := first.Hole.Lumen
		x = ((l.MLDLeft+l.MLDRight)/2 - float64(first.Volume.Columns-1)/2) * first.Volume.Scale.Lateral.MicrometresPerSample
	}
	y := (float64(first.Volume.Slices-1)/2 - float64(number-1)) * first.Volume.Scale.Slice.MicrometresPerSample
	_, y = m.ToSecond(x, y)
	slice := math.Round(float64(second.Volume.Slices-1)/2 - y/second.Volume.Scale.Slice.MicrometresPerSample)
	return int(min(max(slice, 0), float64(second.Volume.Slices-1))) + 1
}

// laidOf works out the view from the front with both holes in the place of the
// first scan.
func laidOf(noun *record.Scan, f *record.HoleFigures, first, second *measure.Result, m *register.Motion) *laidFront {
	a, ok := figure.FrontOf(first.Volume, first.Hole)
	b, okB := figure.FrontOf(second.Volume, second.Hole)
	if !ok || !okB || !a.InMicrometres || !b.InMicrometres {
		return nil
	}
	out := &laidFront{Front: a, Image: frontPath(noun, f), HasSectionFirst: len(a.Section) > 0}
	laid := func(points []scene.Point) []scene.Point {
		var to []scene.Point
		for _, q := range points {
			x, y := m.ToFirst(q.X-b.Width/2, b.Height/2-q.Y)
			to = append(to, scene.Point{X: a.Width/2 + x, Y: a.Height/2 - y})
		}
		return to
	}
	out.Section, out.Base = laid(b.Section), laid(b.Base)
	out.Frame = laid([]scene.Point{{X: 0, Y: 0}, {X: b.Width, Y: 0}, {X: b.Width, Y: b.Height}, {X: 0, Y: b.Height}})
	return out
}
