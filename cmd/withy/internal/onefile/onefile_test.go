package onefile

import (
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// What a power cut left of a write goes with the file, also where a folder's name is a
// pattern, and nothing else does.
func TestRemove(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "a[b]*c?")
	name := filepath.Join(dir, "keys.json")
	if err := Write(name, []byte("whole"), 0o600); err != nil {
		t.Fatal(err)
	}
	f, err := os.CreateTemp(dir, "keys.json.") // as Write does, and no further
	if err != nil {
		t.Fatal(err)
	}
	f.Close()
	stays := []string{"keys.json.damaged", "other.json"}
	for _, name := range stays {
		if err := os.WriteFile(filepath.Join(dir, name), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for range 2 { // the second time there is nothing
		if err := Remove(name); err != nil {
			t.Error(err)
		}
	}
	left, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range left {
		names = append(names, e.Name())
	}
	if !slices.Equal(names, stays) {
		t.Errorf("left: %v", names)
	}
}
