package figure

import (
	"bytes"
	"strings"
	"testing"

	"limitans/internal/record"
)

// TestClosureClassesAreDrawn draws the sign of every class: each has its own, but
// for the two pairs that say the same in two schemes.
func TestClosureClassesAreDrawn(t *testing.T) {
	same := map[record.ClosureClass]record.ClosureClass{record.ClosedNoDefect: record.KangType1, record.ClosedWithDefect: record.KangType2}
	drawn := map[record.ClosureClass]string{}
	for _, c := range record.ClosureClasses() {
		var b bytes.Buffer
		if err := DrawClosureClass(c.Class, c.Words).WriteInline(&b); err != nil {
			t.Fatalf("%s: %v", c.Class, err)
		}
		_, paths, _ := strings.Cut(b.String(), "</desc>")
		drawn[c.Class] = paths
		if bare := strings.Contains(paths, "hole"); bare != (c.Closed == record.No) {
			t.Errorf("%s: bare epithelium drawn: %v, closed: %s", c.Class, bare, c.Closed)
		}
	}
	for a, picture := range drawn {
		for b, other := range drawn {
			if alike := picture == other; alike != (a == b || same[a] == b || same[b] == a) {
				t.Errorf("%s and %s are drawn alike: %v", a, b, alike)
			}
		}
	}
	if len(drawn) == 0 {
		t.Fatal("no class")
	}
}
