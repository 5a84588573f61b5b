package main

import (
	"bytes"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"withy/cmd/withy/internal/record"
	"withy/steambox"
)

// The daemon starts with whatever lies in the data folder, and says in plain words what
// became of it.
func TestOpenRecord(t *testing.T) {
	for _, c := range []struct {
		name string
		file []byte
		says []string
		none bool // no record at all
	}{
		{"nothing", nil, nil, false},
		{"empty", []byte{}, []string{"The log was damaged: nothing in it could be read, and a new one was begun.", "record.db.damaged-1"}, false},
		{"nonsense", []byte("this is no log, and too long to be taken for an empty one"), []string{"nothing in it could be read", "record.db.damaged-1 in the data folder"}, false},
		{"half", half(t), []string{"one session could be read", "record.db.damaged-1"}, false},
		{"newer", newer(t), []string{"No log is kept: it was written by a newer version of this program. Nothing in it was changed."}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			path := filepath.Join(dir, "record.db")
			if c.file != nil {
				if err := os.WriteFile(path, c.file, 0o600); err != nil {
					t.Fatal(err)
				}
			}
			rec, said := openRecord(dir, slog.New(slog.DiscardHandler))
			if (rec == nil) != c.none {
				t.Fatalf("record %v, said %q", rec, said)
			}
			for _, want := range c.says {
				if len(said) != 1 || !strings.Contains(said[0], want) {
					t.Errorf("said %q, want %q", said, want)
				}
			}
			if len(c.says) == 0 && len(said) > 0 {
				t.Errorf("said %q", said)
			}
			if rec == nil {
				if now, err := os.ReadFile(path); err != nil || !bytes.Equal(now, c.file) {
					t.Error("it was changed:", err)
				}
				return
			}
			if _, err := rec.Begin(steambox.DefaultBox(), record.Clock{Boot: "boot"}, time.Now()); err != nil {
				t.Error(err)
			}
			if err := rec.Close(); err != nil {
				t.Error(err)
			}
		})
	}
}

// lived is the file of a record with one session in it.
func lived(t *testing.T) []byte {
	t.Helper()
	dir := t.TempDir()
	rec, err := record.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := rec.Begin(steambox.DefaultBox(), record.Clock{Boot: "boot"}, time.Now()); err != nil {
		t.Fatal(err)
	}
	for i := range 200 {
		if err := rec.Event(time.Duration(i)*time.Second, time.Now(), steambox.Event{ID: "n", Kind: steambox.Note, Text: strings.Repeat("a", 200)}); err != nil {
			t.Fatal(err)
		}
	}
	if err := rec.Close(); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(filepath.Join(dir, "record.db"))
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func half(t *testing.T) []byte {
	t.Helper()
	whole := lived(t)
	return whole[:len(whole)/2]
}

// newer is a record of layout 99: the four bytes at 60 are SQLite's user_version ("Database
// File Format", section 1.3).
func newer(t *testing.T) []byte {
	t.Helper()
	whole := lived(t)
	copy(whole[60:64], []byte{0, 0, 0, 99})
	return whole
}
