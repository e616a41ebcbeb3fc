package stats

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// question is one line for testdata/oracle.py, with our answers to it.
type question struct {
	asked  map[string]any
	ours   []float64
	within float64 // relative, with 1e-12 for answers near zero
}

// TestAgainstSciPy asks SciPy 1.10 for random cases with a fixed seed: other
// code, other algorithms. SciPy computes to 1e-8 or better except where a line
// says so; its t quantile is asked for whole degrees of freedom, because for
// broken ones it is right to some 1e-9 only (R agrees with ours).
func TestAgainstSciPy(t *testing.T) {
	const python = "/usr/bin/python3"
	if err := exec.Command(python, "-c", "import scipy.stats").Run(); err != nil {
		if os.Getenv("LIMITANS_ORACLES") == "required" {
			t.Fatalf("SciPy is not installed and LIMITANS_ORACLES=required: %v", err)
		}
		t.Skip("SciPy is not installed")
	}
	random := rand.New(rand.NewPCG(5, 8))
	var questions []question
	for range 8 {
		questions = append(questions, askProportion(t, random), askTable(t, random), askDistribution(random), askGreater(t, random), askUnit(random))
		for _, exact := range []bool{true, false} {
			questions = append(questions, askSamples(t, random, exact))
		}
	}
	for _, k := range []int{2, 3, 4} {
		z := 1.5 + random.Float64()
		// SciPy integrates this one by lattice points, to about 1e-4.
		questions = append(questions, question{map[string]any{"kind": "looks", "k": k, "z": z}, []float64{must[float64](t)(RepeatedLooksError(k, z))}, 2e-3})
	}
	var in bytes.Buffer
	encoder := json.NewEncoder(&in)
	for _, q := range questions {
		if err := encoder.Encode(q.asked); err != nil {
			t.Fatal(err)
		}
	}
	command := exec.CommandContext(t.Context(), python, "-W", "ignore", filepath.Join("testdata", "oracle.py"))
	command.Stdin = &in
	var complaint bytes.Buffer
	command.Stderr = &complaint
	out, err := command.Output()
	if err != nil {
		t.Fatalf("%v: %s", err, complaint.String())
	}
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	if len(lines) != len(questions) {
		t.Fatalf("%d answers to %d questions", len(lines), len(questions))
	}
	compared := 0
	for i, q := range questions {
		line := strings.NewReplacer("Infinity", "1e999", "NaN", "null").Replace(lines[i])
		for j, text := range strings.Split(strings.Trim(line, "[]"), ", ") {
			var theirs float64
			if _, err := fmt.Sscan(strings.Replace(text, "1e999", "+Inf", 1), &theirs); err != nil {
				t.Errorf("%v: answer %d is %q", q.asked, j, text)
				continue
			}
			compared++
			if ours := q.ours[j]; ours != theirs && !(math.Abs(ours-theirs) <= q.within*math.Abs(theirs)+1e-12) {
				t.Errorf("%v: answer %d is %.12g, SciPy's %.12g", q.asked, j, ours, theirs)
			}
		}
	}
	t.Logf("%d figures of %d questions", compared, len(questions))
}

func askProportion(t *testing.T, random *rand.Rand) question {
	n := 1 + random.IntN(120)
	r := random.IntN(n + 1)
	if random.IntN(4) == 0 {
		r = n * random.IntN(2)
	}
	var ours []float64
	for _, f := range []func(int, int, float64) (Interval, error){ClopperPearson, Wilson, WilsonContinuity} {
		i := must[Interval](t)(f(r, n, 0.95))
		ours = append(ours, i.Low, i.High)
	}
	ours = append(ours, BetaQuantile(0.025, float64(r)+0.5, float64(n-r)+0.5), BinomialCDF(r, n, 0.3), BinomialUpper(r, n, 0.3))
	return question{map[string]any{"kind": "proportion", "r": r, "n": n}, ours, 1e-8}
}

func askTable(t *testing.T, random *rand.Rand) question {
	cell := func() int { return 1 + random.IntN(25) }
	a, b, c, d := cell(), cell(), cell(), cell()
	f := must[ExactTable](t)(FisherExact(a, b, c, d, 0.95))
	plain, yates := must[ChiSquareTest](t)(ChiSquareTable(a, b, c, d, false)), must[ChiSquareTest](t)(ChiSquareTable(a, b, c, d, true))
	return question{
		map[string]any{"kind": "table", "a": a, "b": b, "c": c, "d": d},
		[]float64{f.PTwoSided, f.PLess, f.PGreater, plain.Statistic, plain.P, yates.Statistic, yates.P, f.OddsRatio, f.OddsRatioInterval.Low, f.OddsRatioInterval.High},
		1e-7,
	}
}

func askSamples(t *testing.T, random *rand.Rand, exact bool) question {
	draw := func(n int) []float64 {
		out := make([]float64, n)
		for i := range out {
			out[i] = random.NormFloat64()
			if !exact { // ties, but no zero differences: the two programs treat those in different ways
				out[i] = math.Round(3 * out[i])
			}
		}
		return out
	}
	x := draw(5 + random.IntN(20))
	y := draw(5 + random.IntN(20))
	if !exact {
		for i := range y {
			y[i] += 0.5
		}
	}
	n := min(len(x), len(y))
	paired, welch, pooled := must[TTest](t)(PairedT(x[:n], y[:n], 0.95)), must[TTest](t)(WelchT(x, y, 0.95)), must[TTest](t)(PooledT(x, y, 0.95))
	u, w := must[RankTest](t)(MannWhitney(x, y, 0.95)), must[RankTest](t)(WilcoxonSignedRank(x[:n], y[:n], 0.95))
	r, tau, rho := must[Correlation](t)(Pearson(x[:n], y[:n], 0.95)), must[Correlation](t)(Kendall(x[:n], y[:n])), must[Correlation](t)(Spearman(x[:n], y[:n]))
	return question{
		map[string]any{"kind": "samples", "x": x, "y": y, "exact_u": u.Exact, "exact_w": w.Exact},
		slices.Concat(
			[]float64{paired.Statistic, paired.PTwoSided, welch.Statistic, welch.PTwoSided, pooled.Statistic, pooled.PTwoSided},
			[]float64{u.Statistic, u.PTwoSided, w.Statistic, w.PGreater, r.Coefficient, r.PTwoSided, r.Interval.Low, r.Interval.High, tau.Coefficient, tau.PTwoSided, rho.Coefficient},
		),
		1e-8,
	}
}

func askDistribution(random *rand.Rand) question {
	p, a, b, k := random.Float64(), 0.5+20*random.Float64(), 0.5+5*random.Float64(), random.IntN(12)
	predictive, err := BetaDistribution{a, b}.Predictive(k, k+3)
	if err != nil {
		predictive = nan
	}
	return question{
		map[string]any{"kind": "distribution", "p": p, "a": a, "b": b, "k": k},
		[]float64{
			NormalQuantile(p), StudentQuantile(p, math.Ceil(a)), StudentUpper(b, a), ChiSquareQuantile(p, a), ChiSquareUpper(b, a), FUpper(b, a, 7),
			BetaQuantile(p, a, b), BetaCDF(p, a, b), LogGamma(a), PoissonCDF(k, a), GeometricCDF(k, p), HypergeometricPMF(min(k, 5), 12, 18, 9), predictive,
		},
		2e-9,
	}
}

func askGreater(t *testing.T, random *rand.Rand) question {
	draw := func() float64 { return 1 + 40*random.Float64() }
	a, b, c, d := draw(), draw(), draw(), draw()
	p := must[float64](t)(ProbabilityGreater(BetaDistribution{a, b}, BetaDistribution{c, d}))
	return question{map[string]any{"kind": "greater", "a": a, "b": b, "c": c, "d": d}, []float64{p}, 1e-9}
}

func askUnit(random *rand.Rand) question {
	n := 1 + random.IntN(200)
	r, mu, sigma := random.IntN(n+1), 4*random.Float64()-2, 0.05+2*random.Float64()
	return question{
		map[string]any{"kind": "unit", "r": r, "n": n, "mu": mu, "sigma": sigma},
		[]float64{newBinomialUnit(Counts{r, n}).given(mu, sigma).logMarginal},
		1e-9,
	}
}
