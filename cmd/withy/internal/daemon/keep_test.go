package daemon_test

import (
	"errors"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"withy/cmd/withy/internal/daemon"
	"withy/sensor"
	"withy/steambox"
)

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
	for deadline := time.Now().Add(5 * time.Second); len(r.View().Troubles) > 0 && time.Now().Before(deadline); {
		r.sweep(1, 98, 95, sensor.Closed)
	}
	if trouble := r.View().Troubles; len(trouble) > 0 {
		t.Errorf("the card answers again, and still: %v", trouble)
	}
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

// A card that is only slow: whoever told something is answered well, once it is written.
func TestRecordIsSlow(t *testing.T) {
	rec := open(t, t.TempDir())
	defer rec.Close()
	r := start(t, newScript("b1", 0), rec, nil)
	defer r.stop()
	r.sweep(30, 98, 95, sensor.Closed)
	answers := make(chan struct{})
	r.HangRecord(answers)
	told := make(chan error, 1)
	go func() {
		told <- r.Do(t.Context(), steambox.Event{ID: "slow", Kind: steambox.Loaded, Rib: "1", Slot: "A"})
	}()
	select {
	case err := <-told:
		t.Errorf("answered before it was written: %v", err)
	case <-time.After(400 * time.Millisecond):
	}
	r.sweep(2, 98, 95, sensor.Closed)
	close(answers)
	if err := <-told; err != nil {
		t.Error(err)
	}
	r.sweep(2, 98, 95, sensor.Closed)
	if v := r.View(); v.Status.Slots[0].Rib != "1" || len(v.Troubles) > 0 {
		t.Errorf("slot %+v, troubles %v", v.Status.Slots[0], v.Troubles)
	}
}
