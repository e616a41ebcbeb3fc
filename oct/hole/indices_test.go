package hole_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"limitans/estimate"
	"limitans/oct/hole"
)

func exact(um float64) estimate.Estimate { return estimate.Normal(um, 0, "exact") }

func indexNamed(t testing.TB, all []hole.Index, name string) hole.Index {
	t.Helper()
	for _, i := range all {
		if i.Name == name {
			return i
		}
	}
	t.Fatalf("no index called %q", name)
	return hole.Index{}
}

// Test vectors of the evidence reference, section 1.2 (arithmetic), each within
// half a unit of the last digit printed.
func TestIndicesPrintedValues(t *testing.T) {
	for _, row := range []struct {
		mld, base, height float64
		name              string
		want, within      float64
	}{
		{500, 1000, 400, "macular hole index", 0.400, 0.5e-3},
		{500, 1000, 400, "diameter hole index", 0.500, 0.5e-3},
		{500, 1000, 400, "tractional hole index", 0.800, 0.5e-3},
		{500, 1000, 400, "macular hole coefficient", 1.250, 0.5e-3},
		{500, 1000, 400, "section area", 0.300, 0.5e-3},
		{500, 1000, 400, "cone volume", 0.1833, 0.5e-4},
		{300, 800, 450, "macular hole index", 0.5625, 0.5e-4},
		{300, 800, 450, "diameter hole index", 0.375, 0.5e-3},
		{300, 800, 450, "tractional hole index", 1.500, 0.5e-3},
		{300, 800, 450, "macular hole coefficient", 0.667, 0.5e-3},
		{300, 800, 450, "section area", 0.2475, 0.5e-4},
		{300, 800, 450, "cone volume", 0.1143, 0.5e-4},
	} {
		all := hole.Indices(hole.Lengths{
			MLDUM: exact(row.mld), BaseUM: exact(row.base), HeightUM: exact(row.height),
			LeftArmUM: exact(300), RightArmUM: exact(310),
		})
		got := indexNamed(t, all, row.name)
		if !(math.Abs(got.Value.Value-row.want) <= row.within) {
			t.Errorf("%s of %g, %g, %g: %.6f, printed %g", row.name, row.mld, row.base, row.height, got.Value.Value, row.want)
		}
		if got.Formula == "" || got.Source == "" || got.Reading == "" || got.Value.Basis == "" {
			t.Errorf("%s lacks formula, source, reading or basis: %+v", row.name, got)
		}
	}
	// Hole form factor, (c + d)/base (Ullrich 2002, from memory): (300 + 310)/1000.
	all := hole.Indices(hole.Lengths{MLDUM: exact(500), BaseUM: exact(1000), HeightUM: exact(400), LeftArmUM: exact(300), RightArmUM: exact(310)})
	if got := indexNamed(t, all, "hole form factor").Value.Value; math.Abs(got-0.61) > 1e-12 {
		t.Errorf("hole form factor %g", got)
	}
	// The photoreceptor arms are not traced, so their index is never given.
	if indexNamed(t, all, "macular hole closure index").Value.Known() {
		t.Error("an index is given whose lengths are not measured")
	}
}

// A missing length takes exactly those indices with it that are made of it.
func TestIndicesMissing(t *testing.T) {
	uses := map[string]string{
		"macular hole index": "hb", "diameter hole index": "mb", "tractional hole index": "hm", "macular hole coefficient": "mh",
		"hole form factor": "bl", "section area": "hmb", "cone volume": "hmb",
	}
	for _, letter := range "mbhl" {
		l := hole.Lengths{MLDUM: exact(400), BaseUM: exact(800), HeightUM: exact(400), LeftArmUM: exact(200), RightArmUM: exact(200)}
		missing := estimate.Missing("cut")
		switch letter {
		case 'm':
			l.MLDUM = missing
		case 'b':
			l.BaseUM = missing
		case 'h':
			l.HeightUM = missing
		case 'l':
			l.LeftArmUM = missing
		}
		all := hole.Indices(l)
		for name, letters := range uses {
			needs := false
			for _, x := range letters {
				needs = needs || x == letter
			}
			got := indexNamed(t, all, name).Value
			if got.Known() == needs || got.Basis == "" {
				t.Errorf("without %c: %s is %+v", letter, name, got)
			}
		}
	}
	for _, i := range hole.Indices(hole.Lengths{MLDUM: exact(0), BaseUM: exact(0), HeightUM: exact(0)}) {
		if i.Value.Known() && (math.IsInf(i.Value.Value, 0) || math.IsNaN(i.Value.Value)) {
			t.Errorf("%s of nothing: %+v", i.Name, i.Value)
		}
	}
}

// First-order intervals against a second route: 20,000 draws of the lengths. The
// lengths have relative standard deviations up to 3 %, so the second order adds
// below 0.1 % to the value; the standard deviation of 20,000 draws is known
// within 0.5 % (1/√(2n)), four of them are allowed, and 3 % for the second order.
// The areas share no length with another factor, but the volume uses the minimum
// and the base twice; its bound is documented as an upper one.
func TestIndexIntervals(t *testing.T) {
	const draws = 20000
	l := hole.Lengths{
		MLDUM: estimate.Normal(400, 10, ""), BaseUM: estimate.Normal(800, 20, ""), HeightUM: estimate.Normal(420, 8, ""),
		LeftArmUM: estimate.Normal(250, 6, ""), RightArmUM: estimate.Normal(260, 6, ""),
	}
	quantile := func(i, axis int) float64 {
		// A Kronecker sequence: even in five dimensions, no generator needed.
		root := []float64{math.Sqrt2, math.Sqrt(3), math.Sqrt(5), math.Sqrt(7), math.Sqrt(11)}[axis]
		_, u := math.Modf(float64(i+1) * root)
		return -math.Sqrt2 * math.Erfinv(1-2*min(max(u, 1e-9), 1-1e-9))
	}
	sums, squares := map[string]float64{}, map[string]float64{}
	for i := range draws {
		m, b, h := 400+10*quantile(i, 0), 800+20*quantile(i, 1), 420+8*quantile(i, 2)
		c, d := 250+6*quantile(i, 3), 260+6*quantile(i, 4)
		for name, x := range map[string]float64{
			"macular hole index": h / b, "diameter hole index": m / b, "tractional hole index": h / m, "macular hole coefficient": m / h,
			"hole form factor": (c + d) / b, "section area": h * (m + b) / 2 / 1e6, "cone volume": math.Pi * h * (m*m + m*b + b*b) / 12 / 1e9,
		} {
			sums[name] += x
			squares[name] += x * x
		}
	}
	all := hole.Indices(l)
	for name, sum := range sums {
		mean := sum / draws
		sd := math.Sqrt(squares[name]/draws - mean*mean)
		got := indexNamed(t, all, name).Value
		gotSD := (got.High - got.Low) / (2 * estimate.Z95)
		if math.Abs(got.Value-mean) > 2e-3*mean {
			t.Errorf("%s: %g, drawn %g", name, got.Value, mean)
		}
		high := 1.05
		if name == "cone volume" {
			high = 1.35
		}
		if gotSD < 0.95*sd || gotSD > high*sd {
			t.Errorf("%s: standard deviation %.4g, drawn %.4g", name, gotSD, sd)
		}
	}
}

// Tractional hole index and coefficient are each other's inverse, and scaling all
// lengths leaves every ratio.
func TestIndicesScale(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		um := rapid.Float64Range(60, 1500)
		l := hole.Lengths{
			MLDUM: exact(um.Draw(t, "m")), BaseUM: exact(um.Draw(t, "b")), HeightUM: exact(um.Draw(t, "h")),
			LeftArmUM: exact(um.Draw(t, "l")), RightArmUM: exact(um.Draw(t, "r")),
		}
		factor := rapid.Float64Range(0.3, 3).Draw(t, "factor")
		scaled := hole.Lengths{
			MLDUM: l.MLDUM.Scaled(factor), BaseUM: l.BaseUM.Scaled(factor), HeightUM: l.HeightUM.Scaled(factor),
			LeftArmUM: l.LeftArmUM.Scaled(factor), RightArmUM: l.RightArmUM.Scaled(factor),
		}
		a, b := hole.Indices(l), hole.Indices(scaled)
		powers := map[string]float64{"mm²": 2, "mm³": 3, "": 0}
		for i := range a {
			if !a[i].Value.Known() {
				continue
			}
			want := a[i].Value.Value * math.Pow(factor, powers[a[i].Unit])
			if math.Abs(b[i].Value.Value-want) > 1e-9*want {
				t.Fatalf("%s: %g scaled by %g is %g", a[i].Name, a[i].Value.Value, factor, b[i].Value.Value)
			}
		}
		product := a[2].Value.Value * a[3].Value.Value
		if a[2].Name != "tractional hole index" || a[3].Name != "macular hole coefficient" || math.Abs(product-1) > 1e-12 {
			t.Fatalf("%s · %s = %g", a[2].Name, a[3].Name, product)
		}
	})
}
