package expect

import "math"

// T is what is used of *testing.T, *testing.B and *rapid.T.
type T interface {
	// Helper marks its caller as one whose lines are not named.
	Helper()
	// Errorf fails the test, which goes on.
	Errorf(format string, args ...any)
	// Fatal fails and ends the test.
	Fatal(args ...any)
}

// Near fails unless got lies within tolerance of want; NaN lies near nothing.
func Near(t T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.7g, want %.7g within %g", what, got, want, tolerance)
	}
}

// Must takes what a call returns and ends the test at an error:
//
//	v := expect.Must[float64](t)(f(x))
func Must[V any](t T) func(V, error) V {
	return func(v V, err error) V {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}
