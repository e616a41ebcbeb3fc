package paper

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/internal/figure"
	"limitans/internal/figure/scene"
	"limitans/oct/measure"
)

// FromScan takes the findings of a measured scan: its figures with their
// intervals as limitans measure prints them, the best slice (the widest of the
// hole, else the middle one) and a caption that names its lines.
func FromScan(r *measure.Result) (findings []Figure, slice *scene.Scene, caption string) {
	const lines = "Solid line: inner limiting membrane; dashed: pigment epithelium"
	h := r.Hole
	if h == nil || !h.Present || h.Lumen == nil {
		middle := r.Volume.Slices / 2
		caption = fmt.Sprintf("Slice %d of %d, vitreous up. %s.", middle+1, r.Volume.Slices, lines)
		if h != nil {
			caption += " Full-thickness hole: " + string(h.Judgement) + "."
		}
		return thicknessFigures(r), sliceOnly(figure.Slice(r.Volume, r.Traced, h, middle)), caption
	}
	add := func(label string, e estimate.Estimate, decimals int, unit, source string) {
		findings = append(findings, Figure{Label: label, Estimate: e, Decimals: decimals, Unit: unit, Source: source})
	}
	add("Minimum linear diameter", h.MLDUM, 0, "µm", fmt.Sprintf("slice %d of %d, as displayed", h.WidestSlice+1, r.Volume.Slices))
	if r.LateralCorrection.Corrected {
		add("The same for this eye's length", r.LateralCorrection.MLDUM, 0, "µm", fmt.Sprintf("axial length %g mm", r.LateralCorrection.AxialLengthMM))
	}
	add("Base diameter", h.BaseUM, 0, "µm", "")
	add("Height", h.HeightUM, 0, "µm", "mean of both rims")
	caption = fmt.Sprintf("Widest slice, %d of %d, vitreous up. %s; dotted: walls of the hole", h.Lumen.MLDSlice+1, r.Volume.Slices, lines)
	if h.MLDUM.Known() {
		caption += "; line with bars: minimum linear diameter"
	}
	return findings, sliceOnly(figure.Widest(r.Volume, r.Traced, h)), caption + "."
}

// thicknessFigures is the central thickness where it was measured.
func thicknessFigures(r *measure.Result) []Figure {
	if r.Thickness == nil || len(r.Thickness.Fields) == 0 {
		return nil
	}
	return []Figure{{Label: "Central thickness", Estimate: r.Thickness.Fields[0].ThicknessUM, Unit: "µm", Source: r.Thickness.Fields[0].Name}}
}

// sliceGrow is by how much lines and letters of a slice grow, so that they can be
// read where the picture is as wide as a column of a sheet.
const sliceGrow = 2.1

// sliceOnly is the picture of a slice without head, foot and labels, which the
// sheet has itself. The scene that is given is not changed.
func sliceOnly(s *scene.Scene) *scene.Scene {
	kept := grown(s.Nodes)
	low, high := point(math.Inf(1), math.Inf(1)), point(math.Inf(-1), math.Inf(-1))
	reach := func(p scene.Point, around float64) {
		low.X, low.Y = math.Min(low.X, p.X-around), math.Min(low.Y, p.Y-around)
		high.X, high.Y = math.Max(high.X, p.X+around), math.Max(high.Y, p.Y+around)
	}
	each(kept, func(n scene.Node) {
		switch n := n.(type) {
		case *scene.Image:
			reach(point(n.Rect.X, n.Rect.Y), 0)
			reach(point(n.Rect.Right(), n.Rect.Bottom()), 0)
		case *scene.Path:
			for _, sub := range n.Subpaths {
				for _, p := range sub.Points {
					reach(p, n.Stroke.Width/2)
				}
			}
		case *scene.Text:
			reach(n.At, n.Size)
		}
	})
	if low.X > high.X {
		return s
	}
	out := &scene.Scene{Name: s.Name, Title: s.Title, Description: s.Description, Width: high.X - low.X, Height: high.Y - low.Y}
	each(kept, func(n scene.Node) {
		switch n := n.(type) {
		case *scene.Image:
			n.Rect.X, n.Rect.Y = n.Rect.X-low.X, n.Rect.Y-low.Y
		case *scene.Path:
			for _, sub := range n.Subpaths {
				for i := range sub.Points {
					sub.Points[i].X -= low.X
					sub.Points[i].Y -= low.Y
				}
			}
		case *scene.Text:
			n.At.X, n.At.Y = n.At.X-low.X, n.At.Y-low.Y
		}
	})
	out.Nodes = kept
	return out
}

// grown copies nodes with thicker lines and larger letters, without the groups
// that a sheet says itself.
func grown(nodes []scene.Node) []scene.Node {
	var out []scene.Node
	for _, n := range nodes {
		switch n := n.(type) {
		case *scene.Group:
			if n.Name != "head" && n.Name != "foot" && n.Name != "labels" {
				out = append(out, &scene.Group{Name: n.Name, Nodes: grown(n.Nodes)})
			}
		case *scene.Image:
			c := *n
			out = append(out, &c)
		case *scene.Path:
			c := *n
			c.Subpaths = nil
			for _, sub := range n.Subpaths {
				sub.Points = append([]scene.Point{}, sub.Points...)
				c.Subpaths = append(c.Subpaths, sub)
			}
			c.Stroke.Width *= sliceGrow
			c.Stroke.Dash = nil
			for _, d := range n.Stroke.Dash {
				c.Stroke.Dash = append(c.Stroke.Dash, d*sliceGrow)
			}
			out = append(out, &c)
		case *scene.Text:
			c := *n
			c.Size *= sliceGrow
			if c.AngleDeg == 0 { // stay in the middle of the bar that it tells the length of
				c.At.Y += 0.35 * (c.Size - n.Size)
			}
			out = append(out, &c)
		}
	}
	return out
}

// each visits all nodes that are drawn.
func each(nodes []scene.Node, visit func(scene.Node)) {
	for _, n := range nodes {
		if g, is := n.(*scene.Group); is {
			each(g.Nodes, visit)
			continue
		}
		visit(n)
	}
}
