package daemon_test

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"withy/cmd/withy/internal/daemon"
	"withy/steambox"
	"withy/steambox/boiler"
)

// BenchmarkFold folds two hours with all that replay and a restart fold: eight ribs that
// stay in, alarms, a window that is learnt, and probes as noisy as their chips.
func BenchmarkFold(b *testing.B) {
	for _, thicknesses := range []int{1, 4} {
		b.Run(fmt.Sprintf("%d thicknesses", thicknesses), func(b *testing.B) {
			const seconds = 2 * 3600
			b.ReportAllocs()
			for b.Loop() {
				foldNoisy(b, thicknesses, seconds)
			}
			b.ReportMetric(seconds*float64(b.N)/b.Elapsed().Seconds(), "×life")
		})
	}
}

func foldNoisy(b *testing.B, thicknesses, seconds int) {
	box := testBox()
	box.Slots, box.Ribs = []string{"A", "B", "C", "D", "E", "F", "G", "H"}, nil
	for i := range 24 {
		box.Ribs = append(box.Ribs, steambox.Rib{Label: fmt.Sprint(i + 1), LengthM: 1.1,
			ThicknessM: 0.006 + 0.0005*float64(i%thicknesses), WidthM: 0.028, StationM: float64(i) * 0.15})
	}
	f, err := daemon.NewFold(box)
	if err != nil {
		b.Fatal(err)
	}
	for i, slot := range box.Slots {
		if err := f.Do(0, steambox.Event{ID: slot, Kind: steambox.Loaded, Rib: fmt.Sprint(i + 1), Slot: slot}); err != nil {
			b.Fatal(err)
		}
	}
	r := rand.New(rand.NewPCG(1, 2))
	for s := range seconds {
		probe := func(milliC int32) steambox.ProbeSample {
			return steambox.ProbeSample{MilliC: milliC + int32(60*r.NormFloat64())}
		}
		f.Sample(time.Duration(s)*time.Second, steambox.Sample{Level: boiler.Closed, Probes: []steambox.ProbeSample{probe(98500), probe(96000)}})
	}
}
