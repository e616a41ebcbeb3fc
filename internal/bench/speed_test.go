package bench

import "testing"

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
