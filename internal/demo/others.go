package demo

import (
	"math"

	"limitans/internal/record"
)

// membrane is an idiopathic epiretinal membrane.
func (t *teller) membrane() {
	t.hasEye(record.EpiretinalMembrane)
	t.peelMembrane(0.3+t.between(0, 0.4), 0.28, record.Peeled)
}

// veinOcclusion has a fragile membrane and a guarded gain.
func (t *teller) veinOcclusion() {
	t.hasEye(record.VeinOcclusion, record.EpiretinalMembrane)
	t.peelMembrane(0.6+t.between(0, 0.5), 0.12, record.PartlyPeeled)
}

// peelMembrane is the story of a membrane that is peeled for a gain in logMAR.
func (t *teller) peelMembrane(before, gain float64, state record.PeelState) {
	t.visit(seen{logMAR: before, pressure: t.quiet(), dueInDays: 60, dueFor: record.DueReview})
	t.scanMembrane()
	t.wait(20 + t.rng.IntN(80))
	s := surgery{
		procedure: record.Vitrectomy, indication: record.EpiretinalMembrane, option: "peel", stain: true,
		peels:     []record.Peel{{Membrane: record.MembraneERM, State: state}, {Membrane: record.MembraneILM, State: state}},
		tamponade: record.MediumFluid, posture: record.PostureFree,
	}
	if t.lens == record.LensCataract {
		s.procedure = record.VitrectomyWithLens
	}
	if t.chance(4) {
		s.events = append(s.events, record.EventIatrogenicBreak)
	}
	t.operate(s)
	t.wait(1)
	t.visit(seen{logMAR: before + 0.2, pressure: t.quiet(), dueInDays: 14, dueFor: record.DuePressure})
	t.wait(14 + t.rng.IntN(10))
	t.visit(seen{logMAR: before, pressure: t.quiet(), dueInDays: 60, dueFor: record.DueReview})
	t.late(before, gain*t.between(0.3, 0.6), "")
}

// recurrentDetachment is a second detachment with membranes over the macula.
func (t *teller) recurrentDetachment() {
	t.hasEye(record.RetinalDetachment, record.ProliferativeVR)
	t.visit(seen{logMAR: 2.2, pressure: t.between(6, 11), dueInDays: 5, dueFor: record.DueReview})
	t.wait(3 + t.rng.IntN(8))
	t.operate(surgery{
		procedure: record.Vitrectomy, indication: record.RetinalDetachment, option: "peel under heavy liquid", stain: true, heavy: true,
		peels: []record.Peel{
			{Membrane: record.MembraneERM, State: record.Peeled}, {Membrane: record.MembraneILM, State: record.PartlyPeeled},
		},
		retinotomy: math.Round(t.between(20, 180)/10) * 10, tamponade: record.MediumOil, posture: record.PostureFaceDown,
	})
	t.followOil(1.4)
}

// followOil writes the visits of an eye with oil; most have it taken out, some
// are overdue, in some it has gone to droplets.
func (t *teller) followOil(best float64) {
	inEye := []record.MediumSeen{{Medium: record.MediumOil, State: record.LookFull}}
	t.wait(1)
	t.visit(seen{logMAR: 2.3, pressure: t.between(14, 26), media: inEye, dueInDays: 7, dueFor: record.DuePressure})
	t.wait(7 + t.rng.IntN(4))
	t.visit(seen{logMAR: 1.9, pressure: t.between(12, 24), media: inEye, dueInDays: 30, dueFor: record.DueReview})
	t.wait(30 + t.rng.IntN(20))
	t.visit(seen{logMAR: best, pressure: t.between(12, 24), media: inEye, dueInDays: 60, dueFor: record.DueOilRemoval})
	stays := t.chance(25)
	t.wait(50 + t.rng.IntN(60))
	if stays {
		s := seen{logMAR: best, pressure: t.between(20, 28), media: inEye, dueInDays: 30, dueFor: record.DueOilRemoval, note: "Oil removal put off."}
		if t.chance(40) {
			s.media = []record.MediumSeen{{Medium: record.MediumOil, State: record.LookEmulsified}}
			s.problems = append(s.problems, record.CompEmulsification)
		}
		t.visit(s)
		return
	}
	t.operate(surgery{
		procedure: record.OilRemoval, indication: record.RetinalDetachment, option: "oil removal", oilOut: true,
		tamponade: record.MediumFluid, posture: record.PostureFree,
	})
	empty := []record.MediumSeen{{Medium: record.MediumOil, State: record.LookNone}}
	if t.chance(20) {
		empty = []record.MediumSeen{{Medium: record.MediumOil, State: record.LookDroplets}}
	}
	t.wait(1)
	t.visit(seen{logMAR: 1.8, pressure: t.quiet(), media: empty, dueInDays: 14, dueFor: record.DuePressure})
	t.wait(14 + t.rng.IntN(8))
	s := seen{logMAR: best, pressure: t.quiet(), media: empty, dueInDays: 60, dueFor: record.DueReview}
	if t.chance(12) {
		s.problems = append(s.problems, record.CompDetachment)
		s.logMAR = 2.3
	}
	t.visit(s)
	t.late(best, 0.05, "")
}

// retainedLiquid is a droplet of heavy liquid under the fovea after a repair.
func (t *teller) retainedLiquid() {
	t.hasEye(record.RetinalDetachment)
	t.visit(seen{logMAR: 2.0, pressure: t.between(8, 13), dueInDays: 3, dueFor: record.DueReview})
	t.wait(2 + t.rng.IntN(3))
	t.operate(surgery{
		procedure: record.Vitrectomy, indication: record.RetinalDetachment, option: "repair under heavy liquid", heavy: true,
		retinotomy: math.Round(t.between(0, 120)/10) * 10, tamponade: record.MediumGas, gas: record.C3F8, percent: 12, posture: record.PostureUpright,
	})
	t.wait(1)
	t.visit(seen{logMAR: 2.3, pressure: t.quiet(), dueInDays: 10, dueFor: record.DueGasCheck})
	t.wait(58 + t.rng.IntN(10))
	droplet, distance := math.Round(t.between(300, 1100)), math.Round(t.between(0, 200))
	under := []record.MediumSeen{{Medium: record.MediumHeavyLiquid, State: record.LookSubretinal, DropletUM: &droplet, FoveaDistanceUM: &distance}}
	t.visit(seen{logMAR: 1.1, pressure: t.quiet(), media: under, problems: []record.ComplicationCode{record.CompRetainedLiquid}, dueInDays: 21, dueFor: record.DueHeavyLiquid})
	t.wait(14 + t.rng.IntN(21))
	if t.chance(30) {
		t.visit(seen{logMAR: 1.1, pressure: t.quiet(), media: under, dueInDays: 60, dueFor: record.DueHeavyLiquid, note: "Patient asks to wait."})
		return
	}
	t.operate(surgery{
		procedure: record.HeavyLiquidRemoval, indication: record.RetainedHeavyLiquid, option: "aspirate through a fine cannula", heavyOut: true,
		tamponade: record.MediumAir, posture: record.PostureNotSupine,
	})
	t.wait(7 + t.rng.IntN(4))
	gone := []record.MediumSeen{{Medium: record.MediumHeavyLiquid, State: record.LookNone}}
	t.visit(seen{logMAR: 0.9, pressure: t.quiet(), media: gone, dueInDays: 60, dueFor: record.DueReview})
	t.late(0.9, 0.1, "")
}

// traction is watched; it lets go, stays or opens into a small hole.
func (t *teller) traction() {
	t.hasEye(record.VitreomacularTraction)
	before := 0.2 + t.between(0, 0.3)
	t.visit(seen{logMAR: before, pressure: t.quiet(), dueInDays: 60, dueFor: record.DueReview})
	t.wait(55 + t.rng.IntN(30))
	switch roll := t.rng.IntN(10); {
	case roll < 3:
		t.visit(seen{logMAR: before - 0.1, pressure: t.quiet(), note: "The vitreous has let go; no hole.", dueInDays: 180, dueFor: record.DueReview})
	case roll < 5:
		if !t.silent { // the eye is written already, and a day that is to come is not known yet
			t.eye.Diagnoses = append(t.eye.Diagnoses, record.Diagnosis{Code: record.FullThicknessHole, Since: t.day})
		}
		size := t.between(90, 240)
		t.visit(seen{logMAR: before + 0.2, pressure: t.quiet(), closure: record.FlatOpen, dueInDays: 14, dueFor: record.DueReview})
		t.scanHole(size)
		t.wait(7 + t.rng.IntN(14))
		t.operate(t.holeSurgery(size, ""))
		t.followGas(before+0.2, size, t.chance(closesSmall))
	default:
		t.visit(seen{logMAR: before, pressure: t.quiet(), dueInDays: 90, dueFor: record.DueReview})
		t.wait(85 + t.rng.IntN(40))
		t.visit(seen{logMAR: before, pressure: t.quiet(), dueInDays: 180, dueFor: record.DueReview})
	}
}

// lamellar is watched and not operated.
func (t *teller) lamellar() {
	t.hasEye(record.LamellarHole)
	before := 0.1 + t.between(0, 0.3)
	for range 3 {
		t.visit(seen{logMAR: before, pressure: t.quiet(), dueInDays: 180, dueFor: record.DueReview})
		t.wait(170 + t.rng.IntN(60))
	}
}
