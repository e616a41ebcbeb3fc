package figure

import (
	"image"
	"math"

	"limitans/internal/figure/scene"
	"limitans/oct/hole"
)

// closeShare: a hole that fills less of the scan than this is drawn close up,
// with the whole scan beside it.
const closeShare = 0.4

// closeWindow is the part of the picture of the whole plane that is drawn: all
// of it, or twice the extent of the hole around it when near is true. The part
// ends between pixels, so that the picture lies true.
func closeWindow(p plane, all image.Rectangle, l *hole.Lumen) (window image.Rectangle, near bool) {
	if l == nil {
		return all, false
	}
	var places []place
	for _, k := range []int{0, lidStep(l)} {
		places = append(places, outlineAt(p, l, k)...)
	}
	if len(places) == 0 {
		return all, false
	}
	left, right := spanAlong(places, 0)
	low, high := spanAlong(places, 90)
	half := math.Max(right-left, high-low)
	if 2*half > closeShare*2*math.Max(p.halfWidth, p.halfHight) {
		return all, false
	}
	across, down := 2*p.halfWidth/float64(all.Dx()), 2*p.halfHight/float64(all.Dy())
	x, y := (left+right)/2, (low+high)/2
	window = image.Rect(
		int(math.Floor((x-half+p.halfWidth)/across)), int(math.Floor((p.halfHight-y-half)/down)),
		int(math.Ceil((x+half+p.halfWidth)/across)), int(math.Ceil((p.halfHight-y+half)/down))).Intersect(all)
	return window, true
}

// regionOf is the region that a part of the picture of the whole plane shows.
func (p plane) regionOf(all, part image.Rectangle) region {
	across, down := 2*p.halfWidth/float64(all.Dx()), 2*p.halfHight/float64(all.Dy())
	return region{
		place{float64(part.Min.X)*across - p.halfWidth, p.halfHight - float64(part.Max.Y)*down},
		place{float64(part.Max.X)*across - p.halfWidth, p.halfHight - float64(part.Min.Y)*down},
	}
}

// locator draws the whole scan small, with a frame around what is drawn large,
// and returns the lowest y used.
func locator(page *sheet, f planeFrame, picture image.Image, y float64) float64 {
	const side = 132
	small := fitPlane(f.plane, f.plane.whole(), f.Right()+gutter, y, side, side)
	a, b := small.at(place{f.region.low.x, f.region.high.y}), small.at(place{f.region.high.x, f.region.low.y})
	frame := scene.Rect{X: a.X, Y: a.Y, Width: b.X - a.X, Height: b.Y - a.Y}
	page.Add(&scene.Group{Name: "locator", Nodes: []scene.Node{
		&scene.Image{Rect: small.Rect, Pixels: picture, Description: "the whole scan, small"},
		scene.Box(frame, scene.Colour{}, scene.Stroke{Colour: black.Opacity(0.6), Width: 3.4}),
		scene.Box(frame, scene.Colour{}, scene.Stroke{Colour: white, Width: 1.4}),
		&scene.Text{At: scene.Point{X: small.X, Y: small.Bottom() + 16}, Value: "whole scan", Size: smallSize, Colour: soft},
	}})
	return small.Bottom() + 24
}
