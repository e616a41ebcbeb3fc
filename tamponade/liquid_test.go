package tamponade

import (
	"strings"
	"testing"
)

// TestLiquidConstantsLieInThePublishedRange: specific gravity 1.76 to 2.03 (Yu et
// al., Biomed Res Int 2014:250323, doi 10.1155/2014/250323, full text, part).
func TestLiquidConstantsLieInThePublishedRange(t *testing.T) {
	for _, l := range []Liquid{PerfluoroOctane, Perfluorodecalin, PerfluoroPhenanthrene} {
		p, err := l.Properties()
		if err != nil || p.DensityGPerML.Low < 1.76 || p.DensityGPerML.High > 2.03 || p.Source == "" || p.Consequence == "" {
			t.Errorf("%+v, %v", p, err)
		}
		if p.EvaporatesUnderGas != (p.VapourPressureMMHg.Low >= 50) {
			t.Errorf("%s: evaporation against vapour pressure", p.Name)
		}
	}
	if _, err := LiquidUnknown.Properties(); err == nil {
		t.Error("no liquid has properties")
	}
}

func TestProblemC10RetainedLiquid(t *testing.T) {
	worst, err := LiquidPrompts(LiquidUse{RetinotomyDeg: 270, Rinsed: No, SeenEmpty: No, OilDirectly: true, Liquid: Perfluorodecalin})
	if err != nil {
		t.Fatal(err)
	}
	for _, code := range []string{"retinotomy", "rinse", "seen_empty", "sticky", "no_evaporation", "lot"} {
		if !hasCode(worst, code) {
			t.Errorf("%s is missing", code)
		}
	}
	// 8 of 72 and 1 of 23: Clopper and Pearson, checked with SciPy in oil_test.go.
	if !strings.Contains(worst[0].Text, "8 of 72, 11.1 % (95 % 4.9 to 20.7)") || !strings.Contains(worst[1].Text, "1 of 23, 4.3 % (95 % 0.1 to 21.9)") {
		t.Errorf("%+v", worst[:2])
	}
	best, err := LiquidPrompts(LiquidUse{RetinotomyDeg: 0, Rinsed: Yes, SeenEmpty: Yes, Liquid: PerfluoroOctane, LotAndExpiryKnown: true})
	if err != nil || len(best) != 0 {
		t.Errorf("%+v, %v", best, err)
	}
	open, err := LiquidPrompts(LiquidUse{RetinotomyDeg: nan})
	if err != nil || !strings.HasSuffix(open[0].Text, "?") || !strings.HasSuffix(open[1].Text, "?") {
		t.Errorf("%+v, %v", open, err)
	}
	if _, err := LiquidPrompts(LiquidUse{RetinotomyDeg: 400}); err == nil {
		t.Error("400 degrees")
	}
}

// TestHardCase77DropAfterHeavyLiquid: candidates are listed, the user decides,
// size and distance are kept.
func TestHardCase77DropAfterHeavyLiquid(t *testing.T) {
	d := Drop{DiameterUM: 300, FoveaDistanceUM: 100, UnderRetina: Yes, SightLost: Yes}
	r, err := AssessDrop(d)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Candidates) != 4 || len(r.Options) != 0 || !r.Subfoveal || r.EdgeDistanceUM != 0 || !strings.Contains(r.Place, "under the foveal centre") {
		t.Errorf("%+v", r)
	}
	d.Identity = DropLiquid
	if r, err = AssessDrop(d); err != nil || r.Options[0].Code != "early" || !hasCode(r.Options, "aspirate") || !hasCode(r.Options, "displace") {
		t.Errorf("%+v, %v", r, err)
	}
	d.SightLost = No
	if r, err = AssessDrop(d); err != nil || r.Options[0].Code != "watch" {
		t.Errorf("%+v, %v", r, err)
	}
	d.FoveaDistanceUM = 2000
	if r, err = AssessDrop(d); err != nil || r.Subfoveal || len(r.Options) != 1 || r.EdgeDistanceUM != 1850 {
		t.Errorf("%+v, %v", r, err)
	}
	d.UnderRetina = No
	if r, err = AssessDrop(d); err != nil || r.Options[0].Code != "elsewhere" {
		t.Errorf("%+v, %v", r, err)
	}
	d.Identity = DropOil
	if r, err = AssessDrop(d); err != nil || len(r.Options) != 0 || len(r.Candidates) != 0 {
		t.Errorf("%+v, %v", r, err)
	}
	d.FoveaDistanceUM = 320
	if r, err = AssessDrop(d); err != nil || !r.Subfoveal || !strings.Contains(r.Place, "foveola") {
		t.Errorf("%+v, %v", r, err)
	}
	for _, bad := range []Drop{{DiameterUM: 0}, {DiameterUM: nan}, {DiameterUM: 300, FoveaDistanceUM: -1}} {
		if _, err := AssessDrop(bad); err == nil {
			t.Errorf("%+v passed", bad)
		}
	}
	for _, s := range RetainedLiquidEvidence().Signs {
		if s.Trials != 13 || s.Interval.Low*100 >= s.Percent() {
			t.Errorf("%+v", s)
		}
	}
}
