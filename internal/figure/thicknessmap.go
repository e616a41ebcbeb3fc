package figure

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"strconv"
	"strings"

	"limitans/estimate"
	"limitans/internal/figure/scene"
	"limitans/oct"
	"limitans/oct/thickness"
)

// mapFrame puts µm around the centre of the grid on the sheet.
type mapFrame struct {
	scene.Rect
	m      *thickness.Map
	k      float64 // units of the sheet per µm
	halfUM float64 // from the centre to the sides
}

// closeHalfUM is the half-width of the map of a scan that shows nothing beyond
// the inner ring.
const closeHalfUM = thickness.InnerRadiusUM + 100

// fitMap shows the whole map, or its middle when nothing is seen further out.
func fitMap(m *thickness.Map, x, y, size float64) mapFrame {
	reach := 0.0
	for row := range m.Size {
		for column := range m.Size {
			if !math.IsNaN(m.At(row, column)) {
				px, py := m.PlaceUM(row, column)
				reach = math.Max(reach, math.Max(math.Abs(px), math.Abs(py)))
			}
		}
	}
	if n := int(closeHalfUM / m.StepUM); reach > 0 && reach <= thickness.InnerRadiusUM && n < m.Size/2 {
		m = middleOfMap(m, n)
	}
	width := float64(m.Size) * m.StepUM
	return mapFrame{scene.Rect{X: x, Y: y, Width: size, Height: size}, m, size / width, width / 2}
}

// middleOfMap is the part of a map up to n steps from its middle.
func middleOfMap(m *thickness.Map, n int) *thickness.Map {
	out := &thickness.Map{Size: 2*n + 1, StepUM: m.StepUM}
	from := m.Size/2 - n
	for row := range out.Size {
		start := (from+row)*m.Size + from
		out.ThicknessUM = append(out.ThicknessUM, m.ThicknessUM[start:start+out.Size]...)
	}
	return out
}

func (f mapFrame) at(xUM, yUM float64) scene.Point {
	return scene.Point{X: f.X + f.Width/2 + xUM*f.k, Y: f.Y + f.Height/2 - yUM*f.k}
}

// cell returns the row and column of the map at a place on the sheet.
func (f mapFrame) cell(p scene.Point) (row, column int) {
	side := float64(f.m.Size)
	return min(max(int((p.Y-f.Y)/f.Height*side), 0), f.m.Size-1), min(max(int((p.X-f.X)/f.Width*side), 0), f.m.Size-1)
}

// ThicknessMap draws the thickness of the retina as a map with level lines and
// the nine fields of the macular grid with their means; what was not seen is
// hatched. Where nothing could be measured it is a sheet that says why. t may
// be nil.
func ThicknessMap(v *oct.Volume, t *thickness.Thickness) *scene.Scene {
	const name, title = "thickness", "Thickness of the retina"
	side := sideWords(v.Laterality)
	if t == nil {
		return empty(name, title, side, "The thickness of the retina was not measured.", "Nothing is drawn.")
	}
	if t.Map == nil || t.Map.Size < 2 {
		return empty(name, title, side, "There is no map: "+t.CentralUM.Basis+".", "What is missing can be given when the scan is measured.")
	}
	page := newSheet(name, title, side+" · seen from the front, mean of each field with its 95 % interval in µm")
	const size = 576.0
	f := fitMap(t.Map, margin+28, headHeight-8, size)
	page.Add(&scene.Group{Name: "unseen", Nodes: []scene.Node{hatch(f)}})
	page.Add(&scene.Image{Rect: f.Rect, Pixels: mapImage(f.m), Description: "thickness from dark, thin, to bright, thick"})
	drawLevels(page.Scene, f, t)
	drawGrid(page.Scene, f)
	for _, field := range t.Fields {
		if field.OuterUM <= f.halfUM {
			page.Add(fieldLabel(f, field))
		}
	}
	if f.halfUM < thickness.OuterRadiusUM {
		page.note("The outer ring, 3 to 6 mm, lies outside the scan and is not drawn.")
	}
	page.Add(scene.Box(f.Rect, scene.Colour{}, scene.Stroke{Colour: hair, Width: 1}))
	column := f.Right() + gutter
	y := thicknessFigures(page, t, column, f.Y+4)
	y = colourBar(page.Scene, scene.Rect{X: column, Y: y + 44, Width: 20, Height: 240})
	bottom := compass(page, v, scene.Point{X: column + 84, Y: max(y+56, f.Bottom()-48)}, y)
	page.Add(barLevel(scene.Point{X: f.X, Y: f.Bottom() + 16}, 1000*f.k, "1 mm"), barUpright(scene.Point{X: f.X - 12, Y: f.Bottom()}, 1000*f.k, "1 mm"))
	thicknessNotes(page, v, t)
	page.Description = thicknessDescription(v, t)
	return page.finish(max(bottom, f.Bottom()+24))
}

// mapImage colours the map, four pixels a step so that its edges are as sharp
// in every program; clear where unseen.
func mapImage(m *thickness.Map) *image.NRGBA {
	const fine = 4
	side := m.Size * fine
	out := image.NewNRGBA(image.Rect(0, 0, side, side))
	place := func(pixel int) float64 {
		return min(max((float64(pixel)+0.5)/fine-0.5, 0), float64(m.Size-1))
	}
	for y := range side {
		for x := range side {
			if um := between(m, place(y), place(x)); !math.IsNaN(um) {
				c := scaleColour((um - scaleFromUM) / (scaleToUM - scaleFromUM))
				out.SetNRGBA(x, y, color.NRGBA{c.R, c.G, c.B, 255})
			}
		}
	}
	return out
}

// between interpolates the map linearly between its four neighbours; where one
// of them was not seen it takes the nearest.
func between(m *thickness.Map, row, column float64) float64 {
	r, c := int(row), int(column)
	below, right := min(r+1, m.Size-1), min(c+1, m.Size-1)
	fy, fx := row-float64(r), column-float64(c)
	um := (m.At(r, c)*(1-fx)+m.At(r, right)*fx)*(1-fy) + (m.At(below, c)*(1-fx)+m.At(below, right)*fx)*fy
	if math.IsNaN(um) {
		return m.At(int(math.Round(row)), int(math.Round(column)))
	}
	return um
}

// hatch draws slanting lines over what was not seen.
func hatch(f mapFrame) *scene.Path {
	const apart, step = 8.0, 2.0
	path := &scene.Path{Stroke: scene.Stroke{Colour: hair, Width: 1}}
	for start := -f.Height + apart; start < f.Width; start += apart {
		var run []scene.Point
		flush := func() {
			if len(run) > 1 {
				path.Subpaths = append(path.Subpaths, scene.Subpath{Points: []scene.Point{run[0], run[len(run)-1]}})
			}
			run = run[:0]
		}
		for d := 0.0; d <= f.Height; d += step {
			p := scene.Point{X: f.X + start + d, Y: f.Bottom() - d}
			row, column := f.cell(p)
			if !f.Contains(p) || !math.IsNaN(f.m.At(row, column)) {
				flush()
				continue
			}
			run = append(run, p)
		}
		flush()
	}
	return path
}

// drawGrid draws the circles and the lines between the fields.
func drawGrid(page *scene.Scene, f mapFrame) {
	group := &scene.Group{Name: "fields"}
	outermost := thickness.OuterRadiusUM
	if f.halfUM < outermost {
		outermost = thickness.InnerRadiusUM
	}
	for _, stroke := range []scene.Stroke{{Colour: paper.Opacity(0.8), Width: 3.6}, {Colour: ink, Width: 1.8}} {
		for _, radius := range []float64{thickness.CentreRadiusUM, thickness.InnerRadiusUM, thickness.OuterRadiusUM} {
			if radius <= outermost {
				group.Add(scene.Ring(f.at(0, 0), radius*f.k, stroke))
			}
		}
		for _, deg := range []float64{45, 135, 225, 315} {
			sin, cos := math.Sincos(deg * math.Pi / 180)
			group.Add(scene.Line(stroke, f.at(thickness.CentreRadiusUM*cos, thickness.CentreRadiusUM*sin),
				f.at(outermost*cos, outermost*sin)))
		}
	}
	page.Add(group)
}

// fieldPlace is where the label of a field stands, µm from the centre.
func fieldPlace(field thickness.Field) (x, y float64) {
	r := (field.InnerUM + field.OuterUM) / 2
	switch field.Side {
	case thickness.Above:
		return 0, r
	case thickness.Below:
		return 0, -r
	case thickness.Left:
		return -r, 0
	case thickness.Right:
		return r, 0
	}
	return 0, 0
}

// fieldLabel writes the name of a field, its mean and how much of it was seen
// when that was not all.
func fieldLabel(f mapFrame, field thickness.Field) *scene.Group {
	at := f.at(fieldPlace(field))
	lines := []string{field.Name}
	e := field.ThicknessUM
	_, known := withBand(e, 0, "")
	if known {
		lines = append(lines, fmt.Sprintf("%.0f", e.Value), fmt.Sprintf("%.0f to %.0f", e.Low, e.High))
	} else {
		lines = append(lines, "not measured")
	}
	if seen := math.Floor(100*field.CoveredShare + 1e-9); seen < 100 {
		lines = append(lines, fmt.Sprintf("%.0f %% seen", seen))
	}
	group := &scene.Group{Name: "field"}
	y := at.Y - 15*float64(len(lines)-1)/2 + 4
	for i, text := range lines {
		size := footSize
		if i == 1 && known {
			size = 15
		}
		group.Add(&scene.Text{
			At: scene.Point{X: at.X, Y: y + 15*float64(i)}, Value: text, Size: size,
			Bold: i == 1 && known, Anchor: scene.Middle, Colour: ink, Halo: paper.Opacity(0.85),
		})
	}
	return group
}

// thicknessFigures writes the figures that belong to no field and returns the
// lowest y used.
func thicknessFigures(page *sheet, t *thickness.Thickness, x, y float64) float64 {
	group := &scene.Group{Name: "figures"}
	for _, figure := range []struct {
		name      string
		value     estimate.Estimate
		decimals  int
		unit      string
		otherwise string // said instead of a basis that repeats another
	}{
		{"Central field (1 mm)", t.CentralUM, 0, "µm", ""},
		{"Centre point", t.CentrePointUM, 0, "µm", ""},
		{"Volume within 6 mm", t.TotalVolumeMM3, 2, "mm³", "a field is missing, a total would leave it out"},
	} {
		text, ok := withBand(figure.value, figure.decimals, figure.unit)
		if !ok {
			text = "not measured"
			why := figure.value.Basis
			if figure.otherwise != "" && strings.Contains(why, t.CentralUM.Basis) {
				why = figure.otherwise
			}
			page.note(figure.name + " not measured: " + why + ".")
		}
		group.Add(&scene.Text{At: scene.Point{X: x, Y: y + lineHeight}, Value: figure.name, Size: labelSize, Colour: ink},
			&scene.Text{At: scene.Point{X: x, Y: y + 2*lineHeight}, Value: text, Size: labelSize, Colour: soft})
		y += 2*lineHeight + 8
	}
	page.Add(group)
	return y
}

// colourBar draws the scale of colours with its ticks and returns the lowest y
// used.
func colourBar(page *scene.Scene, r scene.Rect) float64 {
	bar := image.NewNRGBA(image.Rect(0, 0, 1, 256))
	for i := range 256 {
		c := scaleColour(1 - float64(i)/255)
		bar.SetNRGBA(0, i, color.NRGBA{c.R, c.G, c.B, 255})
	}
	group := &scene.Group{Name: "colour-scale", Nodes: []scene.Node{
		&scene.Text{At: scene.Point{X: r.X, Y: r.Y - 12}, Value: "Thickness, µm", Size: smallSize, Colour: ink},
		&scene.Image{Rect: r, Pixels: bar, Description: "colours of the thickness"},
		scene.Box(r, scene.Colour{}, scene.Stroke{Colour: ink, Width: 0.8}),
	}}
	for um := scaleFromUM; um <= scaleToUM; um += tickStepUM {
		y := r.Bottom() - (um-scaleFromUM)/(scaleToUM-scaleFromUM)*r.Height
		words := strconv.FormatFloat(um, 'f', -1, 64)
		switch um {
		case scaleFromUM:
			words += " or less"
		case scaleToUM:
			words += " or more"
		}
		group.Add(scene.Line(scene.Stroke{Colour: ink, Width: 0.8}, scene.Point{X: r.Right(), Y: y}, scene.Point{X: r.Right() + 4, Y: y}),
			&scene.Text{At: scene.Point{X: r.Right() + 9, Y: y + 4}, Value: words, Size: smallSize, Colour: ink})
	}
	y := r.Bottom() + 20
	swatch := scene.Rect{X: r.X, Y: y, Width: 20, Height: 14}
	path := &scene.Path{Stroke: scene.Stroke{Colour: hair, Width: 1}}
	for x := 0.0; x < swatch.Width; x += 6 {
		path.Subpaths = append(path.Subpaths, scene.Subpath{Points: []scene.Point{{X: swatch.X + x, Y: swatch.Bottom()}, {X: math.Min(swatch.X+x+14, swatch.Right()), Y: swatch.Bottom() - math.Min(14, swatch.Width-x)}}})
	}
	group.Add(path, scene.Box(swatch, scene.Colour{}, scene.Stroke{Colour: hair, Width: 1}),
		&scene.Text{At: scene.Point{X: r.Right() + 9, Y: y + 11}, Value: "not seen", Size: smallSize, Colour: ink})
	page.Add(group)
	return swatch.Bottom()
}

// thicknessNotes are the lines of the foot.
func thicknessNotes(page *sheet, v *oct.Volume, t *thickness.Thickness) {
	page.note("Thickness is measured " + t.Boundary + ".")
	if t.Centre != nil {
		page.note("Grid: circles of 1, 3 and 6 mm; " + t.Centre.Basis + ".")
	}
	page.note("± and ranges are 95 % intervals; they do not hold the error of a wrong scale or of a wrongly traced line. Level lines every " + lengthWords(contourStepUM, "µm") + ".")
	page.note(scaleWords(v))
}

func thicknessDescription(v *oct.Volume, t *thickness.Thickness) string {
	text := "Map of the thickness of the retina with the nine fields of the macular grid. " + sideWords(v.Laterality) + "."
	for _, field := range t.Fields {
		value, ok := withBand(field.ThicknessUM, 0, "µm")
		if !ok {
			value = "not measured"
		}
		text += " " + sentence(field.Name) + ": " + value + "."
	}
	return text
}
