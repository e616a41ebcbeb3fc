package hole

import (
	"math"
	"slices"
	"sync"

	"limitans/oct"
)

// region marks the samples of a field, same index as field.value.
type region []bool

// openSpace marks the dark space that hangs together with the vitreous: the
// vitreous itself and every opening it can flow into. The space is flooded
// through its eroded form, so that it cannot leak through a gap of one or two
// noisy samples, and then grown back; halfUM is the half-width across of what it
// must have room for.
func openSpace(f *field, v *oct.Volume, g geometry, halfUM float64) region {
	erodeColumns, erodeHeights := int(halfUM/g.lateralUM), max(1, int(openingUM/g.depthUM))
	if halfUM > 0 {
		erodeColumns = max(1, erodeColumns)
	}
	passable := func(least float64) (dark, eroded region) {
		dark = darkerThan(f, least)
		eroded = make(region, len(dark))
		eachSlice(f, g, func(slice int) { erodeSlice(f, dark, eroded, slice, erodeColumns, erodeHeights) })
		return dark, eroded
	}
	dark, eroded := passable(darkBelow)
	reached := make(region, len(dark))
	floodFromTop(f, eroded, reached)
	if across := acrossUpTo(v, g); across > 0 {
		// Under a roof nothing but its own darkness tells the undermined base from
		// a dim outer nuclear layer, so it must be darker there.
		_, darker := passable(darkUnderRoof)
		floodAcross(f, darker, reached, across)
	}
	eachSlice(f, g, func(slice int) { growSlice(f, reached, dark, slice, erodeColumns, erodeHeights) })
	return reached
}

// darkerThan marks what can be open space: darker than least, or than what noise
// makes of vitreous.
func darkerThan(f *field, least float64) region {
	dark := make(region, len(f.value))
	n := f.columns * f.heights
	for slice := range f.slices {
		threshold := toByte(min(max(least, darkNoise*f.noise[slice]), darkAtMost))
		for i := slice * n; i < (slice+1)*n; i++ {
			dark[i] = f.value[i] < threshold
		}
	}
	return dark
}

// acrossUpTo is the height below which open space is followed from slice to
// slice: close to the epithelium, where no cyst lies and an undermined base runs
// on under a roof that is closed in its own slice. 0 for slices that do not lie
// side by side.
func acrossUpTo(v *oct.Volume, g geometry) int {
	if v.Pattern != oct.PatternRaster || g.sliceUM > sameHoleUM {
		return 0
	}
	return int(math.Round(g.heightSteps(undermineUM)))
}

// eachSlice runs work for every slice on all processors.
func eachSlice(f *field, g geometry, work func(slice int)) {
	var group sync.WaitGroup
	next := make(chan int)
	for range g.workers {
		group.Go(func() {
			for slice := range next {
				work(slice)
			}
		})
	}
	for slice := range f.slices {
		next <- slice
	}
	close(next)
	group.Wait()
}

// erodeSlice keeps samples whose whole window of 2·a+1 columns by 2·b+1 heights
// is set; outside the frame counts as set above and beside, so that the space
// is not closed off by the frame.
func erodeSlice(f *field, in, out region, slice, a, b int) {
	along := make(region, f.columns*f.heights)
	for c := range f.columns {
		base := f.index(slice, c, 0)
		run := b // heights set so far below k = 0: the floor is no obstacle to itself
		for k := range f.heights + b {
			if k >= f.heights || in[base+k] {
				run++
			} else {
				run = 0
			}
			if k-b >= 0 && run >= 2*b+1 {
				along[c*f.heights+k-b] = true
			}
		}
	}
	for k := range f.heights {
		run := a
		for c := range f.columns + a {
			if c >= f.columns || along[c*f.heights+k] {
				run++
			} else {
				run = 0
			}
			if c-a >= 0 && run >= 2*a+1 {
				out[f.index(slice, c-a, k)] = true
			}
		}
	}
}

// floodFromTop spreads from the top of the field through passable samples of
// each slice.
func floodFromTop(f *field, passable, reached region) {
	fl := flood{f: f, passable: passable, reached: reached}
	for slice := range f.slices {
		if !f.usable[slice] {
			continue
		}
		for c := range f.columns {
			fl.push(f.index(slice, c, f.heights-1))
		}
	}
	fl.run(0)
}

// floodAcross spreads on from what was reached below the height across, to the
// same place in the next slice and from there through passable samples.
func floodAcross(f *field, passable, reached region, across int) {
	fl := flood{f: f, passable: passable, reached: reached}
	for slice := range f.slices {
		for c := range f.columns {
			base := f.index(slice, c, 0)
			for k := range min(across, f.heights) {
				if reached[base+k] {
					fl.stack = append(fl.stack, int32(base+k))
				}
			}
		}
	}
	fl.run(across)
}

// flood is a region that grows over passable samples.
type flood struct {
	f                 *field
	passable, reached region
	stack             []int32
}

func (fl *flood) push(i int) {
	if fl.passable[i] && !fl.reached[i] {
		fl.reached[i] = true
		fl.stack = append(fl.stack, int32(i))
	}
}

// run spreads within slices and, below the height across, between them.
func (fl *flood) run(across int) {
	f := fl.f
	strideColumn, strideSlice := f.heights, f.heights*f.columns
	for len(fl.stack) > 0 {
		i := int(fl.stack[len(fl.stack)-1])
		fl.stack = fl.stack[:len(fl.stack)-1]
		k, c, slice := i%f.heights, i/strideColumn%f.columns, i/strideSlice
		if k > 0 {
			fl.push(i - 1)
		}
		if k+1 < f.heights {
			fl.push(i + 1)
		}
		if c > 0 {
			fl.push(i - strideColumn)
		}
		if c+1 < f.columns {
			fl.push(i + strideColumn)
		}
		if k >= across {
			continue
		}
		if slice > 0 && f.usable[slice-1] {
			fl.push(i - strideSlice)
		}
		if slice+1 < f.slices && f.usable[slice+1] {
			fl.push(i + strideSlice)
		}
	}
}

// growSlice adds to reached what is dark within the window that erosion took.
func growSlice(f *field, reached, dark region, slice, a, b int) {
	along := make(region, f.columns*f.heights)
	far := math.MaxInt32
	for c := range f.columns {
		base := f.index(slice, c, 0)
		since := far
		mark := func(k int) {
			if reached[base+k] {
				since = 0
			} else if since < far {
				since++
			}
			if since <= b {
				along[c*f.heights+k] = true
			}
		}
		for k := range f.heights {
			mark(k)
		}
		since = far
		for k := f.heights - 1; k >= 0; k-- {
			mark(k)
		}
	}
	grown := make(region, f.columns*f.heights)
	for k := range f.heights {
		since := far
		mark := func(c int) {
			if along[c*f.heights+k] {
				since = 0
			} else if since < far {
				since++
			}
			if since <= a {
				grown[c*f.heights+k] = true
			}
		}
		for c := range f.columns {
			mark(c)
		}
		since = far
		for c := f.columns - 1; c >= 0; c-- {
			mark(c)
		}
	}
	base := f.index(slice, 0, 0)
	for i, g := range grown {
		if g && dark[base+i] {
			reached[base+i] = true
		}
	}
}

// footprint is one place where open space reaches the epithelium: a set of
// slices and columns that touch each other.
type footprint struct {
	places                [][2]int // slice, column
	firstSlice, lastSlice int
	firstColumn           int
	lastColumn            int
}

// footprints returns the places where open space comes within contactUM of the
// epithelium, largest first by number of samples. A hole seen in one slice and in
// the next is one hole, however far apart the slices are.
func footprints(f *field, open region, g geometry) []footprint {
	contact := make([]bool, f.slices*f.columns)
	reach := max(1, int(math.Round(g.heightSteps(contactUM))))
	for slice := range f.slices {
		for c := range f.columns {
			base := f.index(slice, c, 0)
			for k := range min(reach, f.heights) {
				if open[base+k] {
					contact[slice*f.columns+c] = true
					break
				}
			}
		}
	}
	var out []footprint
	for i, is := range contact {
		if is {
			out = append(out, takeFootprint(f, contact, i))
		}
	}
	slices.SortStableFunc(out, func(a, b footprint) int { return len(b.places) - len(a.places) })
	return out
}

// takeFootprint collects and clears the connected part of contact around i.
func takeFootprint(f *field, contact []bool, i int) footprint {
	p := footprint{firstSlice: f.slices, firstColumn: f.columns, lastSlice: -1, lastColumn: -1}
	stack := []int{i}
	contact[i] = false
	for len(stack) > 0 {
		i := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		slice, c := i/f.columns, i%f.columns
		p.places = append(p.places, [2]int{slice, c})
		p.firstSlice, p.lastSlice = min(p.firstSlice, slice), max(p.lastSlice, slice)
		p.firstColumn, p.lastColumn = min(p.firstColumn, c), max(p.lastColumn, c)
		for _, d := range [4][2]int{{0, 1}, {0, -1}, {1, 0}, {-1, 0}} {
			s, k := slice+d[0], c+d[1]
			if s < 0 || s >= f.slices || k < 0 || k >= f.columns || !contact[s*f.columns+k] {
				continue
			}
			contact[s*f.columns+k] = false
			stack = append(stack, s*f.columns+k)
		}
	}
	return p
}
