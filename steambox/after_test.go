package steambox_test

import (
	"encoding/json"
	"testing"

	"withy/steambox"
)

// What a session takes over survives the record's JSON: a box that was ready is, the crew
// keeps the pace that it has shown, and the ribs all wait.
func TestAfter(t *testing.T) {
	d := newDay(t, testBox()).do(steambox.Event{Kind: steambox.Filled, Litres: 4}).run(1900)
	for _, rib := range []string{"1", "2", "3", "4"} {
		d.load(rib, "A").run(200).pull("A")
	}
	was := d.Status()
	text, err := json.Marshal(d.After())
	if err != nil {
		t.Fatal(err)
	}
	next := testBox()
	if err := json.Unmarshal(text, &next.After); err != nil {
		t.Fatal(err)
	}
	n := newDay(t, next).run(1)
	s := n.Status()
	if s.Phase != steambox.Ready || first(t, s).Do != steambox.LoadCall || first(t, s).Rib != "1" || s.Bent.ToGo != 6 {
		t.Errorf("%s, %+v, %+v", s.Phase, s.Calls, s.Bent)
	}
	if s.Rhythm.CrewS == nil || *s.Rhythm.CrewS != *was.Rhythm.CrewS || *s.Rhythm.CrewS < 199 {
		t.Errorf("the pace is %v, was %v", s.Rhythm.CrewS, was.Rhythm.CrewS)
	}
	if w := s.Water; w.LeftL == nil || *w.LeftL > *was.Water.LeftL || *w.LeftL < *was.Water.LeftL-0.01 {
		t.Errorf("%v L, %v before", w.LeftL, was.Water.LeftL)
	}
	next.After.Walls.FadeS = 0
	if err := next.Check(); err == nil {
		t.Error("walls that can't be reckoned with were taken")
	}
	cold := testBox()
	cold.After = &steambox.After{Walls: d.After().Walls, Water: d.After().Water}
	if s := newDay(t, cold).run(1).Status(); s.Phase == steambox.Ready {
		t.Error("ready, though it was not")
	}
}
