package calibrate_test

import (
	"testing"

	"withy/steambox/calibrate"
)

// Three probes are judged each second while somebody stands at the pot.
func BenchmarkJudge(b *testing.B) {
	t := trace(3600, level(99.97))
	for b.Loop() {
		if !calibrate.Calm.Judge(t).Steady {
			b.Fatal("not steady")
		}
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N), "µs/probe")
}
