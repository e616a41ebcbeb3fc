package bench

import (
	"encoding/json"
	"runtime"
	"testing"
)

// BenchmarkPredict is the answer that a slider waits for once for each question.
func BenchmarkPredict(b *testing.B) {
	percent := "14"
	q := Bubble{Gas: "c3f8", Percent: &percent, AxialLength: 24, Fill: "85", Lens: "phakic", Seed: 1, Paths: 2000}
	for b.Loop() {
		if _, err := q.Predict(); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkRefit is the same after three visits.
func BenchmarkRefit(b *testing.B) {
	percent := "14"
	q := Bubble{Gas: "c3f8", Percent: &percent, AxialLength: 24, Fill: "85", Lens: "phakic", Seed: 1, Paths: 2000, Seen: []string{"1:85", "7:60", "14:35"}}
	for b.Loop() {
		if _, err := q.Predict(); err != nil {
			b.Fatal(err)
		}
	}
}

// TestBubbleCores has the same document on one core and on several.
func TestBubbleCores(t *testing.T) {
	percent := "20"
	document := func(cores int) string {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(cores))
		a, err := Bubble{Gas: "sf6", Percent: &percent, AxialLength: 24, Fill: "85", Lens: "phakic", Seed: 1, Paths: 500, Seen: []string{"1:80"}}.Answer()
		if err != nil {
			t.Fatal(err)
		}
		text, err := json.Marshal(a.Document)
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	one := document(1)
	for _, cores := range []int{2, 5} {
		if document(cores) != one {
			t.Errorf("another document on %d cores", cores)
		}
	}
}
