package hole

import (
	"math"
	"slices"

	"limitans/oct"
)

// lumen is the hole as a region below a lid: the open space over one footprint,
// loose fragments in it included.
type lumen struct {
	field    *field
	geometry geometry
	inside   region
	lid      float64 // height of the lid in steps of depth
	walls    []wallRow
	first    int // first slice with any part of the lumen
	last     int
	cut      cutSides
	bound    []bound
	// widenedUM is how far the walls lie behind their visible edge.
	widenedUM float64
}

// cutSides tells where the lumen leaves the scan.
type cutSides struct{ columns, slices, top bool }

func (c cutSides) any() bool { return c.columns || c.slices || c.top }

// wallRow is the lumen at one slice and height: the columns, with fractions,
// of its two walls; NaN where the lumen is closed.
type wallRow struct{ left, right float64 }

func (w wallRow) open() bool { return !math.IsNaN(w.left) }

func (w wallRow) width() float64 { return w.right - w.left }

var closed = wallRow{math.NaN(), math.NaN()}

// wall returns the walls at a slice and height.
func (l *lumen) wall(slice, k int) wallRow { return l.walls[slice*l.field.heights+k] }

// newLumen collects the lumen over a footprint below a lid and finds its walls.
func newLumen(f *field, v *oct.Volume, g geometry, open region, p footprint, lid float64) *lumen {
	l := &lumen{field: f, geometry: g, lid: lid, first: f.slices, last: -1}
	l.bound = l.bounds(p)
	l.collect(open, p, v.Pattern == oct.PatternRaster)
	l.fillFragments()
	l.noteCuts(v.Pattern)
	l.findWalls()
	return l
}

// top is the number of whole height steps below the lid.
func (l *lumen) top() int { return min(int(math.Ceil(l.lid)), l.field.heights-1) }

// collect spreads from the footprint through open space below the lid, from
// slice to slice too when they lie side by side.
func (l *lumen) collect(open region, p footprint, across bool) {
	f := l.field
	l.inside = make(region, len(open))
	top := l.top()
	strideColumn, strideSlice := f.heights, f.heights*f.columns
	var stack []int32
	push := func(i int) {
		if !open[i] || l.inside[i] {
			return
		}
		b, k := l.bound[i/strideSlice], i%f.heights
		if c := i / strideColumn % f.columns; k > b.top || ((c < b.from || c > b.to) && float64(k) >= f.retinaTop[i/strideColumn]) {
			return
		}
		l.inside[i] = true
		stack = append(stack, int32(i))
	}
	reach := max(1, int(math.Round(l.geometry.heightSteps(contactUM))))
	for _, place := range p.places {
		for k := range min(reach, top) {
			push(f.index(place[0], place[1], k))
		}
	}
	for len(stack) > 0 {
		i := int(stack[len(stack)-1])
		stack = stack[:len(stack)-1]
		k, c, slice := i%f.heights, i/strideColumn%f.columns, i/strideSlice
		if k > 0 {
			push(i - 1)
		}
		if k+1 <= top {
			push(i + 1)
		}
		if c > 0 {
			push(i - strideColumn)
		}
		if c+1 < f.columns {
			push(i + strideColumn)
		}
		if across && slice > 0 {
			push(i - strideSlice)
		}
		if across && slice+1 < f.slices {
			push(i + strideSlice)
		}
		l.first, l.last = min(l.first, slice), max(l.last, slice)
	}
}

// fillFragments adds to the lumen what floats in it: tissue that hangs together
// with no tissue beyond the lumen's own columns in its slice.
func (l *lumen) fillFragments() {
	f := l.field
	top := l.top()
	for slice := l.first; slice <= l.last; slice++ {
		from, to := f.columns, -1
		for c := range f.columns {
			base := f.index(slice, c, 0)
			for k := 0; k <= top; k++ {
				if l.inside[base+k] {
					from, to = min(from, c), max(to, c)
					break
				}
			}
		}
		if to < from {
			continue
		}
		l.fillSlice(slice, from, to, top)
	}
}

// fillSlice fills the enclosed tissue of one slice between two columns.
func (l *lumen) fillSlice(slice, from, to, top int) {
	f := l.field
	width, height := to-from+1, top+1
	attached := make([]bool, width*height)
	var stack []int
	push := func(c, k int) {
		if c < from || c > to || k < 0 || k > top || attached[(c-from)*height+k] || l.inside[f.index(slice, c, k)] {
			return
		}
		attached[(c-from)*height+k] = true
		stack = append(stack, (c-from)*height+k)
	}
	for k := 0; k <= top; k++ {
		push(from, k)
		push(to, k)
	}
	for c := from; c <= to; c++ {
		push(c, top)
	}
	for len(stack) > 0 {
		i := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		c, k := i/height+from, i%height
		push(c-1, k)
		push(c+1, k)
		push(c, k-1)
		push(c, k+1)
	}
	for i, a := range attached {
		if !a {
			l.inside[f.index(slice, i/height+from, i%height)] = true
		}
	}
}

// noteCuts tells where the lumen touches the border of the scan. The upper rows
// count only where the lid lies above the frame.
func (l *lumen) noteCuts(pattern oct.Pattern) {
	f := l.field
	top := l.top()
	for slice := l.first; slice <= l.last; slice++ {
		for _, c := range [2]int{0, f.columns - 1} {
			base := f.index(slice, c, 0)
			for k := 0; k <= top; k++ {
				l.cut.columns = l.cut.columns || l.inside[base+k]
			}
		}
		for c := range f.columns {
			if f.floor[slice*f.columns+c] < l.lid && l.inside[f.index(slice, c, 0)] {
				l.cut.top = true
			}
		}
	}
	if pattern == oct.PatternRaster && f.slices > 1 {
		l.cut.slices = l.first == 0 || l.last == f.slices-1
	}
}

// findWalls sets the walls of every slice and height.
func (l *lumen) findWalls() {
	f := l.field
	l.walls = make([]wallRow, f.slices*f.heights)
	for i := range l.walls {
		l.walls[i] = closed
	}
	top := l.top()
	eachSlice(f, l.geometry, func(slice int) {
		if slice < l.first || slice > l.last {
			return
		}
		profile := make([]float64, f.columns)
		for k := 0; k <= top; k++ {
			from, to := l.widestRun(slice, k)
			if from > to {
				continue
			}
			l.profileAt(slice, k, profile)
			l.walls[slice*f.heights+k] = l.place(profile, from, to)
		}
		l.smoothWalls(slice, top)
		l.extendToFloor(slice)
	})
}

// extendToFloor carries the walls of a slice straight down from where they can
// be seen to the epithelium, whose glare hides their lowest part.
func (l *lumen) extendToFloor(slice int) {
	g := l.geometry
	from := l.glare(slice)
	to := from + max(3, int(math.Round(g.heightSteps(baseFitUM))))
	rows := l.walls[slice*l.field.heights : (slice+1)*l.field.heights]
	var heights, left, right []float64
	for k := from; k <= min(to, l.top()); k++ {
		if !rows[k].open() || (len(heights) > 0 && !overlap(rows[k-1], rows[k])) {
			break
		}
		heights, left, right = append(heights, float64(k)), append(left, rows[k].left), append(right, rows[k].right)
	}
	if len(heights) < 3 {
		return
	}
	// A wall leans outward by 0 to 45° there; anything else is the glare's own edge.
	steepest := g.depthUM / g.lateralUM
	leftAt, leftSlope := fitLine(heights, left)
	rightAt, rightSlope := fitLine(heights, right)
	lean := func(at, slope, k, outward float64) float64 {
		return at + slope*float64(from) + outward*min(max(outward*slope, 0), steepest)*(k-float64(from))
	}
	for k := range from {
		w := wallRow{lean(leftAt, leftSlope, float64(k), 1), lean(rightAt, rightSlope, float64(k), -1)}
		if w.width() <= 0 {
			w = closed
		}
		rows[k] = w
	}
}

// widestRun is the widest stretch of the lumen at a slice and height.
func (l *lumen) widestRun(slice, k int) (from, to int) {
	f := l.field
	from, to = 0, -1
	start := -1
	for c := 0; c <= f.columns; c++ {
		in := c < f.columns && l.inside[f.index(slice, c, k)]
		if in && start < 0 {
			start = c
		}
		if !in && start >= 0 {
			if c-1-start > to-from {
				from, to = start, c-1
			}
			start = -1
		}
	}
	return from, to
}

// profileAt averages brightness over the heights around k.
func (l *lumen) profileAt(slice, k int, out []float64) {
	f := l.field
	half := max(1, l.geometry.rows(wallMeanUM))
	low, high := max(0, k-half), min(f.heights-1, k+half)
	// The window stays symmetric near the floor, where the wall leans most.
	if reach := min(k-low, high-k); reach < half {
		low, high = k-reach, k+reach
	}
	for c := range out {
		column := f.column(slice, c)
		sum := 0.0
		for j := low; j <= high; j++ {
			sum += fromByte(column[j])
		}
		out[c] = sum / float64(high-low+1)
	}
}

// place puts the two walls of a run where the profile crosses half of the step
// between the lumen and the tissue just behind the wall: at the visible edge.
func (l *lumen) place(profile []float64, from, to int) wallRow {
	g := l.geometry
	left := crossLevel(profile, from, -1, l.stepLevel(profile, from, -1, to-from), g.columns(30))
	right := crossLevel(profile, to, 1, l.stepLevel(profile, to, 1, to-from), g.columns(30))
	return wallRow{left, right}
}

// stepLevel is the middle between the brightness of the lumen and that of the
// tissue from 10 to 45 µm behind the wall at column c; outward is the direction
// into the tissue.
func (l *lumen) stepLevel(profile []float64, c, outward, width int) float64 {
	g := l.geometry
	near, far := g.columns(10), g.columns(45)
	tissue, n := 0.0, 0
	for d := near; d <= far; d++ {
		if k := c + outward*d; k >= 0 && k < len(profile) {
			tissue += profile[k]
			n++
		}
	}
	if n == 0 {
		return 0.5
	}
	tissue = min(max(tissue/float64(n), faintestWall), 1.2)
	lumen, n := 0.0, 0
	for d := 0; d <= min(far, width/2); d++ {
		if k := c - outward*d; d >= near || 2*near > width {
			lumen += profile[k]
			n++
		}
	}
	if n > 0 {
		lumen /= float64(n)
	}
	return (tissue + min(max(lumen, 0), 0.25)) / 2
}

// crossLevel is the place nearest to column c where the profile rises through
// level when going outward, within reach; c itself where it does not.
func crossLevel(profile []float64, c, outward int, level float64, reach int) float64 {
	best, found := float64(c), false
	for d := -reach; d <= reach; d++ {
		a, b := c+outward*d, c+outward*(d+1)
		if min(a, b) < 0 || max(a, b) >= len(profile) {
			continue
		}
		if profile[a] < level && profile[b] >= level {
			x := float64(a) + float64(outward)*(level-profile[a])/(profile[b]-profile[a])
			if !found || math.Abs(x-float64(c)) < math.Abs(best-float64(c)) {
				best, found = x, true
			}
		}
	}
	return best
}

// smoothWalls takes single-row noise out of the walls of a slice, stretch by
// stretch of neighbouring heights.
func (l *lumen) smoothWalls(slice, top int) {
	rows := l.walls[slice*l.field.heights:][: top+1 : top+1]
	half := max(1, l.geometry.rows(wallSmoothUM))
	for from := 0; from <= top; {
		if !rows[from].open() {
			from++
			continue
		}
		to := from
		for to+1 <= top && rows[to+1].open() && overlap(rows[to], rows[to+1]) {
			to++
		}
		left, right := make([]float64, to-from+1), make([]float64, to-from+1)
		for k := from; k <= to; k++ {
			left[k-from], right[k-from] = rows[k].left, rows[k].right
		}
		l.dropFragments(slice, from, left, -1)
		l.dropFragments(slice, from, right, 1)
		left, right = runningMean(runningMedian(left, half), half), runningMean(runningMedian(right, half), half)
		for k := from; k <= to; k++ {
			rows[k] = wallRow{left[k-from], right[k-from]}
		}
		from = to + 1
	}
}

// glare is the height, in steps, above which the middle of the lumen is as dark
// as its median higher up within glareStep: below it the epithelium shines into
// the lumen and the walls cannot be seen. It is at most baseFromUM.
func (l *lumen) glare(slice int) int {
	f, g := l.field, l.geometry
	limit := int(math.Ceil(g.heightSteps(baseFromUM)))
	w := l.wall(slice, min(limit, l.top()))
	if !w.open() {
		return limit
	}
	quarter := w.width() / 4
	from, to := int(math.Ceil(w.left+quarter)), int(math.Floor(w.right-quarter))
	middle := func(k int) float64 {
		var values []float64
		for c := max(0, from); c <= min(f.columns-1, to); c++ {
			values = append(values, fromByte(f.value[f.index(slice, c, k)]))
		}
		return median(values)
	}
	dark := middle(min(limit+int(g.heightSteps(20)), l.top()))
	for k := limit; k > 0; k-- {
		if !(middle(k) < dark+glareStep) || !l.wall(slice, k-1).open() {
			return k
		}
	}
	return 1
}

func overlap(a, b wallRow) bool { return a.left < b.right && b.left < a.right }

// meanInside is the mean brightness of the lumen's core: at least coreUM from
// its walls, the floor and the lid. Vitreous gives about 0.
func (l *lumen) meanInside() float64 {
	f, g := l.field, l.geometry
	margin := g.columns(coreUM)
	var values []float64
	for slice := l.first; slice <= l.last; slice++ {
		for k := max(1, g.rows(coreUM)); k < l.top(); k++ {
			w := l.wall(slice, k)
			if !w.open() {
				continue
			}
			from, to := int(math.Ceil(w.left))+margin, int(math.Floor(w.right))-margin
			if from > to {
				from = int(math.Round((w.left + w.right) / 2))
				to = from
			}
			for c := max(0, from); c <= min(f.columns-1, to); c++ {
				values = append(values, fromByte(f.value[f.index(slice, c, k)]))
			}
		}
	}
	// The median, so that fragments in the lumen do not count.
	slices.Sort(values)
	if len(values) == 0 {
		return math.NaN()
	}
	return values[len(values)/2]
}
