package fluidics

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"limitans/estimate"
)

// Second route to the interval: draw every input from a distribution whose
// 2.5th and 97.5th percentile are the ends of its interval (two halves of a normal
// distribution of the logarithm) and read the percentiles of the flow. Quadrature
// of logarithms is exact for a product of powers and close for this law; 20,000
// draws place a percentile to 2 % of the half-width.
func TestBandAgainstSimulation(t *testing.T) {
	rng := rand.New(rand.NewPCG(2026, 5))
	draw := func(e estimate.Estimate) float64 {
		z := rng.NormFloat64() / estimate.Z95
		if e.Value == 0 {
			return 0
		}
		if z > 0 {
			return e.Value * math.Pow(e.High/e.Value, z)
		}
		return e.Value * math.Pow(e.Low/e.Value, -z)
	}
	oil, err := SiliconeOil(1000)
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		name     string
		line     func(int) (Line, error)
		gauge    int
		fluid    Fluid
		pressure Pressure
	}{
		{"infusion", InfusionLine, 25, BalancedSaltSolution(), Pressure{30 * pascalPerMmHg}},
		{"infusion", InfusionLine, 27, BalancedSaltSolution(), Pressure{60 * pascalPerMmHg}},
		{"oil", OilLine, 23, oil, Pressure{6 * pascalPerBar}},
		{"oil", OilLine, 27, oil, Pressure{6 * pascalPerBar}},
		{"heavy liquid", FineTip, 41, PerfluoroNOctane(), Pressure{200 * pascalPerMmHg}},
	} {
		l, err := row.line(row.gauge)
		if err != nil {
			t.Fatal(err)
		}
		want, err := l.Flow(row.fluid, row.pressure)
		if err != nil {
			t.Fatal(err)
		}
		flows := make([]float64, 20000)
		for i := range flows {
			p := l.physics(row.fluid)
			p.boreM = draw(l.Cannula.BoreMM) * metrePerMM
			p.viscosity = draw(row.fluid.ViscosityMPaS) * 1e-3
			p.lossK = draw(estimate.Estimate{Value: lossK, Low: lossKLow, High: lossKHigh})
			flows[i] = Flow{p.flow(row.pressure.pascal)}.MLPerMin()
		}
		slices.Sort(flows)
		low, high := flows[len(flows)*25/1000], flows[len(flows)*975/1000]
		// 10 % of the interval's width in the logarithm: the law bends, and the
		// two halves of a lopsided input share the middle.
		within := 0.10 * math.Log(want.High/want.Low)
		if math.Abs(math.Log(low/want.Low)) > within || math.Abs(math.Log(high/want.High)) > within {
			t.Errorf("%s %dG: interval %.4g to %.4g, simulated %.4g to %.4g mL/min", row.name, row.gauge, want.Low, want.High, low, high)
		}
	}
}

// A table that was damaged is a defect of the program and is called one.
func TestDamagedTablesAreCalledDefects(t *testing.T) {
	facts, gauges := factsCSV, gaugeCSV
	defer func() { factsCSV, gaugeCSV = facts, gauges }()
	for _, text := range []string{"", "id,quantity,value,low,high,unit,conditions,source,doi_or_pmid,how_known\na,b,x,,,,,,,\n"} {
		factsCSV, gaugeCSV = text, text
		if _, err := Facts(); err == nil {
			t.Errorf("%q", text)
		}
		if _, err := FactOf("a"); err == nil {
			t.Errorf("%q", text)
		}
		if _, err := Comparisons(); err == nil {
			t.Errorf("%q", text)
		}
		if _, err := Gauges(); err == nil {
			t.Errorf("%q", text)
		}
		if _, err := GaugeOf(23); err == nil {
			t.Errorf("%q", text)
		}
	}
}
