package tamponade

import (
	"fmt"
	"math"
	"slices"

	"limitans/estimate"
	"limitans/fault"
)

// AphakicEye is a reduced eye without a lens: a thin cornea in front of one
// medium, paraxial.
//
//	   cornea      medium n
//	   (n_c)
//	→    )  ———————————————————|  retina
//	   r₁ r₂        AL
type AphakicEye struct {
	AxialLengthMM     float64
	AnteriorRadiusMM  float64 // r₁
	PosteriorRadiusMM float64 // r₂
	CorneaIndex       float64
	MediumIndex       float64
	VertexMM          float64 // spectacle plane to cornea
}

// SpectacleRefractionD is the lens in dioptres that the eye needs in the
// spectacle plane,
//
//	F = (n_c − 1)/r₁ + (n − n_c)/r₂,   K = n/AL − F,   R = K / (1 + v·K),
//
// lengths in metres, the cornea's thickness left out (it moves R by −0.17 D
// with aqueous). Aqueous, AL 24, 7.7/6.5 mm, 1.376, vertex 12 mm: +11.24 D;
// oil everywhere +5.10 D, which agrees with the 10 to 12 and 4 to 6 D seen
// (Stefansson et al., Retina 1988;8:20, doi
// 10.1097/00006982-198808010-00005, abstract).
func (e AphakicEye) SpectacleRefractionD() (float64, error) {
	for _, v := range []struct {
		name           string
		value, low, up float64
	}{
		{"axial length", e.AxialLengthMM, 15, 40},
		{"anterior radius of the cornea", e.AnteriorRadiusMM, 5, 11},
		{"posterior radius of the cornea", e.PosteriorRadiusMM, 4, 10},
		{"index of the cornea", e.CorneaIndex, 1.3, 1.45},
		{"index of the medium", e.MediumIndex, 1.2, 1.5},
		{"vertex distance", e.VertexMM, 0, 20},
	} {
		if !(v.value >= v.low && v.value <= v.up) {
			return 0, &fault.Error{Code: fault.Invalid, Where: v.name, What: fmt.Sprintf("%g cannot be", v.value), Expected: fmt.Sprintf("%g to %g", v.low, v.up)}
		}
	}
	power := 1000 * ((e.CorneaIndex-1)/e.AnteriorRadiusMM + (e.MediumIndex-e.CorneaIndex)/e.PosteriorRadiusMM)
	atCornea := 1000*e.MediumIndex/e.AxialLengthMM - power
	return atCornea / (1 + e.VertexMM/1000*atCornea), nil
}

// SurfacePowerD is the power in dioptres of a surface between two media,
//
//	F = (n₂ − n₁) / r,
//
// light going from n₁ to n₂, the radius in millimetres positive when the centre
// lies behind the surface. The back of a biconvex lens has a negative radius:
// with oil behind it loses most of its power, or turns it around.
func SurfacePowerD(before, after, radiusMM float64) (float64, error) {
	if !(before >= 1 && before <= 2 && after >= 1 && after <= 2) || radiusMM == 0 || math.IsNaN(radiusMM) {
		return 0, &fault.Error{Code: fault.Invalid, Where: "surface", What: fmt.Sprintf("indices %g and %g, radius %g mm cannot be", before, after, radiusMM), Expected: "indices of 1 to 2 and a radius"}
	}
	return 1000 * (after - before) / radiusMM, nil
}

// RetinaVergenceD is the vergence that light must have at a distance in
// millimetres before the retina in a medium, 1000·n/d dioptres.
func RetinaVergenceD(index, distanceMM float64) (float64, error) {
	if !(index >= 1 && index <= 2 && distanceMM >= 1 && distanceMM <= 40) {
		return 0, &fault.Error{Code: fault.Invalid, Where: "vergence", What: fmt.Sprintf("index %g at %g mm cannot be", index, distanceMM), Expected: "1 to 2, 1 to 40 mm"}
	}
	return 1000 * index / distanceMM, nil
}

// OilLensPowerShift is how much stronger a lens must be for an eye that keeps its
// oil.
type OilLensPowerShift struct {
	PowerD estimate.Estimate
	// LengthD is the part by the vergence at the retina, ShapeD that by the back of
	// the lens.
	LengthD, ShapeD float64
	Warnings        []Warning
}

// chamberSlackMM is how far the place of a lens after surgery may miss what was
// expected (ours).
const chamberSlackMM = 0.5

// highestOilIndex is the upper end of the printed indices of silicone oil.
const highestOilIndex = 1.404

// LensPowerForPermanentOil is the extra power of a lens for an eye that keeps its
// oil,
//
//	ΔP = 1000 · (n_oil − n_vitreous) · (1/(AL − ACD) + 1/R)   D,
//
// lengths in millimetres. The first part is what light needs to reach the retina
// (Patel, Confer and Grabow 1995; Meldrum et al. 1996; from memory). The second is
// what the back of the lens loses to oil ([SurfacePowerD]; derived): R is its
// radius, positive where it bulges to the retina (biconvex), infinite for a flat
// back, negative for a meniscus; NaN where it is not told, which is computed as
// flat and warned of. The power that a label gives is that in aqueous humour, with
// the lens thin.
//
// The interval is that of the oil's index, 1.4034 to 1.404, and of the place of the
// lens, 0.5 mm; without a radius its upper end is at least the +4.1 D seen over
// prediction (n 8, abstract), of lenses that were not flat-backed. It is an addition
// to the power for the eye without oil, and when the oil will come out nothing is
// added. Faults: Invalid for an axial length outside 15 to 40 mm, a chamber outside
// 1.5 to 8 mm, a radius between −5 and 5 mm.
func LensPowerForPermanentOil(axialLengthMM, anteriorChamberMM, backRadiusMM float64) (OilLensPowerShift, error) {
	if !(axialLengthMM >= 15 && axialLengthMM <= 40 && anteriorChamberMM >= 1.5 && anteriorChamberMM <= 8) {
		return OilLensPowerShift{}, &fault.Error{
			Code: fault.Invalid, Where: "lens for oil", What: fmt.Sprintf("axial length %g mm, chamber %g mm cannot be", axialLengthMM, anteriorChamberMM), Expected: "15 to 40 mm, 1.5 to 8 mm",
		}
	}
	told := !math.IsNaN(backRadiusMM)
	if told && math.Abs(backRadiusMM) < 5 {
		return OilLensPowerShift{}, &fault.Error{
			Code: fault.Invalid, Where: "back of the lens", What: fmt.Sprintf("a radius of %g mm cannot be", backRadiusMM), Expected: "5 mm and more, negative for a meniscus; none for a flat back",
		}
	}
	curvature := 0.0 // per millimetre
	if told {
		curvature = 1 / backRadiusMM
	}
	shift := func(index, chamberMM float64) float64 {
		return 1000 * (index - VitreousRefractiveIndex) * (1/(axialLengthMM-chamberMM) + curvature)
	}
	// A meniscus takes power off where it is steeper than the eye is long.
	ends := []float64{
		shift(OilRefractiveIndex, anteriorChamberMM-chamberSlackMM), shift(OilRefractiveIndex, anteriorChamberMM+chamberSlackMM),
		shift(highestOilIndex, anteriorChamberMM-chamberSlackMM), shift(highestOilIndex, anteriorChamberMM+chamberSlackMM),
	}
	value := shift(OilRefractiveIndex, anteriorChamberMM)
	e := estimate.Estimate{
		Value: value, Low: slices.Min(ends), High: slices.Max(ends),
		Basis: "thin lens; interval from the index of oil, 1.4034 to 1.404, and 0.5 mm in the place of the lens",
	}
	if !told {
		e.High = math.Max(4.1, e.High)
		e.Basis = "thin lens, its back taken as flat; interval from the index of oil, 0.5 mm in the place of the lens, and the +4.1 D seen over prediction in 8 eyes (abstract)"
	}
	length := 1000 * (OilRefractiveIndex - VitreousRefractiveIndex) / (axialLengthMM - anteriorChamberMM)
	return OilLensPowerShift{
		PowerD: e, LengthD: length, ShapeD: 1000 * (OilRefractiveIndex - VitreousRefractiveIndex) * curvature,
		Warnings: []Warning{
			{"shape", "A biconvex lens needs more: its back loses power to the oil. A meniscus needs least.", "McCartney 1987, doi 10.1001/archopht.1987.01060100087033 (abstract)"},
			{"removal", "If the oil will come out soon, choose the lens for the eye without oil.", "Semin Ophthalmol 2019;34:392 (abstract)"},
			{"posture", "From the back to head down the refraction moves by +2.45 ± 0.71 D (phakic) to +5.95 ± 2.63 D (aphakic).", "head position study, 5 eyes each (abstract)"},
		},
	}, nil
}

// RefractionChange is what oil does to the refraction of eyes, as it was seen.
type RefractionChange struct {
	What   string
	D      Span // dioptres, towards plus; NaN where only the ends are told
	Text   string
	Source string
}

// RefractionUnderOil returns the published changes by the state of the lens; the
// phakic and aphakic rows are ranges of clinical eyes, that of implants is what was
// left over the prediction for the eye without oil.
func RefractionUnderOil(l Lens) (RefractionChange, bool) {
	const stefansson = "Stefansson et al., Retina 1988;8:20, doi 10.1097/00006982-198808010-00005 (abstract)"
	switch l {
	case Phakic:
		return RefractionChange{"with its own lens", Span{5, 7}, "an eye with its own lens became +5 to +7 D", stefansson}, true
	case Aphakic:
		return RefractionChange{"without a lens", Span{4, 6}, "an eye without a lens went from 10 to 12 D down to 4 to 6 D", stefansson}, true
	case Pseudophakic:
		return RefractionChange{"with an implant", Span{3.91, 4.08}, "eyes with an implant were +3.9 to +4.1 D over prediction (8 eyes); how the lenses were shaped is not told", "series of cataract surgery with oil, J Cataract Refract Surg (abstract)"}, true
	}
	return RefractionChange{}, false
}

// ShownBySoundMM is the length that an instrument set for vitreous shows for an eye
// whose part behind the lens is filled with an oil,
//
//	shown = front + (AL − front) · 1532 / c_oil,
//
// the trap that [OilAxialLength] takes back. Unsupported for an oil whose speed of
// sound is not known; Invalid for lengths out of reach.
func ShownBySoundMM(axialLengthMM, frontMM float64, oil Oil) (Span, error) {
	properties, err := oil.Properties()
	if err != nil {
		return Span{}, err
	}
	if math.IsNaN(properties.SoundSpeed.Low) {
		return Span{}, &fault.Error{Code: fault.Unsupported, Where: "oil", What: "the speed of sound in " + properties.Name + " is not known"}
	}
	if !(axialLengthMM >= 15 && axialLengthMM <= 40 && frontMM >= 3 && frontMM <= 10) {
		return Span{}, &fault.Error{Code: fault.Invalid, Where: "axial length", What: fmt.Sprintf("%g mm with %g mm in front cannot be", axialLengthMM, frontMM), Expected: "15 to 40 mm, 3 to 10 mm"}
	}
	shown := func(speed float64) float64 { return frontMM + (axialLengthMM-frontMM)*VitreousSoundSpeed/speed }
	return Span{shown(properties.SoundSpeed.High), shown(properties.SoundSpeed.Low)}, nil
}

// Measured says how an axial length was measured.
type Measured int

// The ways.
const (
	MeasuredUnknown Measured = iota
	MeasuredByLight
	MeasuredBySound
)

// longestBySoundMM is the length above which an oil-filled eye measured by
// sound is refused without being corrected.
const longestBySoundMM = 30

// OilAxialLength answers whether an axial length that was measured in an
// oil-filled eye may be used, and gives the corrected one.
//
// Light: used as it stands, marked for the oil's index. Sound: sound is slower
// in oil, so the eye seems too long; an instrument that takes the vitreous's
// speed for the part behind the lens shows d·1532/c, so
//
//	AL = front + (shown − front) · c_oil / 1532,
//
// with front (cornea to the back of the lens) from frontMM, 3 to 10 mm. A length
// by sound is never used as shown: above 30 mm, with front NaN, and where the
// way is not told it is refused (Conflict); else the corrected estimate is
// returned, its interval from the oil's speed (980 m/s at 1000 mm²/s, 1040 at
// 5000; from memory) and a front known to 0.5 mm.
func OilAxialLength(shownMM float64, by Measured, oil Oil, frontMM float64) (estimate.Estimate, error) {
	if !(shownMM >= 15 && shownMM <= 60) {
		return estimate.Estimate{}, &fault.Error{Code: fault.Invalid, Where: "axial length", What: fmt.Sprintf("%g mm cannot be", shownMM), Expected: "15 to 60 mm as shown"}
	}
	if by == MeasuredByLight {
		return estimate.Estimate{Value: shownMM, Low: shownMM - 0.2, High: shownMM + 0.2, Basis: "measured by light in an oil-filled eye; interval for the oil's index (ours, no source)"}, nil
	}
	refuse := func(why string) (estimate.Estimate, error) {
		return estimate.Estimate{}, &fault.Error{
			Code: fault.Conflict, Where: "axial length", What: fmt.Sprintf("%g mm in an oil-filled eye %s", shownMM, why),
			Mend: "measure by light, or take the length from before the oil",
		}
	}
	if by != MeasuredBySound {
		return refuse("without the way it was measured is likely too long")
	}
	if shownMM > longestBySoundMM && math.IsNaN(frontMM) {
		return refuse("by sound is likely false: sound is slower in oil")
	}
	if math.IsNaN(frontMM) {
		return refuse("by sound cannot be corrected without the length of its front part")
	}
	if !(frontMM >= 3 && frontMM <= 10) {
		return estimate.Estimate{}, &fault.Error{Code: fault.Invalid, Where: "front part of the eye", What: fmt.Sprintf("%g mm cannot be", frontMM), Expected: "3 to 10 mm, cornea to back of the lens"}
	}
	properties, err := oil.Properties()
	if err != nil {
		return estimate.Estimate{}, err
	}
	if math.IsNaN(properties.SoundSpeed.Low) {
		return refuse("by sound: the speed of sound in " + properties.Name + " is not known")
	}
	length := func(front, speed float64) float64 { return front + (shownMM-front)*speed/VitreousSoundSpeed }
	low, high := properties.SoundSpeed.Low, properties.SoundSpeed.High
	return estimate.Estimate{
		Value: length(frontMM, (low+high)/2), Low: length(frontMM-0.5, low), High: length(frontMM+0.5, high),
		Basis: fmt.Sprintf("measured by sound in %s, the part behind the lens shortened by %s/1532 m/s (from memory); taken to be wholly filled", properties.Name, properties.SoundSpeed),
	}, nil
}

// LongEyeQuestions are what must be asked before an axial length above 29 mm is
// used to size anything; none below.
func LongEyeQuestions(axialLengthMM float64) []Warning {
	if !(axialLengthMM > 29) {
		return nil
	}
	return []Warning{{
		"long_eye", fmt.Sprintf("%g mm: by light or by sound? Oil in the eye when it was measured? Sound is slower in oil and makes it seem longer. A staphyloma makes the cavity uncertain.", axialLengthMM),
		"Semin Ophthalmol 2019;34:392 (abstract); speed of sound from memory",
	}}
}
