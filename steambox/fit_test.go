package steambox_test

import (
	"math"
	"testing"

	"withy/steambox"
)

// bend lets one rib lie in A for six minutes and pulls it; mark is what the crew
// tells of how it went in, "" for nothing.
func (d *day) bend(rib, mark string) *day {
	d.t.Helper()
	d.load(rib, "A").run(360).pull("A")
	if mark != "" {
		d.do(steambox.Event{Kind: steambox.Fitted, Rib: rib, Mark: mark})
	}
	return d.run(5)
}

func hullNow(t testing.TB, d *day) steambox.HullNow {
	t.Helper()
	h := d.Status().Hulls
	if len(h) != 1 {
		t.Fatalf("%d hulls", len(h))
	}
	return h[0]
}

// Lean is the mean of ±ln(steam end/door end), + for a mark to port; twist the same
// times the place on the keel from −1 to 1: worked by hand from the heat that the
// session tells, which goes on a little after the pull.
func TestLiveHull(t *testing.T) {
	d := warmed(t)
	for _, rib := range []string{"1", "2", "3", "4"} {
		d.bend(rib, "port") // all the same way round
	}
	lean, twist := 0.0, 0.0
	for i, r := range d.Status().Ribs[:4] {
		diff := math.Log(r.Ends[0].Min / r.Ends[1].Min)
		lean, twist = lean+diff/4, twist+diff*(float64(i)/2.5-1)/4
	}
	h := hullNow(t, d)
	if math.Abs(h.Lean-lean) > 0.05*lean || math.Abs(h.Twist-twist) > 0.05*math.Abs(twist) || h.Fitted != 4 || h.Stations != 6 {
		t.Errorf("%+v; by hand lean %.4f, twist %.4f", h, lean, twist)
	}
	if h.Next != "5" || h.Mark != "starboard" {
		t.Errorf("next %s to %s, after four to port", h.Next, h.Mark)
	}
}

// Nobody has to tell: ribs go in as they were called, one port, one starboard.
func TestCalledIsFitted(t *testing.T) {
	d := warmed(t)
	for _, rib := range []string{"1", "2", "3"} {
		d.bend(rib, "")
	}
	if h := hullNow(t, d); h.Reason != "turns" || math.Abs(h.Lean) > 1.1*h.PerRib/2 || h.Mark != "starboard" {
		t.Errorf("%+v", h)
	}
	marks := ""
	for _, r := range d.Status().Ribs {
		marks += r.Mark[:1]
	}
	if marks != "pspsps" {
		t.Errorf("marks %s", marks)
	}
}

// A replacement goes to the station of the rib that broke, with its mark to the same
// side, and the broken one counts no more.
func TestReplacementTakesTheStation(t *testing.T) {
	d := warmed(t).bend("1", "").bend("2", "")
	d.do(steambox.Event{Kind: steambox.Outcome, Rib: "2", Outcome: "cracked"})
	d.do(steambox.Event{Kind: steambox.Split, Rib: "2", AcrossPct: 60, ThroughPct: 10})
	if l := d.Status().Ledger; len(l.Replace) != 1 || len(l.Glue) != 0 {
		t.Errorf("ledger %+v", l)
	}
	d.bend("S1", "")
	d.do(steambox.Event{Kind: steambox.Replaced, Rib: "2", With: "S1"})
	s := d.Status()
	if r := ribOf(t, d.Session, "S1"); r.StationM != s.Ribs[1].StationM || r.Mark != "starboard" || r.Replaces != "2" {
		t.Errorf("%+v", r)
	}
	if h := s.Hulls[0]; h.Fitted != 2 || len(s.Ledger.Replace) != 0 || len(s.Ledger.Replaced) != 1 {
		t.Errorf("%+v, ledger %+v", h, s.Ledger)
	}
}

// Two boats in one box: each keeps its own turns, and the call names whose rib it is.
func TestTwoBoats(t *testing.T) {
	b := testBox()
	for i := range b.Ribs {
		b.Ribs[i].Boat = []string{"Dunlin", "Knot"}[i%2]
	}
	d := newDay(t, b).run(1900)
	for _, rib := range []string{"1", "2", "3", "4"} {
		d.bend(rib, "")
	}
	marks := ""
	for _, r := range d.Status().Ribs {
		marks += r.Mark[:1]
	}
	if h := d.Status().Hulls; marks != "ppsspp" || len(h) != 2 || h[0].Boat != "Dunlin" || h[1].Fitted != 2 {
		t.Errorf("marks %s, hulls %+v", marks, h)
	}
	for _, c := range d.load("5", "A").run(60).Status().Calls {
		if want := map[string]string{"5": "Dunlin", "6": "Knot"}[c.Rib]; c.Boat != want {
			t.Errorf("%+v", c)
		}
	}
}
