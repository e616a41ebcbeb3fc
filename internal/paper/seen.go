package paper

import (
	"math"
	"strconv"

	"limitans/estimate"
	"limitans/eye"
	"limitans/fault"
	"limitans/internal/figure/scene"
	"limitans/internal/record"
	"limitans/tamponade"
)

// SeenDay is what the patient sees on one day: how far up the edge of the bubble
// stands in the picture, from 0 at the bottom to 1 at the top, head upright.
type SeenDay struct {
	Day   int
	Level estimate.Estimate
}

// seenDays are the days that may be drawn.
var seenDays = []int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 14, 17, 21, 25, 28, 35, 42, 49, 56, 63, 70, 77, 84, 91, 98, 112, 126}

// seenPictures is how many days are drawn at most.
const seenPictures = 12

// PickDays chooses the days that are drawn, at most twelve, the first days
// closest together, until the bubble may be gone: lastDay is the upper end of
// that date's interval.
func PickDays(lastDay float64) []int {
	if !(lastDay >= 1) {
		lastDay = 1
	}
	var days []int
	for _, d := range seenDays {
		days = append(days, d)
		if float64(d) >= lastDay {
			break
		}
	}
	for len(days) > seenPictures { // drop where the gap to both neighbours is smallest
		best, gap := 1, math.Inf(1)
		for i := 1; i < len(days)-1; i++ {
			if g := float64(days[i+1]-days[i-1]) / float64(days[i]); g < gap {
				best, gap = i, g
			}
		}
		days = append(days[:best], days[best+1:]...)
	}
	return days
}

// SeenFromFill turns a predicted fill, a share of the cavity, into what is seen.
// The bubble floats at the top of the eye and the eye turns pictures upside
// down, so the patient sees it at the bottom, and its level at the same share of
// the height: eye.HeightOfFill, a flat level in a sphere.
//
//	in the eye          what is seen
//	 . - - - .           . - - - .
//	|  gas    |         |  clear  |
//	|— — — — —|   →     |— — — — —|
//	|  fluid  |         |  bubble |
//	 ' - - - '           ' - - - '
//
// A fill that is not known stays so.
func SeenFromFill(day int, fill estimate.Estimate) (SeenDay, error) {
	s := SeenDay{Day: day, Level: estimate.Estimate{Basis: "level of a flat-bottomed cap; " + fill.Basis}}
	if !fill.Known() {
		s.Level = fill
		return s, nil
	}
	for _, v := range []struct {
		from float64
		to   *float64
	}{{fill.Value, &s.Level.Value}, {fill.Low, &s.Level.Low}, {fill.High, &s.Level.High}} {
		var err error
		if *v.to, err = eye.HeightOfFill(v.from); err != nil {
			return SeenDay{}, err
		}
	}
	return s, nil
}

// PredictSeen predicts what is seen day by day, and the day on which the bubble
// is gone, with the same functions, fills and seed as limitans bubble.
func PredictSeen(b tamponade.Bubble, seed uint64, paths int) (days []SeenDay, goneDay estimate.Estimate, err error) {
	question := tamponade.Question{Thresholds: []float64{tamponade.GoneFill}}
	first, err := tamponade.Predict(b, question, seed, paths)
	if err != nil {
		return nil, estimate.Estimate{}, err
	}
	goneDay = first.LastAboveDay[0]
	if !goneDay.Known() {
		return nil, goneDay, nil
	}
	if math.IsInf(goneDay.High, 0) || goneDay.High > tamponade.MaxDays {
		return nil, estimate.Estimate{}, &fault.Error{Code: fault.NotMeasurable, Where: "bubble", What: "no end of the bubble can be told"}
	}
	picked := PickDays(goneDay.High)
	for _, d := range picked {
		question.Days = append(question.Days, math.Min(float64(d), tamponade.MaxDays))
	}
	answer, err := tamponade.Predict(b, question, seed, paths)
	if err != nil {
		return nil, estimate.Estimate{}, err
	}
	for i, d := range picked {
		s, err := SeenFromFill(d, answer.Fill[i])
		if err != nil {
			return nil, estimate.Estimate{}, err
		}
		days = append(days, s)
	}
	return days, goneDay, nil
}

// Measures of the picture, in units of a scene (1/96 inch).
const (
	seenColumns = 4
	seenCell    = 152.0
	seenTall    = 192.0
	seenRadius  = 62.0
)

// drawSeen draws one row of circles.
func drawSeen(w *Words, side eye.Laterality, surgery record.Date, days []SeenDay) *scene.Scene {
	s := &scene.Scene{
		Name: "seen-" + strconv.Itoa(days[0].Day), Width: seenColumns * seenCell, Height: seenTall,
		Title:       w.say("see_title"),
		Description: w.fill("see_picture", map[string]string{"eye": w.eye(side)}),
	}
	for i, d := range days {
		at := i
		if w.rightToLeft() {
			at = seenColumns - 1 - i
		}
		left := float64(at) * seenCell
		centre := point(left+seenCell/2, 46+seenRadius+8)
		s.Add(&scene.Text{At: point(centre.X, 20), Value: w.fill("see_day", map[string]string{"n": strconv.Itoa(d.Day)}), Size: 21, Bold: true, Anchor: scene.Middle, Colour: black})
		if on, ok := surgery.AddDays(d.Day); ok && surgery.Full() {
			s.Add(&scene.Text{At: point(centre.X, 42), Value: w.shortDate(on, false), Size: 17, Anchor: scene.Middle, Colour: soft})
		}
		s.Add(seenCircle(w, side, centre, d)...)
	}
	return s
}

// seenCircle draws what one day looks like: the bubble grey, its edge thick, the
// range of the edge between dashed lines, a scale at the right.
func seenCircle(w *Words, side eye.Laterality, centre scene.Point, d SeenDay) []scene.Node {
	var nodes []scene.Node
	level := func(share float64) float64 { return centre.Y + seenRadius - 2*seenRadius*share }
	// The scale, quarters with the middle longest, stands on the side away from the
	// nose. In the patient's own view a right eye has the nose at its left.
	away := 1.0
	if side == eye.Left {
		away = -1
	}
	for i := 0; i <= 4; i++ {
		y := level(float64(i) / 4)
		long := 4.0
		if i == 2 {
			long = 9
		}
		x := centre.X + away*(seenRadius+7)
		nodes = append(nodes, scene.Line(scene.Stroke{Colour: soft, Width: 1}, point(x, y), point(x+away*long, y)))
	}
	ring := scene.Ring(centre, seenRadius, scene.Stroke{Colour: black, Width: 1.6})
	noseText := &scene.Text{At: point(centre.X-away*(seenRadius+10), centre.Y+seenRadius), Value: w.say("see_nose"), Size: 14, Colour: soft}
	if side == eye.Left {
		noseText.Anchor = scene.End
	}
	if !d.Level.Known() {
		return append(nodes, ring, noseText)
	}
	mid := scene.Opaque(0xb4b4b4)
	nodes = append(nodes, capBelow(centre, seenRadius, level(d.Level.Value), mid))
	if d.Level.Value < 0.02 {
		nodes = append(nodes, &scene.Text{At: point(centre.X, centre.Y+4), Value: w.say("see_gone_word"), Size: 15, Anchor: scene.Middle, Colour: black})
	}
	dashed := scene.Stroke{Colour: black, Width: 1, Dash: []float64{4, 3}}
	for _, share := range []float64{d.Level.Low, d.Level.High} {
		if share > 0.004 && share < 0.996 {
			nodes = append(nodes, chord(centre, seenRadius, level(share), dashed))
		}
	}
	if d.Level.Value >= 0.02 {
		nodes = append(nodes, chord(centre, seenRadius, level(d.Level.Value), scene.Stroke{Colour: black, Width: 3}))
	}
	return append(nodes, ring, noseText)
}

// halfChord is half the width of a circle at a height.
func halfChord(centre scene.Point, radius, y float64) float64 {
	d := y - centre.Y
	return math.Sqrt(math.Max(0, radius*radius-d*d))
}

func chord(centre scene.Point, radius, y float64, stroke scene.Stroke) *scene.Path {
	half := halfChord(centre, radius, y)
	return scene.Line(stroke, point(centre.X-half, y), point(centre.X+half, y))
}

// capBelow is the part of a disc below a level.
func capBelow(centre scene.Point, radius, y float64, fill scene.Colour) *scene.Path {
	start := math.Asin(math.Max(-1, math.Min(1, (y-centre.Y)/radius)))
	var points []scene.Point
	const steps = 64
	for i := 0; i <= steps; i++ { // from the right end of the level, through the bottom, to its left end
		angle := start + (math.Pi-2*start)*float64(i)/steps
		sin, cos := math.Sincos(angle)
		points = append(points, point(centre.X+radius*cos, centre.Y+radius*sin))
	}
	return scene.Polygon(fill, scene.Stroke{}, points...)
}
