package steambox_test

import (
	"math"
	"testing"

	"withy/steambox"
)

// Four rounds of 60, 50, 55 and 200 s: the pace is the middle, as for real ribs.
func TestDryRunTeachesThePace(t *testing.T) {
	d := newDay(t, testBox()).run(1)
	before := d.Status().Rhythm.IntervalS
	d.do(steambox.Event{Kind: steambox.Dry, On: true})
	for _, round := range []int{60, 50, 55, 200} {
		if c := first(t, d.Status()); c.Do != steambox.DryCall || *c.InS != 5 {
			t.Fatalf("the call is %+v", c)
		}
		d.run(5 + round).do(steambox.Event{Kind: steambox.Round})
	}
	dry := d.Status().Dry
	if dry == nil || !dry.On || dry.Rounds != 4 || math.Abs(*dry.PaceS-60) > 1 || math.Abs(*dry.LastS-200) > 1 {
		t.Fatalf("%+v", dry)
	}
	d.do(steambox.Event{Kind: steambox.Dry})
	if s := d.Status(); s.Dry.On || s.Rhythm.IntervalS > before {
		t.Errorf("%+v, interval %g s, before %g s", s.Dry, s.Rhythm.IntervalS, before)
	}
}

// A dry run that is begun again goes on from what was learnt: after 60, 50 and 55 s three
// rounds of 80 s move the middle of the six to 80 s. Told to forget, it begins at nothing.
func TestDryRunGoesOn(t *testing.T) {
	d := newDay(t, testBox()).run(1)
	rounds := func(lasting ...int) *steambox.DryNow {
		d.do(steambox.Event{Kind: steambox.Dry, On: true})
		for _, s := range lasting {
			d.run(5 + s).do(steambox.Event{Kind: steambox.Round})
		}
		d.do(steambox.Event{Kind: steambox.Dry})
		return d.Status().Dry
	}
	if dry := rounds(60, 50, 55); math.Abs(*dry.PaceS-55) > 1 {
		t.Fatalf("%+v", dry)
	}
	if dry := rounds(); dry.Rounds != 3 || dry.PaceS == nil || math.Abs(*dry.PaceS-55) > 1 {
		t.Errorf("begun again: %+v", dry)
	}
	if dry := rounds(80, 80, 80); dry.Rounds != 6 || math.Abs(*dry.PaceS-80) > 1 {
		t.Errorf("gone on with: %+v", dry)
	}
	d.do(steambox.Event{Kind: steambox.Forget})
	if dry := d.Status().Dry; dry != nil {
		t.Errorf("forgotten: %+v", dry)
	}
}

// Nobody has to end a dry run: a box that has become ready does, and a rib that is
// loaded.
func TestDryRunEndsByItself(t *testing.T) {
	d := newDay(t, testBox()).run(1)
	d.do(steambox.Event{Kind: steambox.Dry, On: true}).run(1900)
	if c := first(t, d.Status()); c.Do != steambox.LoadCall {
		t.Errorf("in a hot box the call is %+v", c)
	}
	d = newDay(t, testBox()).run(1)
	d.do(steambox.Event{Kind: steambox.Dry, On: true}).load("1", "A").run(1)
	if c := first(t, d.Status()); c.Do != steambox.PullCall {
		t.Errorf("with a rib in the box the call is %+v", c)
	}
}

func TestDryRunRefuses(t *testing.T) {
	refused := func(d *day, e steambox.Event) {
		t.Helper()
		e.ID = "refused"
		if err := d.Do(d.Elapsed(), e); err == nil {
			t.Errorf("%s was taken", e.Kind)
		}
	}
	d := newDay(t, testBox()).run(1)
	refused(d, steambox.Event{Kind: steambox.Round})
	d.do(steambox.Event{Kind: steambox.Dry, On: true})
	refused(d, steambox.Event{Kind: steambox.Round}) // not called yet
	refused(newDay(t, testBox()).run(1).load("1", "A"), steambox.Event{Kind: steambox.Dry, On: true})
	refused(warmed(t), steambox.Event{Kind: steambox.Dry, On: true})
}
