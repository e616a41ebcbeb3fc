package figure

import (
	"math"
	"strconv"

	"limitans/internal/figure/scene"
	"limitans/oct/thickness"
)

// drawLevels draws the level lines with their heights on them, away from the
// labels of the fields.
func drawLevels(page *scene.Scene, f mapFrame, t *thickness.Thickness) {
	group := &scene.Group{Name: "level-lines"}
	var taken []scene.Point
	for _, field := range t.Fields {
		taken = append(taken, f.at(fieldPlace(field)))
	}
	g := grid{f.m.Size, f.m.Size, func(column, row int) float64 { return f.m.At(row, column) }}
	var words []scene.Node
	for level := contourStepUM; level <= 1000; level += contourStepUM {
		for _, run := range g.levelLines(level) {
			points := make([]scene.Point, len(run))
			for i, p := range run {
				points[i] = scene.Point{X: f.X + (p.column+0.5)/float64(f.m.Size)*f.Width, Y: f.Y + (p.row+0.5)/float64(f.m.Size)*f.Height}
			}
			group.Add(scene.Line(scene.Stroke{Colour: paper.Opacity(0.5), Width: 2}, points...), scene.Line(scene.Stroke{Colour: ink, Width: 0.8}, points...))
			if at, ok := freePlace(f.Rect, points, taken); ok {
				taken = append(taken, at)
				words = append(words, &scene.Text{
					At: scene.Point{X: at.X, Y: at.Y + 4}, Value: strconv.FormatFloat(level, 'f', -1, 64),
					Size: footSize, Anchor: scene.Middle, Colour: ink, Halo: paper.Opacity(0.85),
				})
			}
		}
	}
	group.Add(words...)
	page.Add(group)
}

// freePlace is the point of a run farthest from what is taken, and not at the
// side of the picture; ok is false for a short run or when there is no room.
func freePlace(picture scene.Rect, points, taken []scene.Point) (at scene.Point, ok bool) {
	length := 0.0
	for i := 1; i < len(points); i++ {
		length += math.Hypot(points[i].X-points[i-1].X, points[i].Y-points[i-1].Y)
	}
	if length < 60 {
		return at, false
	}
	best := 44.0
	for _, p := range points {
		if math.Min(math.Min(p.X-picture.X, picture.Right()-p.X), math.Min(p.Y-picture.Y, picture.Bottom()-p.Y)) < 18 {
			continue
		}
		nearest := math.Inf(1)
		for _, q := range taken {
			nearest = math.Min(nearest, math.Hypot(p.X-q.X, 1.6*(p.Y-q.Y)))
		}
		if nearest > best {
			best, at, ok = nearest, p, true
		}
	}
	return at, ok
}
