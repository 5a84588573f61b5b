package rehearsal_test

import (
	"errors"
	"math"
	"slices"
	"testing"
	"time"

	"withy/steambox/rehearsal"
	"withy/steambox/unit"
)

func TestWhatTheCrewCannotDo(t *testing.T) {
	w := world(t, "good", 1)
	a, b := rehearsal.Plan()[0], rehearsal.Plan()[1]
	long := b
	long.Length = 1.6
	hollow := b
	hollow.Thickness = unit.Metre(math.NaN())
	if err := w.Load(2, a); err != nil {
		t.Fatal(err)
	}
	second := func(_ any, err error) error { return err }
	for name, row := range map[string]struct{ got, want error }{
		"no such slot":        {w.Load(4, b), rehearsal.ErrUnknown},
		"slot taken":          {w.Load(2, b), rehearsal.ErrTaken},
		"rib in the box":      {w.Load(1, a), rehearsal.ErrTaken},
		"too long":            {w.Load(1, long), rehearsal.ErrSize},
		"no thickness":        {w.Load(1, hollow), rehearsal.ErrSize},
		"no label":            {w.Load(1, rehearsal.Rib{}), rehearsal.ErrUnknown},
		"pull no such slot":   {second(w.Pull(-1)), rehearsal.ErrUnknown},
		"pull an empty slot":  {second(w.Pull(0)), rehearsal.ErrEmpty},
		"bend in the box":     {second(w.Bend(a.Label)), rehearsal.ErrTaken},
		"bend what never was": {second(w.Bend("R99")), rehearsal.ErrUnknown},
	} {
		if !errors.Is(row.got, row.want) {
			t.Errorf("%s: %v", name, row.got)
		}
	}
}

// A cold rib cannot be bent, goes back, and a bent one is done with.
func TestBackIntoTheBox(t *testing.T) {
	w := world(t, "good", 3)
	w.Step(40 * time.Minute)
	var o rehearsal.Outcome
	var rib rehearsal.Rib
	for _, rib = range rehearsal.Plan() { // until one fails stiff, not cracked
		must(t, w.Load(0, rib))
		w.Step(20 * time.Second)
		o = pullAndBend(t, w)
		if o.Result == rehearsal.Stiff {
			break
		}
	}
	before, _ := w.Truth(rib.Label, 0.5)
	must(t, w.Load(0, rib))
	w.Step(2 * time.Minute)
	after, _ := w.Truth(rib.Label, 0.5)
	if after.ExposureMin <= before.ExposureMin || after.Core < 85 {
		t.Errorf("%+v, back in the box %+v", before, after)
	}
	for w.Step(2 * time.Minute); ; must(t, w.Load(0, rib)) {
		if pullAndBend(t, w).Result != rehearsal.Stiff {
			break
		}
	}
	if err := w.Load(0, rib); !errors.Is(err, rehearsal.ErrSpent) {
		t.Errorf("loading a bent rib: %v", err)
	}
	if _, err := w.Bend(rib.Label); !errors.Is(err, rehearsal.ErrSpent) {
		t.Errorf("bending it again: %v", err)
	}
	w.Discard(rib.Label)
	must(t, w.Load(0, rib))
	if truth, ok := w.Truth(rib.Label, 0.5); !ok || truth.ExposureMin != 0 {
		t.Errorf("another boat's blank of the same label: %+v", truth)
	}
	w.Discard(rib.Label)
	if _, ok := w.Truth(rib.Label, 0.5); !ok {
		t.Error("a rib in the box was thrown away")
	}
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func pullAndBend(t *testing.T, w *rehearsal.World) rehearsal.Outcome {
	t.Helper()
	r, err := w.Pull(0)
	must(t, err)
	w.Step(5 * time.Second)
	o, err := w.Bend(r.Label)
	must(t, err)
	return o
}

// With the hidden window known, a soak to its middle bends nearly all ribs.
func TestKnownWindowBends(t *testing.T) {
	t.Parallel()
	supple, bent := 0, 0
	for seed := range uint64(3) {
		w := world(t, "good", seed)
		w.Step(40 * time.Minute)
		for _, r := range rehearsal.Plan()[:8] {
			v, _ := w.Window(r.Stick)
			target := math.Exp((v.LnSoft+v.LnOver)/2 + v.Drift)
			must(t, w.Load(0, r))
			for middle := 0.0; middle < target; {
				w.Step(time.Second)
				got, _ := w.Truth(r.Label, r.Length/2)
				middle = got.ExposureMin + 0.15 // what it will still take in the carry
			}
			bent++
			if pullAndBend(t, w).Result == rehearsal.Supple {
				supple++
			}
		}
	}
	if supple < bent*80/100 {
		t.Errorf("%d of %d supple", supple, bent)
	}
}

// The table of ribs is fair: no fourth difference beyond what rounding to whole
// millimetres and the change of curve amidships make.
func TestPlan(t *testing.T) {
	plan := rehearsal.Plan()
	if len(plan) != 24 {
		t.Fatalf("%d ribs", len(plan))
	}
	if plan[0].Bend != rehearsal.Easy || plan[23].Bend != rehearsal.Hard {
		t.Errorf("loaded from %s to %s", plan[0].Bend, plan[23].Bend)
	}
	slices.SortFunc(plan, func(a, b rehearsal.Rib) int { return int(math.Copysign(1, float64(a.Station-b.Station))) })
	var mm []float64
	for i, r := range plan {
		if r.Length < 0.88 || r.Length > 1.18 || i > 0 && plan[i-1].Label == r.Label {
			t.Errorf("%+v", r)
		}
		mm = append(mm, 1000*float64(r.Length))
	}
	for i := 4; i < len(mm); i++ {
		if d := mm[i] - 4*mm[i-1] + 6*mm[i-2] - 4*mm[i-3] + mm[i-4]; math.Abs(d) > 9 {
			t.Errorf("fourth difference at %s: %.1f mm", plan[i-2].Label, d)
		}
	}
}
