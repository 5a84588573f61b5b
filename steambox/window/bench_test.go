package window_test

import (
	"testing"

	"withy/steambox/soak"
	"withy/steambox/window"
	"withy/steambox/wood"
)

// oak is what is believed of fresh white oak a quarter of an inch thick.
func oak(t testing.TB) window.Prior { return start(t, 6.35, window.Green) }

func start(t testing.TB, thicknessMM float64, d window.Dryness) window.Prior {
	t.Helper()
	p, err := window.Start(soak.Default(wood.Section{WidthM: 0.025, ThicknessM: thicknessMM / 1000}), d)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// fifty are fifty bends of one stick, one in ten untold and a few that failed.
func fifty() []window.Bend {
	bends := make([]window.Bend, 50)
	for i := range bends {
		e := soak.Exposure(2 + float64(i%7)*0.4)
		bends[i] = window.Bend{Cool: 0.8 * e, Hot: e, Outcome: window.Supple, InRun: true}
		switch i % 10 {
		case 3:
			bends[i].Outcome = ""
		case 7:
			bends[i].Outcome = window.Stiff
		}
	}
	return bends
}

// All that the verb answers, from fifty bends: at most 50 ms.
func BenchmarkFiftyBends(b *testing.B) {
	p, bends := oak(b), fifty()
	for b.Loop() {
		w := window.Learn(p, bends, window.Middling)
		w.Soft()
		w.Over()
		w.Target(0.75)
		w.Next(0.75, nil)
	}
}

// One rib of the run: the window, the target and its chance, at most 5 ms.
func BenchmarkLiveUpdate(b *testing.B) {
	p, bends := oak(b), fifty()
	w := window.Learn(p, bends[:10], window.Middling)
	for i := 0; b.Loop(); i++ {
		w.Add(bends[i%len(bends)])
		w.Target(0.75)
	}
}

// The next bend worth making, when little is known and the most must be weighed.
func BenchmarkNext(b *testing.B) {
	w := window.Learn(oak(b), nil, window.Middling)
	for b.Loop() {
		w.Next(0.75, nil)
	}
}

// Three offcuts that go in together.
func BenchmarkFiring(b *testing.B) {
	w := window.Learn(oak(b), nil, window.Middling)
	for b.Loop() {
		w.Firing(0.75, 3)
	}
}
