package figure

import (
	"limitans/internal/caution"
	"limitans/internal/figure/scene"
)

// Measures of a sheet, in units of 1/96 inch, on a grid of four.
const (
	sheetWidth  = 960.0
	margin      = 32.0
	headHeight  = 96.0 // title, line below it, room for a label over the picture
	gutter      = 28.0 // between a picture and its labels
	labelColumn = 216.0

	titleSize = 20.0
	labelSize = 13.0
	smallSize = 12.0
	footSize  = 11.0
)

// Ink and paper, and the colours of Okabe and Ito that lines use.
var (
	paper      = scene.Opaque(0xfbf9f4).As("paper")
	ink        = scene.Opaque(0x1e1c1a).As("ink")
	soft       = scene.Opaque(0x5f5a53).As("soft")
	hair       = scene.Opaque(0xc9c2b4).As("hair")
	white      = scene.Opaque(0xffffff)
	black      = scene.Opaque(0x000000)
	skyBlue    = scene.Opaque(0x56b4e9)
	orange     = scene.Opaque(0xe69f00)
	yellow     = scene.Opaque(0xf0e442)
	vermillion = scene.Opaque(0xd55e00)
)

// sheet is a scene with a head and, at the end, a foot.
type sheet struct {
	*scene.Scene
	notes []string // lines of the foot, before the caution
}

// newSheet starts a sheet with its title and the line below it.
func newSheet(name, title, below string) *sheet {
	s := &sheet{Scene: &scene.Scene{Name: name, Width: sheetWidth, Paper: paper, Title: title}}
	s.Add(&scene.Group{Name: "head", Nodes: []scene.Node{
		&scene.Text{At: scene.Point{X: margin, Y: 42}, Value: title, Size: titleSize, Bold: true, Colour: ink},
		&scene.Text{At: scene.Point{X: margin, Y: 64}, Value: below, Size: labelSize, Colour: soft},
	}})
	return s
}

// note adds a sentence to the foot.
func (s *sheet) note(text string) { s.notes = append(s.notes, text) }

// finish draws the foot below y and sets the height of the sheet.
func (s *sheet) finish(y float64) *scene.Scene {
	y += 20
	foot := &scene.Group{Name: "foot"}
	foot.Add(scene.Line(scene.Stroke{Colour: hair, Width: 1}, scene.Point{X: margin, Y: y}, scene.Point{X: s.Width - margin, Y: y}))
	y += 4
	for _, note := range append(s.notes, caution.Short()) {
		for _, line := range scene.Wrap(note, s.Width-2*margin, footSize) {
			y += 16
			foot.Add(&scene.Text{At: scene.Point{X: margin, Y: y}, Value: line, Size: footSize, Colour: soft})
		}
	}
	s.Add(foot)
	s.Height = y + 20
	return s.Scene
}

// empty is a sheet that says why there is no picture.
func empty(name, title, below, why, then string) *scene.Scene {
	s := newSheet(name, title, below)
	y := headHeight + 16
	say := func(text string, bold bool) {
		for _, line := range scene.Wrap(text, s.Width-2*margin-160, 15) {
			s.Add(&scene.Text{At: scene.Point{X: margin, Y: y}, Value: line, Size: 15, Bold: bold, Colour: ink})
			y += 24
		}
	}
	say(why, true)
	say(then, false)
	s.Description = why + " " + then
	return s.finish(y)
}
