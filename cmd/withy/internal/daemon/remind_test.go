package daemon_test

import (
	"errors"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"withy/alert"
	"withy/cmd/withy/internal/daemon"
	"withy/sensor"
	"withy/steambox"
)

// An alarm that is off stays off over a restart and is said again at its time, by the
// session's own clock; a replay has it the same. A high one is refused.
func TestRemind(t *testing.T) {
	dir := t.TempDir()
	rec := open(t, dir)
	r := start(t, newScript("b1", 0), rec, nil)
	r.sweep(30, 98.3, 95.7, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Heat, On: true})
	r.sweep(20, 98.3, 95.7, sensor.Open)
	var refused *steambox.RefusedError
	err := r.Do(t.Context(), steambox.Event{ID: "long", Kind: steambox.Remind, Alarm: "water-low", Minutes: 6})
	if !errors.As(err, &refused) || refused.Why != "This alarm can be put off for 5 minutes at most." {
		t.Errorf("six minutes: %v", err)
	}
	r.tell(steambox.Event{Kind: steambox.Remind, Alarm: "water-low", Minutes: 2})
	r.sweep(60, 98.3, 95.7, sensor.Open)
	before := r.View()
	if a := before.Alarms; len(a) != 1 || a[0].State != alert.Off {
		t.Fatalf("put off: %+v", a)
	}
	r.stop()
	if err := rec.Close(); err != nil {
		t.Fatal(err)
	}

	rec = open(t, dir)
	defer rec.Close()
	r = start(t, newScript("b1", r.source.Now()), rec, nil)
	r.sweep(1, 98.3, 95.7, sensor.Open)
	if d := cmp.Diff(before.Alarms, r.View().Alarms); d != "" {
		t.Errorf("after a restart: %s", d)
	}
	left := int(before.Alarms[0].OffTillS-r.View().Status.ElapsedS) - 1
	r.sweep(left, 98.3, 95.7, sensor.Open)
	if a := r.View().Alarms[0]; a.State != alert.Off {
		t.Errorf("a moment too soon: %+v", a)
	}
	r.sweep(1, 98.3, 95.7, sensor.Open)
	lived := r.View()
	if a := lived.Alarms[0]; a.State != alert.Raised || a.Count != 2 {
		t.Errorf("two minutes on: %+v", a)
	}
	r.stop()
	s, err := rec.Session(lived.Session)
	if err != nil {
		t.Fatal(err)
	}
	f, err := daemon.FoldAll(s.Box, rec.Entries(lived.Session, 0))
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(lived.Alarms, f.Alarms.Alarms(&lived.Status)); d != "" {
		t.Errorf("replayed: %s", d)
	}
	err = f.Do(time.Hour, steambox.Event{ID: "none", Kind: steambox.Remind, Alarm: "pressure", Minutes: 1})
	if !errors.As(err, &refused) {
		t.Errorf("an alarm that is not up: %v", err)
	}
}
