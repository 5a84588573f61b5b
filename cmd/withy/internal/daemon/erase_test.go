package daemon_test

import (
	"errors"
	"testing"
	"time"

	"withy/sensor"
	"withy/steambox"
	"withy/steambox/measure"
)

// The watch goes on while the log is erased, nothing can be told meanwhile, and then it
// begins anew, without a word that anything could not be kept.
func TestEraseBesideTheWatch(t *testing.T) {
	rec := open(t, t.TempDir())
	defer rec.Close()
	r := start(t, newScript("b1", 0), rec, nil)
	defer r.stop()
	r.sweep(30, 20, 20, sensor.Closed)
	r.tell(steambox.Event{Kind: steambox.Note, Text: "of the day before"})
	card := make(chan struct{})
	r.HangRecord(card)
	done := make(chan error, 1)
	go func() { done <- r.Erase(t.Context(), testBox(), measure.US) }()
	time.Sleep(50 * time.Millisecond) // until it is asked for
	r.sweep(20, 20, 20, sensor.Closed)
	if v := r.View(); v.Status.ElapsedS != 50 || len(v.Troubles) != 0 {
		t.Errorf("while it is erased: %+v", v)
	}
	if err := r.Do(t.Context(), steambox.Event{ID: "x", Kind: steambox.Note, Text: "meanwhile"}); !errors.As(err, new(*steambox.RefusedError)) {
		t.Errorf("told meanwhile: %v", err)
	}
	close(card)
	if err := <-done; err != nil {
		t.Fatal(err)
	}
	r.sweep(20, 20, 20, sensor.Closed)
	v := r.View()
	if v.Status.ElapsedS != 20 || v.Units != measure.US || v.Session == "" || len(v.Troubles) != 0 {
		t.Errorf("erased: %+v", v)
	}
	all, err := rec.Sessions()
	if err != nil || len(all) != 1 || all[0].ID != v.Session {
		t.Errorf("on record: %+v, %v", all, err)
	}
}
