package tamponade

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"limitans/estimate"
	"limitans/eye"
	"limitans/fault"
)

// exact is for arithmetic on a handful of float64 numbers of order 100.
const exact = 1e-9

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %g, want %g ± %g", what, got, want, tolerance)
	}
}

func unknownSyringe(t testing.TB, capacityML float64) Syringe {
	t.Helper()
	s, err := NewSyringe(capacityML, math.NaN(), math.NaN())
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func cavity(t testing.TB, axialLengthMM float64) estimate.Estimate {
	t.Helper()
	v, err := eye.CavityVolumeML(axialLengthMM)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func TestExample7FlushWilliams1990(t *testing.T) {
	for _, c := range []struct{ cavityML, want float64 }{{5, 0.9933}, {10, 0.9179}} {
		got, err := FlushCompleteness(25, c.cavityML)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "25 mL", got, c.want, 0.0001)
	}
}

// TestFlushTableOfTheReference: section 3, three printed decimals.
func TestFlushTableOfTheReference(t *testing.T) {
	cavities := []float64{4, 5, 6, 8, 10}
	for _, row := range []struct {
		flushML float64
		want    []float64
	}{
		{10, []float64{.918, .865, .811, .713, .632}},
		{20, []float64{.993, .982, .964, .918, .865}},
		{25, []float64{.998, .993, .984, .956, .918}},
		{40, []float64{1.000, 1.000, .999, .993, .982}},
	} {
		for i, v := range cavities {
			got, err := FlushCompleteness(row.flushML, v)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "flush", got, row.want[i], 0.0005+1e-9)
		}
	}
}

// TestFlushAgainstStepwiseWashout is a second route: the cavity washed in many
// small steps, each mixing and letting out as much as came in.
func TestFlushAgainstStepwiseWashout(t *testing.T) {
	const steps, flushML, cavityML = 200000, 17.0, 6.12
	concentration, step := 0.0, flushML/float64(steps)
	for range steps {
		concentration = (concentration*cavityML + step) / (cavityML + step)
	}
	got, err := FlushCompleteness(flushML, cavityML)
	if err != nil {
		t.Fatal(err)
	}
	// The step's error is about F·step/(2·V²) times the rest of air.
	near(t, "stepwise", got, concentration, 1e-5)
	back, err := FlushVolumeML(Percent(14*got), 14, cavityML)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "inverse", back, flushML, 1e-9)
	if _, err := FlushVolumeML(14, 14, 5); fault.CodeOf(err) != fault.NotMeasurable {
		t.Errorf("the supply's own share: %v", err)
	}
}

func TestExample8FiftyMillilitresOfC3F8(t *testing.T) {
	for _, c := range []struct {
		mixture  Mixture
		gas, air float64
	}{
		{Mixture{AgentC3F8, 14}, 7, 43},
		{Mixture{AgentSF6, 20}, 10, 40},
		{Mixture{AgentC2F6, 16}, 8, 42},
	} {
		sheet, err := PlanMixing(MixingInput{Mixture: c.mixture, Syringe: unknownSyringe(t, 50), CavityML: cavity(t, 24)})
		if err != nil {
			t.Fatal(err)
		}
		if sheet.Marks.GasML != c.gas || sheet.Marks.AirML != c.air || sheet.Marks.TotalML != 50 || !sheet.Accepted() {
			t.Errorf("%s: %+v, stops %v", c.mixture, sheet.Marks, sheet.Stops)
		}
	}
}

func TestExample9Overpressure(t *testing.T) {
	for _, c := range []struct {
		nominal          Percent
		atmospheres      float64
		want, tolerance  float64
		sourceOfTheValue string
	}{
		{20, 1.5, 27.27, 0.01, "section 8"},
		{20, 2, 33.3, 0.05, "section 3"},
		{14, 1.5, 19.6, 0.05, "section 3"},
		{20, 1.2, 23, 0.5, "problem A3: about 23"},
	} {
		got, err := OverpressurePercent(c.nominal, c.atmospheres)
		if err != nil {
			t.Fatal(err)
		}
		near(t, c.sourceOfTheValue, float64(got), c.want, c.tolerance)
	}
	for _, k := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if _, err := OverpressurePercent(20, k); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%g atmospheres: %v", k, err)
		}
	}
}

func TestExample10OneShot(t *testing.T) {
	got, err := OneShotPercent(1.5, 5)
	if err != nil || got != 30 {
		t.Errorf("%v, %v", got, err)
	}
	if _, err := OneShotPercent(6, 5); err == nil {
		t.Error("more gas than eye")
	}
}

// person is somebody with a syringe: an independent simulation that knows
// nothing of the recipe's formulas. Volumes are at room pressure; what is in
// barrel and nozzle is mixed after every movement.
type person struct {
	dead, plunger float64
	gas           float64 // of barrel and nozzle together
}

func (p *person) draw(toML, shareOfGas float64) {
	p.gas += (toML - p.plunger) * shareOfGas
	p.plunger = toML
}

func (p *person) push(toML float64) {
	p.gas *= (toML + p.dead) / (p.plunger + p.dead)
	p.plunger = toML
}

func (p *person) share() float64 { return p.gas / (p.plunger + p.dead) }

// follow does what the steps say: the nozzle holds room air or is rinsed, gas is
// overdrawn by part of a division and pushed back to the line, air is drawn to the second line.
func follow(m Marks, s Syringe, dead, overdraw float64) float64 {
	line := func(ml float64) float64 { return math.Round(ml/s.GraduationML) * s.GraduationML }
	p := &person{dead: dead}
	if s.Nozzle == NozzleGas {
		p.gas = dead
	}
	p.draw(math.Min(s.CapacityML, line(m.GasML)+overdraw*s.GraduationML), 1)
	p.push(line(m.GasML))
	p.draw(line(m.TotalML), 0)
	return 100 * p.share()
}

func TestNoAcceptedRecipeMissesByMoreThanHalfAPoint(t *testing.T) {
	accepted := 0
	rapid.Check(t, func(t *rapid.T) {
		agent := rapid.SampledFrom([]Agent{AgentSF6, AgentC2F6, AgentC3F8}).Draw(t, "agent")
		percent := Percent(rapid.Float64Range(2, 40).Draw(t, "percent"))
		capacity := rapid.SampledFrom([]float64{0.5, 1, 3, 5, 10, 20, 30, 35, 50, 60, 100}).Draw(t, "capacity")
		graduation := rapid.SampledFrom([]float64{math.NaN(), capacity / 100, capacity / 50, capacity / 20}).Draw(t, "graduation")
		dead := rapid.SampledFrom([]float64{math.NaN(), 0, capacity / 1000, capacity / 200}).Draw(t, "dead space")
		s, err := NewSyringe(capacity, graduation, dead)
		if err != nil {
			t.Fatal(err)
		}
		s.Nozzle = rapid.SampledFrom([]Nozzle{NozzleAir, NozzleGas}).Draw(t, "nozzle")
		by, err := NewPair(Person{Name: "One"}, Person{Name: "Two"})
		if err != nil {
			t.Fatal(err)
		}
		in := MixingInput{Mixture: Mixture{agent, percent}, Syringe: s, CavityML: estimate.Normal(5, 0.5, "test")}
		for _, code := range []StopCode{StopAboveNonExpansile, StopAboveUse, StopOtherGas} {
			l, err := NewLifting(code, "only for this test", by)
			if err != nil {
				t.Fatal(err)
			}
			in.Liftings = append(in.Liftings, l)
		}
		sheet, err := PlanMixing(in)
		if err != nil {
			t.Fatal(err)
		}
		if !sheet.Accepted() {
			if sheet.Marks != (Marks{}) {
				t.Fatalf("a stopped sheet has a recipe: %+v", sheet.Marks)
			}
			return
		}
		accepted++
		trueDead := rapid.Float64Range(s.DeadSpaceML.Low, s.DeadSpaceML.High).Draw(t, "true dead space")
		overdraw := rapid.Float64Range(0, 1).Draw(t, "overdraw")
		got := follow(sheet.Marks, s, trueDead, overdraw)
		if math.Abs(got-float64(percent)) > MixingTolerancePoints+exact {
			t.Fatalf("%v in %v: %+v gives %g %%", in.Mixture, s, sheet.Marks, got)
		}
		if got < sheet.InSyringe.Low-exact || got > sheet.InSyringe.High+exact {
			t.Fatalf("%g lies outside %v", got, sheet.InSyringe)
		}
		if m := sheet.Marks; math.Abs(m.GasML+m.AirML-m.TotalML) > exact || m.TotalML > capacity {
			t.Fatalf("%+v does not add up", m)
		}
	})
	// A short run draws a fifth of the cases.
	if least := map[bool]int{false: 20, true: 2}[testing.Short()]; accepted < least {
		t.Errorf("only %d recipes were accepted", accepted)
	}
}

// TestCarelessRecipeIsCaught shows that the simulation can fail: the plain
// percentage on a rinsed small syringe misses by more than half a point.
func TestCarelessRecipeIsCaught(t *testing.T) {
	s := Syringe{CapacityML: 10, GraduationML: 0.2, DeadSpaceML: Span{0.1, 0.1}, Nozzle: NozzleGas}
	if got := follow(Marks{GasML: 1.4, TotalML: 10}, s, 0.1, 0); got < 14.5 {
		t.Errorf("%g %%", got)
	}
}

func TestPurge(t *testing.T) {
	got, err := ResidualAfterPurge(0.5, 9.5, 3)
	if err != nil {
		t.Fatal(err)
	}
	p := &person{dead: 0.5, gas: 0.5} // the old content stands for the gas
	for range 3 {
		p.draw(9.5, 0)
		p.push(0)
	}
	near(t, "purge", got, p.gas/0.5, 1e-12)
	if _, err := ResidualAfterPurge(-1, 1, 1); err == nil {
		t.Error("negative dead space")
	}
}

func TestSyringesThatCannotBe(t *testing.T) {
	for _, c := range [][3]float64{
		{0, math.NaN(), math.NaN()},
		{500, math.NaN(), math.NaN()},
		{math.NaN(), math.NaN(), math.NaN()},
		{50, 0, 0},
		{50, 20, 0},
		{50, -1, 0},
		{50, 0.001, 0},
		{50, 1, -0.1},
		{50, 1, 11},
		{50, math.Inf(1), 0},
	} {
		if s, err := NewSyringe(c[0], c[1], c[2]); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%v: %+v, %v", c, s, err)
		}
	}
	for _, s := range []Syringe{{}, {CapacityML: 50}, {CapacityML: 50, GraduationML: 1, DeadSpaceML: Span{0.2, 0.1}}, {CapacityML: nan, GraduationML: nan}} {
		if _, err := s.FindMarks(14); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%+v: %v", s, err)
		}
		if _, err := PlanMixing(MixingInput{Mixture: Mixture{AgentC3F8, 14}, Syringe: s, CavityML: fiveML}); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%+v: %v", s, err)
		}
	}
	if _, err := unknownSyringe(t, 50).FindMarks(100); err == nil {
		t.Error("pure gas is no mixture")
	}
}

// TestCoarseSyringeIsAStop: 20 mL with lines of 2 mL cannot give 14 %.
func TestCoarseSyringeIsAStop(t *testing.T) {
	s, err := NewSyringe(20, 2, 0.1)
	if err != nil {
		t.Fatal(err)
	}
	sheet, err := PlanMixing(MixingInput{Mixture: Mixture{AgentC3F8, 12}, Syringe: s, CavityML: cavity(t, 24)})
	if err != nil {
		t.Fatal(err)
	}
	if sheet.Accepted() || sheet.Stops[0].Code != StopSyringe || sheet.Marks != (Marks{}) {
		t.Errorf("%+v", sheet)
	}
}

func TestLongEyeNeedsMoreThanTheSyringe(t *testing.T) {
	sheet, err := PlanMixing(MixingInput{Mixture: Mixture{AgentC3F8, 14}, Syringe: unknownSyringe(t, 50), CavityML: cavity(t, 32)})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "flush at 32 mm", sheet.Flush.NeededML.Value, 5*10.447, 0.01)
	found := false
	for _, w := range sheet.Warnings {
		found = found || w.Code == "flush_short" && strings.Contains(w.Text, "52.2")
	}
	if !found {
		t.Errorf("%+v", sheet.Warnings)
	}
	if p := sheet.Flush.PercentInEye; !(p.Value < 14 && p.Low < p.Value && p.High > p.Value) {
		t.Errorf("%+v", p)
	}
}

func TestFluidFilledNeedsOneVolume(t *testing.T) {
	v := cavity(t, 24)
	sheet, err := PlanMixing(MixingInput{Mixture: Mixture{AgentC3F8, 14}, Syringe: unknownSyringe(t, 50), CavityML: v, Content: FluidFilled, LineML: 1})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "volume", sheet.Flush.NeededML.Value, v.Value+1, exact)
	near(t, "share", sheet.Flush.PercentInEye.Value, sheet.InSyringe.Value, exact)
}
