package daemon_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"withy/alert"
	"withy/cmd/withy/internal/daemon"
	"withy/sensor"
	"withy/steambox"
)

// A second boat on the same day has a log of its own: its ribs wait though they bear the
// numbers of the first, and the hot box, its water and what was checked by hand are not told anew.
func TestNextBoat(t *testing.T) {
	rec := open(t, t.TempDir())
	defer rec.Close()
	source := newScript("b1", 0)
	clock := func(o *daemon.Options) {
		o.Wall = func() time.Time { return time.Date(2026, 5, 1, 9, 0, 0, 0, time.UTC).Add(source.Now()) }
	}
	r := start(t, source, rec, clock)
	defer func() { r.stop() }()
	refused := func(want string, out bool) {
		t.Helper()
		var no *steambox.RefusedError
		if err := r.Next(t.Context(), "no", out); !errors.As(err, &no) || !strings.Contains(no.Why, want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
	r.tell(steambox.Event{Kind: steambox.Checked, Item: "vent", On: true})
	r.tell(steambox.Event{Kind: steambox.Filled, Litres: 4})
	r.tell(steambox.Event{Kind: steambox.Start}) // or it takes half an hour
	r.sweep(30, 98.3, 95.7, sensor.Closed)
	refused("it is new", true)
	for _, slot := range []string{"A", "B"} {
		r.tell(steambox.Event{Kind: steambox.Loaded, Rib: map[string]string{"A": "1", "B": "2"}[slot], Slot: slot})
	}
	r.sweep(150, 98.4, 95.6, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Pulled, Slot: "A"})
	r.tell(steambox.Event{Kind: steambox.Outcome, Rib: "1", Outcome: "supple"})
	refused("Rib 2 lies in the box", false)
	before := r.View()

	if err := r.Next(t.Context(), "n1", true); err != nil {
		t.Fatal(err)
	}
	now := r.View()
	if now.Session == before.Session || slices.ContainsFunc(now.Status.Ribs, func(x steambox.RibNow) bool { return x.Place != steambox.Waiting }) || len(now.Status.Ribs) != 6 {
		t.Fatalf("session %s after %s: %+v", now.Session, before.Session, now.Status.Ribs)
	}
	if d := cmp.Diff(before.Status.Water, now.Status.Water, cmpopts.IgnoreFields(steambox.WaterNow{}, "ToGo", "ForRibs", "KettleInS", "Boiling", "Break")); d != "" {
		t.Errorf("the water: %s", d)
	}
	if i := slices.IndexFunc(now.Status.Rig, func(x steambox.RigNow) bool { return x.Item == steambox.RigVent }); now.Status.Rig[i].State != steambox.RigGood {
		t.Errorf("the vent: %+v", now.Status.Rig[i])
	}
	if err := r.Next(t.Context(), "n1", true); err != nil || r.View().Session != now.Session {
		t.Errorf("told twice: %v, %s", err, r.View().Session)
	}
	r.sweep(1, 98.4, 95.6, sensor.Closed) // the walls were hot before
	if s := r.View().Status; s.Phase != steambox.Ready || s.Calls[0].Do != steambox.LoadCall || s.Calls[0].Rib != "1" {
		t.Errorf("%s, %+v, warm-up %+v", s.Phase, s.Calls, s.Warm)
	}

	first, err := r.Report(t.Context(), before.Session)
	if err != nil {
		t.Fatal(err)
	}
	if bent := first.Bent; bent.Supple != 1 || bent.Untold != 1 {
		t.Errorf("the first log: %+v", bent)
	}
	lived := r.View()
	r.stop()
	left, err := rec.Left(lived.Session)
	if err != nil {
		t.Fatal(err)
	}
	fold, err := daemon.FoldAll(left.Box, rec.Entries(lived.Session, 0))
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(lived.Status, fold.Session.Status()); d != "" {
		t.Errorf("replayed: %s", d)
	}
	r = start(t, source, rec, clock)
	if v := r.View(); v.Session != lived.Session {
		t.Errorf("after a start session %s goes on, not %s", v.Session, lived.Session)
	}
}

// An alarm of danger stays with those who were alarmed: no other log makes it forgotten, nor
// that the heat is off.
func TestNextBoatKeepsWatch(t *testing.T) {
	rec := open(t, t.TempDir())
	defer rec.Close()
	r := start(t, newScript("b1", 0), rec, nil)
	defer r.stop()
	r.sweep(30, 98.3, 95.7, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	r.sweep(5, 98.3, 95.7, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Pulled, Slot: "A"})
	r.sweep(60, 105, 104, sensor.Closed)
	if a := r.View().Alarms; len(a) == 0 || a[0].ID != alert.Pressure {
		t.Fatalf("no pressure: %+v", a)
	}
	next := func() error { return r.Next(t.Context(), "n1", false) }
	r.tell(steambox.Event{Kind: steambox.Heard, Alarm: "pressure"})
	var no *steambox.RefusedError
	if err := next(); !errors.As(err, &no) || !strings.Contains(no.Why, "Pressure in the box") {
		t.Errorf("under pressure: %v", err)
	}
	r.sweep(70, 98, 95, sensor.Closed)
	if err := next(); !errors.As(err, &no) {
		t.Errorf("while it is latched: %v", err)
	}
	r.tell(steambox.Event{Kind: steambox.Reset, Alarm: "pressure"})
	r.tell(steambox.Event{Kind: steambox.Heat})
	if err := next(); err != nil {
		t.Fatal(err)
	}
	if s := r.View().Status; !s.HeatOff {
		t.Error("the heat counts as on")
	}
}

// Once the last rib is out, low water calls for nobody's kettle.
func TestNoKettleAfterTheLastRib(t *testing.T) {
	r := start(t, newScript("b1", 0), nil, nil)
	defer r.stop()
	r.tell(steambox.Event{Kind: steambox.Start})
	r.sweep(30, 98.3, 95.7, sensor.Closed)
	asks := func() string {
		t.Helper()
		r.sweep(20, 98.3, 95.7, sensor.Open)
		a := r.View().Alarms
		if len(a) != 1 || a[0].ID != alert.WaterLow {
			t.Fatalf("%+v", a)
		}
		return a[0].Do[0]
	}
	for _, rib := range []string{"1", "2", "3", "4", "5", "6"} {
		r.tell(steambox.Event{Kind: steambox.Loaded, Rib: rib, Slot: "A"})
		if says := asks(); says != "Kettle on now." {
			t.Errorf("with rib %s in: %q", rib, says)
		}
		r.tell(steambox.Event{Kind: steambox.Pulled, Slot: "A"})
	}
	if says := asks(); says != "Every rib is out: heat off." {
		t.Errorf("after the last: %q", says)
	}
}
