package rehearsal_test

import (
	"testing"
	"time"
)

// BenchmarkSecond is one simulated second with four ribs in the box.
func BenchmarkSecond(b *testing.B) {
	h := newHand(b, "good", 1)
	h.until(41 * time.Minute)
	b.ReportAllocs()
	for b.Loop() {
		h.w.Step(time.Second)
	}
}
