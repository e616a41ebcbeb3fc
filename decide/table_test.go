package decide

import (
	"math"
	"slices"
	"strings"
	"testing"

	"limitans/estimate"
	"limitans/evidence"
	"limitans/fault"
	"limitans/oct/hole"
	"limitans/stats"
)

// Every condition has a first choice when nothing else is told, every option that
// a row can place has steps there, and nothing stands without a source.
func TestTableIsWhole(t *testing.T) {
	rules, err := Rules()
	if err != nil || len(rules) < 400 {
		t.Fatalf("%d rules, %v", len(rules), err)
	}
	for _, c := range Conditions() {
		d, err := Decide(Findings{Condition: c}, Unit{})
		if err != nil || d.First().Place != FirstChoice || c.Words() == "" {
			t.Errorf("%s: %v, %+v", c, err, d.Options)
		}
	}
	used := map[string]bool{}
	for _, r := range rules {
		if r.Kind == KindPlace && r.Value != "none" {
			for _, o := range r.Options {
				used[o] = true
				for _, c := range r.Conditions {
					if !slices.ContainsFunc(rules, func(s Rule) bool {
						return s.Kind == KindStep && inScope(s.Conditions, c) && inScope(s.Options, o)
					}) {
						t.Errorf("%s places %s for %s, which has no steps there", r.ID, o, c)
					}
					if !slices.ContainsFunc(rules, func(s Rule) bool {
						return s.Kind == KindClosure && inScope(s.Conditions, c) && inScope(s.Options, o)
					}) && o != "identify" {
						t.Errorf("%s places %s for %s, of which no row says what to expect", r.ID, o, c)
					}
				}
			}
		}
		if r.Source == "the trade" != (r.HowKnown == "common practice, no source" && r.Source == "the trade") {
			t.Errorf("%s: %q is known as %q", r.ID, r.Source, r.HowKnown)
		}
	}
	all, err := load()
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range all.options {
		if !used[e.code] {
			t.Errorf("no row places the option %s", e.code)
		}
	}
	for _, k := range all.risks {
		if !k.Share.Known() || k.Share.Low > k.Share.Value || k.Share.High < k.Share.Value {
			t.Errorf("%+v", k)
		}
	}
}

// The size limits are those of the published classes, which live in package
// oct/hole.
func TestLimitsAreThoseOfTheClasses(t *testing.T) {
	all, err := load()
	if err != nil {
		t.Fatal(err)
	}
	ends := map[float64]bool{}
	for _, s := range hole.Schemes {
		for _, c := range s.Classes {
			ends[c.UpToUM] = true
		}
	}
	for _, l := range all.limits {
		switch l.Name {
		case "small", "large", "graft", "giant":
			if !ends[l.Value] {
				t.Errorf("%s: %g is the end of no published class", l.Name, l.Value)
			}
		}
	}
}

// A slip in a table is a fault and no row that never holds.
func TestTableRefusesSlips(t *testing.T) {
	all, err := load()
	if err != nil {
		t.Fatal(err)
	}
	for _, text := range []string{"nose=yes", "earlier=perhaps", "mld>nose", "mld", "mld=300", "earlier=none&mld>3"} {
		if _, err := all.parseCondition("here", text); fault.CodeOf(err) != fault.Internal {
			t.Errorf("%q: %v", text, err)
		}
	}
	for name, r := range map[string]Rule{
		"place":     {Kind: KindPlace, Value: "second"},
		"filling":   {Kind: KindTamponade, Value: "helium 20 first"},
		"share":     {Kind: KindTamponade, Value: "sf6 200 first"},
		"origin":    {Kind: KindClosure, Value: "rows E999"},
		"technique": {Kind: KindClosure, Value: "curve magic"},
		"question":  {Kind: KindClosure, Value: "pool nose peel"},
		"groups":    {Kind: KindAcuity, Value: "hole"},
		"days":      {Kind: KindPosture, Value: "3"},
		"value":     {Kind: KindStep, Value: "3"},
	} {
		if err := all.checkValue("here", r); fault.CodeOf(err) != fault.Internal {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := all.checkScope("here", []string{"hole"}, []string{"nose"}); fault.CodeOf(err) != fault.Internal {
		t.Error(err)
	}
	if err := all.checkScope("here", []string{"nose"}, nil); fault.CodeOf(err) != fault.Internal {
		t.Error(err)
	}
}

// The beta of a mean and width, and its posterior after 18 of 20: R 4.2, qbeta
// and uniroot; tolerance is that of R's printed digits.
func TestWeighingAgainstR(t *testing.T) {
	for _, c := range []struct{ mean, low, high, worth, after, afterLow, afterHigh float64 }{
		{0.9, 0.6, 0.99, 6.864302, 0.9, 0.764189, 0.980667},
		{0.85, 0.7, 0.95, 29.223151, 0.870316, 0.764420, 0.947909},
	} {
		p := Published{Expected: estimate.Estimate{Value: c.mean, Low: c.low, High: c.high}, spread: true}
		prior, err := betaOf(p.Expected)
		if err != nil || math.Abs(prior.A+prior.B-c.worth) > 2e-5*c.worth || math.Abs(prior.Mean()-c.mean) > 1e-12 {
			t.Errorf("%+v: %+v, %v", c, prior, err)
		}
		e, _, err := weigh(p, Own{Events: 18, Eyes: 20})
		if err != nil || math.Abs(e.Value-c.after) > 2e-6 || math.Abs(e.Low-c.afterLow) > 2e-5 || math.Abs(e.High-c.afterHigh) > 2e-5 {
			t.Errorf("%+v: %+v, %v", c, e, err)
		}
	}
	if _, err := betaOf(estimate.Estimate{Value: 1, Low: 0.9, High: 1}); fault.CodeOf(err) != fault.Internal {
		t.Error(err)
	}
}

// The weighed share lies between what is published and the own share, and nears
// the own share as the series grows.
func TestWeighingShrinks(t *testing.T) {
	p := Published{Expected: estimate.Estimate{Value: 0.9, Low: 0.6, High: 0.99}, spread: true}
	last := 1.0
	for _, n := range []int{5, 20, 100, 1000} {
		own := Own{Events: n / 5 * 2, Eyes: n}
		e, words, err := weigh(p, own)
		distance := e.Value - 0.4
		if err != nil || !(distance > 0 && distance < last) || !(e.Low < e.Value && e.Value < e.High) || !strings.Contains(words, "beta-binomial") {
			t.Errorf("%d: %+v, %v", n, e, err)
		}
		last = distance
	}
	alone, words, err := weigh(Published{Expected: estimate.Missing("nothing")}, Own{Events: 2, Eyes: 5, Share: estimate.Estimate{Value: 0.4}})
	if err != nil || alone.Value != 0.4 || !strings.Contains(words, "own series alone") {
		t.Errorf("%+v, %s, %v", alone, words, err)
	}
	beside, words, err := weigh(Published{Expected: p.Expected}, Own{Events: 2, Eyes: 5})
	if err != nil || beside.Value != 0.9 || !strings.Contains(words, "unweighed") {
		t.Errorf("%+v, %s, %v", beside, words, err)
	}
}

// The mean of a new group against R (qt, sd); the eight means are the rows of
// peels in primary holes. Tolerance: R's printed digits.
func TestAcuityAgainstR(t *testing.T) {
	e := groupMean([]float64{0.50, 0.44, 0.61, 0.60, 0.65, 0.70, 0.51, 0.96}, "here")
	if math.Abs(e.Value-0.621250) > 1e-6 || math.Abs(e.Low-0.216518) > 1e-6 || math.Abs(e.High-1.025982) > 1e-6 {
		t.Errorf("%+v", e)
	}
	if groupMean([]float64{0.5, 0.6}, "here").Known() {
		t.Error("two groups do not tell how groups scatter")
	}
	rows, err := groupsOf("hole peel")
	if err != nil {
		t.Fatal(err)
	}
	if a := acuity(rows, "here"); a.Groups != 8 || math.Abs(a.After.Value-0.621250) > 1e-6 || a.Change.Value >= 0 {
		t.Errorf("%+v", a)
	}
}

// The numbers of single options are those of package evidence.
func TestExpectationsAreThoseOfEvidence(t *testing.T) {
	m, err := evidence.PublishedClosure()
	if err != nil {
		t.Fatal(err)
	}
	e := estimate.Estimate{Value: 600, Low: 600, High: 600}
	d, err := Decide(Findings{Condition: Hole, MLDUM: &e, EarlierSurgery: EarlierNone}, Unit{})
	if err != nil {
		t.Fatal(err)
	}
	for code, technique := range map[string]evidence.Technique{"peel": evidence.Peel, "inverted-flap": evidence.InvertedFlap} {
		want, err := m.Expect(evidence.ClosureQuestion{MLDUM: 600, Technique: technique, Tamponade: evidence.Gas, DurationMonths: math.NaN()})
		o, offered := d.Option(code)
		if err != nil || !offered || o.Closure.Value != want.Expected.Value || o.Closure.Low != want.Expected.Low || o.Closure.High != want.Expected.High {
			t.Errorf("%s: %+v, want %+v, %v", code, o.Closure, want.Expected, err)
		}
	}
	// A wider interval of the diameter never narrows the range.
	wide := estimate.Estimate{Value: 600, Low: 520, High: 680}
	d2, err := Decide(Findings{Condition: Hole, MLDUM: &wide, EarlierSurgery: EarlierNone}, Unit{})
	if err != nil {
		t.Fatal(err)
	}
	a, _ := d.Option("peel")
	b, _ := d2.Option("peel")
	if !(b.Closure.Low < a.Closure.Low && b.Closure.High > a.Closure.High) {
		t.Errorf("%+v, %+v", a.Closure, b.Closure)
	}
}

// What cannot be is refused with its code, and the caller's findings stay as
// they were.
func TestRefusals(t *testing.T) {
	number := func(v float64) *float64 { return &v }
	e := func(v float64) *estimate.Estimate { d := TypedDiameter(v); return &d }
	for name, c := range map[string]struct {
		f    Findings
		code fault.Code
	}{
		"no condition":        {Findings{}, fault.Invalid},
		"odd word":            {Findings{Condition: Hole, EarlierSurgery: "twice"}, fault.Invalid},
		"odd answer":          {Findings{Condition: Hole, OnlyEye: "maybe"}, fault.Invalid},
		"stage 5":             {Findings{Condition: EpiretinalMembrane, MembraneStage: 5}, fault.Invalid},
		"22 gauge":            {Findings{Condition: Hole, GaugeG: 22}, fault.Invalid},
		"no months":           {Findings{Condition: Hole, DurationMonths: number(-1)}, fault.Invalid},
		"not a number":        {Findings{Condition: Hole, AxialLengthMM: number(math.NaN())}, fault.Invalid},
		"centimetre":          {Findings{Condition: Hole, MLDUM: e(9000)}, fault.Invalid},
		"outside interval":    {Findings{Condition: Hole, MLDUM: &estimate.Estimate{Value: 300, Low: 310, High: 320}}, fault.Invalid},
		"endless interval":    {Findings{Condition: Hole, MLDUM: &estimate.Estimate{Value: 300, Low: 200, High: math.Inf(1)}}, fault.Invalid},
		"largest below":       {Findings{Condition: Hole, MLDUM: e(300), LargestUM: e(200)}, fault.Conflict},
		"attached":            {Findings{Condition: HoleWithDetachment, Detachment: No}, fault.Conflict},
		"first recurrence":    {Findings{Condition: RecurrentDetachment, EarlierSurgery: EarlierNone}, fault.Conflict},
		"no membrane":         {Findings{Condition: EpiretinalMembrane, Membrane: No}, fault.Conflict},
		"detached traction":   {Findings{Condition: Traction, VitreousAttached: No}, fault.Conflict},
		"open as, never done": {Findings{Condition: Hole, EarlierSurgery: EarlierNone, OpenAs: OpenFlat}, fault.Conflict},
	} {
		if _, err := Decide(c.f, Unit{}); fault.CodeOf(err) != c.code {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := Decide(Findings{Condition: Hole, MLDUM: e(300)}, Unit{Limits: map[string]float64{"flap": -1}}); fault.CodeOf(err) != fault.Invalid {
		t.Error(err)
	}
	if _, err := Decide(Findings{Condition: Hole, MLDUM: e(300)}, Unit{Own: []OwnResult{{Code: "nose", Counts: stats.Counts{Events: 1, Trials: 2}}}}); fault.CodeOf(err) != fault.Invalid {
		t.Error(err)
	}
	for text, want := range map[string]Condition{"Macular Hole": Hole, "macular_hole_detachment": HoleWithDetachment, "ERM": EpiretinalMembrane, "hole": Hole} {
		if got, err := ParseCondition(text); err != nil || got != want {
			t.Errorf("%q: %s, %v", text, got, err)
		}
	}
	if _, err := ParseCondition("nose"); fault.CodeOf(err) != fault.Invalid {
		t.Error(err)
	}
	for _, text := range []string{"", "maybe", "ja"} {
		if _, err := ParseAnswer(text); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%q: %v", text, err)
		}
	}
}
