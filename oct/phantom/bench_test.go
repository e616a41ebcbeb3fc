package phantom

import (
	"math/rand/v2"
	"testing"
)

// BenchmarkMake reports samples drawn and known per second.
func BenchmarkMake(b *testing.B) {
	rng := rand.New(rand.NewPCG(9, 9))
	samples := 0
	for b.Loop() {
		volume, _, err := Make(Draw(rng))
		if err != nil {
			b.Fatal(err)
		}
		samples += len(volume.Samples)
	}
	b.ReportMetric(float64(samples)/b.Elapsed().Seconds()/1e6, "Msamples/s")
}
