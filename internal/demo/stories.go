package demo

import (
	"math"
	"time"

	"limitans/internal/record"
)

func secondsOf(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// Shares in percent; drawn by hand to be plausible, no source.
const (
	closesSmall, closesMedium, closesLarge, closesMyopic, closesAgain = 96, 93, 85, 75, 72
)

// bothPeeled is the usual peel of a macular hole.
func bothPeeled() []record.Peel {
	return []record.Peel{{Membrane: record.MembraneHyaloid, State: record.Peeled}, {Membrane: record.MembraneILM, State: record.Peeled}}
}

func (t *teller) smallHole()  { t.hole(90, 245, closesSmall, "") }
func (t *teller) mediumHole() { t.hole(255, 395, closesMedium, "") }
func (t *teller) largeHole()  { t.hole(410, 780, closesLarge, record.FlapInverted) }

// hole is the story of a hole of a size in µm that is operated once.
func (t *teller) hole(fromUM, toUM float64, closesPercent int, flap record.FlapType) {
	t.hasEye(record.FullThicknessHole)
	size := t.between(fromUM, toUM)
	before := sightBefore(size) + t.between(-0.1, 0.15)
	t.visit(seen{logMAR: before, pressure: t.quiet(), closure: record.FlatOpen, dueInDays: 28, dueFor: record.DueReview})
	t.scanHole(size)
	t.wait(7 + t.rng.IntN(40))
	t.operate(t.holeSurgery(size, flap))
	closed := t.chance(closesPercent)
	t.followGas(before, size, closed)
}

// sightBefore is a logMAR for a hole of a size in µm.
func sightBefore(sizeUM float64) float64 { return 0.35 + sizeUM/1000 }

// holeSurgery chooses what a surgeon of this unit would do.
func (t *teller) holeSurgery(sizeUM float64, flap record.FlapType) surgery {
	s := surgery{
		procedure: record.Vitrectomy, indication: record.FullThicknessHole, option: "peel", peels: bothPeeled(), stain: true,
		tamponade: record.MediumGas, gas: record.SF6, percent: 20, posture: record.PostureNotSupine, flap: flap,
	}
	if sizeUM < 250 && t.chance(50) {
		s.tamponade, s.gas, s.percent = record.MediumAir, "", 0
	}
	if flap != "" {
		s.option, s.posture = "flap", record.PostureFaceDown
	}
	if t.lens == record.LensCataract && t.chance(60) {
		s.procedure = record.VitrectomyWithLens
	}
	return s
}

// followGas writes the visits after an operation with gas or air.
func (t *teller) followGas(before, sizeUM float64, closed bool) {
	t.wait(1)
	high := t.chance(15)
	pressure := t.quiet()
	var problems []record.ComplicationCode
	if high {
		pressure, problems = t.between(26, 38), []record.ComplicationCode{record.CompHighPressure}
	}
	t.visit(seen{logMAR: 2.3, pressure: pressure, problems: problems, dueInDays: 7, dueFor: record.DueGasCheck})
	t.wait(6 + t.rng.IntN(3))
	class := record.ElevatedOpen
	if closed {
		class = record.FlatClosed
	}
	t.visit(t.pastTheGas(seen{logMAR: before, pressure: t.quiet(), closure: class, dueInDays: 21, dueFor: record.DueReview}))
	t.wait(18 + t.rng.IntN(14))
	gain := 0.0
	if closed {
		gain = 0.1 + t.between(0, 0.15)
	}
	t.visit(t.pastTheGas(seen{logMAR: before - gain, pressure: t.quiet(), closure: class, dueInDays: 60, dueFor: record.DueReview}))
	if closed {
		t.scanClosed()
	} else {
		t.scanHole(sizeUM * t.between(0.9, 1.2))
	}
	t.late(before, gain, class)
}

// pastTheGas is a visit as far as gas lets the macula be seen.
func (t *teller) pastTheGas(s seen) seen {
	switch fill := t.gasFill(); {
	case fill > coveredFill:
		s.logMAR, s.closure, s.dueFor = 1.2, "", record.DueGasCheck
	case fill > 0:
		s.dueFor = record.DueGasCheck
	}
	return s
}

// late writes the visits at about three, six and twelve months.
func (t *teller) late(before, gain float64, class record.ClosureClass) {
	for i, days := range []int{55, 90, 180} {
		t.wait(days + t.rng.IntN(25))
		if gain > 0 {
			gain += t.between(0.03, 0.12)
		}
		s := seen{logMAR: math.Max(0, before-gain), pressure: t.quiet(), closure: class}
		if i < 2 {
			s.dueInDays, s.dueFor = 100+80*i, record.DueReview
		}
		if t.lens == record.LensClear && i == 1 && t.chance(60) {
			t.lens = record.LensCataract
			s.problems = append(s.problems, record.CompCataract)
		}
		t.visit(s)
	}
}

// myopicHole is a hole in a long eye; a third come with a detachment and get oil.
func (t *teller) myopicHole() {
	size := t.between(350, 900)
	if t.chance(35) {
		t.hasEye(record.MacularHoleDetachment, record.PathologicMyopia)
		t.visit(seen{logMAR: 2.3, pressure: t.between(7, 12), closure: record.ElevatedOpen, dueInDays: 5, dueFor: record.DueReview})
		t.wait(2 + t.rng.IntN(5))
		t.operate(surgery{
			procedure: record.Vitrectomy, indication: record.MacularHoleDetachment, option: "flap", peels: bothPeeled(),
			flap: record.FlapInverted, stain: true, heavy: true, tamponade: record.MediumOil, posture: record.PostureFaceDown,
		})
		t.followOil(1.3)
		return
	}
	t.hasEye(record.FullThicknessHole, record.PathologicMyopia)
	before := 0.7 + t.between(0, 0.5)
	t.visit(seen{logMAR: before, pressure: t.quiet(), closure: record.FlatOpen, dueInDays: 28, dueFor: record.DueReview})
	t.scanHole(size)
	t.wait(10 + t.rng.IntN(40))
	s := t.holeSurgery(size, record.FlapInverted)
	if t.chance(30) {
		s.gas, s.percent = record.C3F8, 14
	}
	t.operate(s)
	t.followGas(before, size, t.chance(closesMyopic))
}

// failedHole is operated twice.
func (t *teller) failedHole() {
	t.hasEye(record.FullThicknessHole)
	size := t.between(420, 900)
	before := sightBefore(size)
	t.visit(seen{logMAR: before, pressure: t.quiet(), closure: record.FlatOpen, dueInDays: 28, dueFor: record.DueReview})
	t.scanHole(size)
	t.wait(10 + t.rng.IntN(30))
	first := t.holeSurgery(size, "")
	first.peels = []record.Peel{{Membrane: record.MembraneHyaloid, State: record.Peeled}, {Membrane: record.MembraneILM, State: record.PartlyPeeled}}
	t.operate(first)
	t.wait(1)
	t.visit(seen{logMAR: 2.3, pressure: t.quiet(), dueInDays: 10, dueFor: record.DueGasCheck})
	t.wait(24 + t.rng.IntN(10))
	t.visit(seen{logMAR: before + 0.05, pressure: t.quiet(), closure: record.ElevatedOpen, dueInDays: 30, dueFor: record.DueReview})
	t.scanHole(size * 1.1)
	t.wait(30 + t.rng.IntN(40))
	again := t.holeSurgery(size*1.1, record.FlapFree)
	again.option = "complete the peel, free flap"
	again.peels = []record.Peel{{Membrane: record.MembraneILM, State: record.Peeled}}
	t.operate(again)
	t.followGas(before+0.05, size*1.1, t.chance(closesAgain))
}
