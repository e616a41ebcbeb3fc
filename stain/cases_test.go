package stain_test

import (
	"math"
	"strings"
	"testing"

	"limitans/fault"
	"limitans/internal/expect"
	"limitans/stain"
)

func drop[T any](_ T, err error) error { return err }

// Hard case 68: "BBG 0.25" is asked back with both readings, and the one in per
// cent stops above the limit.
func TestHardCase68BareStrength(t *testing.T) {
	name, strength := stain.SplitNameAndStrength("BBG 0.25")
	s := expect.Must[stain.Sheet](t)(stain.Prepare(stain.NewInput(liquid(t, "bbg-label"), stain.Written{Name: name, Strength: strength})))
	if len(s.Stops) != 1 || s.Stops[0].Code != stain.StopStrength || s.Verdict != stain.Halt || len(s.Steps) > 0 || s.MOsmPerL.Known() {
		t.Fatalf("%+v", s)
	}
	for _, said := range []string{"0.25 mg/mL = 0.025 %", "2.5 mg/mL = 0.25 %"} {
		if !strings.Contains(s.Stops[0].Text, said) {
			t.Errorf("%q does not say %q", s.Stops[0].Text, said)
		}
	}
	s = expect.Must[stain.Sheet](t)(stain.Prepare(stain.NewInput(liquid(t, "bbg-label"), stain.Written{Name: "bbg", Strength: "0.25 %"})))
	if !hasStop(s, stain.StopAboveLimit) || !strings.Contains(s.Stops[0].Text, "10 times") {
		t.Errorf("%+v", s.Stops)
	}
	s = expect.Must[stain.Sheet](t)(stain.Prepare(stain.NewInput(liquid(t, "bbg-label"), stain.Written{Name: "bbg", Strength: "0.25 mg/mL"})))
	if !s.Accepted() || s.Verdict != stain.Good || len(s.Steps) < 3 {
		t.Errorf("%+v", s)
	}
}

// Hard case 70: the deny-list stops with reason and source, whatever the strength
// says; what is on no list stops too; names with several readings are asked back.
func TestHardCase70DenyList(t *testing.T) {
	for name, want := range map[string]stain.StopCode{
		"methylene blue": stain.StopDenied, "Methylene-Blue": stain.StopDenied, "METHYLENE BLUE 1 %": stain.StopDenied, "fluorescein": stain.StopDenied,
		"acid violet": stain.StopDenied, "Acid Violet 17": stain.StopDenied, "AV17": stain.StopDenied,
		"gentian violet": stain.StopUnlisted, "rhodamine": stain.StopUnlisted, "alcohol": stain.StopUnlisted,
		"blue": stain.StopDyeUnclear, "brilliant blue": stain.StopDyeUnclear, "MB": stain.StopDyeUnclear, "bbg+tb": stain.StopDyeUnclear, "icg/bbg": stain.StopDyeUnclear,
	} {
		s := expect.Must[stain.Sheet](t)(stain.Prepare(stain.NewInput(liquid(t, "bss"), stain.Written{Name: name, Strength: "0.25"})))
		if len(s.Stops) != 1 || s.Stops[0].Code != want || s.Stops[0].Text == "" || s.Stops[0].Source == "" || s.Accepted() {
			t.Errorf("%s: %+v", name, s.Stops)
		}
	}
	for name, key := range map[string]string{"BBG": "bbg", "Brilliant Blue G": "bbg", "indocyanine green": "icg", "Trypan-Blue": "tb", "ifcg": "ifcg", "bromophenol blue": "bpb", "triamcinolone": "ta"} {
		if d, denied, err := stain.Identify(name); d.Key != key || denied != nil || err != nil {
			t.Errorf("%s: %s, %v, %v", name, d.Key, denied, err)
		}
	}
}

// Hard case 71: the stain repeated three times: seconds summed, light and distance
// shown, nothing averaged.
func TestHardCase71Repeated(t *testing.T) {
	in := stain.NewInput(liquid(t, "bbg-label"), stain.Written{Name: "bbg", Strength: "0.025%"})
	in.ContactS, in.LightPercent, in.DistanceMM = []float64{30, 45, 20}, 60, 12
	s := expect.Must[stain.Sheet](t)(stain.Prepare(in))
	if s.Contact == nil || s.Contact.TotalS != 95 || s.Contact.LongestS != 45 || s.Contact.Verdict != stain.Caution || !s.Accepted() {
		t.Fatalf("%+v", s.Contact)
	}
	found := false
	for _, w := range s.Warnings {
		found = found || w.Code == "repeated_contact" && strings.Contains(w.Text, "95 s") && strings.Contains(w.Text, "light 60 %") && strings.Contains(w.Text, "distance 12 mm")
	}
	if !found {
		t.Errorf("%+v", s.Warnings)
	}
	in.LightPercent, in.DistanceMM = math.NaN(), math.NaN()
	if s = expect.Must[stain.Sheet](t)(stain.Prepare(in)); !strings.Contains(s.Warnings[0].Text, "light not told, distance not told") {
		t.Errorf("%+v", s.Warnings)
	}
}

// The proposal of section 1.4: BBG up to 60 s, care to 120, stop beyond; ICG up
// to 30, care to 60, stop beyond, also for the sum; trypan blue up to 120.
func TestContactTimes(t *testing.T) {
	dye := func(name string) stain.Dye {
		d, _, err := stain.Identify(name)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	for _, row := range []struct {
		dyes    []string
		seconds []float64
		want    stain.Verdict
	}{
		{[]string{"bbg"}, []float64{60}, stain.Good},
		{[]string{"bbg"}, []float64{61}, stain.Caution},
		{[]string{"bbg"}, []float64{120}, stain.Caution},
		{[]string{"bbg"}, []float64{121}, stain.Halt},
		{[]string{"bbg"}, []float64{60, 60, 60}, stain.Caution},
		{[]string{"icg"}, []float64{30}, stain.Good},
		{[]string{"icg"}, []float64{31}, stain.Caution},
		{[]string{"icg"}, []float64{61}, stain.Halt},
		{[]string{"icg"}, []float64{30, 30, 30}, stain.Halt},
		{[]string{"tb"}, []float64{120}, stain.Good},
		{[]string{"tb"}, []float64{121}, stain.Halt},
		{[]string{"tb", "bbg"}, []float64{121}, stain.Halt},
		{[]string{"ta", "bbg"}, []float64{90}, stain.Caution},
		{[]string{"ta"}, []float64{900}, stain.Unknown},
	} {
		var dyes []stain.Dye
		for _, name := range row.dyes {
			dyes = append(dyes, dye(name))
		}
		if c := expect.Must[stain.Contact](t)(stain.AddUp(row.seconds, dyes...)); c.Verdict != row.want {
			t.Errorf("%v %v: %+v, want %s", row.dyes, row.seconds, c, row.want)
		}
	}
	in := stain.NewInput(liquid(t, "glucose5"), stain.Written{Name: "icg", Strength: "0.05 %"})
	in.ContactS = []float64{30, 35}
	if s := expect.Must[stain.Sheet](t)(stain.Prepare(in)); !hasStop(s, stain.StopContactSum) || hasStop(s, stain.StopContact) {
		t.Errorf("%+v", s.Stops)
	}
	in.ContactS = []float64{70}
	if s := expect.Must[stain.Sheet](t)(stain.Prepare(in)); !hasStop(s, stain.StopContact) {
		t.Errorf("%+v", s.Stops)
	}
}

// Stops and warnings of the mixture, the lens, the hole and the unit's own limit.
func TestSheetJudges(t *testing.T) {
	base := func(name, strength, vehicle string) stain.Input {
		return stain.NewInput(liquid(t, vehicle), stain.Written{Name: name, Strength: strength})
	}
	sheet := func(in stain.Input) stain.Sheet { return expect.Must[stain.Sheet](t)(stain.Prepare(in)) }
	if s := sheet(base("bbg", "0.25 mg/mL", "water")); !hasStop(s, stain.StopTooThin) {
		t.Error("water alone passes")
	}
	if s := sheet(base("bbg", "0.25 mg/mL", "unknown")); !hasWarning(s, "osmolarity_unknown") || s.Verdict != stain.Caution || !s.Accepted() {
		t.Errorf("%+v", s)
	}
	if s := sheet(base("icg", "0.05 %", "glucose10")); !hasStop(s, stain.StopGlucose) || !hasStop(s, stain.StopTooThick) {
		t.Errorf("%+v", s.Stops)
	}
	six := base("icg", "5 mg/mL", "water")
	six.StockML, six.Parts = 1, []stain.Part{{liquid(t, "glucose10"), 6}, {liquid(t, "bss"), 3}}
	if s := sheet(six); !hasStop(s, stain.StopGlucose) || !hasStop(s, stain.StopTooThick) {
		t.Errorf("%+v", s)
	}
	if s := sheet(base("icg", "0.1 %", "bss")); !hasStop(s, stain.StopAboveLimit) || !hasWarning(s, "light") || !hasWarning(s, "iodine") {
		t.Errorf("%+v", s)
	}
	own := base("icg", "0.1 %", "bss")
	own.OwnLimit = "1 mg/mL"
	if s := sheet(own); !s.Accepted() {
		t.Errorf("%+v", s.Stops)
	}
	own.OwnLimit = "1 %"
	if _, err := stain.Prepare(own); fault.CodeOf(err) != fault.Invalid || !strings.Contains(err.Error(), "first reports") {
		t.Error(err)
	}
	own.OwnLimit = "1"
	if _, err := stain.Prepare(own); fault.CodeOf(err) != fault.Invalid {
		t.Error(err)
	}
	lens := base("tb", "0.15 %", "tb-label")
	lens.DryHydrophilicImplant, lens.Hole, lens.SubretinalDyeSuspected, lens.InjectedML = true, stain.HoleOpen, true, 1
	if s := sheet(lens); !hasStop(s, stain.StopDryHydrophilic) || !hasWarning(s, "hole_open") || !hasWarning(s, "subretinal") || !hasWarning(s, "large_volume") {
		t.Errorf("%+v", s)
	}
	weak := base("bbg", "0.1 mg/mL", "bss")
	weak.Hole = stain.HoleProtected
	if s := sheet(weak); !hasWarning(s, "weaker_than_usual") || hasWarning(s, "hole_open") {
		t.Errorf("%+v", s)
	}
	two := base("tb", "0.15 %", "bss")
	two.Dyes = append(two.Dyes, stain.Written{Name: "bbg", Strength: "0.025 %"})
	if s := sheet(two); len(s.Dyes) != 2 || !s.Accepted() || !strings.Contains(s.Steps[0], "brilliant blue G 0.25 mg/mL = 0.025 %") {
		t.Errorf("%+v", s)
	}
	small := base("icg", "5 mg/mL", "water")
	small.Target, small.Diluent, small.TotalML = "0.5 mg/mL", liquid(t, "bss"), 0.5
	if s := sheet(small); !hasWarning(s, "small_volume") {
		t.Errorf("%+v", s)
	}
	for name, spoil := range map[string]func(*stain.Input){
		"no dye":        func(in *stain.Input) { in.Dyes = nil },
		"no name":       func(in *stain.Input) { in.Dyes[0].Name = " - " },
		"no strength":   func(in *stain.Input) { in.Dyes[0].Strength = "strong" },
		"no vehicle":    func(in *stain.Input) { in.Vehicle = stain.Solution{} },
		"no stock":      func(in *stain.Input) { in.Parts = []stain.Part{{liquid(t, "bss"), 1}} },
		"no volume":     func(in *stain.Input) { in.StockML, in.Parts = 1, []stain.Part{{liquid(t, "bss"), 0}} },
		"label as part": func(in *stain.Input) { in.StockML, in.Parts = 1, []stain.Part{{liquid(t, "tb-label"), 1}} },
		"both":          func(in *stain.Input) { in.StockML, in.Target = 1, "0.1 %" },
		"target":        func(in *stain.Input) { in.Target, in.Diluent, in.TotalML = "0.1", liquid(t, "bss"), 10 },
		"stronger":      func(in *stain.Input) { in.Target, in.Diluent, in.TotalML = "5 %", liquid(t, "bss"), 10 },
		"total":         func(in *stain.Input) { in.Target, in.Diluent, in.TotalML = "0.1 %", liquid(t, "bss"), math.NaN() },
		"contact":       func(in *stain.Input) { in.ContactS = []float64{-1} },
		"contact NaN":   func(in *stain.Input) { in.ContactS = []float64{math.NaN()} },
		"light":         func(in *stain.Input) { in.LightPercent = 101 },
		"distance":      func(in *stain.Input) { in.DistanceMM = 0 },
		"injected":      func(in *stain.Input) { in.InjectedML = 50 },
	} {
		in := base("tb", "0.15 %", "tb-label")
		spoil(&in)
		if _, err := stain.Prepare(in); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
	for name, err := range map[string]error{
		"strength 0": drop(stain.MGPerML(0)), "strength NaN": drop(stain.Percent(math.NaN())), "solute": drop(stain.IdealOsmolarity(stain.Solute{1, 0, 1})),
		"liquid": drop(stain.SolutionOf("gin")), "osmolarity": drop(stain.OsmolarityVerdict(-1, false)), "glucose": drop(stain.GlucoseVerdict(math.NaN(), false)),
		"no contact": drop(stain.AddUp(nil)), "no dye": drop(stain.AddUp([]float64{1})), "mass": drop(mgPerML(t, 1).MolPerL(0)), "absorbance": drop(stain.Absorbance(-1, 1, 1)),
		"transmittance": drop(stain.Transmittance(math.NaN())), "bleaching": drop(stain.IndocyanineLeft(-1)),
	} {
		if fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Every line of the tables is whole.
func TestTablesAreWhole(t *testing.T) {
	dyes := expect.Must[[]stain.Dye](t)(stain.Dyes())
	if len(dyes) != 6 {
		t.Fatalf("%d dyes", len(dyes))
	}
	for _, d := range dyes {
		if d.Name == "" || d.HighestSource == "" || d.Caution == "" || d.ContactSource == "" || d.HowKnown == "" || d.Status == "" || d.StainsLimiting == "" || d.StainsEpiretinal == "" {
			t.Errorf("%+v", d)
		}
		if !(d.UsualLow.MGPerML() <= d.UsualHigh.MGPerML() && d.UsualHigh.MGPerML() <= d.Limit.MGPerML() && d.Limit.MGPerML() <= d.Highest.MGPerML()) ||
			!(d.VolumeLowML < d.VolumeHighML) || d.CautionSeconds > d.LongestSeconds {
			t.Errorf("%+v", d)
		}
	}
	for _, d := range expect.Must[[]stain.Denied](t)(stain.DeniedDyes()) {
		if d.Name == "" || d.Reason == "" || d.Source == "" || d.HowKnown == "" {
			t.Errorf("%+v", d)
		}
	}
	peaks := expect.Must[[]stain.Absorption](t)(stain.Absorptions())
	if len(peaks) != 15 {
		t.Fatalf("%d peaks", len(peaks))
	}
	for _, p := range peaks {
		if p.Dye == "" || p.HowKnown == "" || p.SourceNotes == "" {
			t.Errorf("%+v", p)
		}
	}
	if p := peaks[0]; p.PeakNM != 595 || p.MolarAbsorptivity != 43000 || p.MolarMassGPerMol != 854.02 || p.Colour != "blue" {
		t.Errorf("%+v", p)
	}
}
