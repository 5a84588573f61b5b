package daemon_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"withy/alert"
	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/record"
	"withy/cmd/withy/internal/view"
	"withy/sensor"
	"withy/steambox"
)

// fillable is a small disk that can be filled up and cleared again.
func fillable(t *testing.T) (dir string, fill, clear func()) {
	t.Helper()
	dir = t.TempDir()
	if err := syscall.Mount("withy", dir, "tmpfs", 0, "size=1m"); err != nil {
		t.Skip("can't make a small disk, needs root:", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	ballast := filepath.Join(dir, "ballast")
	fill = func() {
		f, err := os.Create(ballast)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		for err == nil {
			_, err = f.Write(make([]byte, 512))
		}
		if !errors.Is(err, syscall.ENOSPC) {
			t.Fatal(err)
		}
	}
	clear = func() {
		if err := os.Remove(ballast); err != nil {
			t.Fatal(err)
		}
	}
	return dir, fill, clear
}

// logLost returns the state of the alarm over the log, "" if it isn't up.
func (r *rig) logLost() alert.State {
	alarms := r.View().Alarms
	i := slices.IndexFunc(alarms, func(a alert.Alarm) bool { return a.ID == alert.NotKept })
	if i < 0 {
		return ""
	}
	return alarms[i].State
}

// The disk is full when a session begins, fills up in the middle of it, and is cleared
// each time: the watch goes on, an alarm says so and sounds, what is told meanwhile is
// answered as not kept and counts; and then all of it is on record after all, from the
// first sample, and folds to what was lived.
func TestFullDisk(t *testing.T) {
	dir, fill, clear := fillable(t)
	rec := open(t, dir)
	fill()
	r := start(t, newScript("b1", 0), rec, nil)
	lost := func(e steambox.Event) {
		t.Helper()
		if err := r.Do(t.Context(), e); !errors.Is(err, daemon.ErrNotKept) {
			t.Errorf("%s: %v", e.ID, err)
		}
	}
	r.sweep(30, 98.3, 95.7, sensor.Closed)
	if v := r.View(); r.logLost() != alert.Raised || len(v.Troubles) != 1 || v.Session != "" || v.Sound.Sound != alert.Look {
		t.Errorf("full: session %q, alarms %+v, troubles %q, sound %+v", v.Session, v.Alarms, v.Troubles, v.Sound)
	}
	in := steambox.Event{ID: "in", Kind: steambox.Loaded, Rib: "1", Slot: "A"}
	lost(in)
	lost(in) // told again it counts once and is still not kept
	clear()
	if err := r.Do(t.Context(), in); err != nil {
		t.Error("told again with room on the disk:", err)
	}
	r.sweep(40, 98.3, 95.7, sensor.Closed)
	v := r.View()
	if r.logLost() != alert.Cleared || len(v.Troubles) != 0 || v.Session == "" {
		t.Errorf("cleared: session %q, alarms %+v, troubles %q", v.Session, v.Alarms, v.Troubles)
	}
	fill()
	for range 40 { // some still fits into what its files have
		if r.sweep(15, 98.3, 95.7, sensor.Closed); r.logLost() == alert.Raised {
			break
		}
	}
	lost(steambox.Event{ID: "out", Kind: steambox.Pulled, Slot: "A"})
	r.sweep(15, 98.3, 95.7, sensor.Closed)
	if r.logLost() != alert.Raised {
		t.Errorf("full again: %+v", r.View().Alarms)
	}
	clear()
	r.tell(steambox.Event{Kind: steambox.Outcome, Rib: "1", Outcome: "supple"})
	r.sweep(10, 98.3, 95.7, sensor.Closed)
	lived := r.View()
	r.stop()
	if d := cmp.Diff(lived.Status, folded(t, rec, lived.Session)); d != "" {
		t.Error(d)
	}
	if err := rec.Close(); err != nil {
		t.Error(err)
	}
}

// No disk at all, from the start: everything but the past is there, with an alarm.
func TestNoDisk(t *testing.T) {
	r := start(t, newScript("b1", 0), nil, func(o *daemon.Options) { o.Unkept, o.Troubles = true, []string{"No log is kept."} })
	defer r.stop()
	r.sweep(12, 98, 95, sensor.Closed)
	if err := r.Do(t.Context(), steambox.Event{ID: "in", Kind: steambox.Loaded, Rib: "1", Slot: "A"}); !errors.Is(err, daemon.ErrNotKept) {
		t.Errorf("told done though nothing is kept: %v", err)
	}
	r.sweep(60, 98, 95, sensor.Closed)
	v := r.View()
	if r.logLost() != alert.Raised || v.Status.Slots[0].Rib != "1" || v.Status.Slots[0].Ends[0].HiMin == 0 || r.Healthy() != nil {
		t.Errorf("alarms %+v, slot %+v", v.Alarms, v.Status.Slots[0])
	}
	if a, err := r.Press(t.Context(), view.PressKettle, "key"); !errors.Is(err, daemon.ErrNotKept) {
		t.Errorf("pressed, %q though nothing is kept: %v", a.Says, err)
	}
}

// A backup that is made while the daemon runs is a record that another daemon goes on
// with: the same session, with the rib in its slot.
func TestBackupGoesOn(t *testing.T) {
	dir, to := t.TempDir(), t.TempDir()
	rec := open(t, dir)
	r := start(t, newScript("b1", 0), rec, nil)
	r.sweep(20, 98, 95, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	if err := record.Backup(dir, to); err != nil {
		t.Fatal(err)
	}
	r.sweep(20, 98, 95, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Pulled, Slot: "A"})
	session := r.View().Session
	r.stop()
	if err := rec.Close(); err != nil {
		t.Error(err)
	}
	rec = open(t, to)
	defer rec.Close()
	r = start(t, newScript("b1", 30*time.Second), rec, nil)
	defer func() { r.stop() }()
	r.sweep(1, 98, 95, sensor.Closed)
	if v := r.View(); v.Session != session || v.Status.Slots[0].Rib != "1" {
		t.Errorf("session %s, slot %+v", v.Session, v.Status.Slots[0])
	}
}

// The disk is mounted read-only under the record that is open, and writable again.
func TestReadOnlyRemount(t *testing.T) {
	dir, _, _ := fillable(t)
	rec := open(t, dir)
	r := start(t, newScript("b1", 0), rec, nil)
	r.sweep(5, 98, 95, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	// Files that are open for writing keep a disk from going read-only, as the kernel does
	// on an error of the card; so the record is closed behind the daemon's back first.
	if err := rec.Close(); err != nil {
		t.Fatal(err)
	}
	remount := func(flags uintptr) {
		t.Helper()
		if err := syscall.Mount("", dir, "", syscall.MS_REMOUNT|flags, ""); err != nil {
			t.Fatal(err)
		}
	}
	remount(syscall.MS_RDONLY)
	r.sweep(20, 98, 95, sensor.Closed)
	if r.logLost() != alert.Raised || r.View().Status.Slots[0].Rib != "1" {
		t.Errorf("%+v", r.View())
	}
	r.stop()
	if _, err := record.Open(dir); !errors.Is(err, record.ErrUnwritable) {
		t.Errorf("opened on a read-only disk: %v", err)
	}
	remount(0)
	rec = open(t, dir)
	defer rec.Close()
	if left, err := rec.Unfinished(); err != nil || left == nil || left.Seq < 7 {
		t.Errorf("%+v, %v", left, err)
	}
}

// The supervisor hears of a sweep once it is folded and published, and of nothing else:
// a source that never answers is silence.
func TestSwept(t *testing.T) {
	swept := make(chan uint64, 10)
	var r *rig
	r = start(t, newScript("b1", 0), nil, func(o *daemon.Options) { o.Swept = func() { swept <- r.View().Seq } })
	defer r.stop()
	r.tell(steambox.Event{Kind: steambox.Note, Text: "nobody is looking"})
	select {
	case <-swept:
		t.Error("told of a sweep that there was not")
	case <-time.After(50 * time.Millisecond):
	}
	for range 3 {
		before := r.View().Seq
		r.sweep(1, 98, 95, sensor.Closed)
		if seq := <-swept; seq <= before {
			t.Errorf("view %d after %d", seq, before)
		}
	}
}

// untilWritten sweeps, not faster than a card can write, until the log is well.
func (r *rig) untilWritten() {
	r.t.Helper()
	for deadline := time.Now().Add(30 * time.Second); len(r.View().Troubles) > 0; {
		if time.Now().After(deadline) {
			r.t.Fatalf("the card answers again, and still: %v", r.View().Troubles)
		}
		time.Sleep(20 * time.Millisecond)
		r.sweep(1, 98, 95, sensor.Closed)
	}
}

// A card that doesn't answer: what is told counts at once and is answered as not kept, the
// watch goes on, nothing can be put right meanwhile; and once it answers, all is on record,
// once and in order.
func TestRecordHangs(t *testing.T) {
	rec := open(t, t.TempDir())
	r := start(t, newScript("b1", 0), rec, nil)
	r.sweep(30, 98, 95, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	answers := make(chan struct{})
	r.HangRecord(answers)
	told := make(chan error, 3)
	for i, e := range []steambox.Event{
		{ID: "hung-0", Kind: steambox.Loaded, Rib: "2", Slot: "B"},
		{ID: "hung-1", Kind: steambox.Loaded, Rib: "3", Slot: "C"},
		{ID: "hung-2", Kind: steambox.Pulled, Slot: "A"},
	} {
		before := r.Changed()
		go func() { told <- r.Do(t.Context(), e) }()
		select {
		case <-before:
		case <-time.After(time.Second):
			t.Errorf("event %d does not count", i)
		}
	}
	for range 3 {
		if err := <-told; !errors.Is(err, daemon.ErrNotKept) {
			t.Errorf("answered with %v", err)
		}
	}
	r.sweep(310, 98, 95, sensor.Closed) // a snapshot falls due
	var refused *steambox.RefusedError
	if err := r.Do(t.Context(), steambox.Event{ID: "fix", Kind: steambox.Struck, Of: "hung-2"}); !errors.As(err, &refused) {
		t.Errorf("put right meanwhile: %v", err)
	}
	if v := r.View(); v.Status.Slots[0].Rib != "" || v.Status.Slots[1].Rib != "2" || len(v.Troubles) != 1 {
		t.Errorf("slots %+v, troubles %v", v.Status.Slots, v.Troubles)
	}
	close(answers)
	r.untilWritten()
	if err := r.Do(t.Context(), steambox.Event{ID: "fix", Kind: steambox.Struck, Of: "hung-2"}); err != nil {
		t.Errorf("put right: %v", err)
	}
	lived := r.View()
	if lived.Status.Slots[0].Rib != "1" {
		t.Errorf("put right: %+v", lived.Status.Slots[0])
	}
	r.stop()
	if _, err := rec.Flush(); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(lived.Status, folded(t, rec, lived.Session)); d != "" {
		t.Errorf("replayed otherwise: %s", d)
	}
	counts := map[string]int{}
	for e, err := range rec.Entries(lived.Session, 0) {
		if err != nil {
			t.Fatal(err)
		}
		if e.Event != nil && e.Event.Kind != steambox.Board {
			counts[e.Event.ID]++
		}
	}
	if d := cmp.Diff(map[string]int{"b1-1": 1, "hung-0": 1, "hung-1": 1, "hung-2": 1, "fix": 1}, counts); d != "" {
		t.Errorf("on record: %s", d)
	}
	if err := rec.Close(); err != nil {
		t.Error(err)
	}
}

// A card that doesn't answer for hours, with so much told that it can't wait any more: what
// is not taken doesn't count, and is taken when it is told again. All that counted is on record.
func TestTooMuchWaits(t *testing.T) {
	rec := open(t, t.TempDir())
	defer rec.Close()
	r := start(t, newScript("b1", 0), rec, nil)
	defer r.stop()
	r.sweep(30, 98, 95, sensor.Closed)
	answers := make(chan struct{})
	r.HangRecord(answers)
	note := func(k int) steambox.Event {
		return steambox.Event{ID: fmt.Sprint("note-", k), Kind: steambox.Note, Text: "again and again"}
	}
	want := map[string]int{}
	var refused int
	for k := 0; ; k++ {
		before := r.Changed()
		told := make(chan error, 1)
		go func() { told <- r.Do(t.Context(), note(k)) }()
		select {
		case <-before:
			want[note(k).ID] = 1
			continue
		case err := <-told:
			if err == nil || errors.Is(err, daemon.ErrNotKept) {
				t.Fatalf("note %d: %v", k, err)
			}
		}
		refused = k
		break
	}
	if refused < 5000 {
		t.Errorf("after %d events the next is not taken", refused)
	}
	close(answers)
	r.untilWritten()
	if err := r.Do(t.Context(), note(refused)); err != nil {
		t.Error("told again:", err)
	}
	want[note(refused).ID] = 1
	counts := map[string]int{}
	for e, err := range rec.Entries(r.View().Session, 0) {
		if err != nil {
			t.Fatal(err)
		}
		if e.Event != nil && e.Event.Kind == steambox.Note {
			counts[e.Event.ID]++
		}
	}
	if d := cmp.Diff(want, counts); d != "" {
		t.Errorf("on record: %s", d)
	}
}

// A session ends and the next begins while the card doesn't answer: the watch waits for
// neither, and both are on record once it does.
func TestEndsWhileRecordHangs(t *testing.T) {
	rec := open(t, t.TempDir())
	defer rec.Close()
	r := start(t, newScript("b1", 0), rec, nil)
	defer r.stop()
	r.sweep(1900, 98, 95, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	r.sweep(300, 98, 95, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Pulled, Slot: "A"})
	first := r.View().Session
	cold := func() {
		r.source.pass(4 * time.Second)
		r.sweep(1, 20, 20, sensor.Closed)
	}
	for r.View().Status.ElapsedS < (5*time.Hour + 50*time.Minute).Seconds() {
		cold()
	}
	answers := make(chan struct{})
	answer := sync.OnceFunc(func() { close(answers) })
	defer answer()
	r.HangRecord(answers)
	for n := 0; r.View().Status.ElapsedS > time.Hour.Seconds(); n++ {
		if n > 1000 {
			t.Fatalf("it does not end: %.0f s, %s", r.View().Status.ElapsedS, r.View().Status.Phase)
		}
		cold()
	}
	r.sweep(20, 20, 20, sensor.Closed)
	if v := r.View(); v.Session != "" || len(v.Status.Ribs) == 0 || v.Status.Ribs[0].Place != steambox.Waiting {
		t.Errorf("session %q, ribs %+v", v.Session, v.Status.Ribs)
	}
	answer()
	if err := r.Flush(); err != nil {
		t.Fatal(err)
	}
	r.untilWritten()
	r.tell(steambox.Event{Kind: steambox.Note, Text: "written behind all that waited"})
	r.sweep(1, 20, 20, sensor.Closed)
	list, err := rec.Sessions()
	if err != nil {
		t.Fatal(err)
	}
	if second := r.View().Session; second == "" || second == first || len(list) != 2 || !list[0].Finished && !list[1].Finished {
		t.Errorf("session %q after %q, on record %+v", second, first, list)
	}
}

// A card that is only slow: whoever told something is answered well, once it is written.
func TestRecordIsSlow(t *testing.T) {
	rec := open(t, t.TempDir())
	defer rec.Close()
	r := start(t, newScript("b1", 0), rec, nil)
	defer r.stop()
	r.sweep(30, 98, 95, sensor.Closed)
	answers := make(chan struct{})
	r.HangRecord(answers)
	var told []chan error
	for range 2 { // told, and told again
		answer := make(chan error, 1)
		go func() {
			answer <- r.Do(t.Context(), steambox.Event{ID: "slow", Kind: steambox.Loaded, Rib: "1", Slot: "A"})
		}()
		select {
		case err := <-answer:
			t.Fatalf("answered before it was written: %v", err)
		case <-time.After(400 * time.Millisecond):
		}
		told = append(told, answer)
	}
	r.sweep(2, 98, 95, sensor.Closed)
	close(answers)
	for _, answer := range told {
		if err := <-answer; err != nil {
			t.Error(err)
		}
	}
	r.sweep(2, 98, 95, sensor.Closed)
	if v := r.View(); v.Status.Slots[0].Rib != "1" || len(v.Troubles) > 0 {
		t.Errorf("slot %+v, troubles %v", v.Status.Slots[0], v.Troubles)
	}
}
