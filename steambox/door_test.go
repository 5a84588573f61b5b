package steambox_test

import (
	"testing"
	"time"

	"withy/steambox"
	"withy/steambox/boiler"
)

// dip lets the door end fall as it does when the door is opened for a few seconds, and
// come back.
func (d *day) dip() *day {
	level := d.door
	for _, k := range []float64{0.25, 0.5, 0.9, 1.2, 1.5, 1.7, 1.8, 1.8, 1.7, 1.6, 1.4, 1.2, 1, 0.8, 0.6, 0.4, 0.2, 0} {
		d.door = level - k
		d.run(1)
	}
	return d
}

// A dip of the door end when a rib is due, and nobody presses: it is asked whether
// that rib was pulled. Until it is answered the rib is in the box, with its lower
// bound standing still.
func TestUntoldPullIsAskedAbout(t *testing.T) {
	d := warmed(t).load("1", "A")
	for *d.Status().Slots[0].ReadyS > 5 {
		d.run(5)
	}
	opened := float64(d.now)
	d.dip().run(40)
	p := d.Status().Proposal
	if p == nil || p.Do != steambox.PullCall || p.Rib != "1" || p.By != "dip" {
		t.Fatalf("%+v", p)
	}
	if p.AtS < opened-4 || p.AtS > opened+4 {
		t.Errorf("opened at %g s, proposed %g s", opened, p.AtS)
	}
	before := d.Status().Slots[0]
	after := d.run(60).Status().Slots[0]
	if after.Rib != "1" || after.Sure || after.Ends[0].LoMin != before.Ends[0].LoMin || after.Ends[0].Min <= before.Ends[0].Min {
		t.Errorf("rib %q, sure %v, %+v; a minute before %+v", after.Rib, after.Sure, after.Ends[0], before.Ends[0])
	}
}

// Told at the time, opened when nothing was due, or a slow fall: nothing is asked.
func TestNothingToAsk(t *testing.T) {
	for name, run := range map[string]func(d *day) *day{
		"told": func(d *day) *day {
			return d.load("1", "A").run(360).pull("A").dip().run(60)
		},
		"told a little later": func(d *day) *day {
			return d.load("1", "A").run(360).dip().run(10).pull("A").run(60)
		},
		"a look at a fresh rib": func(d *day) *day {
			return d.load("1", "A").run(60).load("2", "B").load("3", "C").load("4", "D").run(60).dip().run(60)
		},
		"both ends fall": func(d *day) *day {
			d.load("1", "A").run(360)
			for range 20 {
				d.steam, d.door = d.steam-0.3, d.door-0.3
				d.run(1)
			}
			return d.run(60)
		},
	} {
		d := newDay(t, testBox())
		d.load("6", "A").pull("A") // so that nothing waits to be loaded first
		if p := run(d.run(1900)).Status().Proposal; p != nil && p.Do == steambox.PullCall {
			t.Errorf("%s: %+v", name, p)
		}
	}
}

// The door's own switch tells it outright, and the dip is not looked at.
func TestDoorSwitch(t *testing.T) {
	d := warmed(t).load("1", "A").run(360)
	door := func(c boiler.Contact) {
		m := d.sample()
		m.Door = c
		d.Sample(time.Duration(d.now)*time.Second, m)
		d.now++
	}
	door(boiler.Closed)
	door(boiler.Open)
	at := float64(d.now - 1)
	for range 30 {
		door(boiler.Closed)
	}
	if p := d.Status().Proposal; p == nil || p.By != "switch" || p.AtS != at || p.Rib != "1" {
		t.Errorf("%+v, opened at %g", p, at)
	}
}

// "It was pulled then" and "only a look" are both put into the past: the first gives
// the rib the soak it had, the second takes the doubt away again.
func TestAnswers(t *testing.T) {
	h := &told{}
	h.samples(0, 1900)
	h.event(1900, "load", steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	h.samples(1900, 2260)
	for k, fall := range []int32{0, 250, 500, 900, 1200, 1500, 1700, 1800, 1800, 1500, 1000, 500, 0} {
		s := steambox.Sample{Probes: []steambox.ProbeSample{{MilliC: 98500}, {MilliC: 96000 - fall}}}
		h.entries = append(h.entries, steambox.Entry{At: time.Duration(2260+k) * time.Second, Sample: &s})
	}
	h.samples(2273, 2400)
	p := refold(t, h).Status().Proposal
	if p == nil || p.Rib != "1" {
		t.Fatalf("%+v", p)
	}
	yes := *h
	yes.event(2400, "yes", steambox.Event{Kind: steambox.Pulled, Slot: "A", EarlierS: p.AgoS})
	if s := refold(t, &yes).Status(); s.Proposal != nil || s.Ribs[0].Place != steambox.Out || s.Ribs[0].SoakS < 355 || s.Ribs[0].SoakS > 366 {
		t.Errorf("pulled then: %+v, %+v", s.Ribs[0], s.Proposal)
	}
	no := *h
	no.event(2400, "no", steambox.Event{Kind: steambox.Peeped, EarlierS: p.AgoS})
	if s := refold(t, &no).Status(); s.Proposal != nil || s.Slots[0].Rib != "1" || !s.Slots[0].Sure {
		t.Errorf("only a look: %+v, %+v", s.Slots[0], s.Proposal)
	}
}

// Without a table the next blank has no name yet; that its load went untold can be
// asked all the same, and answered.
func TestUntoldLoadWithoutATable(t *testing.T) {
	b := testBox()
	b.Ribs = nil
	d := newDay(t, b).run(1900).load("1", "A").run(100)
	d.dip().run(40)
	p := d.Status().Proposal
	if p == nil || p.Do != steambox.LoadCall || p.Rib != "2" || p.Slot != "B" {
		t.Fatalf("%+v", p)
	}
	if p := d.load("2", "B").run(1).Status().Proposal; p != nil {
		t.Errorf("told, and still asked: %+v", p)
	}
}
