package record

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	sqlite3 "modernc.org/sqlite/lib"

	"withy/steambox"
)

// Nothing of what was told is left in any file of the folder, and the record goes on.
func TestErase(t *testing.T) {
	dir := t.TempDir()
	r, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	const name = "a name that nobody may find"
	for n := range 3 {
		if _, err := r.Begin(steambox.Box{Name: "box", Boat: name}, Clock{Boot: "boot"}, time.Now()); err != nil {
			t.Fatal(err)
		}
		for i := range 40 {
			at := time.Duration(i) * time.Second
			if err := r.Sample(at, time.Now(), steambox.Sample{}); err != nil {
				t.Fatal(err)
			}
			if err := r.Event(at, time.Now(), steambox.Event{ID: name, Kind: steambox.Loaded, Rib: name, Slot: "A"}); err != nil {
				t.Fatal(err)
			}
		}
		if err := r.Snapshot(40*time.Second, []byte(name)); err != nil {
			t.Fatal(err)
		}
		if n == 1 {
			if err := r.Finish(41*time.Second, time.Now()); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := os.WriteFile(filepath.Join(dir, fileName+".damaged-1"), []byte(name), 0o600); err != nil {
		t.Fatal(err)
	}
	if found := holding(t, dir, name); len(found) < 2 {
		t.Fatal("it was never there")
	}
	if err := r.Erase(); err != nil {
		t.Fatal(err)
	}
	if found := holding(t, dir, name); len(found) != 0 {
		t.Errorf("still in %v", found)
	}
	if all, err := r.Sessions(); err != nil || len(all) != 0 {
		t.Errorf("sessions left: %v %v", all, err)
	}
	if last, err := r.Previous(); err != nil || last != nil {
		t.Errorf("something to learn from is left: %v %v", last, err)
	}
	if err := r.Sample(0, time.Now(), steambox.Sample{}); err == nil {
		t.Error("a sample was taken for no session")
	}
	id, err := r.Begin(steambox.Box{Name: "box"}, Clock{Boot: "boot"}, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Event(time.Second, time.Now(), steambox.Event{ID: "1", Kind: steambox.Break}); err != nil {
		t.Fatal(err)
	}
	events := 0
	for e, err := range r.Entries(id, 0) {
		if err != nil {
			t.Fatal(err)
		}
		if e.Event != nil {
			events++
		}
	}
	if events != 1 {
		t.Errorf("%d events in the session after it", events)
	}
}

// Whatever fails while all is erased, either all is as it was or nothing is on record any
// more, and a session can be begun.
func TestEraseFails(t *testing.T) {
	useFailing(t)
	whole, gone := 0, 0
	for n := 1; ; n++ {
		dir := t.TempDir()
		r := open(t, dir)
		id := begin(t, r)
		for k := range 300 {
			must(t, r.Event(time.Duration(k), morning, steambox.Event{ID: fmt.Sprint(k), Kind: steambox.Note, Text: string(make([]byte, 500))}))
		}
		failures(n, false, false, sqlite3.SQLITE_FULL)
		err := r.Erase()
		failures(0, false, false, 0)
		all, listed := r.Sessions()
		switch {
		case listed != nil:
			t.Fatal(listed)
		case err == nil || errors.Is(err, ErrRemains):
			gone++
			if len(all) != 0 {
				t.Errorf("call %d: %v, and still there are %v", n, err, all)
			}
			begin(t, r)
		default:
			whole++
			refused(t, err, ErrUnwritable, r.path)
			if len(all) != 1 || all[0].ID != id {
				t.Errorf("call %d: %v, and there are %v", n, err, all)
			}
			must(t, r.Event(time.Second, morning, steambox.Event{ID: "on", Kind: steambox.Note, Text: "it goes on"}))
		}
		must(t, r.Erase())
		must(t, r.Close())
		if err == nil {
			break
		}
	}
	t.Logf("all as it was %d times, nothing left %d times", whole, gone)
	if whole == 0 || gone < 2 {
		t.Error("not both were tried")
	}
}

// Whoever reads keeps the bytes in the write-ahead file, and that is said.
func TestEraseWhileRead(t *testing.T) {
	dir := t.TempDir()
	r := open(t, dir)
	defer r.Close()
	begin(t, r)
	_, err := r.db.Exec(`PRAGMA busy_timeout = 50`) // whoever asks waits long enough in life
	must(t, err)
	tx, err := r.reads.Begin()
	must(t, err)
	var n int
	must(t, tx.QueryRow(`SELECT count(*) FROM entry`).Scan(&n))
	if err := r.Erase(); !errors.Is(err, ErrRemains) {
		t.Errorf("while somebody reads: %v", err)
	}
	must(t, tx.Rollback())
	must(t, r.Erase())
	if info, err := os.Stat(r.path + "-wal"); err != nil || info.Size() != 0 {
		t.Errorf("write-ahead file: %v, %v", info, err)
	}
}

// A session that was deleted leaves no snapshot behind, and nothing to learn from.
func TestDeleteTakesTheSnapshot(t *testing.T) {
	r, err := Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	id, err := r.Begin(steambox.Box{Name: "box"}, Clock{Boot: "boot"}, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Snapshot(time.Second, []byte("state")); err != nil {
		t.Fatal(err)
	}
	if err := r.Finish(2*time.Second, time.Now()); err != nil {
		t.Fatal(err)
	}
	if err := r.Delete(id); err != nil {
		t.Fatal(err)
	}
	if last, err := r.Previous(); err != nil || last != nil {
		t.Errorf("%v %v", last, err)
	}
}

func holding(t *testing.T, dir, text string) (found []string) {
	t.Helper()
	files, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		b, err := os.ReadFile(filepath.Join(dir, f.Name()))
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Contains(b, []byte(text)) {
			found = append(found, f.Name())
		}
	}
	return found
}
