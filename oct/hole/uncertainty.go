package hole

import (
	"fmt"
	"math"

	"limitans/estimate"
	"limitans/oct"
)

// measureFigures fills the figures of a hole that was found, each with its
// interval or with the reason why it is missing.
func (m *measurement) measureFigures(h *Hole) {
	e := m.errorModel()
	cut := m.lumen.cut
	h.MLDUM = estimate.NormalPositive(m.mldUM, e.mld(m.mldUM), e.basis("narrowest gap parallel to the epithelium on the widest slice"))
	h.EdgeCorrectionUM = m.lumen.widenedUM
	visible := m.mldUM - 2*m.lumen.widenedUM*m.geometry.gapFactor()
	h.VisibleMLDUM = estimate.NormalPositive(visible, e.mld(m.mldUM), e.basis("the same gap between the visible edges, as a caliper on the screen reads it"))
	base, opening := m.base(), m.widthAtLid()
	h.BaseUM = estimate.NormalPositive(base, e.base(), e.basis("walls carried down to the epithelium, widest slice"))
	h.BaseUM.High += cuffUM
	h.BaseUM.Basis += "; a thin cuff of fluid beyond it can hide in the glare of the epithelium, so the upper limit lies farther out"
	h.OpeningUM = estimate.NormalPositive(opening, e.opening(), e.basis("widest gap at nine tenths of the lower rim's height"))
	m.measureHeights(h, e)
	volume := m.volumeMM3()
	h.VolumeMM3 = estimate.NormalPositive(volume, e.volume(volume, m.mldUM), e.basis("lumen from the epithelium to nine tenths of the lower rim's height"))
	if m.volume.Slices == 1 {
		h.VolumeMM3 = estimate.Missing("not measured: one slice has no volume")
	}
	m.measureSection(h, e)
	if cut.any() {
		why := estimate.Missing("not measured: the hole is cut by the scan's edge")
		h.BaseUM, h.OpeningUM, h.VolumeMM3 = why, why, why
		if m.waistCut() {
			h.MLDUM, h.VisibleMLDUM = why, why
			h.MinSection.AreaMM2, h.MinSection.SmallUM, h.MinSection.LargeUM, h.MinSection.MeridianDeg = why, why, why, why
		}
	}
	left, right := m.arms()
	h.Indices = Indices(Lengths{
		MLDUM: h.MLDUM, BaseUM: h.BaseUM, HeightUM: h.HeightUM,
		LeftArmUM:  estimate.NormalPositive(left, e.height(), "wall from base to narrowest place"),
		RightArmUM: estimate.NormalPositive(right, e.height(), "wall from base to narrowest place"),
	})
	h.SizeClass = ClassifyAll(h.VisibleMLDUM, h.MLDUM, h.MinSection.LargeUM)
}

// measureHeights fills the heights of the rims; one that lies outside the scan is
// missing, and with it the mean.
func (m *measurement) measureHeights(h *Hole, e errorModel) {
	side := func(um float64, where string) estimate.Estimate {
		if math.IsNaN(um) {
			return estimate.Missing("not measured: the rim on the " + where + "-column side is not in the scan")
		}
		return estimate.NormalPositive(um, e.height(), e.basis("rim crest on the "+where+"-column side of the widest slice"))
	}
	h.HeightLeftUM, h.HeightRightUM = side(m.left, "low"), side(m.right, "high")
	if height := (m.left + m.right) / 2; math.IsNaN(height) {
		h.HeightUM = estimate.Missing("not measured: one rim is not in the scan")
	} else {
		// The two sides share part of their error, so the mean is little better.
		h.HeightUM = estimate.NormalPositive(height, e.height()/1.2, e.basis("mean of both rims of the widest slice"))
	}
}

// measureSection fills the figures of the smallest section.
func (m *measurement) measureSection(h *Hole, e errorModel) {
	var why string
	switch {
	case m.volume.Pattern == oct.PatternUnknown || m.volume.Pattern == oct.PatternSingle:
		why = "not measured: needs a raster or radial set of slices"
	case m.volume.Pattern == oct.PatternRaster && !m.volume.Scale.Slice.Known():
		why = "not measured: the distance between slices is not known"
	default:
		s, ok := m.smallestSection()
		if ok {
			small, large, meridian := feret(s.contour, s.slices)
			h.MinSection.HeightUM = PlaceUM(m.geometry.heightUM(s.height))
			h.MinSection.AreaMM2 = estimate.NormalPositive(s.areaUM2/1e6, e.area(s.areaUM2, m.mldUM)/1e6, e.basis("smallest section parallel to the epithelium"))
			h.MinSection.SmallUM = estimate.NormalPositive(small, e.diameter(small), e.basis("smallest diameter of the smallest section"))
			h.MinSection.LargeUM = estimate.NormalPositive(large, e.diameter(large), e.basis("largest diameter of the smallest section"))
			h.MinSection.MeridianDeg = meridianEstimate(meridian, small, large, e)
			m.contour(s)
			return
		}
		why = "not measured: fewer than three slices cross the hole at every height"
	}
	missing := estimate.Missing(why)
	h.MinSection = MinSection{AreaMM2: missing, SmallUM: missing, LargeUM: missing, MeridianDeg: missing, HeightUM: PlaceUM(math.NaN())}
}

// meridianEstimate is the direction of the smallest diameter. A round section
// has none: its error grows as the difference of the diameters shrinks.
func meridianEstimate(deg, small, large float64, e errorModel) estimate.Estimate {
	difference := large - small
	sd := e.diameter(small) * math.Sqrt2 / math.Max(difference, 1) * 180 / math.Pi
	if sd > roundMeridianSD {
		return estimate.Missing(fmt.Sprintf("not measured: the smallest section is round within the error (diameters differ by %.0f µm)", difference))
	}
	return estimate.Normal(deg, sd, "direction of the smallest diameter, counter-clockwise from the fast scan; modulo 180°")
}

// errorModel gives the standard deviation of every figure. Its terms are those
// of one wall (noise left after smoothing and the unknown bloom of the display)
// and of the distance between slices; their sizes were fitted on phantoms, see
// package proof for which and for what that leaves open.
type errorModel struct {
	wallUM    float64 // one lateral wall
	depthUM   float64 // a height
	spacingUM float64 // between slices; 0 for a single slice or a radial set
	fewSlices bool    // fewer than three of several slices cross the open hole
}

// Fitted terms of the error model.
const (
	wallFloorUM = 3.5   // one wall: bloom, sampling, roughness
	wallNoiseUM = 22.0  // one wall, per unit of relative noise left after smoothing
	wallSpacing = 0.045 // one wall, per µm of slice distance
	// depthFloorUM: a height lies between two lines that two people draw with a
	// repeatability of 4.3 and 7.7 µm (95 %, TVST 2021;10(13):9, table read), so one
	// reading of it has √(4.3² + 7.7²)/2.77 = 3.2 µm. Phantoms give half of that.
	depthFloorUM  = 3.2
	depthSampling = 0.25 // share of a depth sample
	sectionUM     = 10.0 // diameters of the smallest section
	sectionShare  = 0.09 // of the slice distance
	baseFloorUM   = 17.0
	// cuffUM: a thin cuff of fluid under the base's edge hides in the glare of the
	// epithelium; the base can be larger by this much.
	cuffUM      = 240.0
	openingUMSD = 12.0
	// roundMeridianSD: beyond this error in degrees a direction says nothing.
	roundMeridianSD = 35.0
	// fewSlicesShare: with one or two slices the widest place is a guess.
	fewSlicesShare = 0.12
	// volumeShare: what is missed under a closed roof, as a share of the volume.
	volumeShare   = 0.06
	betweenFactor = 0.2 // of slice distance² / diameter, see between
)

func (m *measurement) errorModel() errorModel {
	noise := 0.0
	for slice := m.lumen.first; slice <= m.lumen.last; slice++ {
		noise = math.Max(noise, m.field.noise[slice])
	}
	e := errorModel{depthUM: math.Hypot(depthFloorUM, depthSampling*m.geometry.depthUM)}
	if m.volume.Pattern == oct.PatternRaster {
		e.spacingUM = m.geometry.sliceUM
		e.fewSlices = len(m.gaps) < 3
	}
	e.wallUM = math.Hypot(math.Hypot(wallFloorUM, wallNoiseUM*noise), wallSpacing*e.spacingUM)
	return e
}

func (e errorModel) basis(what string) string {
	return what + "; 95 % interval proved on synthetic eyes with known truth"
}

// between is the error from not having scanned the widest place: across slices
// the width falls with the square of the distance from it.
func (e errorModel) between(mldUM float64) float64 {
	return betweenFactor * e.spacingUM * e.spacingUM / math.Max(mldUM, e.spacingUM)
}

func (e errorModel) mld(um float64) float64 {
	sd := math.Hypot(math.Sqrt2*e.wallUM, e.between(um))
	if e.fewSlices {
		sd = math.Hypot(sd, fewSlicesShare*um)
	}
	return sd
}

func (e errorModel) base() float64 { return math.Hypot(math.Sqrt2*e.wallUM, baseFloorUM) }

func (e errorModel) opening() float64 { return math.Hypot(math.Sqrt2*e.wallUM, openingUMSD) }

func (e errorModel) height() float64 { return e.depthUM }

func (e errorModel) diameter(um float64) float64 {
	return math.Hypot(math.Hypot(sectionUM, sectionShare*e.spacingUM), e.between(um))
}

// area and volume take the error of two diameters that is common to all
// meridians and heights.
func (e errorModel) area(um2, mldUM float64) float64 {
	return um2 * 2 * math.Hypot(1.6*e.wallUM, e.between(mldUM)) / math.Max(mldUM, 1)
}

func (e errorModel) volume(mm3, mldUM float64) float64 {
	return mm3 * math.Hypot(2*math.Sqrt2*e.wallUM/math.Max(mldUM, 1), volumeShare)
}
