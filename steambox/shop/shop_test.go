package shop_test

import (
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/shop"
)

// calling is a box whose next call is due so soon and has so long to spare.
func calling(number int, do steambox.CallKind, inS, goodS *float64) shop.Box {
	return shop.Box{Number: number, Status: &steambox.Status{Phase: steambox.Running, Calls: []steambox.Call{{Do: do, InS: inS, GoodS: goodS}}}}
}

func numbers(boxes []shop.Box) []int {
	var out []int
	for _, b := range boxes {
		out = append(out, b.Number)
	}
	return out
}

// The next call first; of those that are late, the one with the least to spare; what was
// heard a while ago has come nearer since.
func TestOrder(t *testing.T) {
	silent := calling(6, steambox.PullCall, new(1.0), new(5.0))
	silent.Silent = true
	old := calling(4, steambox.PullCall, new(90.0), new(60.0))
	old.AgeS = 50
	boxes := []shop.Box{
		{Number: 7, Silent: true},
		silent,
		calling(5, steambox.WaitCall, nil, nil),
		calling(1, steambox.PullCall, new(0.0), new(100.0)),
		calling(2, steambox.LoadCall, new(70.0), nil),
		calling(3, steambox.PullCall, new(0.0), new(20.0)),
		old,
	}
	if diff := cmp.Diff([]int{3, 1, 4, 2, 5, 6, 7}, numbers(shop.Order(boxes))); diff != "" {
		t.Error(diff)
	}
	if boxes[0].Number != 7 {
		t.Error("the list that was given was changed")
	}
}

// boiling is an open pot that may be dry so soon.
func boiling(number int, dryS, leadS float64) shop.Box {
	return shop.Box{Number: number, Status: &steambox.Status{
		BoilerKind: boiler.OpenPot, Phase: steambox.Running, Calls: []steambox.Call{{Do: steambox.PullCall}},
		Water: steambox.WaterNow{Boiling: true, DryLoS: &dryS, LeadS: leadS},
	}}
}

// By hand: three boxes, six minutes a kettle. Box 2 is dry in 10 minutes, box 3 in 14, box 1
// in 40. Box 3's kettle must go on at 8, so box 2's at 2 and not at 4.
func TestKettle(t *testing.T) {
	turns, busy := shop.Kettle([]shop.Box{boiling(1, 2400, 360), boiling(2, 600, 360), boiling(3, 840, 360)})
	want := []shop.Turn{{Number: 2, OnS: 120, Now: true}, {Number: 3, OnS: 480}, {Number: 1, OnS: 2040}}
	if diff := cmp.Diff(want, turns); diff != "" || busy != 0 {
		t.Error(diff, busy)
	}
	// A switch that has tripped calls, however long the water may last.
	low := boiling(3, 2400, 360)
	low.Status.Water.Switch = "open"
	if turns, _ := shop.Kettle([]shop.Box{low}); !turns[0].Now || turns[0].OnS != 2040 {
		t.Error(turns)
	}
	// The kettle is on for box 4, and will be for five minutes more: box 2 gets it at 11
	// minutes, one too late, box 3 at 17, three too late.
	on := boiling(4, 500, 360)
	on.Status.Water.KettleS = new(60.0)
	turns, busy = shop.Kettle([]shop.Box{boiling(2, 600, 360), boiling(3, 840, 360), on})
	want = []shop.Turn{{Number: 2, OnS: 120, Now: true, LateS: 60}, {Number: 3, OnS: 480, LateS: 180}}
	if diff := cmp.Diff(want, turns); diff != "" || busy != 300 {
		t.Error(diff, busy)
	}
}

// A closed tank is never told to be opened hot, and who needs no water waits for none.
func TestNoKettle(t *testing.T) {
	closed, off, silent, done, cold := boiling(1, 60, 360), boiling(2, 60, 360), boiling(3, 60, 360), boiling(4, 60, 360), boiling(5, 60, 360)
	closed.Status.BoilerKind = boiler.ClosedTank
	off.Status.HeatOff = true
	silent.Silent = true
	done.Status.Calls[0].Do = steambox.DoneCall
	cold.Status.Water.Boiling = false
	if turns, _ := shop.Kettle([]shop.Box{closed, off, silent, done, cold, {Number: 6}}); turns != nil {
		t.Error(turns)
	}
}

// A kettle that went on for a box which is silent since is still away.
func TestKettleOfASilentBox(t *testing.T) {
	silent, waits := boiling(1, 60, 300), boiling(2, 600, 300)
	silent.Silent, silent.AgeS, silent.Status.Water.KettleS = true, 40, new(100.0)
	if turns, busy := shop.Kettle([]shop.Box{silent, waits}); len(turns) != 1 || turns[0].Number != 2 || busy != 160 {
		t.Errorf("%+v, away for %g s", turns, busy)
	}
}

// No other order makes the worst lateness smaller: tried with every order of up to five.
func TestKettleOrderIsBest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 5).Draw(t, "boxes")
		boxes := make([]shop.Box, n)
		for i := range boxes {
			boxes[i] = boiling(i, rapid.Float64Range(0, 3000).Draw(t, "dry"), rapid.Float64Range(60, 900).Draw(t, "lead"))
		}
		turns, _ := shop.Kettle(boxes)
		worst := 0.0
		for _, turn := range turns {
			worst = max(worst, turn.LateS)
		}
		best := math.Inf(1)
		orders(n, func(order []int) {
			at, late := 0.0, 0.0
			for _, i := range order {
				at += boxes[i].Status.Water.LeadS
				late = max(late, at-*boxes[i].Status.Water.DryLoS)
			}
			best = min(best, late)
		})
		if worst > best+1e-9 {
			t.Errorf("%g s late, %g s could be had", worst, best)
		}
		// And if the kettle goes on when it must, nobody waits; a second later somebody does.
		if worst == 0 {
			at := turns[0].OnS
			slack := math.Inf(1)
			for _, turn := range turns {
				b := boxes[turn.Number].Status.Water
				at += b.LeadS
				slack = min(slack, *b.DryLoS-at)
			}
			if math.Abs(slack) > 1e-6 {
				t.Errorf("the kettle may go on %g s later than is said", slack)
			}
		}
	})
}

// orders calls f with every order of 0 to n-1.
func orders(n int, f func([]int)) {
	var next func(taken []int)
	next = func(taken []int) {
		if len(taken) == n {
			f(taken)
			return
		}
		for i := range n {
			if !slices.Contains(taken, i) {
				next(append(slices.Clone(taken), i))
			}
		}
	}
	next(nil)
}

// Three boilers of 2.2 kW at 230 V are about 29 A (the school's own sum); a kettle beside
// them as much again as one.
func TestLoads(t *testing.T) {
	on := calling(1, steambox.PullCall, nil, nil)
	off, cold := on, on
	off.Status, cold.Status = &steambox.Status{Phase: steambox.Running, HeatOff: true}, &steambox.Status{Phase: steambox.Cold}
	silent := on
	silent.Silent = true
	boxes := []shop.Box{on, off, cold, silent}
	for i := range boxes {
		boxes[i].Number, boxes[i].Watts, boxes[i].Circuit = i+1, 2200, "window side"
	}
	boxes[3].Circuit = "door side"
	circuits := []shop.Circuit{{Name: "window side", Volts: 230, Amps: 32}, {Name: "door side", Volts: 230, Amps: 16}, {Name: "long lead", Volts: 115, Amps: 20}}
	loads := shop.Loads(circuits, boxes, shop.Shared{Watts: 2200, Circuit: "door side"})
	near := func(what string, got, want float64) {
		if math.Abs(got-want) > 0.05 {
			t.Errorf("%s: %.2f A, not %.1f", what, got, want)
		}
	}
	near("three boilers", loads[0].AllA, 28.7)
	near("one of them heats", loads[0].OnA, 9.6)
	near("a boiler and the kettle", loads[1].AllA, 19.1)
	near("a silent box may still heat", loads[1].OnA, 9.6)
	near("nothing there", loads[2].AllA, 0)
	if loads[0].Trips() || !loads[0].Close() || !loads[1].Trips() || loads[2].Close() {
		t.Error("29 A of 32 is close, 19 of 16 too much, none of 20 neither")
	}
	filled := steambox.Status{Phase: steambox.Cold, Water: steambox.WaterNow{LeftL: new(4.0)}}
	over := filled
	over.Calls = []steambox.Call{{Do: steambox.DoneCall}}
	boxes[2].Status = &filled
	near("a cold one that was filled may have been switched on", shop.Loads(circuits, boxes, shop.Shared{})[0].OnA, 19.1)
	boxes[2].Status = &over
	near("one that is done has cooled", shop.Loads(circuits, boxes, shop.Shared{})[0].OnA, 9.6)
	boxes[0].Status.Water.KettleS = new(10.0)
	near("the kettle is on", shop.Loads(circuits, boxes, shop.Shared{Watts: 2200, Circuit: "door side"})[1].OnA, 19.1)
	for i := range boxes {
		boxes[i].AgeS = 3600
	}
	near("nobody has told of the kettle for an hour", shop.Loads(circuits, boxes, shop.Shared{Watts: 2200, Circuit: "door side"})[1].OnA, 9.6)
}
