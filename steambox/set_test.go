package steambox_test

import (
	"errors"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"withy/steambox"
)

// set returns the event that puts another box in the place of the one there is.
func set(b steambox.Box, change func(*steambox.Box)) steambox.Event {
	change(&b)
	return steambox.Event{Kind: steambox.Set, Box: &b}
}

func thicker(b *steambox.Box) {
	b.PressurePa, b.Measured = 90e3, true
	b.Slots = []string{"B", "A", "E"}
	b.Ribs = slices.Clone(b.Ribs[1:5]) // 2, 3, 4, 5: 1 and 6 are gone
	b.Ribs[2].ThicknessM, b.Ribs[2].Boat = 0.008, "tender"
	b.Ribs = append(b.Ribs, steambox.Rib{Label: "9", LengthM: 1, ThicknessM: 0.0065, WidthM: 0.028, StationM: 2})
}

// What was told and seen stays; ribs of which nothing was told are those of the table.
func TestSet(t *testing.T) {
	d := warmed(t).load("1", "A").run(100).load("2", "B").run(60).pull("B").run(10)
	before := d.Status()
	d.do(set(d.Box(), thicker))
	s := d.Status()
	var labels []string
	for _, r := range s.Ribs {
		labels = append(labels, r.Rib)
	}
	if want := []string{"2", "3", "4", "5", "9", "1"}; !slices.Equal(labels, want) {
		t.Errorf("the ribs are %v, want %v", labels, want)
	}
	if s.Slots[1].Slot != "A" || s.Slots[1].Rib != "1" || s.Slots[0].Rib != "" || len(s.Slots) != 3 {
		t.Errorf("the slots are %+v", s.Slots)
	}
	if was, is := before.Slots[0].Ends[0].Min, s.Slots[1].Ends[0].Min; is < was {
		t.Errorf("rib 1 had taken %g min and has now %g", was, is)
	}
	if r := s.Ribs[0]; r.Place != steambox.Out || r.PulledS != before.Ribs[1].PulledS {
		t.Errorf("rib 2 is %+v", r)
	}
	if r := s.Ribs[2]; r.Rib != "4" || r.ThickM != 0.008 || r.Boat != "tender" {
		t.Errorf("rib 4 is %+v", r)
	}
	if s.BoilingC >= before.BoilingC {
		t.Errorf("boiling at %g, before at %g", s.BoilingC, before.BoilingC)
	}
	if s.ElapsedS != before.ElapsedS+0.5 || s.Phase != before.Phase {
		t.Errorf("%g s, %s; before %g s, %s", s.ElapsedS, s.Phase, before.ElapsedS, before.Phase)
	}
}

// A table that names another boat brings ribs of its own, though they have the numbers of
// the first boat's: those keep what was told of them, and can still be told of.
func TestSetForAnotherBoat(t *testing.T) {
	of := func(boat string) func(*steambox.Box) {
		return func(b *steambox.Box) {
			b.Ribs = slices.Clone(b.Ribs)
			for i := range b.Ribs {
				b.Ribs[i].Boat = boat
			}
		}
	}
	box := testBox()
	of("Heron")(&box)
	d := newDay(t, box).run(1900).load("1", "A").run(300).pull("A").load("2", "A").run(10)
	d.do(set(d.Box(), of("Wren")))
	places := func() map[string]steambox.RibPlace {
		out := map[string]steambox.RibPlace{}
		for _, r := range d.Status().Ribs {
			out[r.Boat+" "+r.Rib] = r.Place
		}
		return out
	}
	now := places()
	for rib, want := range map[string]steambox.RibPlace{
		"Wren 1": steambox.Waiting, "Wren 2": steambox.Waiting, "Heron 1 Heron": steambox.Out, "Heron 2 Heron": steambox.InBox,
	} {
		if now[rib] != want {
			t.Errorf("%s is %q, want %q: %v", rib, now[rib], want, now)
		}
	}
	d.do(steambox.Event{Kind: steambox.Outcome, Rib: "1 Heron", Outcome: "supple"})
	d.pull("A").load("1", "A").run(10)
	if s := d.Status(); s.Slots[0].Rib != "1" || s.Calls[0].Boat != "Wren" || s.Bent.Supple != 1 || len(s.Hulls) != 2 {
		t.Errorf("%+v, %+v, %d hulls", s.Slots[0], s.Calls[0], len(s.Hulls))
	}
	d.do(set(d.Box(), of("Heron"))) // a name that was wrong can be put right
	if now := places(); now["Heron 1"] != steambox.Out || now["Wren 1 Wren"] != steambox.InBox || now["Heron 3"] != steambox.Waiting {
		t.Errorf("the first table again: %v", now)
	}
}

// A session that was set otherwise comes out of its snapshot and of its record as it was.
func TestSetIsOnRecord(t *testing.T) {
	live := warmed(t).load("1", "A").run(100)
	live.do(set(live.Box(), thicker)).run(50)
	shot, err := live.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	restored := &day{t: t, Session: session(t, testBox()), now: live.now, steam: live.steam, door: live.door, level: live.level, n: live.n}
	if err := restored.Restore(shot); err != nil {
		t.Fatal(err)
	}
	again := warmed(t).load("1", "A").run(100)
	again.do(set(again.Box(), thicker)).run(50)
	for _, d := range []*day{live, restored, again} {
		d.load("2", "E").run(100).pull("A").run(10)
	}
	for name, d := range map[string]*day{"restored": restored, "folded again": again} {
		if diff := cmp.Diff(live.Status(), d.Status()); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
	}
}

// What was told before it can still be put right; what was set can't.
func TestSetAndCorrected(t *testing.T) {
	h := soaked()
	now := set(testBox(), thicker)
	h.event(361, "set", now)
	h.samples(361, 400)
	s, err := steambox.Refold(testBox(), h.entries, 400*time.Second, steambox.Event{ID: "c", Kind: steambox.Amended, Of: "load", EarlierS: 5})
	if err != nil {
		t.Fatal(err)
	}
	if got := s.Box().Slots; !slices.Equal(got, []string{"B", "A", "E"}) {
		t.Errorf("the slots are %v", got)
	}
	for _, kind := range []steambox.Kind{steambox.Struck, steambox.Amended} {
		_, err := steambox.Refold(testBox(), h.entries, 400*time.Second, steambox.Event{ID: "c", Kind: kind, Of: "set", Text: "x"})
		if refused := (*steambox.RefusedError)(nil); !errors.As(err, &refused) {
			t.Errorf("%s of what was set: %v", kind, err)
		}
	}
}

func TestSetIsRefused(t *testing.T) {
	d := warmed(t).load("1", "A").run(100)
	for name, change := range map[string]func(*steambox.Box){
		"a probe less":         func(b *steambox.Box) { b.Probes = b.Probes[:1] },
		"a slot in use is off": func(b *steambox.Box) { b.Slots = []string{"B", "C"} },
		"a box that is none":   func(b *steambox.Box) { b.LengthM = 99 },
		"a rib twice":          func(b *steambox.Box) { b.Ribs = append(slices.Clone(b.Ribs), b.Ribs[0]) },
	} {
		before := d.Status()
		e := set(d.Box(), change)
		e.ID = name
		if err := d.Do(time.Duration(d.now)*time.Second, e); err == nil {
			t.Errorf("%s: taken", name)
		}
		if diff := cmp.Diff(before.Slots, d.Status().Slots); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
	}
}
