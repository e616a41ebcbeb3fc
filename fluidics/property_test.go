package fluidics_test

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"limitans/estimate"
	"limitans/fault"
	"limitans/fluidics"
	"limitans/internal/expect"
)

// Flow rises with pressure and bore, falls with length and viscosity; drop and
// flow are inverse; the interval holds the value; without kinetic loss the law is
// Poiseuille's.
func TestFlowProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		bore := rapid.Float64Range(0.03, 0.6).Draw(t, "bore")
		length := rapid.Float64Range(1, 20).Draw(t, "length")
		viscosity := rapid.Float64Range(0.7, 5000).Draw(t, "viscosity")
		density := rapid.Float64Range(0.9, 2).Draw(t, "density")
		pressure := rapid.Float64Range(0.01, 100).Draw(t, "pressure")
		flow := func(bore, length, viscosity, pressure float64) (estimate.Estimate, error) {
			tube := expect.Must[fluidics.Tube](t)(fluidics.NewTube(bore, length, 0.05))
			f := expect.Must[fluidics.Fluid](t)(fluidics.NewFluid("any", expect.Must[fluidics.Viscosity](t)(fluidics.MPaS(viscosity)), density, 0.1, "drawn"))
			return fluidics.Line{Cannula: tube}.Flow(f, mmHg(t, pressure))
		}
		q, err := flow(bore, length, viscosity, pressure)
		if fault.CodeOf(err) == fault.NotMeasurable {
			return // turbulent: refused, as it should be
		}
		if err != nil {
			t.Fatal(err)
		}
		if !(q.Low < q.Value && q.Value < q.High && q.Low > 0) {
			t.Fatalf("%+v", q)
		}
		for what, other := range map[string]func() (estimate.Estimate, error){
			"pressure": func() (estimate.Estimate, error) { return flow(bore, length, viscosity, pressure*1.01) },
			"bore":     func() (estimate.Estimate, error) { return flow(bore*1.01, length, viscosity, pressure) },
			"length":   func() (estimate.Estimate, error) { return flow(bore, length/1.01, viscosity, pressure) },
			"thinness": func() (estimate.Estimate, error) { return flow(bore, length, viscosity/1.01, pressure) },
		} {
			more, err := other()
			if fault.CodeOf(err) != fault.NotMeasurable && !(more.Value > q.Value) {
				t.Fatalf("more %s, flow %g after %g, %v", what, more.Value, q.Value, err)
			}
		}
		f := expect.Must[fluidics.Fluid](t)(fluidics.NewFluid("any", expect.Must[fluidics.Viscosity](t)(fluidics.MPaS(viscosity)), density, 0.1, "drawn"))
		back, err := cannula(t, bore, length).Drop(f, mLPerMin(t, q.Value))
		if err != nil || math.Abs(back.Value-pressure) > 1e-9*pressure {
			t.Fatalf("%g mmHg drive what loses %g, %v", pressure, back.Value, err)
		}
		poiseuille := math.Pi * math.Pow(bore*1e-3, 4) * mmHg(t, pressure).KPa() * 1000 / (128 * viscosity * 1e-3 * length * 1e-3) * 6e7
		if q.Value > poiseuille*(1+1e-12) {
			t.Fatalf("%g mL/min, friction alone lets %g through", q.Value, poiseuille)
		}
		if viscosity > 500 && math.Abs(q.Value/poiseuille-1) > 0.002 {
			t.Fatalf("thick liquid: %g, Poiseuille %g", q.Value, poiseuille)
		}
	})
}

// A finer gauge never lets more through, in any of the tables.
func TestFlowFallsWithGauge(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pressure := mmHg(t, rapid.Float64Range(1, 120).Draw(t, "pressure"))
		oil := expect.Must[fluidics.Fluid](t)(fluidics.SiliconeOil(rapid.Float64Range(1000, 5000).Draw(t, "oil")))
		for _, row := range []struct {
			line   func(int) (fluidics.Line, error)
			gauges []int
			fluid  fluidics.Fluid
		}{
			{fluidics.InfusionLine, []int{23, 25, 27}, fluidics.BalancedSaltSolution()},
			{fluidics.OilLine, []int{23, 25, 27}, oil},
			{fluidics.FineTip, []int{38, 41}, fluidics.Perfluorodecalin()},
		} {
			last := estimate.Estimate{Value: math.Inf(1), Low: math.Inf(1), High: math.Inf(1)}
			for _, gauge := range row.gauges {
				q, err := expect.Must[fluidics.Line](t)(row.line(gauge)).Flow(row.fluid, pressure)
				if err != nil || !(q.Value < last.Value && q.Low < last.Low && q.High < last.High) {
					t.Fatalf("%d gauge: %+v after %+v, %v", gauge, q, last, err)
				}
				last = q
			}
		}
	})
}

func TestTransferTimeIsVolumeOverFlow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		volume := rapid.Float64Range(0.01, 30).Draw(t, "volume")
		pressure := mmHg(t, rapid.Float64Range(1, 5000).Draw(t, "pressure"))
		oil := expect.Must[fluidics.Fluid](t)(fluidics.SiliconeOil(rapid.Float64Range(1000, 5000).Draw(t, "oil")))
		l := expect.Must[fluidics.Line](t)(fluidics.OilLine(rapid.SampledFrom([]int{23, 25, 27}).Draw(t, "gauge")))
		q := expect.Must[estimate.Estimate](t)(l.Flow(oil, pressure))
		s := expect.Must[estimate.Estimate](t)(l.TransferTime(oil, pressure, volume))
		for _, got := range []float64{s.Value * q.Value, s.Low * q.High, s.High * q.Low} {
			if math.Abs(got/60-volume) > 1e-12*volume {
				t.Fatalf("%g mL pass, want %g", got/60, volume)
			}
		}
	})
}

func TestAspirationProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		drive := rapid.Float64Range(0.5, 600).Draw(t, "drive")
		volume := rapid.Float64Range(0.01, 20).Draw(t, "volume")
		l := expect.Must[fluidics.Line](t)(fluidics.FineTip(rapid.SampledFrom([]int{38, 41}).Draw(t, "gauge")))
		f := rapid.SampledFrom([]fluidics.Fluid{fluidics.PerfluoroNOctane(), fluidics.Perfluorodecalin()}).Draw(t, "liquid")
		a := expect.Must[fluidics.Aspiration](t)(l.Aspirate(f, mmHg(t, drive), volume))
		more := expect.Must[fluidics.Aspiration](t)(l.Aspirate(f, mmHg(t, drive*1.01), volume))
		if !(more.FlowULPerS.Value > a.FlowULPerS.Value && more.FlowULPerS.Low >= a.FlowULPerS.Low && more.Seconds.Value < a.Seconds.Value) {
			t.Fatalf("%+v then %+v", a, more)
		}
		if math.Abs(a.Seconds.Value*a.FlowULPerS.Value-volume) > 1e-12*volume {
			t.Fatalf("%+v", a)
		}
		if yes := drive > a.HoldUpMmHg.High; (a.Enters == "yes") != yes || yes != (a.FlowULPerS.Low > 0) || yes == math.IsNaN(a.Seconds.High) {
			t.Fatalf("%+v", a)
		}
		if (a.Enters == "unlikely") != (drive < a.HoldUpMmHg.Low) {
			t.Fatalf("%+v", a)
		}
	})
}

// Units that refuse the impossible: 40 as mmHg and as psi differ 52 times, and
// neither is made without its name.
func TestUnitsRefuseTheImpossible(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for name, row := range map[string]struct {
		make func(float64) error
		bad  []float64
	}{
		"mmHg": {func(v float64) error { _, err := fluidics.MmHg(v); return err }, []float64{-1, 12000}},
		"kPa":  {func(v float64) error { _, err := fluidics.KPa(v); return err }, []float64{-1, 1501}},
		"psi":  {func(v float64) error { _, err := fluidics.Psi(v); return err }, []float64{-0.1, 300}},
		"bar":  {func(v float64) error { _, err := fluidics.Bar(v); return err }, []float64{-1, 16}},
		"head": {func(v float64) error { _, err := fluidics.HeadCM(v, 1); return err }, []float64{-1, 1e6}},
		"rho":  {func(v float64) error { _, err := fluidics.HeadCM(1, v); return err }, []float64{0, 0.5, 3, 1000}},
		"rho2": {func(v float64) error { _, err := mmHg(t, 1).HeadCM(v); return err }, []float64{0, 3}},
		"mL":   {func(v float64) error { _, err := fluidics.MLPerMin(v); return err }, []float64{-1, 501}},
		"µL":   {func(v float64) error { _, err := fluidics.ULPerMin(v); return err }, []float64{-1, 6e5}},
		"µL/s": {func(v float64) error { _, err := fluidics.ULPerS(v); return err }, []float64{-1, 1e4}},
		"mPas": {func(v float64) error { _, err := fluidics.MPaS(v); return err }, []float64{-1, 0, 0.05, 20001}},
		"cSt":  {func(v float64) error { _, err := fluidics.Centistokes(v, 0.97); return err }, []float64{-1, 0, 30000}},
		"cSt2": {func(v float64) error { _, err := fluidics.Centistokes(1000, v); return err }, []float64{0, 970}},
		"oil":  {func(v float64) error { _, err := fluidics.SiliconeOil(v); return err }, []float64{0, 99, 25000}},
		"bore": {func(v float64) error { _, err := fluidics.NewTube(v, 6, 0); return err }, []float64{-1, 0, 0.01, 3.1, 400}},
		"long": {func(v float64) error { _, err := fluidics.NewTube(0.4, v, 0); return err }, []float64{-1, 0, 0.1, 4000}},
		"tol":  {func(v float64) error { _, err := fluidics.NewTube(0.4, 6, v); return err }, []float64{-0.1, 0.6}},
		"tol2": {func(v float64) error {
			_, err := fluidics.NewFluid("x", expect.Must[fluidics.Viscosity](t)(fluidics.MPaS(1)), 1, v, "")
			return err
		}, []float64{-0.1, 0.6}},
		"rho3": {func(v float64) error {
			_, err := fluidics.NewFluid("x", expect.Must[fluidics.Viscosity](t)(fluidics.MPaS(1)), v, 0, "")
			return err
		}, []float64{0, 1000}},
		"none":   {func(float64) error { _, err := fluidics.NewFluid("x", fluidics.Viscosity{}, 1, 0, ""); return err }, []float64{0}},
		"drop":   {func(v float64) error { _, err := fluidics.HemisphereUL(v); return err }, []float64{0, -1, 11}},
		"eye":    {func(v float64) error { _, err := fluidics.Drive(v, 0); return err }, []float64{-1, 101}},
		"vacuum": {func(v float64) error { _, err := fluidics.Drive(20, v); return err }, []float64{-1, 761, 1e9}},
		"air":    {func(v float64) error { _, err := fluidics.AirJetMPerS(mmHg(t, 121)); return err }, []float64{0}},
		"shaft":  {func(v float64) error { _, err := fluidics.ShaftFromDeflection(v, 33); return err }, []float64{-1, 0, 33, 40}},
		"tube":   {func(v float64) error { _, err := fluidics.SteelTubeRigidityNMM2(0.4, v); return err }, []float64{-1, 0.4, 0.5}},
		"core":   {func(v float64) error { _, _, err := fluidics.CoreMinutes(27, v); return err }, []float64{-1, 0, 31}},
	} {
		for _, bad := range append(row.bad, nan, inf, -inf) {
			if name == "none" || name == "air" {
				bad = 0
			}
			if err := row.make(bad); fault.CodeOf(err) != fault.Invalid {
				t.Errorf("%s of %g: %v", name, bad, err)
			}
		}
	}
	_, err := fluidics.HeadCM(1, 1006)
	if err == nil || !strings.Contains(err.Error(), "1.006 g/mL") {
		t.Errorf("no mend: %v", err)
	}
}

// What was put together by hand wrongly, and what the law does not hold for.
func TestLinesRefuseTheImpossible(t *testing.T) {
	w, p := water(t), mmHg(t, 30)
	good := cannula(t, 0.4, 6)
	half := good
	half.Tubing.BoreMM = estimate.Estimate{Value: 1.5, Low: 1.5, High: 1.5}
	upside := good
	upside.Cannula.BoreMM.Low, upside.Cannula.BoreMM.High = 0.5, 0.3
	thin := w
	thin.ViscosityMPaS.Low = -1
	for name, err := range map[string]error{
		"no line":        drop(fluidics.Line{}.Flow(w, p)),
		"half a tubing":  drop(half.Flow(w, p)),
		"upside down":    drop(upside.Drop(w, mLPerMin(t, 1))),
		"no liquid":      drop(good.Flow(fluidics.Fluid{}, p)),
		"no interval":    drop(good.Flow(thin, p)),
		"no regime":      drop(fluidics.Line{}.Regime(w, mLPerMin(t, 1))),
		"no volume":      drop(good.TransferTime(w, p, 0)),
		"great volume":   drop(good.TransferTime(w, p, 31)),
		"no pressure":    drop(good.TransferTime(w, fluidics.Pressure{}, 1)),
		"no droplet":     drop(good.Aspirate(w, p, 0)),
		"no drive":       drop(good.Aspirate(w, fluidics.Pressure{}, 1)),
		"drive of psi":   drop(good.Aspirate(w, psi(t, 30), 1)),
		"bore of none":   drop(fluidics.HydraulicBoreMM(fluidics.Viscosity{}, 4, mLPerMin(t, 1), p)),
		"bore of length": drop(fluidics.HydraulicBoreMM(expect.Must[fluidics.Viscosity](t)(fluidics.MPaS(1)), 0, mLPerMin(t, 1), p)),
		"bore of zero":   drop(fluidics.HydraulicBoreMM(expect.Must[fluidics.Viscosity](t)(fluidics.MPaS(1)), 4, mLPerMin(t, 0), p)),
		"bore at zero":   drop(fluidics.HydraulicBoreMM(expect.Must[fluidics.Viscosity](t)(fluidics.MPaS(1)), 4, mLPerMin(t, 1), fluidics.Pressure{})),
		"gauge":          drop(fluidics.GaugeOf(17)),
	} {
		if fault.CodeOf(err) != fault.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, _, err := good.Coefficients(fluidics.Fluid{}); fault.CodeOf(err) != fault.Invalid {
		t.Error(err)
	}
	for name, err := range map[string]error{
		"infusion 20": drop(fluidics.InfusionLine(20)), "oil 41": drop(fluidics.OilLine(41)), "tip 39": drop(fluidics.FineTip(39)),
		"core 20": third(fluidics.CoreMinutes(20, 4)),
	} {
		if fault.CodeOf(err) != fault.Unsupported {
			t.Errorf("%s: %v", name, err)
		}
	}
	wide := cannula(t, 2, 6)
	for name, err := range map[string]error{
		"flow": drop(wide.Flow(w, mmHg(t, 60))), "drop": drop(wide.Drop(w, mLPerMin(t, 400))), "time": drop(wide.TransferTime(w, mmHg(t, 60), 4)),
		"aspiration": drop(wide.Aspirate(w, mmHg(t, 60), 4)),
	} {
		if fault.CodeOf(err) != fault.NotMeasurable {
			t.Errorf("%s: %v", name, err)
		}
	}
	if r := expect.Must[fluidics.Regime](t)(wide.Regime(w, mLPerMin(t, 400))); !strings.Contains(r.String(), "not laminar") {
		t.Error(r)
	}
	still := expect.Must[estimate.Estimate](t)(good.Flow(w, fluidics.Pressure{}))
	if still.Value != 0 || still.Low != 0 || still.High != 0 {
		t.Errorf("no pressure: %+v", still)
	}
}

func drop[T any](_ T, err error) error { return err }

func third(_, _ float64, err error) error { return err }
