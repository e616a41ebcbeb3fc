package hole

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/fault"
	"limitans/oct"
	"limitans/oct/surface"
)

// Measure looks for a full-thickness hole in a volume whose surfaces are known
// and measures it; see the package comment for method and definitions. That no
// hole is found is a result, not an error.
func Measure(v *oct.Volume, s *surface.Surfaces, options Options) (*Hole, error) {
	if err := v.Check(); err != nil {
		return nil, err
	}
	if s.PigmentEpithelium.Slices != v.Slices || s.PigmentEpithelium.Columns != v.Columns {
		return nil, &fault.Error{Code: fault.Invalid, Where: "surfaces", What: "the surfaces belong to another scan"}
	}
	m := &measurement{volume: v, surfaces: s, geometry: measureGeometry(v, s)}
	m.field = flatten(v, s, m.geometry, options.NoData)
	m.find()
	h := m.describe()
	h.Criteria = m.criteria()
	return h, nil
}

// measurement is the state of one call of Measure.
type measurement struct {
	volume   *oct.Volume
	surfaces *surface.Surfaces
	geometry geometry
	field    *field

	open      region
	candidate bool // open space touches the epithelium somewhere
	dim       bool // … but it is as bright as dim tissue
	lumen     *lumen
	gaps      []gap
	best      gap
	mldUM     float64
	left      float64 // rim crests on the widest slice, µm
	right     float64

	lumenContour [][2]float64 // smallest section, µm, centre of the scan is 0,0
}

// find searches for the lumen: the largest footprint that is wide, dark and
// open up to its lid.
func (m *measurement) find() {
	for _, pass := range [2]struct{ halfUM, widthUM float64 }{
		{openingUM, smallestWidthUM},
		// A fragment can leave only slits beside it. They are followed when the
		// first pass finds nothing, but only to a place on the epithelium that is
		// too wide to be noise.
		{0, 2 * smallestWidthUM},
	} {
		m.open = openSpace(m.field, m.volume, m.geometry, pass.halfUM)
		for _, p := range footprints(m.field, m.open, m.geometry) {
			if float64(widestContact(p))*m.geometry.lateralUM < pass.widthUM {
				continue
			}
			m.candidate = true
			if m.try(p) {
				return
			}
		}
	}
	m.lumen, m.gaps = nil, nil
}

// widestContact is the largest number of columns a footprint has in one slice.
func widestContact(p footprint) int {
	count := map[int]int{}
	widest := 0
	for _, place := range p.places {
		count[place[0]]++
		widest = max(widest, count[place[0]])
	}
	return widest
}

// try measures the lumen over one footprint. The lid depends on the rims of the
// widest slice and the widest slice on the lid, so the lumen is built twice.
func (m *measurement) try(p footprint) bool {
	count := map[int]int{}
	slice := p.firstSlice
	for _, place := range p.places {
		count[place[0]]++
		if count[place[0]] > count[slice] {
			slice = place[0]
		}
	}
	column := (p.firstColumn + p.lastColumn) / 2
	m.geometry = m.geometry.withTilt(m.volume, m.surfaces, slice, column, tiltReachUM)
	// The rim can hang over the base, so its crests are looked for from the middle
	// of the footprint outward.
	from, to := column, column
	for range 2 {
		m.left, m.right = m.rims(slice, from, to)
		lower := m.left
		if math.IsNaN(lower) || m.right < lower {
			lower = m.right // a side that leaves the scan has no crest
		}
		if math.IsNaN(lower) || lower < 4*floorUM {
			return false
		}
		lid := m.geometry.heightSteps(lidShare * lower)
		m.lumen = newLumen(m.field, m.volume, m.geometry, m.open, p, lid)
		m.lumen.widen(m.lumen.bloomUM(m.volume, m.surfaces))
		m.gaps = m.lumen.gaps()
		if len(m.gaps) == 0 {
			return false
		}
		m.mldUM, m.best = m.lumen.widest(m.gaps, m.volume.Pattern)
		slice = m.best.slice
		from, to = int(m.best.wall.left), int(m.best.wall.right)+1
	}
	if m.lumen.meanInside() > brightestLumen {
		m.dim = true
		return false
	}
	return true
}

// rims returns the height, in µm above the epithelium's inner edge, of the
// highest inner limiting membrane on either side of the columns from..to, NaN
// for a side that has none within the scan.
func (m *measurement) rims(slice, from, to int) (left, right float64) {
	f, g := m.field, m.geometry
	reach := g.columns(rimReachUM)
	half := g.columns(15)
	crest := func(a, b int) float64 {
		best := math.NaN()
		for c := max(a, 0); c <= min(b, f.columns-1); c++ {
			sum, n := 0.0, 0
			for k := max(0, c-half); k <= min(f.columns-1, c+half); k++ {
				if h := f.retinaTop[slice*f.columns+k]; !math.IsNaN(h) {
					sum += h
					n++
				}
			}
			if n > half {
				if h := g.heightUM(sum / float64(n)); !(h <= best) {
					best = h
				}
			}
		}
		return best
	}
	return crest(from-reach, from), crest(to, to+reach)
}

// describe turns the lumen into figures.
func (m *measurement) describe() *Hole {
	nowhere := PlaceUM(math.NaN())
	h := &Hole{WidestSlice: -1, Judgement: NoneFound, MLDHeightUM: nowhere, MinSection: MinSection{HeightUM: nowhere}}
	if m.lumen == nil {
		m.describeAbsence(h)
		return h
	}
	h.Present, h.Judgement = true, FullThickness
	h.WidestSlice, h.OpenSlices = m.best.slice, len(m.gaps)
	h.MLDHeightUM = PlaceUM(m.geometry.heightUM(m.best.height))
	h.Seen = append(h.Seen, fmt.Sprintf("space as dark as vitreous reaches from the vitreous to the pigment epithelium on %d of %d slices", len(m.gaps), m.volume.Slices))
	m.measureFigures(h)
	h.Lumen = m.exportLumen(h)
	m.addWarnings(h)
	m.respectScale(h)
	return h
}

// describeAbsence says what was seen where no hole was found.
func (m *measurement) describeAbsence(h *Hole) {
	switch {
	case m.candidate && m.dim:
		h.Judgement = NotJudged
		h.Seen = append(h.Seen, "a dim space reaches the pigment epithelium, but it is brighter than vitreous: dim outer retina or weak signal; look at the slices")
	case m.candidate:
		h.Seen = append(h.Seen, "dark space touches the pigment epithelium, but tissue closes it towards the vitreous")
	default:
		h.Seen = append(h.Seen, "no dark space reaches from the vitreous to the pigment epithelium on the traced slices")
	}
	traced, membrane := m.surfaces.PigmentEpithelium.TracedShare(), m.surfaces.InnerLimitingMembrane.TracedShare()
	h.Seen = append(h.Seen, fmt.Sprintf("pigment epithelium traced on %.0f %% of columns, inner limiting membrane on %.0f %%", 100*traced, 100*membrane))
	if traced < leastTraced || membrane < leastTraced {
		h.Judgement = NotJudged
		h.Seen = append(h.Seen, "too little of the retina was traced to say that no hole is there")
	}
	missing := estimate.Missing(string(h.Judgement))
	h.MLDUM, h.VisibleMLDUM, h.BaseUM, h.OpeningUM, h.HeightUM = missing, missing, missing, missing, missing
	h.HeightLeftUM, h.HeightRightUM, h.VolumeMM3 = missing, missing, missing
	h.MinSection = MinSection{AreaMM2: missing, SmallUM: missing, LargeUM: missing, MeridianDeg: missing, HeightUM: PlaceUM(math.NaN())}
}

// smallestSection is the section of least area between floorUM and the lid. The
// area is averaged over a few heights so that one noisy height does not win.
func (m *measurement) smallestSection() (best section, ok bool) {
	g := m.geometry
	from, to := int(math.Ceil(g.heightSteps(floorUM))), int(math.Floor(m.lumen.lid))
	var sections []section
	for k := from; k <= to; k++ {
		s := m.lumen.sectionAt(k, m.volume)
		if s.slices < 3 {
			return section{}, false
		}
		sections = append(sections, s)
	}
	half := max(1, g.rows(10))
	least := math.Inf(1)
	for i := range sections {
		var area, n float64
		for j := max(0, i-half); j <= min(len(sections)-1, i+half); j++ {
			area += sections[j].areaUM2
			n++
		}
		if area/n < least {
			least = area / n
			best = sections[i]
			best.areaUM2 = least
		}
	}
	return best, len(sections) > 0
}

// base is the largest gap at the epithelium, to which the walls are carried down.
func (m *measurement) base() float64 {
	widest := 0.0
	for slice := m.lumen.first; slice <= m.lumen.last; slice++ {
		if w := m.lumen.wall(slice, 0); w.open() {
			widest = math.Max(widest, w.width()*m.geometry.lateralUM*m.geometry.gapFactor())
		}
	}
	return widest
}

// widthAtLid is the largest gap at the height of the lid.
func (m *measurement) widthAtLid() float64 {
	widest := 0.0
	k := min(int(math.Round(m.lumen.lid)), m.lumen.top())
	for slice := m.lumen.first; slice <= m.lumen.last; slice++ {
		if w := m.lumen.wall(slice, k); w.open() {
			widest = math.Max(widest, w.width()*m.geometry.lateralUM*m.geometry.gapFactor())
		}
	}
	return widest
}

// volume is the sum of the sections below the lid, in mm³.
func (m *measurement) volumeMM3() float64 {
	g := m.geometry
	step := g.heightUM(1)
	var um3 float64
	for k := 0; float64(k) < m.lumen.lid; k++ {
		s := m.lumen.sectionAt(k, m.volume)
		area := s.areaUM2
		if s.slices < 3 {
			for slice := m.lumen.first; slice <= m.lumen.last; slice++ {
				if w := m.lumen.wall(slice, k); w.open() {
					area += w.width() * g.lateralUM * g.gapFactor() * g.sliceUM * g.crossFactor()
				}
			}
		}
		share := math.Min(1, m.lumen.lid-float64(k))
		um3 += area * step * share
	}
	return um3 / 1e9
}
