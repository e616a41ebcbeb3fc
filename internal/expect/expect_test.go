package expect_test

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"limitans/internal/expect"
)

// listener hears what a helper says instead of failing.
type listener struct{ said, ended string }

func (l *listener) Helper()                           {}
func (l *listener) Errorf(format string, args ...any) { l.said = fmt.Sprintf(format, args...) }
func (l *listener) Fatal(args ...any)                 { l.ended = fmt.Sprint(args...) }

func TestNear(t *testing.T) {
	for _, row := range []struct {
		got, want, tolerance float64
		near                 bool
	}{{1, 1, 0, true}, {1, 1.5, 0.5, true}, {1, 1.6, 0.5, false}, {math.NaN(), 1, 9, false}, {1, math.NaN(), 9, false}, {1, 1, math.NaN(), false}} {
		l := &listener{}
		expect.Near(l, "x", row.got, row.want, row.tolerance)
		if (l.said == "") != row.near || l.ended != "" {
			t.Errorf("%+v: %q %q", row, l.said, l.ended)
		}
	}
}

func TestMust(t *testing.T) {
	l := &listener{}
	if v := expect.Must[int](l)(3, nil); v != 3 || l.ended != "" {
		t.Errorf("%d, %q", v, l.ended)
	}
	if expect.Must[int](l)(3, errors.New("no")); l.ended != "no" {
		t.Errorf("%q", l.ended)
	}
}
