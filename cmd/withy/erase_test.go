package main

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"withy/cmd/withy/internal/calibration"
	"withy/cmd/withy/internal/door"
	"withy/steambox"
)

// After one action nothing that anybody told, set or paired is in the data folder.
func TestErase(t *testing.T) {
	data := t.TempDir()
	p := setBox(t, data)
	way, err := door.Open(data)
	if err != nil {
		t.Fatal(err)
	}
	p.door = way
	token, err := way.Let("phone of nobody", door.Crew)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := door.Own(data, []string{"nobody.lan"}); err != nil {
		t.Fatal(err)
	}
	if err := p.Set(t.Context(), "a", map[string]any{"boat.name": "boat of nobody"}); err != nil {
		t.Fatal(err)
	}
	if _, err := calibration.Save(data, calibration.Record{Steps: []calibration.Lag{{ID: "28-000000000001", TauS: 5}}}, time.Now()); err != nil {
		t.Fatal(err)
	}
	for i, name := range []string{setFile, "keys.json", "page.pem", "calibration"} {
		if _, err := os.Stat(filepath.Join(data, name)); err != nil {
			t.Fatal(i, err)
		}
	}
	// What writes that a power cut ended, and mending, leave behind.
	for _, name := range []string{setFile + ".1234", goodFile + ".99", "keys.json.5", "page.pem.7", "keys.json.damaged", "record.db.damaged-1", "record.db.mending"} {
		if err := os.WriteFile(filepath.Join(data, name), []byte("nobody"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	was := p.daemon.View().Session
	if err := p.Erase(t.Context()); err != nil {
		t.Fatal(err)
	}
	v := p.daemon.View()
	for end := time.Now().Add(10 * time.Second); v.Session == "" && time.Now().Before(end); v = p.daemon.View() {
		<-p.daemon.Changed() // its name comes with its beginning on record, which a slow card may hold up
	}
	if v.Box.Boat != p.base.Boat || v.Session == "" || v.Session != was && !strings.HasSuffix(v.Session, "-1") {
		t.Errorf("it goes on as %q with %q", v.Session, v.Box.Boat)
	}
	if _, ok := way.Knows(token); ok {
		t.Error("the phone is still let in")
	}
	err = filepath.WalkDir(data, func(name string, entry os.DirEntry, err error) error {
		if err != nil || entry.IsDir() || !entry.Type().IsRegular() {
			return err
		}
		if !slices.Contains([]string{"record.db", "record.db-wal", "record.db-shm"}, entry.Name()) {
			t.Errorf("%s is left", name)
		}
		text, err := os.ReadFile(name)
		if bytes.Contains(text, []byte("nobody")) {
			t.Errorf("%s still holds what was told", name)
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
	if err := p.Set(t.Context(), "a", map[string]any{"boat.name": "next boat"}); err != nil {
		t.Errorf("nothing can be set afterwards: %v", err)
	}
}

// A rib in the box is worth more than any wish to erase.
func TestEraseWaitsForTheBox(t *testing.T) {
	p := setBox(t, t.TempDir())
	if err := p.daemon.Do(t.Context(), steambox.Event{ID: "1", Kind: steambox.Loaded, Rib: "1", Slot: "A"}); err != nil {
		t.Fatal(err)
	}
	before := p.daemon.View().Session
	if err := p.Erase(t.Context()); !errors.As(err, new(*steambox.RefusedError)) || p.daemon.View().Session != before {
		t.Errorf("%v", err)
	}
}
