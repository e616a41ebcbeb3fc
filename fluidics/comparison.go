package fluidics

import (
	"fmt"
	"math"

	"limitans/estimate"
)

// Comparison is one published measurement beside what this package reckons for
// the same arrangement.
type Comparison struct {
	Quantity                     string
	Unit                         string
	PublishedLow, PublishedHigh  float64
	Computed                     estimate.Estimate
	Fitted                       bool // a bore of the package was derived from this very figure
	Source, HowKnown, Difference string
}

// Agrees reports whether the computed value lies in the published range or,
// where one number without a range was published, whether the computed interval
// holds it.
func (c Comparison) Agrees() bool {
	if c.PublishedLow == c.PublishedHigh {
		return c.PublishedLow >= c.Computed.Low && c.PublishedLow <= c.Computed.High
	}
	return c.Computed.Value >= c.PublishedLow && c.Computed.Value <= c.PublishedHigh
}

// Comparisons returns the published flows and times that the package can reckon,
// with the reason wherever the value misses the published range.
func Comparisons() ([]Comparison, error) {
	all := []Comparison{}
	for _, part := range []func() ([]Comparison, error){compareInfusion, compareOil, compareFineTip} {
		rows, err := part()
		if err != nil {
			return nil, err
		}
		all = append(all, rows...)
	}
	return all, nil
}

// compared starts a row from a published figure; where no range was printed the
// value is the range.
func compared(id string, of estimate.Estimate, difference string) (Comparison, error) {
	f, err := FactOf(id)
	if err != nil {
		return Comparison{}, err
	}
	c := Comparison{Quantity: f.Quantity, Unit: f.Unit, PublishedLow: f.Low, PublishedHigh: f.High, Computed: of, Source: f.Source, HowKnown: f.HowKnown, Difference: difference}
	if math.IsNaN(f.Low) {
		c.PublishedLow, c.PublishedHigh = f.Value, f.Value
	}
	return c, nil
}

func compareInfusion() ([]Comparison, error) {
	bss := BalancedSaltSolution()
	var rows []Comparison
	for _, gauge := range []int{23, 25, 27} {
		l, err := InfusionLine(gauge)
		if err != nil {
			return nil, err
		}
		drop, err := l.Drop(bss, Flow{10 * m3PerML / secondsPerMin})
		if err != nil {
			return nil, err
		}
		c, err := compared(fmt.Sprintf("INF-%dG", gauge), drop, "")
		if err != nil {
			return nil, err
		}
		c.Fitted = true
		rows = append(rows, c)
	}
	share, err := share27of25(bss)
	if err != nil {
		return nil, err
	}
	c, err := compared("INF-27v25", share, "one pair of instruments, printed without spread")
	if err != nil {
		return nil, err
	}
	ports, err := openPortShare(bss)
	if err != nil {
		return nil, err
	}
	p, err := compared("VALVE-FLUID", ports, "an open port is reckoned as a clean tube of 0.675 mm; real ones keep more pressure, because hub and valve seat narrow them. Use the published share")
	return append(rows, c, p), err
}

// share27of25 is the flow through a 27G line in percent of 25G at 30 mmHg.
func share27of25(f Fluid) (estimate.Estimate, error) {
	var q [2]estimate.Estimate
	for i, gauge := range []int{27, 25} {
		l, err := InfusionLine(gauge)
		if err != nil {
			return estimate.Estimate{}, err
		}
		if q[i], err = l.Flow(f, Pressure{30 * pascalPerMmHg}); err != nil {
			return estimate.Estimate{}, err
		}
	}
	return estimate.Estimate{
		Value: 100 * q[0].Value / q[1].Value, Low: 100 * q[0].Low / q[1].High, High: 100 * q[0].High / q[1].Low,
		Basis: "ratio of two computed flows at 30 mmHg; interval from their outer ends",
	}, nil
}

// openPortShare is what pressure an eye keeps, in percent of that set, with the
// 23G infusion running out of two open cannulas of 4 mm and a bore of 0.675 mm
// (instrument plus 0.035 mm; an estimate of the reference, 0.66 to 0.69).
//
//	set ── infusion line ── eye ──┬── port
//	                              └── port
func openPortShare(f Fluid) (estimate.Estimate, error) {
	infusion, err := InfusionLine(23)
	if err != nil {
		return estimate.Estimate{}, err
	}
	share := func(infusionBore, portBore float64) float64 {
		in := infusion.physics(f)
		in.boreM = infusionBore * metrePerMM
		out := physics{boreM: portBore * metrePerMM, lengthM: 4 * metrePerMM, lossK: lossK, viscosity: in.viscosity, density: in.density}
		a, b := in.coefficients()
		c, d := out.coefficients()
		// Both ports together pass Q, each half of it: losses add along the way.
		const set = 30 * pascalPerMmHg
		whole, square := a+c/2, b+d/4
		q := 2 * set / (whole + math.Sqrt(whole*whole+4*square*set))
		return 100 * (c/2 + d/4*q) * q / set
	}
	bore := infusion.Cannula.BoreMM
	return estimate.Estimate{
		Value: share(bore.Value, 0.675), Low: share(bore.Low, 0.69), High: share(bore.High, 0.66),
		Basis: "infusion and two open ports in series; interval from the bores",
	}, nil
}

func compareOil() ([]Comparison, error) {
	l, err := OilLine(23)
	if err != nil {
		return nil, err
	}
	const (
		psi  = "the abstract prints mmHg, at which no real bore gives this time; reckoned with psi"
		fast = psi + "; measured times fall faster than pressure (ratio 1.9 to 2.1 for 1.75), because the thick oils thin under shear and the pressure reached at the syringe is not the one set"
	)
	var rows []Comparison
	for _, row := range []struct {
		id               string
		centistokes, psi float64
		difference       string
	}{
		{"SO-INJ-1000-40", 1000, 40, psi},
		{"SO-INJ-1000-70", 1000, 70, fast},
		{"SO-INJ-5000-40", 5000, 40, psi},
		{"SO-INJ-5000-70", 5000, 70, fast},
	} {
		oil, err := SiliconeOil(row.centistokes)
		if err != nil {
			return nil, err
		}
		seconds, err := l.TransferTime(oil, Pressure{row.psi * pascalPerPsi}, 9)
		if err != nil {
			return nil, err
		}
		c, err := compared(row.id, seconds, row.difference)
		if err != nil {
			return nil, err
		}
		c.Fitted = row.id == "SO-INJ-1000-40"
		rows = append(rows, c)
	}
	// A cannula alone would pass 6/1.5 = 4 times as much when cut from 6 to 1.5 mm.
	c, err := compared("SO-OUT-23-1.5", estimate.Estimate{Value: 4.0, Low: 4.0, High: 4.0, Basis: "1.0 mL/min through 6 mm, times the ratio of lengths"},
		"what is not cut resists too: both figures together mean a fixed resistance equal to 4.9 mm of this cannula (hub, tubing, handle). Shortening helps less than 1/L")
	return append(rows, c), err
}

func compareFineTip() ([]Comparison, error) {
	l, err := FineTip(38)
	if err != nil {
		return nil, err
	}
	var rows []Comparison
	for _, row := range []struct {
		id         string
		psi        float64
		difference string
	}{
		{"SR-38-8", 8, "measured under a gel that pushes back: at this pressure a third of it does not drive flow; no flow at all was seen below 6 psi in another model"},
		{"SR-38-12", 12, ""},
		{"SR-38-16", 16, ""},
	} {
		q, err := l.Flow(BalancedSaltSolution(), Pressure{row.psi * pascalPerPsi})
		if err != nil {
			return nil, err
		}
		c, err := compared(row.id, q.Scaled(1000/secondsPerMin), row.difference)
		if err != nil {
			return nil, err
		}
		c.Fitted = row.psi != 12
		rows = append(rows, c)
	}
	return rows, nil
}
