package fluidics_test

import (
	"math"
	"testing"

	"limitans/fault"
	"limitans/fluidics"
	"limitans/internal/expect"
)

// Worked examples 15 and 16 by gauge (27G: 27.8 mm, 231 N·mm²; 23G and 25G: 29.5
// and 29.0 mm, 672 and 542; tolerances there) and section 1.3 (derived): relative
// rigidity 1 : 0.81 : 0.34, and 0.23 mm at a 27G tip under 7.5 mN.
func TestShaftOfGaugesWorkedExamples15And16(t *testing.T) {
	rigidity := map[int]float64{}
	for gauge, want := range map[int][3]float64{23: {29.5, 672, 2}, 25: {29.0, 542, 2}, 27: {27.8, 231, 1}} {
		g := expect.Must[fluidics.GaugeShaft](t)(fluidics.ShaftOf(gauge))
		expect.Near(t, "length", g.FreeLengthMM.Value, want[0], 0.1)
		expect.Near(t, "rigidity", g.RigidityNMM2.Value, want[1], want[2])
		if !(g.FreeLengthMM.Low < g.Shaft.FreeLengthMM && g.Shaft.FreeLengthMM < g.FreeLengthMM.High && g.RigidityNMM2.Low > 0 && g.HowKnown == "abstract" && g.Source != "") {
			t.Errorf("%+v", g)
		}
		rigidity[gauge] = g.RigidityNMM2.Value
	}
	expect.Near(t, "25G / 23G", rigidity[25]/rigidity[23], 0.81, 0.005)
	expect.Near(t, "27G / 23G", rigidity[27]/rigidity[23], 0.34, 0.005)
	bend := expect.Must[fluidics.Bend](t)(expect.Must[fluidics.GaugeShaft](t)(fluidics.ShaftOf(27)).BendIn(20, fluidics.RetinalForceMN, 0))
	expect.Near(t, "27G tip", bend.TipMM.Value, 0.23, 0.005)
	expect.Near(t, "no push", bend.PortMM.Value, 0, 0)
	limit := expect.Must[fluidics.Fact](t)(fluidics.FactOf("PEEL-LIM"))
	expect.Near(t, "force on the retina", fluidics.RetinalForceMN, limit.Value, 0)
	for _, gauge := range []int{20, 26, 41, 0} {
		if _, err := fluidics.ShaftOf(gauge); fault.CodeOf(err) != fault.Unsupported {
			t.Errorf("%d gauge: %v", gauge, err)
		}
	}
}

// A second route to the bend at the entry: the curvature M/(EI) of the beam
// summed along the shaft outside (Simpson, exact for its cubic), then a straight
// line inside.
func TestBendAtTheEntryAgainstSummedCurvature(t *testing.T) {
	for _, gauge := range []int{23, 25, 27} {
		g := expect.Must[fluidics.GaugeShaft](t)(fluidics.ShaftOf(gauge))
		for _, inside := range []float64{5, 12, 20.76, 26} {
			const push = 0.12 // N
			outside := g.Shaft.FreeLengthMM - inside
			// Slope and deflection at the entry by moment areas.
			simpson := func(f func(x float64) float64) float64 {
				return outside / 6 * (f(0) + 4*f(outside/2) + f(outside))
			}
			curvature := func(x float64) float64 { return push * (outside - x) / g.Shaft.RigidityNMM2 }
			slope := simpson(curvature)
			deflection := simpson(func(x float64) float64 { return curvature(x) * (outside - x) })
			got := expect.Must[fluidics.Bend](t)(g.BendIn(inside, 0, 1000*push))
			expect.Near(t, "bend", got.PortMM.Value, deflection+slope*inside, 1e-12)
			if !(got.PortMM.Low < got.PortMM.Value && got.PortMM.Value < got.PortMM.High) {
				t.Errorf("%d gauge: %+v", gauge, got.PortMM)
			}
		}
	}
}

// What the trade says of 27 gauge (common practice, no source): macular work
// rather than work in the near periphery. In the model the bend at the entry
// grows as less of the shaft is inside, and 27 gauge bends more than 25.
func TestThinShaftsBendMoreAndMoreOutside(t *testing.T) {
	last := 0.0
	for inside := 25.0; inside > 4; inside -= 0.5 {
		thin := expect.Must[fluidics.Bend](t)(expect.Must[fluidics.GaugeShaft](t)(fluidics.ShaftOf(27)).BendIn(inside, fluidics.RetinalForceMN, fluidics.PortForceMN))
		thick := expect.Must[fluidics.Bend](t)(expect.Must[fluidics.GaugeShaft](t)(fluidics.ShaftOf(25)).BendIn(inside, fluidics.RetinalForceMN, fluidics.PortForceMN))
		if !(thin.PortMM.Value > thick.PortMM.Value && thin.TipMM.Value > 2*thick.TipMM.Value && thin.PortMM.Value > last) {
			t.Fatalf("%g mm inside: %+v, %+v", inside, thin, thick)
		}
		last = thin.PortMM.Value
	}
	// At the macula of an eye of 24 mm the firm push stays below the limit that
	// this program calls too much; at the near equator (7.7 mm) it does not.
	g := expect.Must[fluidics.GaugeShaft](t)(fluidics.ShaftOf(27))
	macula := expect.Must[fluidics.Bend](t)(g.BendIn(20.76, 0, fluidics.PortForceMN))
	equator := expect.Must[fluidics.Bend](t)(g.BendIn(7.7, 0, fluidics.PortForceMN))
	if !(macula.PortMM.High < fluidics.BendTooMuchMM && equator.PortMM.Low > fluidics.BendTooMuchMM) {
		t.Errorf("macula %+v, near equator %+v", macula.PortMM, equator.PortMM)
	}
}

func TestBendRefusesWhatIsNoUse(t *testing.T) {
	g := expect.Must[fluidics.GaugeShaft](t)(fluidics.ShaftOf(25))
	for _, bad := range [][3]float64{{0, 1, 1}, {-1, 1, 1}, {29, 1, 1}, {math.NaN(), 1, 1}, {20, -1, 1}, {20, 1, 2000}, {20, math.NaN(), 1}, {20, 1, math.NaN()}} {
		if _, err := g.BendIn(bad[0], bad[1], bad[2]); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%v: %v", bad, err)
		}
	}
}

// Under a load at the tip the bend grows with the third power of the length.
func TestWithLength(t *testing.T) {
	g := expect.Must[fluidics.GaugeShaft](t)(fluidics.ShaftOf(27))
	long := expect.Must[fluidics.GaugeShaft](t)(g.WithLength(2 * g.Shaft.FreeLengthMM))
	expect.Near(t, "twice the length", long.Shaft.TipUMPerMN()/g.Shaft.TipUMPerMN(), 8, 1e-9)
	for _, bad := range []float64{0, 4, 81, math.NaN()} {
		if _, err := g.WithLength(bad); fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%g mm: %v", bad, err)
		}
	}
}
