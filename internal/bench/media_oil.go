package bench

import (
	"fmt"
	"math"
	"reflect"

	"limitans/estimate"
	"limitans/fault"
	"limitans/internal/record"
	"limitans/tamponade"
)

// OilAsked is what the record does not hold of an eye with oil. Fields that are not
// told stay nil; nothing is taken for them.
type OilAsked struct {
	Stays        string   `name:"oil-stays" default:"not told" enum:"not told,for good,comes out" label:"The oil" help:"Whether the oil stays for good. Where it comes out, nothing is added to a lens."`
	AxialLength  *float64 `name:"oil-axial-length" placeholder:"MM" label:"Axial length" help:"By light, or from before the oil; where the record has one that can be used, it stands here."`
	Chamber      *float64 `name:"oil-chamber" placeholder:"MM" label:"Cornea to the lens implant" help:"Expected place of the implant behind the cornea after surgery, mm: commonly 4 to 6."`
	BackRadius   *float64 `name:"oil-back-radius" placeholder:"MM" label:"Back of the implant, radius" help:"Positive where it bulges to the retina (biconvex), negative for a meniscus; from the maker's sheet. Left empty, the back is taken as flat."`
	CorneaFront  *float64 `name:"oil-cornea-front" placeholder:"MM" more:"" label:"Cornea, front radius" help:"Measured radius. Left empty, 7.7 mm is assumed with a wide interval."`
	CorneaBack   *float64 `name:"oil-cornea-back" placeholder:"MM" more:"" label:"Cornea, back radius" help:"Measured radius. Left empty, 6.5 mm is assumed with a wide interval."`
	Shown        *float64 `name:"oil-shown" placeholder:"MM" label:"Length as ultrasound showed it" help:"Measured with oil in the eye, the instrument set for vitreous."`
	Front        *float64 `name:"oil-front" placeholder:"MM" label:"Its part in front" help:"Cornea to the back of the lens as the same instrument showed it, mm: commonly 7 to 9 with a lens."`
	ViscosityCST string   `name:"oil-viscosity" default:"not told" enum:"not told,1000,1300,5000" label:"Viscosity of the oil" help:"Nominal, mm²/s: sound is slower in the thinner oil."`
}

// OilQuestion is the form of an eye with oil, with what the record tells; get gives
// what was written. The fields come back with what is wrong with them.
func OilQuestion(c record.Course, asOf record.Date, get func(name string) string) (OilAsked, []Field, error) {
	var asked OilAsked
	state := record.StateOf(c, asOf)
	fields, err := readInto(reflect.ValueOf(&asked).Elem(), func(name string) string {
		written := get(name)
		if a := state.UsableAxial; written == "" && name == "oil-axial-length" && a != nil {
			return fmt.Sprintf("%g", a.LengthMM)
		}
		return written
	})
	return asked, fields, err
}

// A cornea for the shift of refraction under oil where its radii were not measured
// (from memory): middle and range of healthy eyes, mm; index, and the distance of
// spectacles.
const (
	corneaFrontMM, corneaFrontLow, corneaFrontHigh = 7.7, 7.2, 8.4
	corneaBackMM, corneaBackLow, corneaBackHigh    = 6.5, 5.9, 7.0
	corneaIndex                                    = 1.376
	spectacleMM                                    = 12.0
)

// oilOptics tells what oil does to refraction, to the power of a lens and to a length
// by sound, and what an eye without a lens must have.
func oilOptics(s *Sheet, c record.Course, content record.Content, state record.State, asked OilAsked) error {
	if err := oilRefraction(s, state, asked); err != nil {
		return err
	}
	if err := oilLens(s, content, asked); err != nil {
		return err
	}
	if err := oilSound(s, c, content, asked); err != nil {
		return err
	}
	if state.Lens == record.LensAphakic {
		s.warnings("Without a lens", tamponade.AphakicWarnings(true, iridectomyOf(c, content)))
	}
	return nil
}

// iridectomyOf is what the operation says that put the oil in.
func iridectomyOf(c record.Course, content record.Content) tamponade.IridectomyStatus {
	for _, o := range c.Operations {
		if o.ID == content.OperationID {
			switch o.Iridectomy {
			case record.Yes:
				return tamponade.IridectomyOpen
			case record.No:
				return tamponade.NoIridectomy
			}
		}
	}
	return tamponade.IridectomyNotTold
}

// oilRefraction tells the published change, and for an eye without a lens the
// computed one.
func oilRefraction(s *Sheet, state record.State, asked OilAsked) error {
	s.part("Refraction with the oil in")
	lens, err := tamponade.ParseLens(lensAnswer(state.Lens))
	if err != nil { // not told
		lens = tamponade.LensUnknown
	}
	seen, known := tamponade.RefractionUnderOil(lens)
	if !known {
		s.line("lens", "not told: the change of refraction depends on it")
		return nil
	}
	s.line(seen.What, "seen: "+seen.Text)
	s.line("", "source: "+seen.Source)
	if lens != tamponade.Aphakic || asked.AxialLength == nil {
		return nil
	}
	shift, fluid, oil, err := aphakicShift(asked)
	if err != nil {
		return wrongPlace(err)
	}
	s.line("spectacles", fmt.Sprintf("%+.1f D under oil, %+.1f D in fluid", oil, fluid))
	s.line("", "paraxial, thin cornea, 12 mm in front of it; the middle of what the next line gives its interval for")
	s.figure("shift by oil", "%+.1f", shift, "D")
	return nil
}

// aphakicShift is what oil does to the spectacles of an eye without a lens, with the
// interval from the cornea's radii where they are assumed and from the index of oil.
func aphakicShift(asked OilAsked) (shift estimate.Estimate, fluid, oil float64, err error) {
	front, back := []float64{corneaFrontMM, corneaFrontLow, corneaFrontHigh}, []float64{corneaBackMM, corneaBackLow, corneaBackHigh}
	if asked.CorneaFront != nil {
		front = []float64{*asked.CorneaFront}
	}
	if asked.CorneaBack != nil {
		back = []float64{*asked.CorneaBack}
	}
	shift = estimate.Estimate{Low: math.Inf(1), High: math.Inf(-1), Basis: "paraxial, thin cornea; interval from the index of oil, 1.4034 to 1.404"}
	if len(front)+len(back) > 2 {
		shift.Basis += ", and from radii of the cornea that were not measured (from memory)"
	}
	for i, r1 := range front {
		for j, r2 := range back {
			for k, index := range []float64{tamponade.OilRefractiveIndex, 1.404} {
				e := tamponade.AphakicEye{AxialLengthMM: *asked.AxialLength, AnteriorRadiusMM: r1, PosteriorRadiusMM: r2, CorneaIndex: corneaIndex, MediumIndex: tamponade.VitreousRefractiveIndex, VertexMM: spectacleMM}
				inFluid, err := e.SpectacleRefractionD()
				if err != nil {
					return shift, 0, 0, err
				}
				e.MediumIndex = index
				inOil, err := e.SpectacleRefractionD()
				if err != nil {
					return shift, 0, 0, err
				}
				if i+j+k == 0 {
					fluid, oil, shift.Value = inFluid, inOil, inOil-inFluid
				}
				shift.Low, shift.High = math.Min(shift.Low, inOil-inFluid), math.Max(shift.High, inOil-inFluid)
			}
		}
	}
	return shift, fluid, oil, nil
}

// commonBackRadiiMM show what the shape of a lens does (round numbers, ours).
var commonBackRadiiMM = []float64{20, 15, 12}

// oilLens tells the power that is added for oil that stays.
func oilLens(s *Sheet, content record.Content, asked OilAsked) error {
	s.part("Lens implant, oil for good")
	switch {
	case content.Medium == record.MediumHeavyOil:
		s.line("power", "not computed: the index of heavy oil is not in the table")
		return nil
	case asked.Stays == "comes out":
		s.line("power", "nothing is added: choose the lens for the eye without oil")
		s.line("", "source: Semin Ophthalmol 2019;34:392 (abstract)")
		return nil
	case asked.AxialLength == nil || asked.Chamber == nil:
		s.line("power", "not computed: tell the axial length and where the implant will stand")
		return nil
	}
	back := math.NaN()
	if asked.BackRadius != nil {
		back = *asked.BackRadius
	}
	shift, err := tamponade.LensPowerForPermanentOil(*asked.AxialLength, *asked.Chamber, back)
	if err != nil {
		return wrongPlace(err)
	}
	s.signal("caution", "lens", "An addition to the power that was computed for the eye without oil, never a power by itself, and only where the oil stays for good. Once the oil is out the lens is as much too strong.")
	if asked.Stays == "not told" {
		s.line("the oil", "whether it stays for good is not told: say it before this is used")
	}
	s.line("inputs", fmt.Sprintf("axial length %g mm, implant %g mm behind the cornea, %s", *asked.AxialLength, *asked.Chamber, backWords(back)))
	s.figure("add", "%+.2f", shift.PowerD, "D")
	s.line("", fmt.Sprintf("%+.2f D for the way to the retina, %+.2f D for what the back of the lens loses", shift.LengthD, shift.ShapeD))
	s.line("", "1000 · (1.4034 − 1.336) · (1/(AL − chamber) + 1/R); Patel, Confer and Grabow 1995, Meldrum et al. 1996 for a flat back (from memory); the back's part is derived")
	if math.IsNaN(back) {
		for _, r := range commonBackRadiiMM {
			other, err := tamponade.LensPowerForPermanentOil(*asked.AxialLength, *asked.Chamber, r)
			if err != nil {
				return wrongPlace(err)
			}
			s.figure(fmt.Sprintf("with a back of %g mm", r), "%+.2f", other.PowerD, "D")
		}
	}
	s.warnings("About that power", shift.Warnings)
	return nil
}

func backWords(radiusMM float64) string {
	switch {
	case math.IsNaN(radiusMM):
		return "its back not told and taken as flat"
	case radiusMM > 0:
		return fmt.Sprintf("biconvex, back radius %g mm", radiusMM)
	}
	return fmt.Sprintf("meniscus, back radius %g mm", -radiusMM)
}

// oilKinds are those of the form.
var oilKinds = map[string]tamponade.Oil{"1000": tamponade.Oil1000, "1300": tamponade.Oil1300, "5000": tamponade.Oil5000}

// trapFrontMM stands for the part in front of the oil where only the trap is shown
// (ours: about the middle of what is common).
const trapFrontMM = 8

// oilSound shows the trap of a length by sound and corrects one that was told.
func oilSound(s *Sheet, c record.Course, content record.Content, asked OilAsked) error {
	s.part("Lengths by ultrasound")
	s.signal("caution", "sound", "A length by ultrasound in an oil-filled eye is too long, by up to half: sound is slower in oil. Measure by light, or say the oil and the part in front, and it is corrected.")
	if c.Eye != nil {
		for _, a := range c.Eye.AxialLengths {
			if a.Method == record.BiometryUltrasound && (a.MediumThen == record.MediumOil || a.MediumThen == record.MediumHeavyOil) {
				s.line(a.On.Words(), fmt.Sprintf("%g mm by ultrasound with oil in the eye, speed set for oil: %s", a.LengthMM, toldWords(a.SpeedCorrected)))
			}
		}
	}
	kind := oilKinds[asked.ViscosityCST]
	if content.Medium == record.MediumHeavyOil {
		kind = tamponade.HeavyOil
	}
	if asked.AxialLength != nil && asked.Shown == nil && kind != tamponade.HeavyOil {
		for _, oil := range []tamponade.Oil{tamponade.Oil1000, tamponade.Oil5000} {
			properties, err := oil.Properties()
			if err != nil {
				return err
			}
			shown, err := tamponade.ShownBySoundMM(*asked.AxialLength, trapFrontMM, oil)
			if err != nil {
				return wrongPlace(err)
			}
			s.line("the trap", fmt.Sprintf("an eye of %g mm filled with %s would be shown as %.1f mm", *asked.AxialLength, properties.Name, shown.High))
			s.line("", fmt.Sprintf("with %d mm in front of the oil; sound %g against %g m/s (from memory)", trapFrontMM, properties.SoundSpeed.Low, tamponade.VitreousSoundSpeed))
		}
	}
	if asked.Shown == nil {
		return nil
	}
	front := math.NaN()
	if asked.Front != nil {
		front = *asked.Front
	}
	corrected, err := tamponade.OilAxialLength(*asked.Shown, tamponade.MeasuredBySound, kind, front)
	switch {
	case err == nil:
		s.line("as shown", fmt.Sprintf("%g mm, %g mm of it in front of the oil", *asked.Shown, front))
		s.figure("axial length", "%.1f", corrected, "mm")
		s.line("", "use it only where no length by light can be had; an eye that is not wholly filled comes out too short")
	case fault.CodeOf(err) == fault.Internal || fault.CodeOf(err) == "":
		return err
	default:
		s.signal("stop", "length", troubleOf(err))
	}
	return nil
}

func toldWords(a record.Answer) string {
	switch a {
	case record.Yes:
		return "yes"
	case record.No:
		return "no, so it is used for nothing"
	}
	return "not told, so it is used for nothing"
}

// wrongPlace names the field behind a fault of the optics.
func wrongPlace(err error) error {
	return atFlagOf(err, map[string]string{
		"lens for oil": "--oil-chamber", "back of the lens": "--oil-back-radius", "axial length": "--oil-axial-length",
		"anterior radius of the cornea": "--oil-cornea-front", "posterior radius of the cornea": "--oil-cornea-back",
	})
}
