package figure

import (
	"fmt"
	"math"

	"limitans/internal/figure/scene"
	"limitans/oct"
	"limitans/oct/grey"
	"limitans/oct/hole"
	"limitans/oct/surface"
)

// overviewMost is how many slices the overview shows at most.
const overviewMost = 16

// Overview draws up to 16 small slices on one sheet: around the hole when there
// is one, the widest slice among them, else spread over the scan. h may be nil.
func Overview(v *oct.Volume, s *surface.Surfaces, h *hole.Hole) *scene.Scene {
	return drawOverview(v, s, h, grey.WindowOf(v))
}

func drawOverview(v *oct.Volume, s *surface.Surfaces, h *hole.Hole, w grey.Window) *scene.Scene {
	shown := overviewSlices(v, h)
	l := lumenOf(h)
	below := sideWords(v.Laterality) + " · "
	switch {
	case l != nil && v.Slices > 1:
		below += fmt.Sprintf("the lumen is on slices %d to %d of %d, open from base to lid on %d", l.FirstSlice+1, l.LastSlice+1, v.Slices, h.OpenSlices)
	case l != nil:
		below += "the hole on the one slice of this scan"
	case h != nil:
		below += judgementWords(h)
	default:
		below += "hole not looked for"
	}
	page := newSheet("overview", "Overview", below)
	const gap = 16.0
	across := min(4, len(shown))
	width := (sheetWidth - 2*margin - gap*float64(across-1)) / float64(across)
	width = math.Min(width, 436)
	y, x := headHeight-12, margin
	var f sliceFrame
	for i, slice := range shown {
		if i > 0 && i%across == 0 {
			x, y = margin, y+f.Height+36
		}
		f = fitSlice(v, wholeSlice(v), x, y, width, width)
		page.Add(smallSlice(v, s, h, slice, f, w))
		x += width + gap
	}
	bottom := f.Bottom() + 20
	page.note("Solid line: inner limiting membrane. Dashed: pigment epithelium. Dotted: walls of the lumen, closed by its lid. Bar: minimum linear diameter.")
	if h != nil && l != nil {
		if text, ok := withBand(h.MLDUM, 0, "µm"); ok {
			page.note("Minimum linear diameter " + text + ", widest slice " + fmt.Sprint(h.WidestSlice+1) + ". " + intervalNote)
		}
	}
	overviewBar(page, v, f, scene.Point{X: margin, Y: bottom + 16})
	page.note(scaleWords(v))
	page.Description = fmt.Sprintf("%d small slices of %d, with their lines. %s.", len(shown), v.Slices, sentence(below))
	return page.finish(bottom + 24)
}

// overviewBar draws one bar for both directions, which have the same scale.
func overviewBar(page *sheet, v *oct.Volume, f sliceFrame, at scene.Point) {
	if !inMicrometres(v) {
		page.note("Not drawn to scale: the depth or lateral scale is not known, samples are drawn square.")
		return
	}
	um := roundLength(v.Scale.Lateral.MicrometresPerSample * float64(v.Columns) / 2)
	page.Add(barLevel(at, um/v.Scale.Lateral.MicrometresPerSample/float64(v.Columns)*f.Width, lengthWords(um, "µm")+" across and in depth"))
}

// smallSlice is one slice of the overview with its number below.
func smallSlice(v *oct.Volume, s *surface.Surfaces, h *hole.Hole, slice int, f sliceFrame, w grey.Window) *scene.Group {
	group := &scene.Group{Name: "slice", Nodes: []scene.Node{
		&scene.Image{Rect: f.Rect, Pixels: grey.Slice(v, slice, w), Description: sliceWords(v, slice)},
	}}
	draw := func(p pen, runs []scene.Subpath) {
		if len(runs) > 0 {
			group.Add(p.thinner().draw(runs))
		}
	}
	draw(membranePen, surfaceRuns(f, drawnMembrane(s), slice))
	draw(epitheliumPen, surfaceRuns(f, s.PigmentEpithelium, slice))
	words := fmt.Sprintf("Slice %d", slice+1)
	if l := lumenOf(h); l != nil && slice >= l.FirstSlice && slice <= l.LastSlice {
		walls, lid := lumenRuns(f, l, slice)
		draw(wallPen, walls)
		draw(lidPen, lid)
		if slice == l.MLDSlice {
			group.Add(caliperPen.thinner().caliper(f.at(l.MLDLeft, l.Row(slice, l.MLDLeft, l.MLDHeightSteps)),
				f.at(l.MLDRight, l.Row(slice, l.MLDRight, l.MLDHeightSteps))))
			words += ", widest"
		}
	}
	group.Add(&scene.Text{At: scene.Point{X: f.X, Y: f.Bottom() + 17}, Value: words, Size: labelSize, Bold: words[len(words)-1] == 't', Colour: ink})
	return group
}

// thinner is the pen for small pictures.
func (p pen) thinner() pen {
	out := p
	out.width *= 0.7
	out.dash = nil
	for _, d := range p.dash {
		out.dash = append(out.dash, math.Max(0.1, d*0.7))
	}
	return out
}

// overviewSlices picks the slices: evenly from one before the hole to one
// after it, so that the widest is among them.
func overviewSlices(v *oct.Volume, h *hole.Hole) []int {
	from, to := 0, v.Slices-1
	widest := -1
	if l := lumenOf(h); l != nil {
		from, to, widest = max(0, l.FirstSlice-1), min(v.Slices-1, l.LastSlice+1), l.MLDSlice
	}
	n := min(overviewMost, to-from+1)
	if widest >= 0 { // neighbours of the hole fill the sheet
		for ; n < overviewMost && (from > 0 || to < v.Slices-1); n = min(overviewMost, to-from+1) {
			from, to = max(0, from-1), min(v.Slices-1, to+1)
		}
	}
	out := make([]int, n)
	nearest := 0
	for i := range out {
		if n > 1 {
			out[i] = from + int(math.Round(float64(i)*float64(to-from)/float64(n-1)))
		} else {
			out[i] = (from + to) / 2
		}
		if absInt(out[i]-widest) < absInt(out[nearest]-widest) {
			nearest = i
		}
	}
	if widest >= 0 {
		out[nearest] = widest
	}
	return out
}

func absInt(n int) int { return max(n, -n) }
