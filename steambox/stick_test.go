package steambox_test

import (
	"fmt"
	"slices"
	"testing"

	"withy/steambox"
	"withy/steambox/soak"
	"withy/steambox/window"
)

// learner is a day in a box that learns its stick's window, with a dozen ribs.
func learner(t testing.TB, ribs int) *day {
	b := testBox()
	b.Learn = true
	b.Ribs = nil
	for i := range ribs {
		b.Ribs = append(b.Ribs, steambox.Rib{Label: fmt.Sprint(i + 1), LengthM: 1.1, ThicknessM: 0.0065, WidthM: 0.028, StationM: float64(i) * 0.15})
	}
	return newDay(t, b).run(1900)
}

// bendFor lets a rib soak for so many seconds, pulls it and tells how it bent.
func (d *day) bendFor(rib string, seconds int, outcome string) *day {
	d.t.Helper()
	d.load(rib, "A").run(seconds).pull("A").run(10)
	return d.do(steambox.Event{Kind: steambox.Outcome, Rib: rib, Outcome: outcome})
}

// Without a bend the target is what practice gives the thickness, and is called a
// guess: 4 to 8 min for a quarter inch of fresh white oak (common practice).
func TestWindowBeginsAsAGuess(t *testing.T) {
	s := learner(t, 4).Status()
	if len(s.Sticks) != 1 || !s.Sticks[0].Guess || s.Sticks[0].Bends != 0 {
		t.Fatalf("%+v", s.Sticks)
	}
	if soak := *s.Rhythm.SoakS / 60; soak < 4 || soak > 8 {
		t.Errorf("a soak of %.1f min", soak)
	}
}

// Good ribs, then two stiff ones that had a little more: it may be too little or too
// much, so a rib from earlier in the cycle is worth a try. If that one is supple the
// target falls, if it is stiff too it rises (common practice).
func TestTryOneEarly(t *testing.T) {
	good := func() *day {
		d := learner(t, 12)
		for i := range 4 {
			d.bendFor(fmt.Sprint(i+1), 400, "supple")
		}
		d.bendFor("5", 415, "stiff").load("7", "B").run(130).load("8", "C").run(90)
		return d.load("6", "A").run(1)
	}
	d := good()
	before := d.Status()
	if before.Try == nil {
		t.Fatalf("nothing to try after four good ribs and a stiff one; sticks %+v", before.Sticks)
	}
	i := slices.IndexFunc(before.Slots, func(s steambox.Slot) bool { return s.Slot == before.Try.Slot })
	if before.Slots[i].Ends[0].Min > 4 {
		t.Errorf("try %+v, which has had %.1f", before.Try, before.Slots[i].Ends[0].Min)
	}
	for outcome, falls := range map[string]bool{"supple": true, "stiff": false} {
		d := good()
		was := d.Status().Sticks[0].Target
		try := d.Status().Try
		d.pull(try.Slot).run(5).do(steambox.Event{Kind: steambox.Outcome, Rib: try.Rib, Outcome: outcome})
		if is := d.Status().Sticks[0].Target; (is < was) != falls {
			t.Errorf("tried and %s: target from %.2f to %.2f", outcome, was, is)
		}
	}
}

// What is told moves the call; what is put right moves it back.
func TestOutcomesMoveTheCalls(t *testing.T) {
	h := &told{}
	h.samples(0, 1900)
	h.event(1900, "load", steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	h.samples(1900, 2080)
	h.event(2080, "pull", steambox.Event{Kind: steambox.Pulled, Slot: "A"})
	h.samples(2080, 2090)
	b := testBox()
	b.Learn = true
	target := func() float64 {
		s, err := refolded(b, h)
		if err != nil {
			t.Fatal(err)
		}
		return float64(s.Status().Window.Target)
	}
	guess := target()
	h.event(2090, "stiff", steambox.Event{Kind: steambox.Outcome, Rib: "1", Outcome: "stiff"})
	stiff := target()
	h.event(2091, "fix", steambox.Event{Kind: steambox.Amended, Of: "stiff", Outcome: "supple"})
	supple := target()
	if !(supple < guess && guess < stiff) {
		t.Errorf("target %.2f, stiff after three minutes %.2f, supple after all %.2f", guess, stiff, supple)
	}
}

// Ribs that came out late and that nobody had a hand free to tell of teach nothing: else a
// crew that falls behind would be told to soak ever longer. Told, they count, and so does
// the silence about a rib that came out when it was called.
func TestLateAndUntoldTeachesNothing(t *testing.T) {
	after := func(seconds int, outcome string) float64 {
		d := learner(t, 8).bendFor("1", 200, "cracked")
		was := d.Status().Sticks[0].Target
		for i := range 6 {
			d.load(fmt.Sprint(i+2), "A").run(seconds).pull("A").run(10)
			if outcome != "" {
				d.do(steambox.Event{Kind: steambox.Outcome, Rib: fmt.Sprint(i + 2), Outcome: outcome})
			}
		}
		return float64(d.Status().Sticks[0].Target / was)
	}
	late := 3600                                                // an hour, of wood that is called after some minutes
	if moved := after(late, ""); moved > 1.05 || moved < 0.95 { // six hours on the ends are a little more alike
		t.Errorf("late and untold: the target is %.2f times what it was", moved)
	}
	if moved := after(late, "supple"); moved < 1.5 {
		t.Errorf("late and told to be supple: the target is %.2f times what it was", moved)
	}
	if moved := after(400, ""); moved < 1.05 { // the cracked one was underdone, then
		t.Errorf("in time and untold: the target is %.2f times what it was", moved)
	}
}

// Test bends of the day before are where the day begins.
func TestTestBends(t *testing.T) {
	b := testBox()
	b.Learn = true
	for e, o := range map[float64]window.Outcome{2: window.Stiff, 5: window.Supple, 9: window.Cracked} {
		b.TestBends = append(b.TestBends, steambox.TestBend{Bend: window.Bend{Cool: exposure(e), Hot: exposure(e), Outcome: o}})
	}
	s := session(t, b).Status()
	if k := s.Sticks[0]; k.Guess || k.Bends != 3 || k.Target < 3 || k.Target > 7 {
		t.Errorf("%+v", k)
	}
}

// Offcuts that go in together come out one after the other, each for its own heat,
// count as no rib of the boat, and teach.
func TestOneFiring(t *testing.T) {
	d := learner(t, 4)
	for i, slot := range []string{"A", "B", "C"} {
		d.do(steambox.Event{Kind: steambox.Loaded, Rib: fmt.Sprint("T", i+1), Slot: slot, Test: true})
	}
	d.run(60)
	s := d.Status()
	if s.Bent.ToGo != 4 {
		t.Errorf("%d ribs to go of four", s.Bent.ToGo)
	}
	ready := []float64{}
	for _, slot := range s.Slots[:3] {
		ready = append(ready, *slot.ReadyS)
	}
	if !slices.IsSorted(ready) || ready[1]-ready[0] < 15 || ready[2]-ready[1] < 15 {
		t.Errorf("ready in %v s", ready)
	}
	for range 2 {
		for d.now < 4000 && *nextPull(t, d).InS > 0 {
			d.run(1)
		}
		c := nextPull(t, d)
		d.pull(c.Slot).run(5).do(steambox.Event{Kind: steambox.Outcome, Rib: c.Rib, Outcome: "supple"})
	}
	if k := d.Status().Sticks[0]; k.Bends != 2 || k.Guess {
		t.Errorf("%+v", k)
	}
	if s := d.Status(); s.Bent.Supple != 0 || s.Hulls[0].Fitted != 0 {
		t.Errorf("bent %+v, hulls %+v", s.Bent, s.Hulls)
	}
}

// nextPull is the rib that is called next.
func nextPull(t testing.TB, d *day) steambox.Call {
	t.Helper()
	calls := d.Status().Calls
	i := slices.IndexFunc(calls, func(c steambox.Call) bool { return c.Do == steambox.PullCall })
	if i < 0 {
		t.Fatalf("no rib is called: %+v", calls)
	}
	return calls[i]
}

func BenchmarkStatusAfterOutcome(b *testing.B) {
	d := learner(b, 24)
	for i := range 20 {
		d.bendFor(fmt.Sprint(i+1), 360, []string{"supple", "supple", "stiff"}[i%3])
	}
	n := 0
	for b.Loop() {
		n++
		d.do(steambox.Event{Kind: steambox.Outcome, Rib: "20", Outcome: []string{"stiff", "supple"}[n%2]})
		d.Status()
	}
}

func exposure(minutes float64) soak.Exposure { return soak.Exposure(minutes) }
