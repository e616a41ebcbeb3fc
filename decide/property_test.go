package decide

import (
	"encoding/json"
	"math"
	"testing"

	"pgregory.net/rapid"

	"limitans/estimate"
	"limitans/fault"
	"limitans/stats"
	"limitans/tamponade"
)

// drawFindings draws findings with every word of the vocabulary and numbers on
// both sides of every limit.
func drawFindings(t *rapid.T) Findings {
	answer := func(name string) Answer {
		return rapid.SampledFrom([]Answer{NotTold, NotTold, Yes, No, Unknown}).Draw(t, name)
	}
	number := func(name string, low, high float64) *float64 {
		if rapid.Bool().Draw(t, name+" told") {
			return nil
		}
		v := rapid.Float64Range(low, high).Draw(t, name)
		return &v
	}
	size := func(name string) *estimate.Estimate {
		v := number(name, 30, 1500)
		if v == nil {
			return nil
		}
		e := estimate.Normal(*v, rapid.Float64Range(0, 60).Draw(t, name+" error"), "drawn")
		return &e
	}
	return Findings{
		Condition: rapid.SampledFrom(Conditions()).Draw(t, "condition"),
		Cause:     Cause(rapid.SampledFrom([]string{"", "idiopathic", "trauma", "after-detachment", "inflammation"}).Draw(t, "cause")),
		MLDUM:     size("mld"), BaseUM: size("base"), LargestUM: size("largest"),
		DurationMonths: number("duration", 0, 120), ScanAgeDays: number("scan", 0, 90), AxialLengthMM: number("axial", 18, 35), BySoundInOil: answer("sound"),
		VitreousAttached: answer("attached"), AttachmentUM: number("attachment", 100, 4000), Membrane: answer("membrane"),
		MembraneStage: rapid.IntRange(0, 4).Draw(t, "stage"), Lamellar: LamellarKind(rapid.SampledFrom([]string{"", "lamellar", "foveoschisis", "pseudohole"}).Draw(t, "lamellar")),
		Symptoms: answer("symptoms"), Worsening: answer("worsening"),
		EarlierSurgery: Earlier(rapid.SampledFrom([]string{"", "none", "failed", "reopened"}).Draw(t, "earlier")), OpenAs: OpenAs(rapid.SampledFrom([]string{"", "", "flat", "elevated"}).Draw(t, "open")),
		MembraneLeft: answer("left"), MembraneFurther: answer("further"), DaysSinceSurgery: number("days", 0, 400),
		VeinOcclusion: answer("vein"), MacularIschaemia: answer("ischaemia"), VitreousHaemorrhage: answer("haemorrhage"), Detachment: answer("detachment"),
		Proliferation: answer("proliferation"), BandLifts: answer("band"), DropUM: number("drop", 10, 3000), DropDistanceUM: number("distance", 0, 4000), DropIsLiquid: answer("liquid"),
		Lens:       rapid.SampledFrom([]tamponade.Lens{tamponade.LensUnknown, tamponade.Phakic, tamponade.Pseudophakic, tamponade.Aphakic}).Draw(t, "lens"),
		CanPosture: answer("posture"), ClotRisk: answer("clot"), FlightAhead: answer("flight"), AnaestheticAhead: answer("anaesthetic"), OnlyEye: answer("only"),
		GaugeG: rapid.SampledFrom([]int{0, 20, 23, 25, 27}).Draw(t, "gauge"),
	}
}

// Whatever is told ends in options with a first choice, or in a fault that says
// what contradicts what; numbers lie in their intervals, probabilities add up,
// an own series never brings what is expected further from itself than what is
// published, and the caller's findings stay as they were.
func TestAnyFindings(t *testing.T) {
	decided := 0
	rapid.Check(t, func(t *rapid.T) {
		f := drawFindings(t)
		before, err := json.Marshal(f)
		if err != nil {
			t.Fatal(err)
		}
		d, err := Decide(f, Unit{})
		if after, _ := json.Marshal(f); string(after) != string(before) {
			t.Fatalf("the findings were changed: %s, %s", before, after)
		}
		if err != nil {
			if code := fault.CodeOf(err); code != fault.Invalid && code != fault.Conflict {
				t.Fatal(err)
			}
			return
		}
		decided++
		if d.First().Place != FirstChoice {
			t.Fatalf("%s comes first as %s", d.First().Code, d.First().Place)
		}
		sum := 0.0
		for _, s := range d.Sizes {
			sum += s.Probability
		}
		if len(d.Sizes) > 0 && math.Abs(sum-1) > 1e-9 {
			t.Fatalf("sizes add to %g", sum)
		}
		for _, o := range d.Options {
			checkOption(t, o)
		}
		o := d.First()
		if !o.Published.Expected.Known() || o.Published.Events < 0 {
			return
		}
		own := OwnResult{Code: o.Code, Counts: stats.Counts{Events: rapid.IntRange(0, 12).Draw(t, "closed"), Trials: 12}}
		weighed, err := Decide(f, Unit{Own: []OwnResult{own}})
		if err != nil {
			t.Fatal(err)
		}
		share := float64(own.Counts.Events) / 12
		if got := weighed.First().Closure.Value; math.Abs(got-share) > math.Abs(o.Closure.Value-share)+1e-9 {
			t.Fatalf("%g published, %g own, %g weighed", o.Closure.Value, share, got)
		}
	})
	if decided == 0 {
		t.Error("nothing was decided")
	}
}

func checkOption(t *rapid.T, o Option) {
	sum := 0.0
	for _, p := range o.Places {
		sum += p.Probability
	}
	if sum > 1+1e-9 || o.Name == "" || o.Why.Text == "" || o.Weighing == "" {
		t.Fatalf("%+v", o)
	}
	estimates := []estimate.Estimate{o.Closure, o.Published.Expected, o.Own.Share, o.Acuity.After, o.Acuity.Change}
	for _, c := range o.Costs.Tamponades {
		estimates = append(estimates, c.Closure, c.Gone)
	}
	for _, r := range o.Costs.Risks {
		estimates = append(estimates, r.Share)
	}
	for _, e := range estimates {
		if e.Basis == "" || e.Known() && !(e.Low <= e.Value && e.Value <= e.High) {
			t.Fatalf("%s: %+v", o.Code, e)
		}
	}
	for _, all := range [][]Sentence{o.Reasons, o.Against, o.Steps, o.Needs.Gauge, o.Needs.Stain, o.Needs.Agents, o.Needs.Instruments, o.Costs.Time, o.Costs.Other} {
		for _, s := range all {
			if s.Source == "" || s.HowKnown == "" || !(s.Probability > 0 && s.Probability <= 1) {
				t.Fatalf("%s: %+v", o.Code, s)
			}
		}
	}
}
