package tamponade

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"limitans/fault"
)

// scenario is a watertight, healthy eye of 5 mL.
func scenario(t interface{ Fatal(...any) }, m Mixture, lens Lens, law Law, fill, days float64) Scenario {
	c, err := m.Composition()
	if err != nil {
		t.Fatal(err)
	}
	return Scenario{Globe: DefaultGlobe(5), Composition: c, Fill: fill, Law: law, Parameters: DefaultParameters(law, lens), Days: days, OpenMinutes: DefaultOpenMinutes}
}

func mustRun(t interface{ Fatal(...any) }, s Scenario, thresholds ...float64) Course {
	course, err := Run(s, thresholds...)
	if err != nil {
		t.Fatal(err)
	}
	return course
}

// Worked examples 12 and 13 of the tamponade reference, section 8: half-lives by
// the integration against Thompson 1989 and 1992 (abstracts). Tolerances 15 and
// 40 % are the example's; the second is tightened to 20 %, which every value of
// the 1992 series keeps.
func TestHalfLivesWorkedExamples12And13(t *testing.T) {
	for _, row := range []struct {
		m         Mixture
		lens      Lens
		published float64
		tolerance float64
	}{
		{Mixture{AgentAir, 100}, LensUnknown, 1.3, 0.15},
		{Mixture{AgentSF6, 20}, Phakic, 2.8, 0.15},
		{Mixture{AgentC3F8, 5}, LensUnknown, 4.2, 0.20},
		{Mixture{AgentC3F8, 10}, LensUnknown, 6.5, 0.20},
		{Mixture{AgentC3F8, 15}, LensUnknown, 8.0, 0.20},
		{Mixture{AgentC3F8, 20}, LensUnknown, 12.5, 0.20},
	} {
		for _, law := range []Law{VolumeLaw, ContactAreaLaw} {
			s := scenario(t, row.m, row.lens, law, 0.85, 60)
			got := mustRun(t, s, s.Fill/4).LastAbove[0] / 2
			if math.Abs(got-row.published) > row.tolerance*row.published {
				t.Errorf("%v, %v, %v law: half-life %.2f d, published %.1f", row.m, row.lens, law, got, row.published)
			}
		}
	}
}

// Worked example 11: least squares through the five published means gives slope
// 0.524 and intercept 1.26 day (tolerance 0.01). Second route: the model's own
// half-lives rise with the share as nearly straight as those do.
func TestHalfLifeAgainstShareWorkedExample11(t *testing.T) {
	line := func(y [5]float64) (slope, intercept float64) {
		for i, v := range y {
			slope += (float64(5*i) - 10) * v / 250
			intercept += v / 5
		}
		return slope, intercept - 10*slope
	}
	slope, intercept := line([5]float64{1.3, 4.2, 6.5, 8.0, 12.5})
	if math.Abs(slope-0.524) > 0.01 || math.Abs(intercept-1.26) > 0.01 || math.Abs(intercept+14*slope-8.60) > 0.01 {
		t.Errorf("slope %.4f, intercept %.4f", slope, intercept)
	}
	var ours [5]float64
	for i := range ours {
		m := Mixture{AgentC3F8, Percent(5 * i)}
		if i == 0 {
			m = Mixture{AgentAir, 100}
		}
		e, err := HalfLife(m, LensUnknown)
		if err != nil {
			t.Fatal(err)
		}
		ours[i] = e.Value
	}
	// Within 20 % of the published line at every share.
	for i, v := range ours {
		if want := intercept + slope*float64(5*i); math.Abs(v-want) > 0.2*want {
			t.Errorf("%d %%: %.2f d, line %.2f", 5*i, v, want)
		}
	}
}

// Worked example 14: a gas that never leaves keeps its volume at a share of
// (728 − Σt)/728: 9.5 and 12.2 % with oxygen of 40 and 20 mmHg (tolerance 0.1
// point; P 775 mmHg). By the closed form with a conductance of nearly nothing
// and dry gas: the late plateau equals the start there.
func TestNeutralShareWorkedExample14(t *testing.T) {
	for oxygen, percent := range map[float64]float64{40: 9.5, 20: 12.2} {
		p := DefaultParameters(VolumeLaw, LensUnknown)
		p.PerDay[Octafluoropropane] = 1e-9
		p.TissueMMHg[Oxygen] = oxygen
		low, high := 1.0, 30.0
		for range 50 {
			middle := (low + high) / 2
			c, err := Mixture{AgentC3F8, Percent(middle)}.Composition()
			if err != nil {
				t.Fatal(err)
			}
			f, err := NewFast(c, 0.5, VolumeLaw, p, 728)
			if err != nil {
				t.Fatal(err)
			}
			if f.relative(200) < 1 {
				low = middle
			} else {
				high = middle
			}
		}
		if math.Abs(low-percent) > 0.1 {
			t.Errorf("oxygen %g: neutral at %.2f %%, want %g", oxygen, low, percent)
		}
	}
}

// Worked example 15: Williamson et al. 2018 (abstract; a model): from 80 to 85 %
// fill a full eye is reached with C3F8 10 to 13, C2F6 12 to 15, SF6 19 to 25 %.
// It does here when the 85 % count the gas as it is drawn up, dry and at 20 °C;
// counted warm and moist in the eye a larger share is needed.
func TestFullFillWorkedExample15(t *testing.T) {
	c := &comparer{law: VolumeLaw}
	for agent, want := range map[Agent]Span{AgentC3F8: {10, 13}, AgentC2F6: {12, 15}, AgentSF6: {19, 25}} {
		got := c.fullFillPercent(agent, 0.85)
		if c.err != nil || got < want.Low || got > want.High {
			t.Errorf("%v: %.2f %%, want %v (%v)", agent, got, want, c.err)
		}
		facts, err := agent.Facts()
		if err != nil || facts.FullFillPercent != want {
			t.Errorf("%v: the register says %v", agent, facts.FullFillPercent)
		}
	}
}

// Worked example 21: the contact-area law from a full eye: (1 − s)² = (1 − s₀)²
// + t/T gives s = 0.500, f = 0.500 at T/4 and f = 0.207 at T/2 (tolerance
// 0.001). A pure gas in a tissue without gas of its own is that law exactly:
// dn/dt ∝ s at constant pressure.
func TestContactAreaLawWorkedExample21(t *testing.T) {
	s := func(share float64) float64 { return 1 - math.Sqrt(share) }
	for share, want := range map[float64]float64{0.25: 0.5, 0.5: 0.207} {
		x := s(share)
		if f := x * x * (3 - 2*x); math.Abs(f-want) > 0.001 {
			t.Errorf("t/T %g: closed form %g", share, f)
		}
	}
	p := DefaultParameters(ContactAreaLaw, LensUnknown)
	for _, g := range []Gas{Nitrogen, Oxygen, CarbonDioxide} {
		p.TissueMMHg[g] = 1e-9
	}
	// df/dt = −g·s(f) and f = 3s² − 2s³ give 6(1 − s)·ds/dt = −g, so
	// (1 − s)² = g·t/3 and T = 3/g.
	f, err := NewFast(Composition{SulphurHexafluoride: 1}, 1, ContactAreaLaw, p, 728)
	if err != nil {
		t.Fatal(err)
	}
	life := 3 / p.PerDay[SulphurHexafluoride]
	for share, want := range map[float64]float64{0.25: 0.5, 0.5: 0.2071} {
		got, err := f.FillAt(share * life)
		if err != nil || math.Abs(got-want) > 0.001 {
			t.Errorf("t/T %g: fill %.4f, want %g, %v", share, got, want, err)
		}
	}
}

// Worked example 24: the Ostwald coefficient of SF6 at 37 °C is 0.0044 within
// 5 %; the other derived rows of the reference by the same route.
func TestOstwaldWorkedExample24(t *testing.T) {
	for g, want := range map[Gas]float64{
		SulphurHexafluoride: 0.0044, Hexafluoroethane: 0.0011, Octafluoropropane: 0.00028,
		Nitrogen: 0.0134, Oxygen: 0.0276, CarbonDioxide: 0.62, NitrousOxide: 0.44,
	} {
		c := g.Constants()
		if math.Abs(c.Ostwald.Value-want) > 0.05*want {
			t.Errorf("%v: %.5f, want %g", g, c.Ostwald.Value, want)
		}
		if c.Ostwald.Low > c.Ostwald.Value || c.Ostwald.High < c.Ostwald.Value {
			t.Errorf("%v: spread %g to %g", g, c.Ostwald.Low, c.Ostwald.High)
		}
	}
}

// Free expansion as gas is drawn: 310.15/293.15 · 760/728 = 1.1045 at 20 °C and
// 15 mmHg (derived; exact arithmetic).
func TestAsDrawn(t *testing.T) {
	if got := AsDrawn(20, 15); math.Abs(got-310.15/293.15*760/728) > 1e-12 || math.Abs(got-1.1045) > 5e-5 {
		t.Errorf("%.5f", got)
	}
}

// The closed form against the integration, over gases, laws and fills without
// room for the bubble being short: fills within 0.035 of the cavity (the
// pressure that absorption lowers is left out, most for air on day 0),
// half-lives within 7 %, every date within a quarter of a day. With the eye
// full (20 % C3F8) the integration holds the bubble back by pressure: 0.06.
func TestFastAgainstFull(t *testing.T) {
	rows := 0
	for _, law := range []Law{VolumeLaw, ContactAreaLaw} {
		for _, m := range []Mixture{{AgentAir, 100}, {AgentSF6, 20}, {AgentSF6, 25}, {AgentC2F6, 16}, {AgentC3F8, 5}, {AgentC3F8, 14}, {AgentC3F8, 20}} {
			for _, fill := range []float64{0.3, 0.85} {
				rows++
				s := scenario(t, m, Phakic, law, fill, 200)
				full := mustRun(t, s, 0.5, 0.1, GoneFill, fill/4)
				f, err := NewFast(s.Composition.Settled(law, s.Parameters, fill, dryAtBaseline, DefaultOpenMinutes), fill, law, s.Parameters, dryAtBaseline)
				if err != nil {
					t.Fatal(err)
				}
				within := 0.035
				if m.Percent == 20 && m.Agent == AgentC3F8 {
					within = 0.06
				}
				for _, p := range full.Points {
					got, err := f.FillAt(p.Day)
					if err != nil || math.Abs(got-p.Fill) > within {
						t.Errorf("%v %v from %g, day %.2f: fill %.4f, integrated %.4f", law, m, fill, p.Day, got, p.Fill)
						break
					}
				}
				for i, x := range []float64{0.5, 0.1, GoneFill} {
					got, err := f.LastAbove(x)
					if err != nil || math.Abs(got-full.LastAbove[i]) > 0.25 {
						t.Errorf("%v %v from %g, threshold %g: day %.2f, integrated %.2f, %v", law, m, fill, x, got, full.LastAbove[i], err)
					}
				}
				if got, want := f.ApparentHalfLife(), full.LastAbove[3]/2; math.Abs(got-want) > 0.07*want {
					t.Errorf("%v %v from %g: half-life %.3f, integrated %.3f", law, m, fill, got, want)
				}
			}
		}
	}
	if rows != 28 {
		t.Fatalf("%d rows", rows)
	}
}

// Rabbit with pure SF6 and 67 % nitrous oxide: 2.6 times the volume after three
// hours (Kroll 1986, abstract). The bubble here starts small, so that pressure
// lets it grow. Tissue is taken to be full of the breathed gas at once and the
// conductance is that of water alone, so growth is over-predicted, by less than
// half. Breathing it later makes any bubble grow and the pressure jump.
func TestNitrousOxide(t *testing.T) {
	s := scenario(t, Mixture{AgentSF6, 100}, Phakic, VolumeLaw, 0.06, 1)
	s.Inhaled = []Inhalation{{FromDay: 0, ToDay: 1, NitrousOxide: 0.67, Oxygen: 0.33}}
	s.Globe.FacilityULPerMinPerMMHg, s.Globe.BaselineMMHg = 2, 9 // water leaves freely: volume is asked for, not pressure
	ratio := 0.0
	for _, p := range mustRun(t, s).Points {
		if math.Abs(p.Day-3.0/24) < 1e-9 {
			ratio = p.Fill / 0.06
		}
	}
	if ratio < 2.6 || ratio > 1.5*2.6 {
		t.Errorf("after 3 h %.2f times the volume, published 2.6", ratio)
	}
	later := scenario(t, Mixture{AgentC3F8, 14}, Phakic, VolumeLaw, 0.85, 6)
	calm := mustRun(t, later)
	later.Inhaled = []Inhalation{{FromDay: 5, ToDay: 5.05, NitrousOxide: 0.67, Oxygen: 0.33}}
	breathed := mustRun(t, later)
	if calm.Peak.PressureMMHg > 30 || breathed.Peak.PressureMMHg < 45 || breathed.Peak.Day < 5 {
		t.Errorf("peak %.1f mmHg without, %.1f on day %.2f with nitrous oxide", calm.Peak.PressureMMHg, breathed.Peak.PressureMMHg, breathed.Peak.Day)
	}
}

// A leak of gas makes the bubble shrink, and does not after it has closed.
func TestLeakShrinksTheBubble(t *testing.T) {
	s := scenario(t, Mixture{AgentC3F8, 14}, Phakic, VolumeLaw, 0.9, 3)
	tight := mustRun(t, s)
	s.Leak = Leak{ULPerMinPerMMHg: 0.2, UntilDay: 1}
	leaking := mustRun(t, s)
	at := func(c Course, day float64) Point {
		for _, p := range c.Points {
			if p.Day >= day-1e-9 {
				return p
			}
		}
		return Point{}
	}
	if at(tight, 1).Fill-at(leaking, 1).Fill < 0.2 || at(leaking, 1).PressureMMHg > at(tight, 1).PressureMMHg {
		t.Errorf("day 1: %+v tight, %+v leaking", at(tight, 1), at(leaking, 1))
	}
	lossAfter := at(leaking, 1.25).Fill - at(leaking, 3).Fill
	if lossAfter > 0.15 {
		t.Errorf("still loses %.2f after the leak has closed", lossAfter)
	}
}

// Mass balance: with every conductance but one next to nothing, the amount of
// that gas falls exactly by what its law says, and the others stay. Volume and
// water sum to the cavity and its stretch at every point. No volume, amount or
// pressure is ever negative; the water, which is what is left over, may miss
// zero by what a hundred steps of a millionth add up to.
func TestBalanceProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		agent := rapid.SampledFrom([]Agent{AgentSF6, AgentC2F6, AgentC3F8}).Draw(t, "agent")
		m := Mixture{agent, Percent(rapid.Float64Range(1, 40).Draw(t, "percent"))}
		law := rapid.SampledFrom([]Law{VolumeLaw, ContactAreaLaw}).Draw(t, "law")
		s := scenario(t, m, rapid.SampledFrom([]Lens{LensUnknown, Phakic, Aphakic, Pseudophakic}).Draw(t, "lens"), law, rapid.Float64Range(0.05, 1).Draw(t, "fill"), 4)
		s.OpenMinutes = 0
		s.Globe.CavityML = rapid.Float64Range(3, 11).Draw(t, "cavity")
		course := mustRun(t, s)
		for _, p := range course.Points {
			stretch, _ := s.Globe.stretch(math.Log(p.PressureMMHg))
			if math.Abs(p.Fill+p.WaterShare-1-stretch) > 1e-9 || p.Fill <= 0 || p.PressureMMHg <= 0 || p.WaterShare < -1e-4 {
				t.Fatalf("%+v", p)
			}
			sum := 0.0
			for _, partial := range p.PartialMMHg {
				if partial < -1e-6 {
					t.Fatalf("negative amount: %+v", p)
				}
				sum += partial
			}
			if dry := s.Globe.AmbientMMHg + p.PressureMMHg - WaterVapourMMHg; math.Abs(sum-dry) > 1e-6*dry {
				t.Fatalf("partial pressures sum to %g of %g", sum, dry)
			}
		}
		// No exchange, no outflow beyond inflow: nothing is lost or made.
		for g := range s.Parameters.PerDay {
			s.Parameters.PerDay[g] = 1e-12
		}
		still := mustRun(t, s)
		for _, p := range still.Points {
			if math.Abs(p.Fill-s.Fill) > 1e-5 {
				t.Fatalf("without exchange the fill went from %g to %g", s.Fill, p.Fill)
			}
		}
	})
}

// More of a long-acting gas never shortens its stay, nor does more fill; the
// slower lens never shortens it either. By the closed form, at any threshold.
func TestMoreGasStaysLonger(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		agent := rapid.SampledFrom([]Agent{AgentSF6, AgentC2F6, AgentC3F8}).Draw(t, "agent")
		law := rapid.SampledFrom([]Law{VolumeLaw, ContactAreaLaw}).Draw(t, "law")
		less := rapid.Float64Range(1, 99).Draw(t, "less")
		more := rapid.Float64Range(less, 100).Draw(t, "more")
		fill := rapid.Float64Range(0.05, 1).Draw(t, "fill")
		fuller := rapid.Float64Range(fill, 1).Draw(t, "fuller")
		threshold := rapid.Float64Range(GoneFill, 1).Draw(t, "threshold")
		stay := func(percent, fill float64, lens Lens) float64 {
			c, err := Mixture{agent, Percent(percent)}.Composition()
			if err != nil {
				t.Fatal(err)
			}
			f, err := NewFast(c, fill, law, DefaultParameters(law, lens), dryAtBaseline)
			if err != nil {
				t.Fatal(err)
			}
			day, err := f.LastAbove(threshold)
			if err != nil {
				t.Fatal(err)
			}
			return day
		}
		const slack = 1e-3 // days: what the search between grid points leaves
		base := stay(less, fill, Aphakic)
		if got := stay(more, fill, Aphakic); got < base-slack {
			t.Fatalf("%v: %.2f %% stays %.4f d, %.2f %% %.4f d", agent, less, base, more, got)
		}
		if got := stay(less, fuller, Aphakic); got < base-slack {
			t.Fatalf("%v: from %.3f %.4f d, from %.3f %.4f d", agent, fill, base, fuller, got)
		}
		if got := stay(less, fill, Phakic); got < base-slack {
			t.Fatalf("%v: aphakic %.4f d, phakic %.4f d", agent, base, got)
		}
	})
}

func TestImpossibleScenariosAreRefused(t *testing.T) {
	good := scenario(t, Mixture{AgentSF6, 20}, Phakic, VolumeLaw, 0.8, 10)
	for name, c := range map[string]struct {
		change func(*Scenario)
		code   fault.Code
	}{
		"fill in percent":    {func(s *Scenario) { s.Fill = 80 }, fault.Invalid},
		"no fill":            {func(s *Scenario) { s.Fill = 0 }, fault.Invalid},
		"not a number":       {func(s *Scenario) { s.Fill = math.NaN() }, fault.Invalid},
		"shares":             {func(s *Scenario) { s.Composition[Nitrogen] += 0.1 }, fault.Invalid},
		"negative share":     {func(s *Scenario) { s.Composition[Oxygen], s.Composition[Nitrogen] = -0.1, 0.9 }, fault.Invalid},
		"endless":            {func(s *Scenario) { s.Days = 1e6 }, fault.Invalid},
		"cavity":             {func(s *Scenario) { s.Globe.CavityML = 0 }, fault.Invalid},
		"glaucoma, healthy":  {func(s *Scenario) { s.Globe.BaselineMMHg = 30 }, fault.Conflict},
		"pressure":           {func(s *Scenario) { s.PressureMMHg = 500 }, fault.Invalid},
		"conductance":        {func(s *Scenario) { s.Parameters.PerDay[Nitrogen] = 0 }, fault.Invalid},
		"tissue":             {func(s *Scenario) { s.Parameters.TissueMMHg[Nitrogen] = -1 }, fault.Invalid},
		"leak":               {func(s *Scenario) { s.Leak.ULPerMinPerMMHg = -1 }, fault.Invalid},
		"breathing too much": {func(s *Scenario) { s.Inhaled = []Inhalation{{0, 1, 0.8, 0.3}} }, fault.Invalid},
		"open for hours":     {func(s *Scenario) { s.OpenMinutes = 600 }, fault.Invalid},
	} {
		s := good
		c.change(&s)
		if _, err := Run(s); fault.CodeOf(err) != c.code {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := Run(good, 1.5); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("threshold: %v", err)
	}
	if _, err := (Mixture{}).Composition(); fault.CodeOf(err) != fault.Unsupported {
		t.Errorf("no gas: %v", err)
	}
	p := good.Parameters
	p.TissueMMHg[NitrousOxide] = 400
	if _, err := NewFast(good.Composition, 0.8, VolumeLaw, p, dryAtBaseline); fault.CodeOf(err) != fault.Unsupported {
		t.Errorf("nitrous oxide in the closed form: %v", err)
	}
}
