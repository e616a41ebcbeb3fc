package phantom

import (
	"math"
	"math/rand/v2"
	"runtime"
	"sync"

	"limitans/oct"
)

// nodeRows is the distance along a column at which the geometry is computed;
// between nodes it is interpolated. With the largest tilt, 8 samples of 4 µm
// move 7 µm sideways.
const nodeRows = 8

// drawing holds what all slices share.
type drawing struct {
	p        *Parameters
	f        *frame
	s        *shape
	t        *tissue
	layouts  *layoutGrid
	features *features
	grain    *grain
	blur     [2][]float32 // half kernels along depth and lateral
	display  *displayTable
	texture  uint64
}

// sheet is the working memory of one goroutine: column after column.
type sheet struct {
	signal, scratch, noise []float32
	choroid, retina        []float32 // texture factors at nodes, every textureColumns
	nodesPerColumn         int
	nodes                  []node
}

const textureColumns = 4

// node is a place along a column.
type node struct {
	layout
	x, y, v float32
	near    bool // the wall of the hole may be close
	texture [2]float32
}

func (d *drawing) render(volume *oct.Volume) {
	workers := min(runtime.GOMAXPROCS(0), d.p.Slices)
	var group sync.WaitGroup
	for w := range workers {
		group.Go(func() {
			sheet := d.newSheet()
			for slice := w; slice < d.p.Slices; slice += workers {
				d.slice(sheet, slice, volume.Slice(slice))
			}
		})
	}
	group.Wait()
}

func (d *drawing) newSheet() *sheet {
	n := d.p.Rows * d.p.Columns
	nodes := (d.p.Rows+nodeRows-1)/nodeRows + 1
	textures := nodes * ((d.p.Columns+textureColumns-1)/textureColumns + 1)
	return &sheet{
		signal: make([]float32, n), scratch: make([]float32, n), noise: make([]float32, n),
		choroid: make([]float32, textures), retina: make([]float32, textures),
		nodesPerColumn: nodes, nodes: make([]node, nodes),
	}
}

// slice draws one slice.
func (d *drawing) slice(sheet *sheet, slice int, out []uint16) {
	d.textures(sheet, slice)
	gains := newStream(d.p.Seed+uint64(slice)*0x632be59bd9b4e019, streamColumns)
	drift := 0.0
	for c := range d.p.Columns {
		drift = 0.97*drift + 0.24*gains.NormFloat64() // slow change of the coupling along the scan
		gain := d.p.SignalLevel * (1 + 0.03*drift + 0.015*gains.NormFloat64())
		d.column(sheet, slice, c, float32(gain), sheet.signal[c*d.p.Rows:(c+1)*d.p.Rows])
	}
	d.features.draw(d, sheet.signal, slice)
	d.blurSlice(sheet)
	if d.grain.quiet {
		d.display.write(out, sheet.signal, nil, d.p, slice)
		return
	}
	source := rand.NewPCG(d.p.Seed^0x5851f42d4c957f2d, (streamNoise+uint64(slice))*0x9e3779b97f4a7c15)
	d.grain.fill(sheet.noise, sheet.scratch, d.p.Columns, d.p.Rows, source)
	d.display.write(out, sheet.signal, sheet.noise, d.p, slice)
}

// textures fills the factors by which retina and choroid are uneven.
func (d *drawing) textures(sheet *sheet, slice int) {
	at := 0
	y := d.f.imageY(slice)
	for c := 0; c < d.p.Columns+textureColumns; c += textureColumns {
		x := d.f.imageX(slice, float64(c))
		for k := range sheet.nodesPerColumn {
			w := d.f.imageW(slice, float64(k*nodeRows))
			px, py, v := d.f.retina(x, y, w)
			choroid, retina := 1.0, 1.0
			switch {
			case v < 60 && v > -choroidSpanUM:
				// Vessels of the choroid: dark lumens in bright stroma.
				coarse := valueNoise(px/130, py/130, v/48, d.texture)
				fine := valueNoise(px/45, py/45, v/24, d.texture+1)
				depth := math.Min(1, math.Max(0, -v-20)/50)
				choroid = expNear(depth*(1.1*coarse+0.35*fine)+0.14*fine) * (1 + 0.22*valueNoise(px/38, py/38, 0, d.texture+6))
			}
			if v > -40 && v < 700 {
				retina = 1 + 0.2*valueNoise(px/30, py/30, v/30, d.texture+2) + 0.15*valueNoise(px/140, py/140, v/60, d.texture+3)
			}
			sheet.choroid[at], sheet.retina[at] = float32(choroid), float32(retina)
			at++
		}
	}
}

// column computes the linear reflectivity along one A-scan.
func (d *drawing) column(sheet *sheet, slice, column int, gain float32, out []float32) {
	d.placeNodes(sheet, slice, column)
	shadow, shadowTop := d.features.shadow(d, slice, column)
	path := float32(0) // tissue crossed so far
	depthUM := float32(d.p.DepthUM)
	for k := 0; k < sheet.nodesPerColumn-1; k++ {
		a, b := &sheet.nodes[k], &sheet.nodes[k+1]
		first := k * nodeRows
		last := min(first+nodeRows, len(out))
		if a.v > a.top+3*depthUM && b.v > b.top+3*depthUM {
			clear(out[first:last])
			continue
		}
		near := a.near || b.near
		step := interval{a: a, b: b}
		step.prepare()
		for r := first; r < last; r++ {
			value, cover := d.sample(&step, near, path)
			path += cover * depthUM
			if step.at.v < shadowTop {
				value *= shadow
			}
			out[r] = value * gain
			step.next()
		}
	}
}

// placeNodes computes the geometry along a column.
func (d *drawing) placeNodes(sheet *sheet, slice, column int) {
	imageX, imageY := d.f.imageX(slice, float64(column)), d.f.imageY(slice)
	base := column / textureColumns * sheet.nodesPerColumn
	part := float32(column%textureColumns) / textureColumns
	reach := 0.0
	if d.s.h != nil {
		reach = math.Max(d.s.crestUM, d.s.baseUM+d.s.cuffUM) + d.s.waveMax*d.s.h.WallRoughnessUM + 60
	}
	for k := range sheet.nodes {
		w := d.f.imageW(slice, float64(k*nodeRows))
		x, y, v := d.f.retina(imageX, imageY, w)
		n := &sheet.nodes[k]
		n.x, n.y, n.v = float32(x), float32(y), float32(v)
		d.layouts.at(&n.layout, x, y)
		n.near = false
		if d.s.h != nil {
			rho, _, _ := d.s.elliptic(x, y)
			n.near = rho < reach
		}
		left, right := base+k, base+k+sheet.nodesPerColumn
		n.texture[0] = sheet.choroid[left] + part*(sheet.choroid[right]-sheet.choroid[left])
		n.texture[1] = sheet.retina[left] + part*(sheet.retina[right]-sheet.retina[left])
	}
}

// interval walks from one node to the next.
type interval struct {
	a, b *node
	at   node
	step node
	rise float32 // height of one sample measured across the inner surface
	fall float32 // height of one sample
}

func (i *interval) prepare() {
	const share = 1.0 / nodeRows
	i.at = *i.a
	i.step = node{
		x: (i.b.x - i.a.x) * share, y: (i.b.y - i.a.y) * share, v: (i.b.v - i.a.v) * share,
		layout: layout{
			top: (i.b.top - i.a.top) * share, plexiform: (i.b.plexiform - i.a.plexiform) * share,
			druse: (i.b.druse - i.a.druse) * share, floor: (i.b.floor - i.a.floor) * share,
			disorder: (i.b.disorder - i.a.disorder) * share, outerLost: (i.b.outerLost - i.a.outerLost) * share,
			fibre: (i.b.fibre - i.a.fibre) * share,
		},
		texture: [2]float32{(i.b.texture[0] - i.a.texture[0]) * share, (i.b.texture[1] - i.a.texture[1]) * share},
	}
	i.fall = -i.step.v
	i.rise = i.fall + i.step.top
	if i.rise < 0.25*i.fall {
		i.rise = 0.25 * i.fall
	}
}

func (i *interval) next() {
	i.at.x += i.step.x
	i.at.y += i.step.y
	i.at.v += i.step.v
	i.at.top += i.step.top
	i.at.plexiform += i.step.plexiform
	i.at.druse += i.step.druse
	i.at.floor += i.step.floor
	i.at.disorder += i.step.disorder
	i.at.outerLost += i.step.outerLost
	i.at.fibre += i.step.fibre
	i.at.texture[0] += i.step.texture[0]
	i.at.texture[1] += i.step.texture[1]
}

// sample returns the reflectivity at the walker's place and the share of the
// sample that is neurosensory retina. path is the tissue crossed above.
func (d *drawing) sample(step *interval, near bool, path float32) (value, cover float32) {
	n := &step.at
	height := n.v - n.druse
	deep := cover01(-height/step.fall + 0.5)
	if deep > 0 {
		under := max(-height, 0)
		value = d.t.below.at(under) * n.texture[0]
		if n.druse > 1 && under > epitheliumBandUM && n.v > -0.3*epitheliumBandUM {
			value = d.t.rim.at(0.2) * n.texture[1] // inside a druse
		}
		// Less tissue above, more light below: +3 dB under an open hole.
		value *= windowGain(path)
		if deep == 1 {
			return value, 0
		}
		value *= deep
	}
	cover = cover01((n.v-n.floor)/step.fall + 0.5)
	if n.floor-n.druse < 0.5 {
		cover = 1 - deep
	}
	if near {
		cover *= d.wallCover(float64(n.x), float64(n.y), float64(n.v), step)
	} else {
		cover *= cover01((n.top-n.v)/step.rise + 0.5)
	}
	if cover > 0 {
		value += cover * d.t.retina(&n.layout, min(n.v, n.top)) * n.texture[1]
	}
	return value, cover
}

func windowGain(path float32) float32 {
	gain := 1 + (normalPathUM-path)*(1.0/normalPathUM)
	return min(max(gain, 0.5), 1.6)
}

// expNear is (1 + x/8)⁸, near enough to eˣ for a texture.
func expNear(x float64) float64 {
	e := math.Max(0, 1+x/8)
	e *= e
	e *= e
	return e * e
}

func cover01(x float32) float32 { return min(max(x, 0), 1) }

// wallCover returns the share of a sample near a hole that is retina.
func (d *drawing) wallCover(x, y, v float64, step *interval) float32 {
	s := d.s
	surface := func() float32 { return cover01((step.at.top-step.at.v)/step.rise + 0.5) }
	rho, small, large := s.elliptic(x, y)
	rough := s.h.WallRoughnessUM * s.waveMax
	if v <= s.waistV {
		radius := s.lowerRadius(v)
		switch {
		case rho-radius > rough+40:
			return surface()
		case rho-radius < -rough-40:
			return 0
		}
	} else if rho > s.crestUM+rough+20 {
		return surface()
	}
	if rough > 0 {
		rho -= s.h.WallRoughnessUM * s.wave(math.Atan2(large, small), v)
	}
	gradient := math.Sqrt(small*small+large*large/(s.h.OvalityRatio*s.h.OvalityRatio)) / math.Max(1e-9, math.Sqrt(small*small+large*large))
	return d.coverAt(x, y, v, rho, gradient, step, surface)
}

// coverAt turns the distance from the wall into a share, for a box-shaped
// sample; gradient is |∇rho|.
func (d *drawing) coverAt(x, y, v, rho, gradient float64, step *interval, surface func() float32) float32 {
	s, lateral, depth := d.s, d.p.LateralUM, d.p.DepthUM
	var distance float64 // towards the retina, in units of gradient · µm
	var across, along float64
	if v <= s.waistV {
		distance = rho - s.lowerRadius(v)
		across, along = gradient, math.Abs(s.lowerRadius(v+0.5)-s.lowerRadius(v-0.5))
		if v < 1 {
			along = math.Abs(s.lowerRadius(1) - s.lowerRadius(0))
		}
	} else {
		if rho >= s.crestUM {
			return surface()
		}
		// The quarter ellipse as an implicit function.
		a, b := (s.crestUM-rho)/s.h.RimRollUM, (v-s.waistV)/(s.crestV(x)-s.waistV)
		distance = 1 - a*a - b*b
		across, along = 2*a/s.h.RimRollUM*gradient, 2*b/(s.crestV(x)-s.waistV)
	}
	across, along = across*lateral, along*depth
	width := math.Max(across+along, 1e-6) * 0.85
	cover := math.Min(math.Max(distance/width+0.5, 0), 1)
	if d.p.Fraying > 0 {
		// Towards the crest the surface is smooth again.
		smooth := math.Min(1, math.Max(0, 1.4-1.8*(v-s.waistV)/(s.crestV(x)-s.waistV)))
		cover = d.fray(x, y, v, distance/math.Hypot(across/lateral, along/depth), cover, d.p.Fraying*smooth)
	}
	return float32(cover)
}

// fray thins the tissue just inside the wall and leaves faint tufts just
// outside, both blotchy and below half of the step, so that the wall itself
// stays where the truth says.
func (d *drawing) fray(x, y, v, distanceUM, cover, fraying float64) float64 {
	if fraying == 0 || math.Abs(distanceUM) > 30 {
		return cover
	}
	blotch := valueNoise(x/13, y/13, v/11, d.texture+4) + 0.5*valueNoise(x/6, y/6, v/6, d.texture+5)
	if distanceUM > 0 {
		return cover * (1 - fraying*math.Max(0, 0.2+0.6*blotch)*(1-distanceUM/30))
	}
	reach := 1 + distanceUM/28
	if reach <= 0 {
		return cover
	}
	return math.Max(cover, math.Min(0.45, fraying*math.Max(0, blotch-0.05)*0.9*reach))
}

// blurSlice applies the point spread.
func (d *drawing) blurSlice(sheet *sheet) {
	rows, columns := d.p.Rows, d.p.Columns
	if kernel := d.blur[0]; len(kernel) > 1 {
		for c := range columns {
			convolveColumn(sheet.scratch[c*rows:(c+1)*rows], sheet.signal[c*rows:(c+1)*rows], kernel)
		}
		sheet.signal, sheet.scratch = sheet.scratch, sheet.signal
	}
	kernel := d.blur[1]
	if len(kernel) < 2 {
		return
	}
	for c := range columns {
		out := sheet.scratch[c*rows : (c+1)*rows]
		middle := sheet.signal[c*rows : (c+1)*rows]
		for r, value := range middle {
			out[r] = kernel[0] * value
		}
		for k := 1; k < len(kernel); k++ {
			left := sheet.signal[max(c-k, 0)*rows:][:rows]
			right := sheet.signal[min(c+k, columns-1)*rows:][:rows]
			weight := kernel[k]
			for r := range out {
				out[r] += weight * (left[r] + right[r])
			}
		}
	}
	sheet.signal, sheet.scratch = sheet.scratch, sheet.signal
}

// convolveColumn convolves with a symmetric kernel given from its middle out;
// the ends repeat.
func convolveColumn(out, in, kernel []float32) {
	half, n := len(kernel)-1, len(in)
	edge := func(r int) {
		sum := kernel[0] * in[r]
		for k := 1; k <= half; k++ {
			sum += kernel[k] * (in[max(r-k, 0)] + in[min(r+k, n-1)])
		}
		out[r] = sum
	}
	for r := range min(half, n) {
		edge(r)
	}
	for r := max(half, n-half); r < n; r++ {
		edge(r)
	}
	for r := half; r < n-half; r++ {
		window := in[r-half : r+half+1]
		sum := kernel[0] * window[half]
		for k := 1; k <= half; k++ {
			sum += kernel[k] * (window[half-k] + window[half+k])
		}
		out[r] = sum
	}
}

// halfKernel returns a Gaussian from its middle out, sum 1 over both sides.
func halfKernel(sigma float64) []float32 {
	if sigma < 0.2 {
		return nil
	}
	half := int(math.Ceil(2.7 * sigma))
	weights, sum := make([]float64, half+1), 0.0
	for k := range weights {
		weights[k] = math.Exp(-float64(k*k) / (2 * sigma * sigma))
		sum += weights[k]
		if k > 0 {
			sum += weights[k]
		}
	}
	kernel := make([]float32, half+1)
	for k := range kernel {
		kernel[k] = float32(weights[k] / sum)
	}
	return kernel
}
