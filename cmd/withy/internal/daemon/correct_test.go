package daemon_test

import (
	"errors"
	"os"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/view"
	"withy/sensor"
	"withy/steambox"
)

// A pull told too late is put right while the watch goes on: the rib has the heat
// of the shorter soak, and so it has after a restart from a snapshot that was taken
// before, and in a replay from the beginning.
func TestCorrectionIsKept(t *testing.T) {
	dir := t.TempDir()
	rec := open(t, dir)
	r := start(t, newScript("b1", 0), rec, nil)
	r.sweep(30, 98.3, 95.7, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	r.sweep(400, 98.4, 95.6, sensor.Closed) // over a snapshot
	r.tell(steambox.Event{Kind: steambox.Pulled, Slot: "A"})
	r.sweep(20, 98.4, 95.6, sensor.Closed)
	was := r.View()
	r.tell(steambox.Event{Kind: steambox.Amended, Of: "b1-2", EarlierS: 100})
	r.sweep(5, 98.4, 95.6, sensor.Closed)
	is := r.View()
	r.stop()
	if a, b := was.Status.Ribs[0], is.Status.Ribs[0]; a.SoakS != 400 || b.SoakS != 300 || b.Ends[0].Min > a.Ends[0].Min-1 {
		t.Errorf("soak of %g s and %.2f min, was %g s and %.2f min", b.SoakS, b.Ends[0].Min, a.SoakS, a.Ends[0].Min)
	}
	if d := cmp.Diff(is.Status, folded(t, rec, is.Session)); d != "" {
		t.Errorf("replayed: %s", d)
	}
	if err := rec.Close(); err != nil {
		t.Fatal(err)
	}
	rec = open(t, dir)
	defer rec.Close()
	r = start(t, newScript("b1", r.source.Now()), rec, nil)
	defer func() { r.stop() }()
	r.sweep(1, 98.4, 95.6, sensor.Closed)
	if got := r.View().Status.Ribs[0]; got.SoakS != 300 {
		t.Errorf("after a restart: soak of %g s", got.SoakS)
	}
}

// A correction that can't be true changes nothing and is not on record.
func TestCorrectionRefused(t *testing.T) {
	rec := open(t, t.TempDir())
	defer rec.Close()
	r := start(t, newScript("b1", 0), rec, nil)
	defer func() { r.stop() }()
	r.sweep(30, 98.3, 95.7, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	r.sweep(100, 98.4, 95.6, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Pulled, Slot: "A"})
	err := r.Do(t.Context(), steambox.Event{ID: "x", Kind: steambox.Struck, Of: "b1-1"})
	if refused := (*steambox.RefusedError)(nil); !errors.As(err, &refused) {
		t.Errorf("%v", err)
	}
	r.sweep(1, 98.4, 95.6, sensor.Closed)
	if v := r.View(); v.Status.Ribs[0].Place != steambox.Out {
		t.Errorf("%+v", v.Status.Ribs[0])
	}
	for e, err := range rec.Entries(r.View().Session, 0) {
		if err != nil || e.Event != nil && e.Event.ID == "x" {
			t.Errorf("on record: %+v, %v", e, err)
		}
	}
}

// caughtUp returns the view that has the last sweep in it: a correction publishes
// one of its own.
func (r *rig) caughtUp() *view.View {
	for {
		changed := r.Changed()
		if v := r.View(); v.Status.ElapsedS >= r.source.Now().Seconds() {
			return v
		}
		<-changed
	}
}

// Samples and events that come while the copy is folded are not lost on it.
func TestWatchGoesOnWhileCorrecting(t *testing.T) {
	rec := open(t, t.TempDir())
	defer rec.Close()
	r := start(t, newScript("b1", 0), rec, nil)
	r.sweep(30, 98.3, 95.7, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	r.sweep(250, 98.4, 95.6, sensor.Closed)
	done := make(chan error, 1)
	go func() {
		done <- r.Do(t.Context(), steambox.Event{ID: "late", Kind: steambox.Loaded, Rib: "2", Slot: "B", EarlierS: 60})
	}()
	for waiting := true; waiting; {
		r.sweep(1, 98.4, 95.6, sensor.Closed)
		select {
		case err := <-done:
			if err != nil {
				t.Fatal(err)
			}
			waiting = false
		default:
		}
	}
	r.sweep(10, 98.4, 95.6, sensor.Closed)
	v := r.caughtUp()
	r.stop()
	if in := v.Status.Slots[1]; in.Rib != "2" || time.Duration(in.InS*float64(time.Second)) < 70*time.Second {
		t.Errorf("%+v", in)
	}
	if d := cmp.Diff(v.Status, folded(t, rec, v.Session)); d != "" {
		t.Errorf("replayed: %s", d)
	}
}

// What one session learnt of its stick is where the next begins to look, and no more.
func TestNextSessionBeginsWhereThisEnded(t *testing.T) {
	dir := t.TempDir()
	rec := open(t, dir)
	r := start(t, newScript("b1", 0), rec, nil)
	guess := r.View().Status.Sticks[0]
	r.sweep(30, 98.3, 95.7, sensor.Closed)
	for _, rib := range []string{"1", "2", "3", "4"} {
		r.tell(steambox.Event{Kind: steambox.Loaded, Rib: rib, Slot: "A"})
		r.sweep(150, 98.4, 95.6, sensor.Closed)
		r.tell(steambox.Event{Kind: steambox.Pulled, Slot: "A"})
		r.tell(steambox.Event{Kind: steambox.Outcome, Rib: rib, Outcome: "supple"})
	}
	r.sweep(1, 98.4, 95.6, sensor.Closed)
	learnt := r.View()
	r.stop()
	if err := rec.Finish(time.Hour, time.Now()); err != nil {
		t.Fatal(err)
	}
	if err := rec.Close(); err != nil {
		t.Fatal(err)
	}
	rec = open(t, dir)
	defer rec.Close()
	r = start(t, newScript("b2", 0), rec, nil)
	defer func() { r.stop() }()
	next := r.View()
	if next.Session == learnt.Session {
		t.Fatal("the same session")
	}
	is, was := next.Status.Sticks[0], learnt.Status.Sticks[0]
	if !is.Guess || is.Soft.Median >= guess.Soft.Median || is.Soft.Hi <= was.Soft.Hi {
		t.Errorf("begins with %+v; ended with %+v, guessed %+v at first", is, was, guess)
	}
}

// After a kill the session is folded from a snapshot that was taken before a correction:
// the correction is made again, from the beginning.
func TestCorrectionAfterAKill(t *testing.T) {
	dir := t.TempDir()
	rec := open(t, dir)
	r := start(t, newScript("b1", 0), rec, nil)
	r.sweep(30, 98.3, 95.7, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	r.sweep(400, 98.4, 95.6, sensor.Closed) // over a snapshot
	r.tell(steambox.Event{Kind: steambox.Amended, Of: "b1-1", Rib: "2"})
	r.sweep(5, 98.4, 95.6, sensor.Closed)
	lived := r.caughtUp()
	if err := r.Flush(); err != nil {
		t.Fatal(err)
	}
	killed := t.TempDir() // what is on the disk now, without the snapshot of an orderly end
	if err := os.CopyFS(killed, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	r.stop()
	if err := rec.Close(); err != nil {
		t.Fatal(err)
	}
	rec = open(t, killed)
	defer rec.Close()
	left, err := rec.Unfinished()
	if err != nil {
		t.Fatal(err)
	}
	if len(left.Snapshots) == 0 || left.Snapshots[0].At.Seconds() > lived.Status.ElapsedS-10 {
		t.Fatalf("no snapshot from before the correction: %+v", left.Snapshots)
	}
	fold, err := daemon.FoldRecord(rec, left)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(lived.Status, fold.Session.Status()); d != "" {
		t.Errorf("lived (-), folded (+): %s", d)
	}
}

// With a record that fails nothing can be put right, and what counted though it could
// not be kept goes on counting.
func TestCorrectionWithoutTheRecord(t *testing.T) {
	dir := t.TempDir()
	rec := open(t, dir)
	r := start(t, newScript("b1", 0), rec, nil)
	defer func() { r.stop() }()
	r.sweep(30, 98.3, 95.7, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	r.sweep(300, 98.4, 95.6, sensor.Closed)
	if err := rec.Close(); err != nil {
		t.Fatal(err)
	}
	if err := r.Do(t.Context(), steambox.Event{ID: "lost", Kind: steambox.Pulled, Slot: "A"}); !errors.Is(err, daemon.ErrNotKept) {
		t.Fatalf("%v", err)
	}
	err := r.Do(t.Context(), steambox.Event{ID: "x", Kind: steambox.Amended, Of: "b1-1", Rib: "2"})
	if refused := (*steambox.RefusedError)(nil); !errors.As(err, &refused) {
		t.Errorf("corrected without a record: %v", err)
	}
	r.sweep(1, 98.4, 95.6, sensor.Closed)
	if v := r.View(); v.Status.Ribs[0].Place != steambox.Out {
		t.Errorf("%+v", v.Status.Ribs[0])
	}
}
