package figure

import (
	"fmt"
	"math"
	"slices"

	"limitans/estimate"
	"limitans/eye"
	"limitans/internal/figure/scene"
	"limitans/tamponade"
)

// BubbleEye is one eye with a bubble in a position of the head on one day.
type BubbleEye struct {
	Side     eye.Laterality
	Position tamponade.Position
	// Fill is the bubble's share of the cavity, 0 to 1, with its interval.
	Fill    estimate.Estimate
	Targets []tamponade.Target
	// When says the day in a few words, Agent what the bubble is.
	When, Agent string
}

// Places of the drawing, in units of the sheet.
const (
	bubbleEyeWidth, bubbleEyeHeight = 760.0, 424.0
	eyeRadius                       = 108.0
	retinaRadius                    = 138.0
	// retinaEdgeDeg is how far from the fovea the retina is drawn: about to the
	// ora serrata on the temporal side.
	retinaEdgeDeg = 105.0
)

var (
	eyeMiddle    = scene.Point{X: 214, Y: 208}
	retinaMiddle = scene.Point{X: 580, Y: 208}
)

// DrawBubbleEye draws the eye in the head with gravity downwards, cut through its
// line of sight, with the bubble and its horizon; and the retina as seen with the
// patient facing the reader, with what the bubble covers.
//
//	cut: the plane of the line of sight and of gravity     retina: 12 up, disc nasal
//
//	      .-''''-.  gas                                      . 12 .
//	    /—————————\ horizon                                9 (  +  ) 3
//	   fovea      ( cornea                                   ' 6  '
//
// The level is flat and the cavity a sphere (package eye). The cut depends on the
// pitch of the head alone; a roll turns which meridian it goes through.
func DrawBubbleEye(b BubbleEye) (*scene.Scene, error) {
	up, err := b.Position.Up()
	if err != nil {
		return nil, err
	}
	s := &scene.Scene{
		Name: "bubble-eye", Width: bubbleEyeWidth, Height: bubbleEyeHeight,
		Title: fmt.Sprintf("%s, %s, %s", sideWords(b.Side), b.Position.Name, b.When),
	}
	heights, err := capHeights(b.Fill)
	if err != nil {
		return nil, err
	}
	s.Add(b.head(), b.cut(heights), b.gravity())
	retina, err := b.retina(up)
	if err != nil {
		return nil, err
	}
	s.Add(retina)
	s.Description, err = b.words()
	return s, err
}

// capHeights are the heights of the bubble over the cavity's diameter: middle, low,
// high.
func capHeights(fill estimate.Estimate) (out [3]float64, err error) {
	for i, f := range []float64{fill.Value, fill.Low, fill.High} {
		if out[i], err = eye.HeightOfFill(math.Max(0, math.Min(1, f))); err != nil {
			return out, err
		}
	}
	return out, nil
}

// facing is +1 when the head looks to the right of the sheet: a right eye is seen
// from the patient's right, a left eye from the left.
func (b BubbleEye) facing() float64 {
	if b.Side == eye.Left {
		return -1
	}
	return 1
}

// turned places a point that is given with the head upright, looking to the right,
// round the middle of the eye.
func (b BubbleEye) turned(x, y float64) scene.Point {
	sine, cosine := math.Sincos(b.Position.PitchDeg * math.Pi / 180)
	x, y = x*cosine-y*sine, x*sine+y*cosine // the sheet's y runs down, so a pitch forward turns clockwise
	return scene.Point{X: eyeMiddle.X + b.facing()*x, Y: eyeMiddle.Y + y}
}

// outline turns a run of points.
func (b BubbleEye) outline(points [][2]float64) []scene.Point {
	out := make([]scene.Point, len(points))
	for i, p := range points {
		out[i] = b.turned(p[0], p[1])
	}
	return out
}

// profile is a head from the side, crown the same from above: the eye at the
// origin, looking to the right, in eye radii of the drawing.
var (
	profile = [][2]float64{
		{-60, -176},
		{-20, -178},
		{30, -170},
		{75, -150},
		{108, -118},
		{122, -84},
		{124, -60},
		{130, -30},
		{146, 6},
		{160, 36},
		{154, 52},
		{132, 56},
		{134, 72},
		{146, 84},
		{138, 96},
		{144, 110},
		{132, 122},
		{128, 142},
		{110, 162},
		{74, 166},
		{40, 160},
		{22, 176},
	}
	crown = [][2]float64{
		{22, -170}, {70, -164}, {112, -136}, {128, -96}, {132, -30}, {152, -12}, {166, 0}, {152, 12}, {132, 30}, {128, 96}, {112, 136}, {70, 164}, {22, 170},
	}
)

// head draws the outline of the head behind the eye.
func (b BubbleEye) head() *scene.Group {
	points := profile
	if math.Abs(b.Position.RollDeg) > 45 {
		points = crown
	}
	g := &scene.Group{Name: "head"}
	g.Add(scene.Line(scene.Stroke{Colour: hair, Width: 3, Round: true}, b.outline(rounded(points))...))
	return g
}

// rounded draws a smooth line through points (Catmull and Rom's spline).
func rounded(points [][2]float64) [][2]float64 {
	const steps = 6
	at := func(i int) [2]float64 { return points[max(0, min(len(points)-1, i))] }
	var out [][2]float64
	for i := range len(points) - 1 {
		p0, p1, p2, p3 := at(i-1), at(i), at(i+1), at(i+2)
		for k := range steps {
			t := float64(k) / steps
			var p [2]float64
			for c := range p {
				p[c] = 0.5 * (2*p1[c] + (p2[c]-p0[c])*t + (2*p0[c]-5*p1[c]+4*p2[c]-p3[c])*t*t + (3*p1[c]-p0[c]-3*p2[c]+p3[c])*t*t*t)
			}
			out = append(out, p)
		}
	}
	return append(out, points[len(points)-1])
}

// cut draws wall, bubble, horizon, lens and fovea.
func (b BubbleEye) cut(heights [3]float64) *scene.Group {
	g := &scene.Group{Name: "cut"}
	level := func(x float64) float64 { return eyeMiddle.Y - eyeRadius + 2*eyeRadius*x }
	half := func(x float64) float64 { return 2 * eyeRadius * math.Sqrt(math.Max(0, x*(1-x))) }
	g.Add(scene.Polygon(paper, scene.Stroke{}, arc(eyeMiddle, eyeRadius, 0, 2*math.Pi)...))
	if x := heights[0]; x > 0 {
		alpha := 2 * math.Asin(math.Sqrt(x)) // half the arc, from the top
		g.Add(scene.Polygon(gasArea, scene.Stroke{}, arc(eyeMiddle, eyeRadius, -math.Pi/2-alpha, -math.Pi/2+alpha)...))
	}
	for i, x := range heights {
		if x <= 0 || x >= 1 {
			continue
		}
		stroke := scene.Stroke{Colour: gasInk, Width: 2.5}
		if i > 0 {
			stroke = scene.Stroke{Colour: gasInk, Width: 1, Dash: []float64{4, 4}}
		}
		g.Add(scene.Line(stroke, scene.Point{X: eyeMiddle.X - half(x), Y: level(x)}, scene.Point{X: eyeMiddle.X + half(x), Y: level(x)}))
	}
	g.Add(scene.Ring(eyeMiddle, eyeRadius, scene.Stroke{Colour: ink, Width: 2.5}))
	// Cornea, iris and lens at the front; the fovea opposite.
	var cornea [][2]float64
	for deg := -31.0; deg <= 31; deg += 2 {
		sine, cosine := math.Sincos(deg * math.Pi / 180)
		cornea = append(cornea, [2]float64{eyeRadius*0.857 + (eyeRadius*0.26)*(cosine-math.Cos(31*math.Pi/180))/(1-math.Cos(31*math.Pi/180)), eyeRadius * sine})
	}
	g.Add(scene.Line(scene.Stroke{Colour: ink, Width: 2.5}, b.outline(cornea)...))
	for _, sign := range []float64{-1, 1} {
		g.Add(scene.Line(scene.Stroke{Colour: soft, Width: 2}, b.outline([][2]float64{{eyeRadius * 0.86, sign * eyeRadius * 0.5}, {eyeRadius * 0.88, sign * eyeRadius * 0.16}})...))
	}
	fovea := b.turned(-eyeRadius, 0)
	g.Add(scene.Disc(fovea, 7, orange, scene.Stroke{Colour: ink, Width: 1.5}))
	label := b.turned(-eyeRadius-18, 0)
	anchor := scene.End
	switch {
	case math.Abs(label.X-eyeMiddle.X) < eyeRadius/2:
		anchor = scene.Middle
	case label.X > eyeMiddle.X:
		anchor = scene.Start
	}
	if label.Y < eyeMiddle.Y-eyeRadius/2 {
		label.Y -= 4
	} else if label.Y > eyeMiddle.Y+eyeRadius/2 {
		label.Y += 14
	} else {
		label.Y += 5
	}
	g.Add(&scene.Text{At: label, Value: "macula", Size: labelSize, Bold: true, Anchor: anchor, Colour: ink, Halo: paper})
	return g
}

// arc samples a circle clockwise from one angle to another, radians from +x.
func arc(middle scene.Point, radius, from, to float64) []scene.Point {
	const steps = 96
	out := make([]scene.Point, steps+1)
	for i := range out {
		sine, cosine := math.Sincos(from + (to-from)*float64(i)/steps)
		out[i] = scene.Point{X: middle.X + radius*cosine, Y: middle.Y + radius*sine}
	}
	return out
}

// gravity draws the arrow and says what the lines are.
func (b BubbleEye) gravity() *scene.Group {
	g := &scene.Group{Name: "gravity"}
	x, y := 34.0, 300.0
	stroke := scene.Stroke{Colour: soft, Width: 2}
	g.Add(scene.Line(stroke, scene.Point{X: x, Y: y}, scene.Point{X: x, Y: y + 52}),
		scene.Line(stroke, scene.Point{X: x - 6, Y: y + 42}, scene.Point{X: x, Y: y + 54}, scene.Point{X: x + 6, Y: y + 42}),
		&scene.Text{At: scene.Point{X: x + 12, Y: y + 40}, Value: "gravity", Size: smallSize, Colour: soft},
		&scene.Text{At: scene.Point{X: 12, Y: 24}, Value: fmt.Sprintf("%s, %s", sideWords(b.Side), b.Position.Name), Size: 16, Bold: true, Colour: ink},
		&scene.Text{At: scene.Point{X: 12, Y: bubbleEyeHeight - 10}, Value: fmt.Sprintf("%s, %s: %.0f %% of the cavity (%.0f to %.0f, dashed)", b.Agent, b.When, 100*b.Fill.Value, 100*b.Fill.Low, 100*math.Min(1, b.Fill.High)), Size: labelSize, Colour: ink, Halo: paper})
	return g
}

// onRetina places a direction on the drawn retina, by its angle from the fovea;
// false where it lies in front of the edge.
func onRetina(d eye.Direction) (scene.Point, bool) {
	angle := math.Acos(math.Max(-1, math.Min(1, -d.Z))) * 180 / math.Pi
	side := math.Hypot(d.X, d.Y)
	if side == 0 {
		return retinaMiddle, angle < 90
	}
	r := retinaRadius * angle / retinaEdgeDeg
	return scene.Point{X: retinaMiddle.X + r*d.X/side, Y: retinaMiddle.Y - r*d.Y/side}, angle <= retinaEdgeDeg
}

// retina draws the wall seen from the front of the eye with what is covered.
func (b BubbleEye) retina(up eye.Direction) (*scene.Group, error) {
	g := &scene.Group{Name: "retina"}
	g.Add(scene.Disc(retinaMiddle, retinaRadius, paper, scene.Stroke{}))
	x, err := eye.HeightOfFill(math.Max(0, math.Min(1, b.Fill.Value)))
	if err != nil {
		return nil, err
	}
	if covered := coveredRuns(up, 2*math.Asin(math.Sqrt(x))); len(covered) > 0 {
		g.Add(&scene.Path{Subpaths: covered, Fill: gasArea})
	}
	g.Add(scene.Ring(retinaMiddle, retinaRadius, scene.Stroke{Colour: ink, Width: 2}))
	for hour := 1; hour <= 12; hour++ {
		sine, cosine := math.Sincos(float64(hour) * math.Pi / 6)
		at := func(r float64) scene.Point {
			return scene.Point{X: retinaMiddle.X + r*sine, Y: retinaMiddle.Y - r*cosine}
		}
		g.Add(scene.Line(scene.Stroke{Colour: ink, Width: 1}, at(retinaRadius-5), at(retinaRadius+2)))
		if hour%3 == 0 {
			p := at(retinaRadius + 15)
			g.Add(&scene.Text{At: scene.Point{X: p.X, Y: p.Y + 4}, Value: fmt.Sprint(hour), Size: smallSize, Anchor: scene.Middle, Colour: soft})
		}
	}
	if sphere, err := eye.SphereOfVolume(5); err == nil { // only the place of the disc's mark depends on it
		if disc, err := eye.DiscDirection(b.Side, sphere); err == nil {
			if p, in := onRetina(disc); in {
				g.Add(scene.Disc(p, 7, yellow, scene.Stroke{Colour: ink, Width: 1}))
			}
		}
	}
	for i, t := range b.Targets {
		p, in := onRetina(t.Direction)
		if !in {
			continue
		}
		g.Add(scene.Ring(p, math.Max(5, retinaRadius*t.MarginDeg/retinaEdgeDeg), scene.Stroke{Colour: ink, Width: 1.5}), scene.Disc(p, 3, orange, scene.Stroke{Colour: ink, Width: 1}))
		if i > 0 {
			g.Add(&scene.Text{At: scene.Point{X: p.X, Y: p.Y - 14}, Value: t.Name, Size: smallSize, Anchor: scene.Middle, Colour: ink, Halo: paper})
		}
	}
	g.Add(&scene.Text{At: scene.Point{X: retinaMiddle.X, Y: 24}, Value: "Retina touched by the bubble", Size: labelSize, Bold: true, Anchor: scene.Middle, Colour: ink},
		&scene.Text{At: scene.Point{X: retinaMiddle.X, Y: bubbleEyeHeight - 10}, Value: "as seen with the patient facing you, to the ora", Size: smallSize, Anchor: scene.Middle, Colour: soft})
	return g, nil
}

// coveredRuns are the outlines of the drawn retina within the angle alpha of the top.
// On the ray of a clock angle φ the height of a point at the angle e from the fovea is
//
//	A·cos e + B·sin e = R·cos(e − ψ),   A = −up.Z,   B = up.X·sin φ + up.Y·cos φ,
//
// and covered where it is at least cos α: between ψ − δ and ψ + δ, cos δ = cos α / R.
// Neighbouring rays that are covered make one outline, outer ends forth and inner
// ends back; the even-odd rule takes an inner hole out. Where the cap is more than
// half of the sphere, the whole retina is drawn and what is left free is taken out:
// a cap of at most half meets a ray in one stretch, because the retina ends before π.
func coveredRuns(up eye.Direction, alpha float64) []scene.Subpath {
	if alpha <= math.Pi/2 {
		return capRuns(up, alpha)
	}
	whole := scene.Subpath{Closed: true, Points: arc(retinaMiddle, retinaRadius, 0, 2*math.Pi)}
	return append([]scene.Subpath{whole}, capRuns(eye.Direction{X: -up.X, Y: -up.Y, Z: -up.Z}, math.Pi-alpha)...)
}

// capRuns are the outlines of a cap of at most half of the sphere.
func capRuns(up eye.Direction, alpha float64) []scene.Subpath {
	const rays = 180
	var runs []scene.Subpath
	var outer, inner []scene.Point
	closeRun := func() {
		if len(outer) > 1 {
			slices.Reverse(inner)
			runs = append(runs, scene.Subpath{Closed: true, Points: append(outer, inner...)})
		}
		outer, inner = nil, nil
	}
	start := 0 // begin at a ray that is not covered, so that no run is cut in two
	for i := range rays {
		if _, _, is := coveredOnRay(up, alpha, 2*math.Pi*float64(i)/rays); !is {
			start = i
			break
		}
	}
	for i := range rays + 1 {
		phi := 2 * math.Pi * float64(start+i) / rays
		near, far, is := coveredOnRay(up, alpha, phi)
		if !is {
			closeRun()
			continue
		}
		outer, inner = append(outer, retinaAt(phi, far)), append(inner, retinaAt(phi, near))
	}
	closeRun()
	return runs
}

// coveredOnRay is the stretch of a ray that lies in a cap, radians from the fovea.
func coveredOnRay(up eye.Direction, alpha, phi float64) (near, far float64, is bool) {
	sine, cosine := math.Sincos(phi)
	a, b := -up.Z, up.X*sine+up.Y*cosine
	r, psi := math.Hypot(a, b), math.Atan2(b, a)
	delta := math.Pi
	switch share := math.Cos(alpha); {
	case share > r:
		return 0, 0, false
	case share > -r:
		delta = math.Acos(share / r)
	}
	edge := retinaEdgeDeg * math.Pi / 180
	for _, turn := range []float64{-2 * math.Pi, 0, 2 * math.Pi} {
		from, to := math.Max(0, psi-delta+turn), math.Min(edge, psi+delta+turn)
		if to-from > far-near {
			near, far, is = from, to, true
		}
	}
	return near, far, is
}

// retinaAt places a point of the retina by its clock angle and its angle from the
// fovea, both in radians.
func retinaAt(phi, e float64) scene.Point {
	sine, cosine := math.Sincos(phi)
	r := retinaRadius * e / (retinaEdgeDeg * math.Pi / 180)
	return scene.Point{X: retinaMiddle.X + r*sine, Y: retinaMiddle.Y - r*cosine}
}

// words say what the drawing shows.
func (b BubbleEye) words() (string, error) {
	text := fmt.Sprintf("%s, %s, %s. %s takes up %.0f per cent of the cavity, between %.0f and %.0f.", sideWords(b.Side), b.Position.Name, b.When, b.Agent, 100*b.Fill.Value, 100*b.Fill.Low, 100*math.Min(1, b.Fill.High))
	for _, t := range b.Targets {
		c, err := CoverOf(b.Position, t, b.Fill)
		if err != nil {
			return "", err
		}
		text += fmt.Sprintf(" The %s is %s.", t.Name, c)
	}
	return text, nil
}

// Cover says whether a bubble of an uncertain size touches a target.
type Cover string

// What can be said.
const (
	Covered       Cover = "covered"
	MayBeCovered  Cover = "perhaps covered: the interval of the fill says both"
	NotCovered    Cover = "not covered"
	CoverNotKnown Cover = "not known"
)

// CoverOf asks [tamponade.Covers] at the middle and both ends of the fill.
func CoverOf(p tamponade.Position, t tamponade.Target, fill estimate.Estimate) (Cover, error) {
	if !fill.Known() {
		return CoverNotKnown, nil
	}
	count := 0
	for _, f := range []float64{fill.Low, fill.High} {
		is, err := tamponade.Covers(p, t, math.Max(0, math.Min(1, f)))
		if err != nil {
			return CoverNotKnown, err
		}
		if is {
			count++
		}
	}
	return []Cover{NotCovered, MayBeCovered, Covered}[count], nil
}
