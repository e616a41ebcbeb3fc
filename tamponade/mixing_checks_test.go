package tamponade

import (
	"math"
	"slices"
	"strings"
	"testing"

	"limitans/fault"
)

func codes(stops []Stop) []StopCode {
	var out []StopCode
	for _, s := range stops {
		out = append(out, s.Code)
	}
	return out
}

func pair(t testing.TB) Pair {
	t.Helper()
	p, err := NewPair(Person{Name: "Anna Berg"}, Person{Name: "Carl Dahl"})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// TestHardCase52 to 64 are rows of the list of hard cases, section 4.
func TestHardCase52AboveTheNonExpansileShare(t *testing.T) {
	for _, c := range []struct {
		mixture Mixture
		stops   []StopCode
	}{
		{Mixture{AgentC3F8, 20}, []StopCode{StopOtherGas, StopAboveNonExpansile}},
		{Mixture{AgentC3F8, 16}, []StopCode{StopOtherGas, StopAboveNonExpansile}},
		{Mixture{AgentC3F8, 15}, []StopCode{StopAboveNonExpansile}},
		{Mixture{AgentC3F8, 14}, nil},
		{Mixture{AgentC3F8, 12}, nil},
		{Mixture{AgentSF6, 14}, []StopCode{StopOtherGas}},
		{Mixture{AgentSF6, 16}, []StopCode{StopOtherGas}},
		{Mixture{AgentSF6, 25}, []StopCode{StopAboveNonExpansile}},
		{Mixture{AgentSF6, 35}, []StopCode{StopAboveNonExpansile, StopAboveUse}},
		{Mixture{AgentC2F6, 20}, []StopCode{StopOtherGas, StopAboveNonExpansile}},
		{Mixture{AgentC2F6, 14}, nil},
		{Mixture{AgentSF6, 100}, []StopCode{StopNearPure}},
		{Mixture{AgentC3F8, 51}, []StopCode{StopNearPure}},
		{Mixture{AgentAir, 100}, nil},
	} {
		sheet, err := PlanMixing(MixingInput{Mixture: c.mixture, Syringe: unknownSyringe(t, 50), CavityML: cavity(t, 24)})
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(codes(sheet.Stops), c.stops) || sheet.Accepted() != (len(c.stops) == 0) {
			t.Errorf("%s: %v", c.mixture, sheet.Stops)
		}
		if !sheet.Accepted() && (sheet.Marks != (Marks{}) || len(sheet.Steps) > 0 || sheet.Flush.NeededML.Known() || sheet.InSyringe.Known()) {
			t.Errorf("%s: a stopped sheet has a recipe", c.mixture)
		}
	}
}

func TestStopIsLiftedByReasonAndTwoPeople(t *testing.T) {
	lifting, err := NewLifting(StopAboveNonExpansile, "giant tear, leaking ports", pair(t))
	if err != nil {
		t.Fatal(err)
	}
	in := MixingInput{Mixture: Mixture{AgentSF6, 25}, Syringe: unknownSyringe(t, 50), CavityML: cavity(t, 24), Liftings: []Lifting{lifting}}
	sheet, err := PlanMixing(in)
	if err != nil {
		t.Fatal(err)
	}
	// 25 % of 50 mL lies between two lines; 12 of 48 mL lies on them.
	if !sheet.Accepted() || sheet.Marks.GasML != 12 || sheet.Marks.TotalML != 48 || !strings.Contains(sheet.Stops[0].LiftedBy, "Anna Berg and Carl Dahl: giant tear") {
		t.Errorf("%+v %+v", sheet.Marks, sheet.Stops)
	}
	if hasCode(sheet.Warnings, "lifting_without_effect") {
		t.Errorf("%+v", sheet.Warnings)
	}
	in.Mixture.Percent = 100
	in.Liftings[0].stop = StopNearPure
	if sheet, err = PlanMixing(in); err != nil || sheet.Accepted() || !hasCode(sheet.Warnings, "lifting_without_effect") {
		t.Errorf("a reason lifted pure gas: %v, %v", sheet.Stops, err)
	}
	in.Mixture.Percent = 20
	in.Liftings[0].stop = StopAboveUse
	if sheet, err = PlanMixing(in); err != nil || !sheet.Accepted() || !hasCode(sheet.Warnings, "lifting_without_effect") {
		t.Errorf("a reason without a stop went unseen: %v, %v", sheet.Warnings, err)
	}
	if _, err := NewLifting("above_everything", "a good long reason", pair(t)); fault.CodeOf(err) != fault.Invalid {
		t.Errorf("a stop that does not exist: %v", err)
	}
	for _, reason := range []string{"", "ok", "  ", "because so", "...!!!"} {
		if _, err := NewLifting(StopAboveUse, reason, pair(t)); err == nil {
			t.Errorf("%q passed for a reason", reason)
		}
	}
	if _, err := NewLifting(StopAboveUse, "a good long reason", Pair{}); err == nil {
		t.Error("nobody lifted a stop")
	}
}

func TestHardCase53PneumaticInjection(t *testing.T) {
	fine, err := NewSyringe(1, 0.01, 0.05)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		mixture  Mixture
		volumeML float64
		stops    []StopCode
	}{
		{Mixture{AgentSF6, 100}, 0.5, nil},
		{Mixture{AgentC3F8, 100}, 0.3, nil},
		{Mixture{AgentSF6, 100}, 1.5, []StopCode{StopPureTooMuch}},
		{Mixture{AgentSF6, 100}, 0, []StopCode{StopPureTooMuch}},
		{Mixture{AgentSF6, 100}, math.NaN(), []StopCode{StopPureTooMuch}},
		{Mixture{AgentSF6, 20}, 0.5, []StopCode{StopNotPure}},
		{Mixture{AgentSF6, 100}, 0.333, []StopCode{StopSyringe}},
	} {
		sheet, err := PlanMixing(MixingInput{Mixture: c.mixture, Technique: PneumaticRetinopexy, VolumeML: c.volumeML, Syringe: fine, CavityML: cavity(t, 24)})
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(codes(sheet.Stops), c.stops) {
			t.Errorf("%s, %g mL: %v", c.mixture, c.volumeML, sheet.Stops)
		}
	}
	sheet, err := PlanMixing(MixingInput{Mixture: Mixture{AgentSF6, 100}, Technique: PneumaticRetinopexy, VolumeML: 0.5, Syringe: fine})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "0.5 mL of pure SF6 at its largest", sheet.EndVolumeML.Value, 1.0, exact)
	if sheet.Marks.GasML != 0.5 || sheet.Marks.AirML != 0 {
		t.Errorf("%+v", sheet.Marks)
	}
}

func TestHardCase55Percentages(t *testing.T) {
	for text, want := range map[string]Percent{
		"0.14": 14, "14%": 14, "14": 14, "14 %": 14, " 14,0 % ": 14, "0,14": 14, "१४": 14, "٠٫١٤": 14, "١٤٪": 14, ".2": 20,
		"100": 100, "100%": 100, "1%": 1, "12.5": 12.5, "0.125": 12.5, "0.999": 99.9, "0": 0, "0%": 0, "𝟏𝟒": 14, "𝟷𝟺%": 14,
	} {
		got, err := ParsePercent(text)
		if err != nil || got.Percent != want || got.Raw != text || got.How == "" {
			t.Errorf("%q: %+v, %v", text, got, err)
		}
	}
	for text, code := range map[string]fault.Code{
		"0.14%": fault.Conflict, "1": fault.Conflict, "1.0": fault.Conflict,
		"": fault.Invalid, "%": fault.Invalid, "14%%": fault.Invalid, "101": fault.Invalid, "-14": fault.Invalid, "1e1": fault.Invalid,
		"0x14": fault.Invalid, "14 ml": fault.Invalid, "1,4,0": fault.Invalid, "NaN": fault.Invalid, "Inf": fault.Invalid, "1_4": fault.Invalid, "14/100": fault.Invalid,
	} {
		if got, err := ParsePercent(text); fault.CodeOf(err) != code {
			t.Errorf("%q: %+v, %v, want %s", text, got, err, code)
		}
	}
}

// FuzzParsePercent: no text panics or is read as a number outside 0 to 100, and
// no share below one half of a per cent comes from a text without zeros in it.
func FuzzParsePercent(f *testing.F) {
	for _, s := range []string{"0.14", "14%", "14", "0,14", "१४", "٠٫١٤", "0.14%", "1", "SF6 20%", "", "1e300", "−3"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, err := ParsePercent(text)
		if err == nil && !(got.Percent >= 0 && got.Percent <= 100) {
			t.Errorf("%q: %g", text, float64(got.Percent))
		}
		if err != nil && fault.CodeOf(err) != fault.Invalid && fault.CodeOf(err) != fault.Conflict {
			t.Errorf("%q: %v", text, err)
		}
	})
}

func TestHardCase64TwoGases(t *testing.T) {
	for text, want := range map[string]Agent{
		"SF6": AgentSF6, "sf₆": AgentSF6, "C₃F₈": AgentC3F8, " c3f8 ": AgentC3F8, "Sulphur hexafluoride": AgentSF6,
		"sulfur-hexafluoride": AgentSF6, "perfluoropropane": AgentC3F8, "Air": AgentAir, "room air": AgentAir, "C2F6": AgentC2F6, "SF6/sulphur hexafluoride": AgentSF6,
	} {
		if got, err := ParseAgent(text); err != nil || got != want {
			t.Errorf("%q: %v, %v", text, got, err)
		}
	}
	for text, code := range map[string]fault.Code{
		"SF6/C3F8": fault.Conflict, "C3F8 + SF6": fault.Conflict, "air, SF6": fault.Conflict,
		"": fault.Invalid, "gas": fault.Invalid, "SF8": fault.Invalid, "/": fault.Invalid, "SF6/oil": fault.Invalid, "C3F8 14%": fault.Invalid,
	} {
		if got, err := ParseAgent(text); fault.CodeOf(err) != code || got != AgentUnknown {
			t.Errorf("%q: %v, %v, want %s", text, got, err, code)
		}
	}
	for _, a := range append(Agents(), AgentUnknown) {
		text, err := a.MarshalText()
		if err != nil {
			t.Fatal(err)
		}
		var back Agent
		if err := back.UnmarshalText(text); err != nil || back != a {
			t.Errorf("%v: %s: %v, %v", a, text, back, err)
		}
	}
}

// TestCollegeTable: the safety alert of 18 December 2018, as section 1.2 prints it.
func TestCollegeTable(t *testing.T) {
	for _, c := range []struct {
		agent     Agent
		share     Percent
		expansion float64
		stay      Span
		toMaximum Span
	}{
		{AgentSF6, 20, 2, Span{14, 14}, Span{1, 2}},
		{AgentC2F6, 16, 3, Span{28, 35}, Span{1, 3}},
		{AgentC3F8, 14, 4, Span{56, 56}, Span{3, 4}},
		{AgentAir, 100, 1, Span{5, 7}, Span{}},
	} {
		f, err := c.agent.Facts()
		if err != nil || f.NonExpansilePercent != c.share || f.ExpansionPure != c.expansion || f.StayDays != c.stay || f.DaysToMaximumPure != c.toMaximum {
			t.Errorf("%s: %+v, %v", c.agent, f, err)
		}
		if f.LongestStayDays < f.StayDays.High {
			t.Errorf("%s: the longest stay is shorter than the planned one", c.agent)
		}
	}
	if _, err := AgentUnknown.Facts(); fault.CodeOf(err) != fault.Unsupported {
		t.Error(err)
	}
	for _, c := range []Mixture{{AgentSF6, 0}, {AgentSF6, 101}, {AgentSF6, Percent(math.NaN())}, {AgentAir, 20}, {AgentUnknown, 20}} {
		if _, err := NewMixture(c.Agent, c.Percent); err == nil {
			t.Errorf("%v passed", c)
		}
	}
}

func TestProblemA20HydrophilicImplant(t *testing.T) {
	if !hasCode(ImplantWarnings(Yes), "hydrophilic_implant") || len(ImplantWarnings(No)) > 0 || len(ImplantWarnings(NotTold)) > 0 {
		t.Error(ImplantWarnings(Yes))
	}
}

func TestTwoPeopleSign(t *testing.T) {
	for _, c := range []struct{ a, b Person }{
		{Person{Name: "Anna Berg"}, Person{Name: "anna  berg"}},
		{Person{Name: "Anna Berg"}, Person{Name: "Berg, Anna"}},
		{Person{Name: "Anna Berg", Identifier: "17"}, Person{Name: "A. Berg", Identifier: " 17 "}},
		{Person{Name: "Anna Berg", Identifier: "17"}, Person{Name: "Anna Berg"}},
		{Person{Name: "Anna Berg"}, Person{}},
		{Person{Name: "Anna Berg"}, Person{Name: " . "}},
	} {
		if _, err := NewPair(c.a, c.b); err == nil {
			t.Errorf("%v and %v passed for two people", c.a, c.b)
		}
	}
	if _, err := NewPair(Person{"Anna Berg", "17"}, Person{"Anna Berg", "18"}); err != nil {
		t.Errorf("two people of one name: %v", err)
	}

	sheet, err := PlanMixing(MixingInput{Mixture: Mixture{AgentC3F8, 14}, Syringe: unknownSyringe(t, 50), CavityML: cavity(t, 24)})
	if err != nil {
		t.Fatal(err)
	}
	good := ReadBack{"octafluoropropane", 7, 50}
	signed, err := sheet.Sign(pair(t), good)
	if err != nil {
		t.Fatal(err)
	}
	if signed.By() != pair(t) || signed.Read() != good || signed.Sheet().Marks != sheet.Marks || signed.By().First().Name != "Anna Berg" || signed.By().Second().Name != "Carl Dahl" {
		t.Errorf("%+v", signed)
	}
	for _, bad := range []ReadBack{{"SF6", 7, 50}, {"C3F8", 8, 50}, {"C3F8", 7, 49}, {"C3F8", math.NaN(), 50}, {"", 7, 50}, {"C3F8/SF6", 7, 50}} {
		if _, err := sheet.Sign(pair(t), bad); err == nil {
			t.Errorf("%v was signed", bad)
		}
	}
	if _, err := sheet.Sign(Pair{}, good); err == nil {
		t.Error("nobody signed")
	}
	stopped, err := PlanMixing(MixingInput{Mixture: Mixture{AgentC3F8, 20}, Syringe: unknownSyringe(t, 50), CavityML: cavity(t, 24)})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := stopped.Sign(pair(t), good); err == nil {
		t.Error("a stopped sheet was signed")
	}

	label, err := signed.Label(LabelFacts{"RIGHT", "14:05", "123", "2027-01"})
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Join(label, "\n")
	for _, want := range []string{"C3F8 14 %", "octafluoropropane 7 mL + air 43 mL = 50 mL", "RIGHT eye", "Anna Berg", "Carl Dahl", "14:05", "123"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not on the label\n%s", want, text)
		}
	}
	fine, err := NewSyringe(1, 0.01, 0.05)
	if err != nil {
		t.Fatal(err)
	}
	pure, err := PlanMixing(MixingInput{Mixture: Mixture{AgentSF6, 100}, Technique: PneumaticRetinopexy, VolumeML: 0.5, Syringe: fine})
	if err != nil {
		t.Fatal(err)
	}
	small, err := pure.Sign(pair(t), ReadBack{"SF6", 0.5, 0.5})
	if err != nil {
		t.Fatal(err)
	}
	if label, err = small.Label(LabelFacts{"LEFT", "9:00", "not told", "not told"}); err != nil || !strings.Contains(label[0], "SF6 PURE") {
		t.Errorf("%q, %v", label, err)
	}
	if _, err := signed.Label(LabelFacts{"", "14:05", "123", "2027-01"}); err == nil {
		t.Error("a label without a side")
	}
	if _, err := (Signed{}).Label(LabelFacts{"RIGHT", "14:05", "123", "2027-01"}); err == nil {
		t.Error("a label that nobody signed")
	}
}

// TestStorageQuotesOnlyPublishedFigures: whatever the time, no number appears
// that is not in the published list, so nothing was computed between them.
func TestStorageQuotesOnlyPublishedFigures(t *testing.T) {
	if len(PublishedKept()) != 5 {
		t.Fatal(PublishedKept())
	}
	has := func(warnings []Warning, text string) bool {
		return slices.ContainsFunc(warnings, func(w Warning) bool { return strings.Contains(w.Text, text) && w.Source != "" })
	}
	for _, c := range []struct {
		minutes, syringeML float64
		closure            Closure
		limit              float64
		want, not          string
	}{
		{0, 50, Stopcock, math.NaN(), "", "Mix again"},
		{30, 50, Stopcock, math.NaN(), "no loss is computed", "97 %"},
		{30, 50, Stopcock, 20, "Mix again", "97 %"},
		{30, 50, PlasticCap, math.NaN(), "less than 41 %", "97 %"},
		{30, 50, ClosureUnknown, math.NaN(), "stopcock", "97 %"},
		{30, 10, Stopcock, math.NaN(), "97 % of the gas", "76 %"},
		{61, 10, Stopcock, math.NaN(), "76 % after 60 min", "2 % after"},
		{18 * 60, 10, Stopcock, math.NaN(), "2 % after 18 h", "Mix again"},
	} {
		got, err := AgeWarnings(c.minutes, c.syringeML, c.closure, c.limit)
		if err != nil || c.want != "" && !has(got, c.want) || has(got, c.not) || c.want == "" && len(got) > 0 {
			t.Errorf("%+v: %v, %v", c, got, err)
		}
	}
	for _, minutes := range []float64{-1, math.NaN(), math.Inf(1)} {
		if _, err := AgeWarnings(minutes, 50, Stopcock, math.NaN()); err == nil {
			t.Errorf("%g minutes passed", minutes)
		}
	}
}
