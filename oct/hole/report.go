package hole

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/oct"
)

// waistCut reports whether the narrowest place itself touches the scan's edge.
func (m *measurement) waistCut() bool {
	if m.lumen.cut.top {
		return true
	}
	k := int(m.best.height)
	for slice := m.lumen.first; slice <= m.lumen.last; slice++ {
		w := m.lumen.wall(slice, k)
		if w.open() && (w.left < 1 || w.right > float64(m.field.columns-2)) {
			return true
		}
		if w.open() && m.lumen.cut.slices && (slice == 0 || slice == m.field.slices-1) {
			return true
		}
	}
	return false
}

// arms is the length of either wall of the widest slice from the base to the
// narrowest place, in µm.
func (m *measurement) arms() (left, right float64) {
	g := m.geometry
	step := g.heightUM(1)
	for k := int(g.heightSteps(baseFromUM)) + 1; k <= int(m.best.height); k++ {
		a, b := m.lumen.wall(m.best.slice, k-1), m.lumen.wall(m.best.slice, k)
		if !a.open() || !b.open() {
			continue
		}
		left += math.Hypot(step, (b.left-a.left)*g.lateralUM)
		right += math.Hypot(step, (b.right-a.right)*g.lateralUM)
	}
	return left + baseFromUM, right + baseFromUM
}

// contour keeps the smallest section for pictures, centred on the scan.
func (m *measurement) contour(s section) {
	centre := point{
		float64(m.field.columns-1) / 2 * m.geometry.lateralUM * m.geometry.gapFactor(),
		-float64(m.field.slices-1) / 2 * m.geometry.sliceUM * m.geometry.crossFactor(),
	}
	if m.volume.Pattern == oct.PatternRadial {
		centre = point{}
	}
	m.lumenContour = m.lumenContour[:0]
	for _, p := range s.contour {
		m.lumenContour = append(m.lumenContour, [2]float64{p.x - centre.x, p.y - centre.y})
	}
}

// exportLumen copies the lumen into its public form.
func (m *measurement) exportLumen(h *Hole) *Lumen {
	l, f, g := m.lumen, m.field, m.geometry
	out := &Lumen{
		Slices: f.slices, Rows: m.volume.Rows, Columns: f.columns, FirstSlice: l.first, LastSlice: l.last,
		LidHeightUM: g.heightUM(l.lid), Heights: f.heights, HeightStepUM: g.heightUM(1), Floor: f.floor,
		Left: make([]float64, len(l.walls)), Right: make([]float64, len(l.walls)),
		MLDSlice: m.best.slice, MLDLeft: m.best.wall.left, MLDRight: m.best.wall.right, MLDHeightSteps: m.best.height,
		ContourUM: m.lumenContour,
	}
	for i, w := range l.walls {
		out.Left[i], out.Right[i] = w.left, w.right
	}
	return out
}

// addWarnings says what makes the figures less certain than their intervals.
func (m *measurement) addWarnings(h *Hole) {
	warn := func(format string, arguments ...any) {
		h.Warnings = append(h.Warnings, fmt.Sprintf(format, arguments...))
	}
	v, g, cut := m.volume, m.geometry, m.lumen.cut
	switch {
	case cut.top:
		warn("the hole is cut by the upper edge of the scan; nothing is measured outside it")
	case cut.columns || cut.slices:
		warn("the hole is cut by the edge of the scan; figures that need what lies outside are not given")
	}
	if v.Pattern == oct.PatternRaster {
		if m.volume.Scale.Slice.Known() && g.sliceUM > 60 {
			warn("slices are %.0f µm apart: the widest place may lie between two of them and the minimum linear diameter may be about 50 µm low (J Clin Med 2021;10:2899, abstract)", g.sliceUM)
		}
		if m.volume.Scale.Slice.Known() && g.sliceUM > m.mldUM {
			warn("slices are farther apart (%.0f µm) than the hole is wide", g.sliceUM)
		}
		warn("raster scan, not radial: a reading along the scan lines alone was on average 47 µm smaller than on radial scans (J Clin Med 2021;10:2899, abstract); compare with the largest diameter of the smallest section")
	}
	if v.Scale.Lateral.Known() && !v.Scale.Depth.Known() {
		warn("depth scale unknown: the tilt of the retina is not taken out of lateral lengths (2 %% at 12°)")
	}
	if v.Pattern == oct.PatternSingle || v.Slices == 1 {
		warn("one slice only: whether it crosses the widest place cannot be known, the figures are lower bounds")
	}
	column := (m.best.wall.left + m.best.wall.right) / 2
	if off := math.Abs(column-float64(v.Columns-1)/2) / float64(v.Columns); off > 0.25 {
		warn("the hole lies off the centre of the scan (%.0f %% of its width); its rims may be cut", 100*off)
	}
	if m.lumen.cut.slices || (v.Pattern == oct.PatternRaster && v.Slices > 4 && (m.best.slice < 2 || m.best.slice > v.Slices-3)) {
		warn("the widest slice is near the first or last of the scan")
	}
	if len(m.gaps) > 0 && len(m.gaps) < 3 && v.Slices > 1 {
		warn("only %d slice(s) cross the open hole", len(m.gaps))
	}
}

// respectScale removes micrometres where the scale is unknown and gives samples
// instead.
func (m *measurement) respectScale(h *Hole) {
	scale := m.volume.Scale
	if scale.Depth.Known() && scale.Lateral.Known() {
		if m.volume.Pattern != oct.PatternRadial && !scale.Slice.Known() {
			h.VolumeMM3 = estimate.Missing("not measured: the distance between slices is not known")
		}
		return
	}
	g := m.geometry
	h.Samples = &SampleFigures{
		MLDColumns: m.mldUM / g.lateralUM, BaseColumns: m.base() / g.lateralUM,
		HeightRows: (m.left + m.right) / 2 / g.depthUM,
	}
	why := "scale unknown: give the scale to get micrometres"
	if !scale.Lateral.Known() {
		missing := estimate.Missing("lateral " + why)
		h.MLDUM, h.VisibleMLDUM, h.BaseUM, h.OpeningUM, h.VolumeMM3 = missing, missing, missing, missing, missing
		h.MinSection = MinSection{AreaMM2: missing, SmallUM: missing, LargeUM: missing, MeridianDeg: missing, HeightUM: PlaceUM(math.NaN())}
	}
	if !scale.Depth.Known() {
		missing := estimate.Missing("depth " + why)
		h.MLDHeightUM, h.MinSection.HeightUM = PlaceUM(math.NaN()), PlaceUM(math.NaN())
		h.HeightUM, h.HeightLeftUM, h.HeightRightUM, h.VolumeMM3 = missing, missing, missing, missing
	}
	h.SizeClass = ClassifyAll(h.VisibleMLDUM, h.MLDUM, h.MinSection.LargeUM)
	h.Indices = Indices(Lengths{
		MLDUM: h.MLDUM, BaseUM: h.BaseUM, HeightUM: h.HeightUM,
		LeftArmUM: estimate.Missing(why), RightArmUM: estimate.Missing(why),
	})
}
