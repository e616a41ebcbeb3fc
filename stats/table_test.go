package stats

import (
	"math"
	"testing"
)

// TestTeaTastingUpperLimit: with four white among eight and four drawn, three
// or fewer right has probability 2.5 % where ψ⁴/(1+16ψ+36ψ²+16ψ³+ψ⁴) = 0.975
// (the five tables of the margin, counted by hand).
func TestTeaTastingUpperLimit(t *testing.T) {
	f, err := FisherExact(3, 1, 1, 3, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	psi := f.OddsRatioInterval.High
	all := math.Pow(psi, 4)
	if got := all / (1 + 16*psi + 36*psi*psi + 16*psi*psi*psi + all); math.Abs(got-0.975) > 1e-12 {
		t.Errorf("%.15g at %.12g", got, psi)
	}
	psi = f.OddsRatioInterval.Low
	all = math.Pow(psi, 4)
	if got := (16*psi*psi*psi + all) / (1 + 16*psi + 36*psi*psi + 16*psi*psi*psi + all); math.Abs(got-0.025) > 1e-12 {
		t.Errorf("%.15g at %.12g", got, psi)
	}
}
