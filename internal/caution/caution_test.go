package caution_test

import (
	"strings"
	"testing"

	"limitans/internal/caution"
)

// TestEveryCautionIsSaid ties the wording to the product's four promises: a
// rewording may change the sentence, not lose its point.
func TestEveryCautionIsSaid(t *testing.T) {
	points := map[caution.Key][]string{
		caution.Judgement:  {"judgement", "licensed surgeon", "not replace"},
		caution.Precedence: {"protocols", "labels", "device instructions", "above"},
		caution.NotADevice: {"not a certified medical device"},
		caution.Purpose:    {"research", "decision"},
	}
	all := caution.All()
	if len(all) != len(points) {
		t.Fatalf("%d cautions, want %d", len(all), len(points))
	}
	for _, c := range all {
		words, known := points[c.Key]
		if !known {
			t.Errorf("caution %q has no point to be checked", c.Key)
		}
		for _, w := range words {
			if !strings.Contains(c.Full, w) {
				t.Errorf("%s: the full form does not say %q", c.Key, w)
			}
		}
		if !strings.HasSuffix(c.Full, ".") || strings.Contains(c.Full, "\n") {
			t.Errorf("%s: the full form is one paragraph that ends with a full stop", c.Key)
		}
		if c.Short == "" || strings.ContainsAny(c.Short, ".\n") || len(c.Short) > 80 {
			t.Errorf("%s: the short form is at most 80 octets, without full stop", c.Key)
		}
	}
}

func TestListsHoldEveryCautionInOrder(t *testing.T) {
	full, short, at := caution.Full(), caution.Short(), 0
	for i, c := range caution.All() {
		if full[i] != c.Full {
			t.Errorf("Full()[%d] = %q, want %q", i, full[i], c.Full)
		}
		next := strings.Index(short[at:], c.Short)
		if next < 0 {
			t.Fatalf("the short line lacks %q, or has it out of order", c.Short)
		}
		at += next
	}
	if strings.Contains(short, "\n") {
		t.Error("the short line has a line break")
	}
}

func TestCallersGetTheirOwnCopy(t *testing.T) {
	caution.All()[0].Full = "changed"
	caution.Full()[0] = "changed"
	if caution.All()[0].Full == "changed" || caution.Full()[0] == "changed" {
		t.Error("a caller's change reached the package's own list")
	}
}

func TestSyntheticIntervalsNamesWhatIsNotCovered(t *testing.T) {
	for _, w := range []string{"synthetic", "made scans", "larger", "scale"} {
		if !strings.Contains(caution.SyntheticIntervals, w) {
			t.Errorf("the caveat does not say %q", w)
		}
	}
}
