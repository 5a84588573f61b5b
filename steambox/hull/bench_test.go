package hull_test

import (
	"testing"

	"withy/steambox/hull"
)

// Two ribs in, the second wrong, 58 to look ahead over: the longest there is.
func BenchmarkAdvise60(b *testing.B) {
	stations := evenly(60)
	fitted := marked(stations, "pp")
	b.ReportAllocs()
	for b.Loop() {
		h := mustNew(b, stations, fitted)
		if a, err := h.Advise(stations[2], hull.Rule{Margin: hull.DefaultMargin}); err != nil || a.PlainWorst == 0 {
			b.Fatal(a, err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N), "µs/advice")
}
