package figure

import (
	"fmt"
	"image"
	"math"

	"limitans/internal/figure/scene"
	"limitans/oct"
	"limitans/oct/grey"
	"limitans/oct/hole"
	"limitans/oct/surface"
)

// sliceFrame maps a window of the samples of a slice to the sheet. The picture
// covers a sample from half a sample before its centre to half a sample behind.
type sliceFrame struct {
	scene.Rect
	window image.Rectangle // columns and rows
}

// wholeSlice is the window of all samples.
func wholeSlice(v *oct.Volume) image.Rectangle { return image.Rect(0, 0, v.Columns, v.Rows) }

func (f sliceFrame) at(column, row float64) scene.Point {
	return scene.Point{
		X: f.X + (column+0.5-float64(f.window.Min.X))/float64(f.window.Dx())*f.Width,
		Y: f.Y + (row+0.5-float64(f.window.Min.Y))/float64(f.window.Dy())*f.Height,
	}
}

// inside reports whether a row and column lie within the picture.
func (f sliceFrame) inside(column, row float64) bool {
	return column >= float64(f.window.Min.X)-0.5 && row >= float64(f.window.Min.Y)-0.5 &&
		column <= float64(f.window.Max.X)-0.5 && row <= float64(f.window.Max.Y)-0.5
}

// fitSlice is the largest frame within a box that keeps the true proportion;
// samples are square where a scale is unknown.
func fitSlice(v *oct.Volume, window image.Rectangle, x, y, width, height float64) sliceFrame {
	across, down := float64(window.Dx()), float64(window.Dy())
	if inMicrometres(v) {
		across *= v.Scale.Lateral.MicrometresPerSample
		down *= v.Scale.Depth.MicrometresPerSample
	}
	k := math.Min(width/across, height/down)
	return sliceFrame{scene.Rect{X: x, Y: y, Width: across * k, Height: down * k}, window}
}

// surfaceRuns is one boundary on one slice, a run for each traced stretch.
func surfaceRuns(f sliceFrame, s *surface.Surface, slice int) []scene.Subpath {
	var runs []scene.Subpath
	var run []scene.Point
	for c := range s.Columns {
		row := s.At(slice, c)
		if !math.IsNaN(row) && f.inside(float64(c), row) {
			run = append(run, f.at(float64(c), row))
			continue
		}
		if len(run) > 0 {
			runs, run = append(runs, scene.Subpath{Points: run}), nil
		}
	}
	if len(run) > 0 {
		runs = append(runs, scene.Subpath{Points: run})
	}
	return runs
}

// lumenRuns is the outline of the lumen on one slice: its walls, and its lid
// where it is open there.
func lumenRuns(f sliceFrame, l *hole.Lumen, slice int) (walls, lid []scene.Subpath) {
	top := lidStep(l)
	var left, right []scene.Point
	flush := func() {
		if len(left) > 0 {
			walls = append(walls, scene.Subpath{Points: left}, scene.Subpath{Points: right})
			left, right = nil, nil
		}
	}
	for k := 0; k <= top; k++ {
		a, b, open := l.Wall(slice, k)
		ra, rb := l.Row(slice, a, float64(k)), l.Row(slice, b, float64(k))
		if !open || !f.inside(a, ra) || !f.inside(b, rb) {
			flush()
			continue
		}
		left, right = append(left, f.at(a, ra)), append(right, f.at(b, rb))
	}
	flush()
	a, b, open := l.Wall(slice, top)
	if !open {
		return walls, nil
	}
	var line []scene.Point
	for _, c := range columnsBetween(a, b) {
		if row := l.Row(slice, c, float64(top)); f.inside(c, row) {
			line = append(line, f.at(c, row))
		}
	}
	if len(line) > 1 {
		lid = []scene.Subpath{{Points: line}}
	}
	return walls, lid
}

// lidStep is the highest whole height step below the lid.
func lidStep(l *hole.Lumen) int {
	return min(int(math.Floor(l.LidHeightUM/l.HeightStepUM)), l.Heights-1)
}

// columnsBetween is both ends and the whole columns between them.
func columnsBetween(a, b float64) []float64 {
	out := []float64{a}
	for c := math.Floor(a) + 1; c < b; c++ {
		out = append(out, c)
	}
	return append(out, b)
}

// Slice draws one slice with its boundaries and, where it crosses the hole,
// the lumen; the widest slice carries the minimum linear diameter. Slices count
// from 0. h may be nil.
func Slice(v *oct.Volume, s *surface.Surfaces, h *hole.Hole, slice int) *scene.Scene {
	return drawSlice(v, s, h, slice, grey.WindowOf(v))
}

func drawSlice(v *oct.Volume, s *surface.Surfaces, h *hole.Hole, slice int, w grey.Window) *scene.Scene {
	page := newSheet(fmt.Sprintf("slice-%d", slice+1), sliceWords(v, slice), sideWords(v.Laterality)+" · "+sliceContent(v, h, slice))
	return drawWindow(page, v, s, h, slice, wholeSlice(v), w)
}

// drawWindow draws a part of a slice on a sheet and finishes it.
func drawWindow(page *sheet, v *oct.Volume, s *surface.Surfaces, h *hole.Hole, slice int, window image.Rectangle, w grey.Window) *scene.Scene {
	left := margin + 28
	f := fitSlice(v, window, left, headHeight, sheetWidth-margin-labelColumn-gutter-left, 560)
	page.Add(&scene.Image{Rect: f.Rect, Pixels: grey.Slice(v, slice, w).SubImage(window), Description: sliceWords(v, slice) + " of the scan, vitreous up"})
	labels := drawSurfaces(page.Scene, f, s, slice)
	if l := lumenOf(h); l != nil && slice >= l.FirstSlice && slice <= l.LastSlice {
		labels = append(labels, drawLumen(page, f, h, slice)...)
	}
	group, bottom := placeLabels(f.Rect, labels)
	page.Add(group)
	sliceBars(page, v, f)
	page.note(scaleWords(v))
	if !inMicrometres(v) {
		page.note("Depth and lateral are not drawn to one scale, because one of them is not known: samples are drawn square.")
	}
	page.Description = sliceDescription(v, s, h, slice)
	return page.finish(max(bottom, f.Bottom()+24))
}

// sliceContent says in a few words what is on a slice.
func sliceContent(v *oct.Volume, h *hole.Hole, slice int) string {
	l := lumenOf(h)
	switch {
	case h == nil:
		return "hole not looked for"
	case l == nil:
		return judgementWords(h)
	case slice < l.FirstSlice || slice > l.LastSlice:
		return fmt.Sprintf("the lumen is on slices %d to %d", l.FirstSlice+1, l.LastSlice+1)
	case slice == h.WidestSlice && v.Slices > 1:
		return fmt.Sprintf("widest slice of the hole, which is on slices %d to %d", l.FirstSlice+1, l.LastSlice+1)
	}
	return fmt.Sprintf("crosses the hole, which is on slices %d to %d", l.FirstSlice+1, l.LastSlice+1)
}

// drawSurfaces draws the two boundaries and returns their labels, at the last
// traced column.
func drawSurfaces(page *scene.Scene, f sliceFrame, s *surface.Surfaces, slice int) []label {
	var labels []label
	for _, line := range []struct {
		surface *surface.Surface
		pen     pen
		name    string
		at      float64 // share of the height, for a label without a line
	}{
		{drawnMembrane(s), membranePen, "Inner limiting membrane", 0.3},
		{s.PigmentEpithelium, epitheliumPen, "Pigment epithelium", 0.8},
	} {
		runs := surfaceRuns(f, line.surface, slice)
		if len(runs) == 0 {
			labels = append(labels, label{anchor: scene.Point{X: f.Right(), Y: f.Y + line.at*f.Height}, lines: []string{line.name, "not traced on this slice"}, free: true})
			continue
		}
		page.Add(line.pen.draw(runs))
		last := runs[len(runs)-1].Points
		labels = append(labels, label{anchor: last[len(last)-1], lines: []string{line.name}})
	}
	return labels
}

// drawLumen draws the lumen of a slice and returns its labels.
func drawLumen(page *sheet, f sliceFrame, h *hole.Hole, slice int) []label {
	l := h.Lumen
	walls, lid := lumenRuns(f, l, slice)
	if len(walls) > 0 {
		page.Add(wallPen.draw(walls))
	}
	if len(lid) > 0 {
		page.Add(lidPen.draw(lid))
	}
	topLabel(page, f, walls, lid)
	if slice != l.MLDSlice {
		return nil
	}
	a := f.at(l.MLDLeft, l.Row(slice, l.MLDLeft, l.MLDHeightSteps))
	b := f.at(l.MLDRight, l.Row(slice, l.MLDRight, l.MLDHeightSteps))
	page.Add(caliperPen.caliper(a, b))
	if h.MLDUM.Known() {
		page.note(intervalNote + " " + fittedNote)
	}
	lines := withLine("Minimum linear diameter", h.MLDUM, 0, "µm")
	if visible, ok := withBand(h.VisibleMLDUM, 0, "µm"); ok {
		lines = append(lines, "between visible edges", visible)
	}
	return []label{{anchor: b, lines: lines, strong: h.MLDUM.Known(), bare: true}}
}

// topLabel names the lumen above the picture, with a leader down through the
// vitreous, where nothing is covered.
func topLabel(page *sheet, f sliceFrame, walls, lid []scene.Subpath) {
	name := "Lumen: walls and lid"
	var at scene.Point
	switch {
	case len(lid) > 0:
		points := lid[0].Points
		at = points[len(points)/2]
	case len(walls) > 0:
		name = "Lumen: walls"
		points := walls[len(walls)-1].Points
		at = points[len(points)-1]
	default:
		return
	}
	group := &scene.Group{Name: "labels"}
	edge := scene.Point{X: at.X, Y: f.Y}
	group.Add(scene.Line(scene.Stroke{Colour: black.Opacity(0.55), Width: 2.2}, at, edge),
		scene.Line(scene.Stroke{Colour: white, Width: 0.8}, at, edge),
		scene.Disc(at, 2.4, white, scene.Stroke{Colour: black, Width: 0.8}),
		scene.Line(scene.Stroke{Colour: soft, Width: 0.8}, edge, scene.Point{X: edge.X, Y: edge.Y - 6}),
		&scene.Text{At: scene.Point{X: edge.X, Y: edge.Y - 10}, Value: name, Size: labelSize, Anchor: scene.Middle, Colour: ink})
	page.Add(group)
}

// sliceBars draws a bar for each direction, in samples where its scale is not
// known.
func sliceBars(page *sheet, v *oct.Volume, f sliceFrame) {
	bar := func(a oct.AxisScale, samples int, extent float64, unit string) (length float64, words string) {
		per, name := 1.0, unit
		if a.Known() {
			per, name = a.MicrometresPerSample, "µm"
		}
		round := roundLength(per * float64(samples) / 3)
		return round / per / float64(samples) * extent, lengthWords(round, name)
	}
	across, acrossWords := bar(v.Scale.Lateral, f.window.Dx(), f.Width, "columns")
	down, downWords := bar(v.Scale.Depth, f.window.Dy(), f.Height, "rows")
	if inMicrometres(v) { // the same length both ways
		width := v.Scale.Lateral.MicrometresPerSample * float64(f.window.Dx())
		um := roundLength(math.Min(width, v.Scale.Depth.MicrometresPerSample*float64(f.window.Dy())) / 3)
		across = um / width * f.Width
		down, acrossWords, downWords = across, lengthWords(um, "µm"), lengthWords(um, "µm")
	}
	page.Add(barLevel(scene.Point{X: f.X, Y: f.Bottom() + 16}, across, acrossWords),
		barUpright(scene.Point{X: f.X - 12, Y: f.Bottom()}, down, downWords))
}

// sliceDescription tells what the picture shows.
func sliceDescription(v *oct.Volume, s *surface.Surfaces, h *hole.Hole, slice int) string {
	share := func(line *surface.Surface) int {
		n := 0
		for c := range line.Columns {
			if line.Traced(slice, c) {
				n++
			}
		}
		return int(math.Round(100 * float64(n) / float64(line.Columns)))
	}
	text := fmt.Sprintf("%s, %s. %s. Inner limiting membrane traced on %d %% of the columns, pigment epithelium on %d %%.",
		sliceWords(v, slice), sideWords(v.Laterality), sliceContent(v, h, slice), share(s.InnerLimitingMembrane), share(s.PigmentEpithelium))
	if l := lumenOf(h); l != nil && slice == l.MLDSlice {
		if mld, ok := withBand(h.MLDUM, 0, "µm"); ok {
			text += " Minimum linear diameter " + mld + "."
		}
	}
	return text
}
