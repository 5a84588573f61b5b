package rehearsed_test

import (
	"testing"
	"time"

	"withy/sensor/rehearsed"
	"withy/sensor/sensortest"
	"withy/steambox/rehearsal"
)

func box(t *testing.T, speed float64) *rehearsed.Box {
	t.Helper()
	w, err := rehearsal.New("good", 1)
	if err != nil {
		t.Fatal(err)
	}
	b, err := rehearsed.New(w, "test", speed)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestConformance(t *testing.T) {
	sensortest.TestSource(t, func() sensortest.Source { return box(t, 50) }, "steam", "door")
}

// A box that was put away goes on where it was, and its time has gone on.
func TestSaveAndLoad(t *testing.T) {
	b := box(t, 1000)
	for range 300 {
		if _, err := b.Read(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	text, err := b.Save()
	if err != nil {
		t.Fatal(err)
	}
	time.Sleep(5 * time.Millisecond)
	again, err := rehearsed.Load(text, 1000)
	if err != nil {
		t.Fatal(err)
	}
	if was, is := b.Now(), again.Now(); again.Boot() != b.Boot() || is < was-time.Second || is > was+30*time.Minute {
		t.Errorf("%s at %v, again %s at %v", b.Boot(), was, again.Boot(), is)
	}
	if _, err := rehearsed.Load([]byte("{"), 1); err == nil {
		t.Error("a torn file accepted")
	}
}

func TestSpeed(t *testing.T) {
	w, _ := rehearsal.New("good", 1)
	for _, s := range []float64{0, -1, rehearsed.MaxSpeed + 1} {
		if _, err := rehearsed.New(w, "test", s); err == nil {
			t.Errorf("speed %g accepted", s)
		}
	}
}
