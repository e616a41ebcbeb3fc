package paper_test

import (
	"bytes"
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"limitans/estimate"
	"limitans/eye"
	"limitans/fault"
	"limitans/internal/paper"
	"limitans/internal/record"
	"limitans/oct/measure"
	"limitans/tamponade"
)

// What would make a sheet dangerous or cannot be printed is a fault that says so.
func TestInputsThatCannotBeSheets(t *testing.T) {
	with := func(change func(*paper.Kit)) paper.Kit {
		k := kit(0)
		change(&k)
		return k
	}
	for name, c := range map[string]struct {
		sheet documented
		code  fault.Code
		says  string
	}{
		"no name":           {with(func(k *paper.Kit) { k.Patient.Name = " " }), fault.Invalid, "patient's name"},
		"no side":           {with(func(k *paper.Kit) { k.Side = eye.SideUnknown }), fault.Invalid, "side"},
		"no time":           {with(func(k *paper.Kit) { k.Made = time.Time{} }), fault.Invalid, "time of printing"},
		"impossible birth":  {with(func(k *paper.Kit) { k.Patient.Born = day(2024, 2, 31) }), fault.Invalid, "no day 31"},
		"relative day":      {with(func(k *paper.Kit) { k.Surgery = record.RelativeDay(0) }), fault.Invalid, "de-identified"},
		"empty kit":         {with(func(k *paper.Kit) { k.Groups = nil }), fault.Invalid, "kit"},
		"replaced by older": {with(func(k *paper.Kit) { k.Version = paper.Version{Number: 3, ReplacedBy: 2} }), fault.Invalid, "version"},
		"emoji":             {with(func(k *paper.Kit) { k.Patient.Name = "Anna 🧿" }), fault.Unsupported, "U+1F9FF"},
		"turning sign":      {with(func(k *paper.Kit) { k.Patient.Name = "Anna\u202eB" }), fault.Invalid, "U+202E"},
		"a whole novel":     {with(func(k *paper.Kit) { k.Groups[0].Items[0].Note = strings.Repeat("word ", 6000) }), fault.Unsupported, "longer than a page"},
		"a novel of a name": {with(func(k *paper.Kit) { k.Patient.Name = strings.Repeat("Anna ", 400) }), fault.Unsupported, "no room"},
		"no option":         {paper.Theatre{Common: common(0), Checks: paper.StopChecks(common(0), "", "")}, fault.Invalid, "option"},
		"no checks":         {paper.Theatre{Common: common(0), Option: "peel"}, fault.Invalid, "stop-checks"},
		"no gas":            {paper.Leaflet{Common: common(0)}, fault.Unsupported, "no gas is named"},
		"no such posture":   {paper.Leaflet{Common: common(0), Filling: paper.Filling{Oil: true}, Posture: paper.HeadPosture{Posture: "headstand"}}, fault.Invalid, "headstand"},
		"30 hours a day":    {paper.Leaflet{Common: common(0), Filling: paper.Filling{Oil: true}, Posture: paper.HeadPosture{Posture: "free", HoursPerDay: 30}}, fault.Invalid, "30 hours"},
		"a novel on a card": {paper.Card{Common: paper.Common{Patient: paper.Patient{Name: strings.Repeat("Maximiliane ", 20)}, Side: eye.Left, Made: common(0).Made}, Filling: paper.Filling{Oil: true}}, fault.Unsupported, "card"},
	} {
		d, err := c.sheet.Document()
		var data []byte
		if err == nil {
			data, err = d.PDF(paper.A4)
		}
		if fault.CodeOf(err) != c.code || data != nil {
			t.Errorf("%s: %v", name, err)
		} else if !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %q does not say %q", name, err, c.says)
		}
	}
}

func TestSizes(t *testing.T) {
	for text, want := range map[string]paper.Size{"a4": paper.A4, " A4 ": paper.A4, "Letter": paper.Letter} {
		if got, err := paper.ParseSize(text); err != nil || got != want {
			t.Errorf("%q: %v, %v", text, got, err)
		}
	}
	if _, err := paper.ParseSize("A5"); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("A5: %v", err)
	}
	if paper.A4.String() != "A4" || paper.Letter.String() != "Letter" {
		t.Error("sizes have other names")
	}
}

// A plan that was replaced says so in the head of every page, a draft that it is
// one.
func TestVersionsAreTold(t *testing.T) {
	s := theatre(t, 0)
	s.Version.ReplacedBy, s.Version.ReplacedOn = 3, day(2026, 11, 25)
	page := pageOf(t, s)
	for _, want := range []string{"Signed version 2, frozen; signed by", "replaced by version 3 on 25 Nov 2026.", "DO NOT USE. Replaced by version 3 on 25 Nov 2026."} {
		if !strings.Contains(page, want) {
			t.Errorf("%q is not on the page", want)
		}
	}
	s.Version = paper.Version{}
	if !strings.Contains(pageOf(t, s), "DRAFT: nobody has signed this plan.") {
		t.Error("a draft does not say so")
	}
	s.Allergies = ""
	if !strings.Contains(pageOf(t, s), "not asked. Ask before anything is given.") {
		t.Error("missing allergies pass for none")
	}
}

// A recipe with a standing stop prints the stop and no setting of a syringe; one
// that two people lifted prints who and why.
func TestStopsPrintNoRecipe(t *testing.T) {
	m := mixing(t, 0)
	m.Sheet = recipe(t, tamponade.AgentC3F8, 20, 24.1)
	page := textOf(pageOf(t, m))
	if m.Sheet.Accepted() || !strings.Contains(page, "STOP: there is no recipe.") || strings.Contains(page, "mL") {
		t.Errorf("the page says %s", page)
	}
	for _, stop := range m.Sheet.Stops {
		if !strings.Contains(page, stop.Text) {
			t.Errorf("the page does not say %q", stop.Text)
		}
	}
	if a := paper.FromRecipe(m.Sheet); a.Quantity != "STOP: no recipe" {
		t.Errorf("%+v", a)
	}
	if a := paper.FromDye("brilliant blue", dye(t, "brilliant blue", "0.25 mg/mL")); a.Name != "brilliant blue" || a.Quantity != "STOP: not into the eye" {
		t.Errorf("%+v", a)
	}
	by := must[tamponade.Pair](t)(tamponade.NewPair(tamponade.Person{Name: "Anna"}, tamponade.Person{Name: "Carl"}))
	lift := must[tamponade.Lifting](t)(tamponade.NewLifting("above_non_expansile", "leaking ports, giant tear", by))
	m.Sheet = must[tamponade.MixingSheet](t)(tamponade.PlanMixing(tamponade.MixingInput{
		Mixture: tamponade.Mixture{Agent: tamponade.AgentSF6, Percent: 25}, Syringe: m.Sheet.Syringe, CavityML: m.Sheet.CavityML, Liftings: []tamponade.Lifting{lift},
	}))
	if page := textOf(pageOf(t, m)); !strings.Contains(page, "Stop, lifted by Anna and Carl") || !strings.Contains(page, "mL") {
		t.Errorf("the page says %s", page)
	}
}

// The numbers of a mixing sheet are those of the recipe, for every kind of one.
func TestMixingSheetsPrintTheRecipe(t *testing.T) {
	for _, c := range []struct {
		agent   tamponade.Agent
		percent tamponade.Percent
	}{{tamponade.AgentSF6, 20}, {tamponade.AgentC2F6, 16}, {tamponade.AgentC3F8, 14}, {tamponade.AgentAir, 100}} {
		m := mixing(t, 1)
		m.Sheet = recipe(t, c.agent, c.percent, 26.3)
		m.First, m.Second, m.Lot, m.Expiry = "Anna Berg", "Carl Dahl", "A1", "2027-01"
		page := textOf(pageOf(t, m))
		want := []string{"GAS FOR THE EYE: ", "Anna Berg", "Carl Dahl", "Lot A1, read again", "Expires 2027-01, read again"}
		for _, x := range []float64{m.Sheet.Marks.GasML, m.Sheet.Marks.AirML, m.Sheet.Marks.TotalML} {
			if x != 0 {
				want = append(want, jsonNumber(x)+"\u00a0mL")
			}
		}
		want = append(want, m.Sheet.Steps...)
		for _, w := range m.Sheet.Warnings {
			want = append(want, w.Text)
		}
		for _, text := range want {
			if !strings.Contains(page, text) {
				t.Errorf("%s: %q is not on the page", c.agent, text)
			}
		}
	}
	m := mixing(t, 0)
	syringe := must[tamponade.Syringe](t)(tamponade.NewSyringe(1, nan, nan))
	m.Sheet = must[tamponade.MixingSheet](t)(tamponade.PlanMixing(tamponade.MixingInput{
		Mixture: tamponade.Mixture{Agent: tamponade.AgentSF6, Percent: 100}, Syringe: syringe, Technique: tamponade.PneumaticRetinopexy, VolumeML: 0.3,
		CavityML: estimate.Missing("not told"),
	}))
	page := textOf(pageOf(t, m))
	for _, want := range []string{"PURE, small volume only", "0.3\u00a0mL", "pure gas 0.3 mL", "Largest volume in the eye"} {
		if !strings.Contains(page, want) {
			t.Errorf("%q is not on the page", want)
		}
	}
	if a := paper.FromRecipe(m.Sheet); a.Quantity != "0.3\u00a0mL, pure" {
		t.Errorf("%+v", a)
	}
	if a := paper.FromRecipe(recipe(t, tamponade.AgentAir, 100, 24)); a.Quantity != "50\u00a0mL" || a.Name != "AIR, filtered room air" {
		t.Errorf("%+v", a)
	}
}

func jsonNumber(x float64) string {
	data, err := json.Marshal(x)
	if err != nil {
		return err.Error()
	}
	return string(data)
}

// The figures of a scan on the sheet are those of the measurement, and the scene
// that the drawing came from is not changed.
func TestScanFindingsAreThoseOfTheMeasurement(t *testing.T) {
	r := must[*measure.Result](t)(scanned())
	findings, slice, caption := paper.FromScan(r)
	if findings[0].Estimate != r.Hole.MLDUM || slice == nil || !strings.Contains(caption, "Widest slice") {
		t.Errorf("%+v, %s", findings, caption)
	}
	again, twin, _ := paper.FromScan(r)
	var a, b bytes.Buffer
	if err := slice.WriteSVG(&a); err != nil {
		t.Fatal(err)
	}
	if err := twin.WriteSVG(&b); err != nil || !bytes.Equal(a.Bytes(), b.Bytes()) || len(again) != len(findings) {
		t.Error("the same scan gave another slice")
	}
	none := *r
	none.Hole = nil
	findings, slice, caption = paper.FromScan(&none)
	if slice == nil || !strings.HasPrefix(caption, "Slice ") || len(findings) > 1 {
		t.Errorf("without a hole: %+v, %s", findings, caption)
	}
}

// The days that are drawn begin with the first, rise, are at most twelve and end
// when the bubble may be gone.
func TestPickDays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		last := rapid.Float64Range(-5, 120).Draw(t, "last")
		days := paper.PickDays(last)
		if len(days) < 1 || len(days) > 12 || days[0] != 1 || !slices.IsSorted(days) || float64(days[len(days)-1]) < last {
			t.Fatalf("until day %g: %v", last, days)
		}
	})
	if got := paper.PickDays(math.NaN()); len(got) != 1 {
		t.Errorf("%v", got)
	}
}

// What is seen is the height of the bubble in the eye, from below: by the second
// route, the fill of that height is the fill that was given (eye.FillOfHeight).
// Half a fill stands at half the height.
func TestSeenIsTheHeightUpsideDown(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		fill := estimate.Estimate{Low: rapid.Float64Range(0, 0.3).Draw(t, "low")}
		fill.Value = rapid.Float64Range(fill.Low, 0.8).Draw(t, "value")
		fill.High = rapid.Float64Range(fill.Value, 1).Draw(t, "high")
		s, err := paper.SeenFromFill(3, fill)
		if err != nil || s.Day != 3 {
			t.Fatal(err)
		}
		for _, pair := range [][2]float64{{s.Level.Value, fill.Value}, {s.Level.Low, fill.Low}, {s.Level.High, fill.High}} {
			// The cube at the fill's ends is flat, 1e-9 is far above the rounding.
			if back, err := eye.FillOfHeight(pair[0]); err != nil || math.Abs(back-pair[1]) > 1e-9 {
				t.Fatalf("level %g is fill %g, not %g", pair[0], back, pair[1])
			}
		}
	})
	half, err := paper.SeenFromFill(1, estimate.Estimate{Value: 0.5, Low: 0.5, High: 0.5})
	if err != nil || math.Abs(half.Level.Value-0.5) > 1e-12 {
		t.Errorf("%+v, %v", half, err)
	}
	if s, err := paper.SeenFromFill(1, estimate.Missing("why")); err != nil || s.Level.Known() {
		t.Errorf("%+v, %v", s, err)
	}
	if _, err := paper.SeenFromFill(1, estimate.Estimate{Value: 2}); err == nil {
		t.Error("twice the cavity is a fill")
	}
}

// The leaflet's prediction is that of package tamponade, asked as the command
// asks it.
func TestPredictionIsThatOfTheBubble(t *testing.T) {
	b := bubble(t, tamponade.AgentC3F8, 14, 25)
	days, gone, err := paper.PredictSeen(b, 1, 500)
	if err != nil {
		t.Fatal(err)
	}
	want := must[tamponade.Prediction](t)(tamponade.Predict(b, tamponade.Question{Thresholds: []float64{tamponade.GoneFill}, Days: []float64{float64(days[3].Day)}}, 1, 500))
	if gone != want.LastAboveDay[0] {
		t.Errorf("gone on %+v, not %+v", gone, want.LastAboveDay[0])
	}
	level := must[float64](t)(eye.HeightOfFill(want.Fill[0].Value))
	if math.Abs(days[3].Level.Value-level) > 1e-12 {
		t.Errorf("day %d: level %g, not %g", days[3].Day, days[3].Level.Value, level)
	}
	for i := 1; i < len(days); i++ {
		if days[i].Level.Value > days[i-1].Level.Value+1e-9 && days[i].Day > 7 {
			t.Errorf("the line rises on day %d", days[i].Day)
		}
	}
}
