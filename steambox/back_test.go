package steambox_test

import (
	"testing"
	"time"

	"withy/steambox"
)

// On a break it is said how to begin again: whether the box is still hot, for how long
// there is water, when the next may go in.
func TestWayBack(t *testing.T) {
	d := warmed(t).do(steambox.Event{Kind: steambox.Filled, Litres: 4}).load("1", "A").run(30)
	if d.Status().Stop.Back != nil {
		t.Error("a way back without a break")
	}
	d.do(steambox.Event{Kind: steambox.Break})
	s := d.Status()
	if b := s.Stop.Back; b == nil || !b.Ready || b.WaterS == nil || *b.WaterS != *s.Water.DryLoS || b.LoadS <= 0 || b.LoadS > s.Rhythm.IntervalS {
		t.Errorf("%+v", b)
	}
	d.steam, d.door = 60, 50
	if b := d.run(600).Status().Stop.Back; b == nil || b.Ready {
		t.Errorf("gone cold: %+v", b)
	}
}

// A rib that went cold in the shop and is put back hours later starts cold: the same
// as a fresh one, but for the heat it has.
func TestPutBackHoursLater(t *testing.T) {
	d := warmed(t).load("1", "A").run(360).pull("A").run(4 * 3600)
	before := d.Status().Ribs[0].Ends[0].Min
	d.load("1", "A").load("2", "B").run(60)
	s := d.Status()
	again, fresh := s.Slots[0].Ends[0], s.Slots[1].Ends[0]
	if diff := again.CoreC - fresh.CoreC; diff < -0.5 || diff > 0.5 {
		t.Errorf("after a minute back its core is %.1f °C, a fresh one's %.1f", again.CoreC, fresh.CoreC)
	}
	if diff := again.Min - before - fresh.Min; diff < -0.02 || diff > 0.02 {
		t.Errorf("%.2f min at 100 °C, of which %.2f from before and %.2f in this minute", again.Min, before, fresh.Min)
	}
}

// Sensors that fall silent while the crew goes on telling leave a gap all the same.
func TestEventsDoNotHideAGap(t *testing.T) {
	d := warmed(t).load("1", "A").run(60)
	for k := 1; k <= 12; k++ {
		e := steambox.Event{ID: "n" + time.Duration(k).String(), Kind: steambox.Note, Text: "no sample since"}
		if err := d.Do(time.Duration(d.now+5*k)*time.Second, e); err != nil {
			t.Fatal(err)
		}
	}
	d.now += 61
	s := d.run(1).Status()
	if s.GapS < 45 || s.GapS > 62 || s.Slots[0].Sure {
		t.Errorf("a gap of %g s, sure %v", s.GapS, s.Slots[0].Sure)
	}
}

// A box that stands cold and unused begins a new log each day; one that is being
// warmed does not end in the middle of it.
func TestIdleSessionEnds(t *testing.T) {
	d := newDay(t, testBox())
	d.steam, d.door = 15, 14
	if d.run(23 * 3600).Over() {
		t.Error("over within a day")
	}
	if !d.run(2 * 3600).Over() {
		t.Error("not over after a day")
	}
	d = newDay(t, testBox())
	d.steam, d.door = 15, 14
	d.run(23 * 3600)
	d.steam, d.door = 98, 96
	if d.run(2 * 3600).Over() {
		t.Error("over while it is hot")
	}
}
