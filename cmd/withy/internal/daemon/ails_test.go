package daemon_test

import (
	"slices"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"withy/alert"
	"withy/cmd/withy/internal/daemon"
	"withy/sensor"
	"withy/steambox"
)

func isUp(r *rig, id alert.ID) bool {
	return slices.ContainsFunc(r.View().Alarms, func(a alert.Alarm) bool { return a.ID == id && a.State == alert.Raised })
}

// What ails the board is an alarm, on record, and the same in replay.
func TestBoardAils(t *testing.T) {
	var ails atomic.Pointer[[]steambox.Ailment]
	ails.Store(&[]steambox.Ailment{})
	rec := open(t, t.TempDir())
	r := start(t, newScript("b1", 0), rec, func(o *daemon.Options) {
		o.Ails = func() []steambox.Ailment { return *ails.Load() }
	})
	r.sweep(10, 98, 95, sensor.Closed)
	ails.Store(&[]steambox.Ailment{steambox.TooHot, steambox.Full})
	r.sweep(59, 98, 95, sensor.Closed)
	if isUp(r, alert.BoardHot) || isUp(r, alert.CardFull) {
		t.Errorf("before their delay: %+v", r.View().Alarms)
	}
	r.sweep(4, 98, 95, sensor.Closed)
	if !isUp(r, alert.BoardHot) || !isUp(r, alert.CardFull) {
		t.Errorf("after a minute: %+v", r.View().Alarms)
	}
	ails.Store(&[]steambox.Ailment{steambox.Full})
	r.sweep(125, 98, 95, sensor.Closed)
	if isUp(r, alert.BoardHot) || !isUp(r, alert.CardFull) {
		t.Errorf("cooler: %+v", r.View().Alarms)
	}
	lived := r.View()
	r.stop()
	s, err := rec.Session(lived.Session)
	if err != nil {
		t.Fatal(err)
	}
	f, err := daemon.FoldAll(s.Box, rec.Entries(s.ID, 0))
	if err != nil {
		t.Fatal(err)
	}
	status := f.Session.Status()
	if d := cmp.Diff(lived.Alarms, f.Alarms.Alarms(&status)); d != "" {
		t.Errorf("replayed otherwise: %s", d)
	}
	if d := cmp.Diff(lived.Status, status); d != "" {
		t.Errorf("replayed otherwise: %s", d)
	}
	if err := rec.Close(); err != nil {
		t.Error(err)
	}
}

// A record that can't be written is an alarm.
func TestNotKeptIsAnAlarm(t *testing.T) {
	rec := open(t, t.TempDir())
	r := start(t, newScript("b1", 0), rec, nil)
	defer r.stop()
	r.sweep(5, 98, 95, sensor.Closed)
	if err := rec.Close(); err != nil {
		t.Fatal(err)
	}
	r.sweep(33, 98, 95, sensor.Closed)
	if !isUp(r, alert.NotKept) || r.View().Sound.Sound != alert.Look {
		t.Errorf("alarms %+v, sound %+v", r.View().Alarms, r.View().Sound)
	}
}

// Power gone in mid-run: whoever comes back is told that nobody watched.
func TestUnwatchedIsAnAlarm(t *testing.T) {
	rec := open(t, t.TempDir())
	defer rec.Close()
	src := newScript("b1", 0)
	r := start(t, src, rec, nil)
	r.sweep(30, 98, 95, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	r.stop()
	again := newScript("b1", src.Now()+90*time.Second)
	r = start(t, again, rec, nil)
	defer r.stop()
	r.sweep(2, 98, 95, sensor.Closed)
	if !isUp(r, alert.Unwatched) {
		t.Errorf("alarms %+v", r.View().Alarms)
	}
	r.sweep(340, 98, 95, sensor.Closed)
	if isUp(r, alert.Unwatched) {
		t.Error("still said, minutes later")
	}
}
