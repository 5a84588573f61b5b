package record

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
	"time"

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
		if _, err := r.Begin(steambox.Box{Name: "box", Boat: name}, "boot", 0, time.Now()); err != nil {
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
	id, err := r.Begin(steambox.Box{Name: "box"}, "boot", 0, time.Now())
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

// A session that was deleted leaves no snapshot behind, and nothing to learn from.
func TestDeleteTakesTheSnapshot(t *testing.T) {
	r, err := Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	id, err := r.Begin(steambox.Box{Name: "box"}, "boot", 0, time.Now())
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
