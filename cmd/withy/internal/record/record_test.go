package record

import (
	"bytes"
	"errors"
	"math"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"withy/steambox"
)

func TestEntriesAsHandedIn(t *testing.T) {
	dir := t.TempDir()
	r := open(t, dir)
	id := begin(t, r)
	lived := live(t, r, 1234)
	must(t, r.flush())
	same(t, collect(t, r.Entries(id, 0)), lived)
	for _, after := range []int64{1, 2, 7, 8, 11, 500, int64(len(lived)) - 1, int64(len(lived)), 1 << 33} {
		got := collect(t, r.Entries(id, after))
		same(t, append([]Entry{}, got...), append([]Entry{}, lived[min(after, int64(len(lived))):]...))
	}
	must(t, r.Close())

	r = open(t, dir)
	same(t, collect(t, r.Entries(id, 0)), lived)
	for _, err := range r.Entries("1999-01-01-1", 0) {
		if !errors.Is(err, ErrUnknown) {
			t.Error(err)
		}
	}
}

// Reading while it is written, one reader inside the other: neither waits.
func TestEntriesWithinEntries(t *testing.T) {
	r := open(t, t.TempDir())
	id := begin(t, r)
	live(t, r, 700)
	seen := 0
	for _, err := range r.Entries(id, 0) {
		must(t, err)
		if seen++; seen%200 == 0 {
			_, err := r.Trace(id, 0, math.Inf(1), 100)
			must(t, err)
			must(t, r.Event(700*time.Second, morning, eventOf(seen)))
			_, err = r.Sessions()
			must(t, err)
		}
	}
	if seen < 700 {
		t.Error("only", seen, "entries")
	}
}

func TestUnfinished(t *testing.T) {
	dir := t.TempDir()
	r := open(t, dir)
	if u, err := r.Unfinished(); u != nil || err != nil {
		t.Fatal("of an empty record:", u, err)
	}
	id := begin(t, r)
	live(t, r, 25)
	for i := range 4 {
		at, wall, s := secondOf(30 + i)
		must(t, r.Sample(at, wall, s))
		must(t, r.Snapshot(at, bytes.Repeat([]byte{byte(i)}, 40<<10)))
	}
	must(t, r.Moved(Clock{Boot: "boot-2", Origin: -time.Second, Undated: true}, morning.Add(time.Hour)))
	at, wall, s := secondOf(40)
	must(t, r.Sample(at, wall, s))
	must(t, r.Close())

	r = open(t, dir)
	u, err := r.Unfinished()
	must(t, err)
	same(t, u.Session, Session{ID: id, Began: morning, Box: testBox()})
	same(t, u.Clock, Clock{Boot: "boot-2", Origin: -time.Second, Undated: true})
	all := collect(t, r.Entries(id, 0))
	last := all[len(all)-1]
	if u.Seq != last.Seq || u.At != at || !u.Wall.Equal(wall) || last.At != at {
		t.Errorf("last entry %d at %v, %v; want %d at %v, %v", u.Seq, u.At, u.Wall, last.Seq, at, wall)
	}
	if len(u.Snapshots) != 2 {
		t.Fatalf("%d snapshots", len(u.Snapshots))
	}
	for i, shot := range u.Snapshots {
		k := 33 - i
		at, _, _ := secondOf(k)
		if shot.At != at || shot.State[0] != byte(3-i) || len(shot.State) != 40<<10 {
			t.Errorf("snapshot %d: at %v, byte %d", i, shot.At, shot.State[0])
		}
		if next := collect(t, r.Entries(id, shot.Seq)); all[shot.Seq-1].At != at || next[0].Seq != shot.Seq+1 {
			t.Errorf("snapshot %d goes on at %d", i, next[0].Seq)
		}
	}
	must(t, r.Event(at, wall, eventOf(1)))
	must(t, r.Finish(at, wall))
	if u, err := r.Unfinished(); u != nil || err != nil {
		t.Error("of a finished session:", u, err)
	}
	if err := r.Sample(at, wall, s); !errors.Is(err, ErrIdle) {
		t.Error("sample after the end:", err)
	}
	if err := r.Event(at, wall, eventOf(2)); !errors.Is(err, ErrIdle) {
		t.Error("event after the end:", err)
	}
}

// A snapshot that rotted is no snapshot; the one before it serves.
func TestDamagedSnapshot(t *testing.T) {
	r := open(t, t.TempDir())
	begin(t, r)
	must(t, r.Snapshot(1, []byte("older")))
	must(t, r.Event(2, morning, eventOf(1)))
	must(t, r.Snapshot(3, []byte("newer")))
	_, err := r.db.Exec(`UPDATE snapshot SET state = CAST(replace(state, 'newer', 'never') AS BLOB) WHERE at = 3`)
	must(t, err)
	u, err := r.Unfinished()
	must(t, err)
	if len(u.Snapshots) != 1 || string(u.Snapshots[0].State) != "older" {
		t.Errorf("%+v", u.Snapshots)
	}
}

func TestSessions(t *testing.T) {
	dir := t.TempDir()
	r := open(t, dir)
	var ids []string
	for range 11 {
		ids = append(ids, begin(t, r)) // ends the one before
		live(t, r, 30)
	}
	if ids[0] != "2026-11-25-1" || ids[10] != "2026-11-25-11" {
		t.Fatal(ids)
	}
	for rib, outcomes := range map[string][]string{"1": {"supple"}, "2": {"stiff", "supple"}, "3": {"cracked"}, "4": {"stiff"}} {
		for _, o := range outcomes {
			must(t, r.Event(time.Minute, morning, steambox.Event{ID: rib + o, Kind: steambox.Outcome, Rib: rib, Outcome: o}))
		}
	}
	list, err := r.Sessions()
	must(t, err)
	last := list[10]
	if last.Supple != 2 || last.Cracked != 1 || last.Stiff != 1 || last.Lasted != time.Minute || last.Finished ||
		last.Boat != testBox().Boat || last.Box != "long box" || last.ID != ids[10] || last.Bytes < 300 || !last.Began.Equal(morning) {
		t.Errorf("%+v", last)
	}
	at, _, _ := secondOf(29)
	if first := list[0]; !first.Finished || first.Lasted != at {
		t.Errorf("%+v; want it ended at %v", first, at)
	}

	if err := r.Delete(ids[10]); !errors.Is(err, ErrRunning) {
		t.Error("delete the one that runs:", err)
	}
	must(t, r.Delete(ids[4]))
	if err := r.Delete(ids[4]); !errors.Is(err, ErrUnknown) {
		t.Error("delete it again:", err)
	}
	must(t, r.Finish(time.Hour, morning))
	must(t, r.Delete(ids[10]))
	list, err = r.Sessions()
	must(t, err)
	if len(list) != 9 || slices.ContainsFunc(list, func(s Summary) bool { return s.ID == ids[4] }) {
		t.Errorf("%d sessions left", len(list))
	}
	if n := len(collect(t, r.Entries(ids[5], 0))); n != 33 {
		t.Errorf("%d entries in the session after the deleted one", n)
	}
}

// Samples that come slowly are written before they are ten seconds old. The queue
// alone is tried: a file would keep the bubble's time from moving.
func TestSlowSamplesAreNotKeptWaiting(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var q queue
		q.init()
		q.record()
		began := time.Now()
		for k := range 3 {
			at, wall, s := secondOf(k)
			must(t, q.add(at, wall, s))
			time.Sleep(3 * time.Second)
		}
		<-q.wake
		if d := time.Since(began); d != batchAge {
			t.Error("woken after", d)
		}
		if b := q.take(); len(b) != 1 || b[0].n != 3 {
			t.Errorf("%+v", b)
		}
		q.stop()
	})
}

func TestCloseWritesWhatIsPending(t *testing.T) {
	dir := t.TempDir()
	r := open(t, dir)
	id := begin(t, r)
	lived := live(t, r, 3)
	must(t, r.Close())
	must(t, r.Close())
	if err := r.Sample(0, morning, steambox.Sample{}); !errors.Is(err, ErrIdle) {
		t.Error("sample after Close:", err)
	}
	same(t, collect(t, open(t, dir).Entries(id, 0)), lived)
}

func TestWallTimesThatDoNotFit(t *testing.T) {
	r := open(t, t.TempDir())
	id := begin(t, r)
	must(t, r.Event(0, time.Time{}, eventOf(1)))
	must(t, r.Event(0, time.Date(9000, 1, 1, 0, 0, 0, 0, time.UTC), eventOf(2)))
	for _, e := range collect(t, r.Entries(id, 1)) {
		if e.Wall.Unix() != 0 {
			t.Error(e.Wall)
		}
	}
}
