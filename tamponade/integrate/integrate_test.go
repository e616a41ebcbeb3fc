package integrate_test

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"limitans/fault"
	"limitans/tamponade/integrate"
)

type problem struct {
	f     integrate.System
	start []float64
	end   float64
}

// The problems of testdata/oracle.py.
var problems = map[string]problem{
	"decay":      {func(_ float64, y, d []float64) { d[0] = -y[0] }, []float64{1}, 10},
	"oscillator": {func(_ float64, y, d []float64) { d[0], d[1] = y[1], -y[0] }, []float64{1, 0}, 20},
	"lotka-volterra": {func(_ float64, y, d []float64) {
		d[0], d[1] = 1.5*y[0]-y[0]*y[1], -3*y[1]+y[0]*y[1]
	}, []float64{10, 5}, 15},
	"van der pol": {func(_ float64, y, d []float64) {
		d[0], d[1] = y[1], 2*(1-y[0]*y[0])*y[1]-y[0]
	}, []float64{2, 0}, 20},
	"bubble": {func(_ float64, y, d []float64) {
		sum := y[0] + y[1]
		d[0], d[1] = -4*math.Sqrt(sum)*(y[0]/sum-0.787), -0.1*math.Sqrt(sum)*y[1]/sum
	}, []float64{0.7, 0.3}, 8},
}

type row struct {
	name      string
	t, value  float64
	component int
}

func oracle(t *testing.T) []row {
	t.Helper()
	file, err := os.Open(filepath.Join("testdata", "oracle.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	records, err := csv.NewReader(file).ReadAll()
	if err != nil || len(records) < 60 {
		t.Fatalf("%d rows, %v", len(records), err)
	}
	var rows []row
	for _, r := range records[1:] {
		at, err1 := strconv.ParseFloat(r[1], 64)
		component, err2 := strconv.Atoi(r[2])
		value, err3 := strconv.ParseFloat(r[3], 64)
		if err1 != nil || err2 != nil || err3 != nil {
			t.Fatal(err1, err2, err3)
		}
		rows = append(rows, row{r[0], at, value, component})
	}
	return rows
}

// SciPy's solve_ivp (DOP853, 1e-13) against ours at 1e-10. Per-step errors
// accumulate: over the few hundred steps here, and with the growth of errors in
// the cyclic problems, 1e-6 of the solution's size is four orders above the
// tolerance and far below any use.
func TestAgainstSciPy(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range oracle(t) {
		p, known := problems[r.name]
		if !known {
			t.Fatalf("no problem %q", r.name)
		}
		seen[r.name] = true
		got := solveAt(t, p, r.t, 1e-10)
		if math.Abs(got[r.component]-r.value) > 1e-6*(1+math.Abs(r.value)) {
			t.Errorf("%s at %g, component %d: %.12g, SciPy %.12g", r.name, r.t, r.component, got[r.component], r.value)
		}
	}
	if len(seen) != len(problems) {
		t.Errorf("only %d problems were compared", len(seen))
	}
}

// solveAt walks over the whole interval and reads the solution at t from the
// polynomial of the step there, so the dense output is tested with it.
func solveAt(t interface{ Fatal(...any) }, p problem, at, tolerance float64) []float64 {
	out := make([]float64, len(p.start))
	_, err := integrate.Walk(p.f, 0, p.end, p.start, integrate.Options{Relative: tolerance, Absolute: tolerance}, func(s *integrate.Step) bool {
		if s.From < at && at <= s.To {
			s.At(at, out)
		}
		return true
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// Fixed steps: the error of the end value falls with the fifth power of the
// step, that of the polynomial inside a step with the fifth too (order 4). The
// observed order lies between 4.7 and 5.3 where rounding does not show yet.
func TestOrder(t *testing.T) {
	f := func(at float64, y, d []float64) { d[0] = y[0] * math.Cos(at) } // y = exp(sin t)
	run := func(h float64) (end, inside float64) {
		out := make([]float64, 1)
		_, err := integrate.Walk(f, 0, 4, []float64{1}, integrate.Options{Relative: 1e9, Absolute: 1e9, InitialStep: h, MaxStep: h}, func(s *integrate.Step) bool {
			for _, x := range []float64{0.25, 0.5, 0.8} {
				at := s.From + x*(s.To-s.From)
				s.At(at, out)
				inside = math.Max(inside, math.Abs(out[0]-math.Exp(math.Sin(at))))
			}
			end = math.Abs(s.Y[0] - math.Exp(math.Sin(s.To)))
			return true
		})
		if err != nil {
			t.Fatal(err)
		}
		return end, inside
	}
	for _, h := range []float64{0.125, 0.0625, 0.03125} {
		end, inside := run(h)
		endHalf, insideHalf := run(h / 2)
		for name, order := range map[string]float64{"end": math.Log2(end / endHalf), "inside": math.Log2(inside / insideHalf)} {
			if order < 4.5 || order > 5.8 {
				t.Errorf("step %g, %s: order %.2f", h, name, order)
			}
		}
	}
}

// The work grows with the accuracy as order 5 says, and the error stays near
// the tolerance: within a factor of 100 above it on a harmless problem.
func TestErrorFollowsTolerance(t *testing.T) {
	p := problems["oscillator"]
	for _, tolerance := range []float64{1e-4, 1e-6, 1e-8, 1e-10} {
		got := solveAt(t, p, 20, tolerance)
		if e := math.Abs(got[0] - math.Cos(20)); e > 100*tolerance {
			t.Errorf("tolerance %g: error %g", tolerance, e)
		}
	}
}

// Linear invariants are kept to rounding by every Runge-Kutta method: what
// leaves one component arrives in another.
func TestConservesSums(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 6).Draw(t, "n")
		rates := rapid.SliceOfN(rapid.Float64Range(0, 20), n*n, n*n).Draw(t, "rates")
		start := rapid.SliceOfN(rapid.Float64Range(0, 5), n, n).Draw(t, "start")
		f := func(_ float64, y, d []float64) {
			clear(d)
			for i := range n {
				for j := range n {
					flow := rates[i*n+j] * y[i]
					d[i] -= flow
					d[j] += flow
				}
			}
		}
		sum := func(y []float64) (total float64) {
			for _, v := range y {
				total += v
			}
			return total
		}
		before := sum(start)
		kept := append([]float64(nil), start...)
		_, err := integrate.Walk(f, 0, 3, start, integrate.Options{Relative: 1e-6, Absolute: 1e-9}, func(s *integrate.Step) bool {
			if math.Abs(sum(s.Y)-before) > 1e-10*(1+before) {
				t.Fatalf("sum %g became %g at %g", before, sum(s.Y), s.To)
			}
			return true
		})
		if err != nil {
			t.Fatal(err)
		}
		for i := range start {
			if start[i] != kept[i] {
				t.Fatal("the caller's start was changed")
			}
		}
	})
}

// cos t falls through zero at π/2 and 5π/2 and rises at 3π/2; y reaches −0.5
// first at 2π/3, where the walk ends.
func TestEvents(t *testing.T) {
	p := problems["oscillator"]
	walk := func(events ...integrate.Event) (found []integrate.Crossing, last float64) {
		_, err := integrate.Walk(p.f, 0, 8, p.start, integrate.Options{Relative: 1e-10, Absolute: 1e-10, Events: events}, func(s *integrate.Step) bool {
			found = append(found, s.Crossings...)
			last = s.To
			return true
		})
		if err != nil {
			t.Fatal(err)
		}
		return found, last
	}
	zero := func(_ float64, y []float64) float64 { return y[0] }
	for direction, want := range map[int][]float64{
		-1: {math.Pi / 2, 5 * math.Pi / 2},
		1:  {3 * math.Pi / 2},
		0:  {math.Pi / 2, 3 * math.Pi / 2, 5 * math.Pi / 2},
	} {
		got, last := walk(integrate.Event{Value: zero, Direction: direction})
		if len(got) != len(want) || last != 8 {
			t.Fatalf("direction %d: %v, ended at %g", direction, got, last)
		}
		for i := range got {
			if math.Abs(got[i].T-want[i]) > 1e-8 || math.Abs(got[i].Y[0]) > 1e-8 {
				t.Errorf("direction %d: crossing %d at %.10f, want %.10f", direction, i, got[i].T, want[i])
			}
		}
	}
	got, last := walk(
		integrate.Event{Name: "zero", Value: zero},
		integrate.Event{Name: "low", Value: func(_ float64, y []float64) float64 { return y[0] + 0.5 }, Terminal: true},
	)
	if len(got) != 2 || got[0].Event != 0 || got[1].Event != 1 || math.Abs(last-2*math.Pi/3) > 1e-8 {
		t.Errorf("%v, ended at %g", got, last)
	}
}

// A relaxation 10⁷ times faster than the interval must be refused as stiff,
// soon, and not run to the end by tiny steps; a moderately stiff one passes.
func TestStiffIsRefused(t *testing.T) {
	fast := func(rate float64) integrate.System {
		return func(at float64, y, d []float64) { d[0] = -rate * (y[0] - math.Cos(at)) }
	}
	o := integrate.Options{Relative: 1e-6, Absolute: 1e-6}
	work, err := integrate.Walk(fast(1e7), 0, 10, []float64{0}, o, func(*integrate.Step) bool { return true })
	if fault.CodeOf(err) != fault.NotMeasurable || work.Accepted > 5000 {
		t.Errorf("%v after %+v", err, work)
	}
	o.AllowStiff = true
	last := 0.0
	if _, err := integrate.Walk(fast(3000), 0, 10, []float64{0}, o, func(s *integrate.Step) bool { last = s.Y[0]; return true }); err != nil || math.Abs(last-math.Cos(10)) > 1e-3 {
		t.Errorf("allowed: %v, end %g, the solution follows the cosine, %g", err, last, math.Cos(10))
	}
	o.AllowStiff = false
	if _, err := integrate.Walk(fast(50), 0, 2, []float64{0}, o, func(*integrate.Step) bool { return true }); err != nil {
		t.Error(err)
	}
}

func TestWrongUseIsRefused(t *testing.T) {
	f := problems["decay"].f
	good := integrate.Options{Relative: 1e-6, Absolute: 1e-6}
	for name, c := range map[string]struct {
		f        integrate.System
		from, to float64
		start    []float64
		o        integrate.Options
		code     fault.Code
	}{
		"no tolerance":  {f, 0, 1, []float64{1}, integrate.Options{}, fault.Invalid},
		"backwards":     {f, 1, 0, []float64{1}, good, fault.Invalid},
		"not a number":  {f, 0, math.NaN(), []float64{1}, good, fault.Invalid},
		"endless":       {f, 0, math.Inf(1), []float64{1}, good, fault.Invalid},
		"no start":      {f, 0, 1, nil, good, fault.Invalid},
		"few steps":     {f, 0, 1e6, []float64{1}, integrate.Options{Relative: 1e-6, Absolute: 1e-6, MaxSteps: 10}, fault.NotMeasurable},
		"no derivative": {func(_ float64, _, d []float64) { d[0] = math.NaN() }, 0, 1, []float64{1}, good, fault.NotMeasurable},
		"blows up":      {func(_ float64, y, d []float64) { d[0] = y[0] * y[0] }, 0, 2, []float64{1}, good, fault.NotMeasurable},
	} {
		_, err := integrate.Walk(c.f, c.from, c.to, c.start, c.o, func(*integrate.Step) bool { return true })
		if fault.CodeOf(err) != c.code {
			t.Errorf("%s: %v", name, err)
		}
	}
	steps := 0
	if _, err := integrate.Walk(f, 0, 10, []float64{1}, good, func(*integrate.Step) bool { steps++; return false }); err != nil || steps != 1 {
		t.Errorf("stopping by the visitor: %d steps, %v", steps, err)
	}
}
