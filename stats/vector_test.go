package stats

import (
	"encoding/csv"
	"fmt"
	"maps"
	"math"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// vector is one row of testdata/stat-vectors.csv.
type vector struct {
	id, method, inputs, quantity, expected, published, tolerance string
}

// number finds "key=value" in the inputs.
func (v vector) number(key string) float64 {
	found := regexp.MustCompile(`(?:^|[ ;,=])` + regexp.QuoteMeta(key) + `=(-?[0-9.]+(?:e-?[0-9]+)?)`).FindStringSubmatch(v.inputs)
	if found == nil {
		panic(fmt.Sprintf("%s: no %s in %q", v.id, key, v.inputs))
	}
	x, err := strconv.ParseFloat(found[1], 64)
	if err != nil {
		panic(err)
	}
	return x
}

func (v vector) count(key string) int { return int(v.number(key)) }

// list finds "key=a b c" in the inputs, up to a semicolon or a bracket.
func (v vector) list(key string) []float64 {
	found := regexp.MustCompile(`(?:^|[ ;])` + regexp.QuoteMeta(key) + `=([-0-9. ]+)`).FindStringSubmatch(v.inputs)
	if found == nil {
		panic(fmt.Sprintf("%s: no list %s in %q", v.id, key, v.inputs))
	}
	return floats(found[1])
}

func floats(text string) []float64 {
	var out []float64
	for _, word := range strings.Fields(text) {
		x, err := strconv.ParseFloat(word, 64)
		if err != nil {
			panic(err)
		}
		out = append(out, x)
	}
	return out
}

// bools takes zeros and ones.
func bools(xs []float64) []bool {
	out := make([]bool, len(xs))
	for i, x := range xs {
		out[i] = x == 1
	}
	return out
}

func readCSV(t testing.TB, name string, header ...string) [][]string {
	t.Helper()
	file, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) < 2 || !slices.Equal(rows[0], header) {
		t.Fatalf("%s: %d rows, header %q", name, len(rows), rows[0])
	}
	return rows[1:]
}

func readVectors(t testing.TB) []vector {
	t.Helper()
	var out []vector
	for _, r := range readCSV(t, "stat-vectors.csv", "id", "method", "inputs", "quantity", "expected", "published", "tolerance", "source", "command") {
		out = append(out, vector{r[0], r[1], r[2], r[3], r[4], r[5], r[6]})
	}
	return out
}

var toleranceForm = regexp.MustCompile(`^([0-9.]+e-?[0-9]+) (rel|abs)(?: \(.*\))?$`)

// allowed is the row's own tolerance, or half a unit of the last digit that its
// expected value was printed with if that is more. A relative tolerance of an
// expected zero is taken as absolute.
func (v vector) allowed(expected float64) (float64, error) {
	found := toleranceForm.FindStringSubmatch(v.tolerance)
	if found == nil {
		return 0, fmt.Errorf("tolerance %q", v.tolerance)
	}
	tolerance, err := strconv.ParseFloat(found[1], 64)
	if err != nil {
		return 0, err
	}
	if found[2] == "rel" && expected != 0 {
		tolerance *= math.Abs(expected)
	}
	if exact := fractionless(v.expected); exact {
		return tolerance, nil
	}
	return math.Max(tolerance, halfLastDigit(v.expected)), nil
}

// fractionless texts are whole numbers, which are meant exactly, not to half.
func fractionless(text string) bool { return !strings.ContainsAny(text, ".e") }

// halfLastDigit of a printed decimal number, with room for its binary form.
func halfLastDigit(text string) float64 {
	mantissa, exponent, _ := strings.Cut(text, "e")
	power := 0
	if exponent != "" {
		power, _ = strconv.Atoi(exponent)
	}
	if _, decimals, found := strings.Cut(mantissa, "."); found {
		power -= len(decimals)
	}
	return 0.5000001 * math.Pow10(power)
}

// TestEveryVector recomputes every row of the reference. A row of a kind that
// is not in the table fails, so that none is left out unseen.
func TestEveryVector(t *testing.T) {
	vectors := readVectors(t)
	const known = 975 // rows when the file was made; more are welcome, fewer are a loss
	if len(vectors) < known {
		t.Fatalf("%d rows, at least %d", len(vectors), known)
	}
	kinds := allKinds(t)
	amendments := maps.Clone(amended)
	used, worst := map[string]int{}, map[string]float64{}
	for _, v := range vectors {
		compute, found := kinds[v.method]
		if !found {
			t.Errorf("%s: unknown kind of row %q (%s)", v.id, v.method, v.quantity)
			continue
		}
		used[v.method]++
		expected, err := strconv.ParseFloat(v.expected, 64)
		if err != nil {
			t.Errorf("%s: %v", v.id, err)
			continue
		}
		tolerance, err := v.allowed(expected)
		if err != nil {
			t.Errorf("%s: %v", v.id, err)
			continue
		}
		if better, known := amended[v.id+", "+v.quantity]; known {
			if math.Abs(better-expected) <= tolerance {
				t.Errorf("%s, %s: the amended value no longer differs from the row", v.id, v.quantity)
			}
			expected = better
			delete(amendments, v.id+", "+v.quantity)
		}
		got, err := guarded(compute, v)
		if err != nil {
			t.Errorf("%s, %s, %s: %v", v.id, v.method, v.quantity, err)
			continue
		}
		if !(math.Abs(got-expected) <= tolerance) {
			t.Errorf("%s, %s, %s: %.15g, want %s within %g", v.id, v.method, v.quantity, got, v.expected, tolerance)
		}
		worst[v.method] = math.Max(worst[v.method], math.Abs(got-expected)/tolerance)
		v.checkPublished(t, got)
	}
	for method := range kinds {
		if used[method] == 0 {
			t.Errorf("no row of kind %q", method)
		}
	}
	for row := range amendments {
		t.Errorf("an amended row that is not there: %s", row)
	}
	for _, method := range slices.Sorted(maps.Keys(used)) {
		t.Logf("%3d rows, at most %7.1g of the tolerance: %s", used[method], worst[method], method)
	}
	t.Logf("%d rows of %d kinds", len(vectors), len(used))
}

// amended are rows whose expected value is less accurate than its own
// tolerance says; they are held to the value here at that tolerance.
var amended = map[string]float64{
	// R's fisher.test solves for the end with a tolerance of about 1e-4 on a
	// reciprocal scale and stops 0.7 % short. The end is the root of
	// ψ⁴/(1 + 16ψ + 36ψ² + 16ψ³ + ψ⁴) = 0.975, which TestTeaTastingUpperLimit
	// checks; R's own uniroot at 1e-13 gives 626.243530589.
	"fisher tea, upper": 626.243530589,
	// confint of MASS joins a coarse profile by splines. R's uniroot on the
	// profile deviance of glm at 1e-12 gives −0.0607862571986.
	"logit oring, upper": -0.0607862571986,
}

func guarded(compute func(vector) (float64, error), v vector) (got float64, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("%v", r)
		}
	}()
	return compute(v)
}

// notFigures are texts of the column "published" that are not the figure itself.
var notFigures = map[string]string{
	"17.36 (z=-4.17)":   "statistic and its root",
	"about 8":           "no digits",
	"0.145 to 0.15":     "two roundings in use",
	"-79.7 (2 SD used)": "limits with 2 in place of 1.96",
	"75.5 (2 SD used)":  "limits with 2 in place of 1.96",
	"0.5 = 20/63":       "two notations",
}

var publishedPair = regexp.MustCompile(`^(<?[0-9.]+)-([0-9.]+)$`)

// checkPublished holds the computed value against the printed one, to half a
// unit of its last digit. Published means of simulations of 7,500 to 10,000
// correlated draws carry their own error, up to a fiftieth of the value.
func (v vector) checkPublished(t *testing.T, got float64) {
	t.Helper()
	text := v.published
	if _, prose := notFigures[text]; prose || text == "" {
		return
	}
	if pair := publishedPair.FindStringSubmatch(text); pair != nil {
		text = pair[1]
		if v.quantity == "upper" {
			text = pair[2]
		}
	}
	if strings.HasPrefix(text, "<") {
		bound, err := strconv.ParseFloat(text[1:], 64)
		if err != nil || got >= bound {
			t.Errorf("%s: %g against published %s", v.id, got, text)
		}
		return
	}
	published, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Errorf("%s: published %q", v.id, text)
		return
	}
	tolerance := math.Max(halfLastDigit(text), 1e-7*math.Abs(published))
	if strings.HasPrefix(v.id, "surgical") {
		tolerance = 0.02 * math.Abs(published)
	}
	if math.Abs(got-published) > tolerance {
		t.Errorf("%s, %s, %s: %.15g against published %s", v.id, v.method, v.quantity, got, text)
	}
}

// TestToleranceForm: tolerances are read as written and a strange one is refused.
func TestToleranceForm(t *testing.T) {
	for _, c := range []struct {
		tolerance, expected string
		want                float64
	}{
		{"1e-9 rel", "2.00000000000000", 2e-9},
		{"1e-9 rel", "0", 1e-9},
		{"1e-7 abs", "0.123456789012", 1e-7},
		{"1e-9 rel", "0.05", 0.5000001e-2},
		{"2e-3 rel (MCMC 1e-2)", "1.0000", 2e-3},
		{"1e-9 rel", "21", 21e-9},
		{"1e-9 rel", "1.25e-10", 0.5000001e-12},
	} {
		expected, _ := strconv.ParseFloat(c.expected, 64)
		got, err := vector{tolerance: c.tolerance, expected: c.expected}.allowed(expected)
		if err != nil || math.Abs(got-c.want) > 1e-6*c.want {
			t.Errorf("%+v: %g, %v", c, got, err)
		}
	}
	for _, bad := range []string{"", "1e-9", "rel 1e-9", "1e-9 percent"} {
		if _, err := (vector{tolerance: bad, expected: "1"}).allowed(1); err == nil {
			t.Errorf("%q passed", bad)
		}
	}
}
