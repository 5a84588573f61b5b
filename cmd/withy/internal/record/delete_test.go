package record

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"
)

// many makes sessions a day apart, all but the last finished, and returns their ids.
func many(t *testing.T, r *Record, n int) []string {
	t.Helper()
	var ids []string
	for i := range n {
		day := morning.AddDate(0, 0, i)
		id, err := r.Begin(testBox(), Clock{Boot: "boot-1"}, day)
		must(t, err)
		ids = append(ids, id)
		for k := range 400 {
			at, _, s := secondOf(k)
			must(t, r.Sample(at, day.Add(at), s))
		}
		must(t, r.flush())
		must(t, r.Snapshot(400*time.Second, make([]byte, 5<<10)))
		if i < n-1 {
			must(t, r.Finish(400*time.Second, day.Add(400*time.Second)))
		}
	}
	return ids
}

func ids(t *testing.T, r *Record) []string {
	t.Helper()
	list, err := r.Sessions()
	must(t, err)
	var all []string
	for _, s := range list {
		all = append(all, s.ID)
	}
	return all
}

// By age and by size the oldest go, and never the running one nor the one before it.
func TestPrune(t *testing.T) {
	r := open(t, t.TempDir())
	all := many(t, r, 8)
	gone, err := r.Prune(morning.AddDate(0, 0, 3), 0)
	must(t, err)
	if !slices.Equal(gone, all[:3]) || !slices.Equal(ids(t, r), all[3:]) {
		t.Errorf("by age: %q deleted, %q left", gone, ids(t, r))
	}
	size, err := r.size()
	must(t, err)
	gone, err = r.Prune(time.Time{}, size)
	if err != nil || len(gone) != 0 {
		t.Errorf("nothing to do: %q, %v", gone, err)
	}
	gone, err = r.Prune(time.Time{}, size-1)
	if err != nil || !slices.Equal(gone, all[3:4]) {
		t.Errorf("by size: %q, %v", gone, err)
	}
	gone, err = r.Prune(morning.AddDate(100, 0, 0), 1)
	if err != nil || !slices.Equal(ids(t, r), all[6:]) {
		t.Errorf("all of it: %q deleted, %q left, %v", gone, ids(t, r), err)
	}
	if last, err := r.Previous(); err != nil || last == nil || last.ID != all[7] {
		t.Errorf("previous: %+v, %v", last, err)
	}
	must(t, r.Event(time.Hour, morning, eventOf(1)))
}

// What was deleted can't be found in the files any more.
func TestDeletedIsGone(t *testing.T) {
	dir := t.TempDir()
	r := open(t, dir)
	id := begin(t, r)
	e := eventOf(1)
	e.Text = "said in confidence"
	must(t, r.Event(1, morning, e))
	must(t, r.Snapshot(1, []byte("said in confidence")))
	must(t, r.Finish(2, morning))
	begin(t, r)
	must(t, r.Delete(id))
	for _, name := range []string{filePath(dir), filePath(dir) + "-wal"} {
		text, err := os.ReadFile(name)
		if err != nil || bytes.Contains(text, []byte("confidence")) {
			t.Errorf("%s: still in it, or %v", name, err)
		}
	}
}

// A record is backed up while it is written, and the copy goes on where it was.
func TestBackup(t *testing.T) {
	dir, to := t.TempDir(), t.TempDir()
	r := open(t, dir)
	id := begin(t, r)
	lived := live(t, r, 200)
	_, err := r.Flush()
	must(t, err)
	must(t, r.Snapshot(time.Hour, []byte("state")))
	// Held by this process the record can be opened again; another program copies it, as
	// Read does.
	private, err := copyOut(filePath(dir))
	must(t, err)
	defer os.RemoveAll(private)
	must(t, Backup(private, to))
	if err := Backup(private, to); err == nil {
		t.Error("a backup was overwritten")
	}
	if info, err := os.Stat(filepath.Join(to, fileName)); err != nil || info.Mode().Perm() != 0o600 {
		t.Error(info, err)
	}
	back := open(t, to)
	same(t, collect(t, back.Entries(id, 0)), lived)
	u, err := back.Unfinished()
	must(t, err)
	if len(u.Snapshots) != 1 {
		t.Errorf("%+v", u)
	}
	must(t, back.Event(time.Hour, morning, eventOf(999)))
	if err := Backup(t.TempDir(), filepath.Join(to, "nowhere")); !errors.Is(err, ErrUnwritable) {
		t.Errorf("into a folder that isn't there: %v", err)
	}
}
