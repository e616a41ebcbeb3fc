package table

import (
	"math"
	"testing"

	"limitans/fault"
)

func TestRows(t *testing.T) {
	rows, err := Rows("t", "a,b\n1,\"x, y\"\n2,z\n", 2)
	if err != nil || len(rows) != 2 || rows[0][1] != "x, y" {
		t.Errorf("%v, %v", rows, err)
	}
	for name, text := range map[string]string{"empty": "", "heading alone": "a,b\n", "narrow": "a,b\n1\n", "quote": "a,b\n\"1,2\n"} {
		if _, err := Rows("t", text, 2); fault.CodeOf(err) != fault.Internal {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestNamed(t *testing.T) {
	rows, err := Named("t", "a,b\n1,\" x, y \"\n2,z\n", []string{"a", "b"})
	if err != nil || len(rows) != 2 || rows[0]["b"] != "x, y" || rows[1]["a"] != "2" {
		t.Errorf("%v, %v", rows, err)
	}
	if rows, err := Named("t", "a,b\r\n1,2\r\n", []string{"a", "b"}); err != nil || rows[0]["b"] != "2" {
		t.Errorf("%v, %v", rows, err)
	}
	for name, text := range map[string]string{"empty": "", "heading alone": "a,b\n", "narrow": "a,b\n1\n", "turned": "b,a\n1,2\n", "more": "a,b,c\n1,2,3\n"} {
		if _, err := Named("t", text, []string{"a", "b"}); fault.CodeOf(err) != fault.Internal {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestNumbers(t *testing.T) {
	if n, err := Numbers("t", []string{"1.5", "", "-2e3"}); err != nil || n[0] != 1.5 || !math.IsNaN(n[1]) || n[2] != -2000 {
		t.Errorf("%v, %v", n, err)
	}
	if _, err := Numbers("t", []string{"1", "one"}); fault.CodeOf(err) != fault.Internal {
		t.Error(err)
	}
	if n, err := Full("t", []string{"1", "2"}); err != nil || n[1] != 2 {
		t.Errorf("%v, %v", n, err)
	}
	for _, cells := range [][]string{{""}, {"1", "x"}, {"NaN"}} {
		if _, err := Full("t", cells); fault.CodeOf(err) != fault.Internal {
			t.Errorf("%q: %v", cells, err)
		}
	}
}
