package rehearsal_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"withy/steambox/rehearsal"
	"withy/steambox/unit"
)

func world(t testing.TB, scenario string, seed uint64) *rehearsal.World {
	t.Helper()
	w, err := rehearsal.New(scenario, seed)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// text is the whole world, hidden things too.
func text(t testing.TB, w *rehearsal.World) string {
	t.Helper()
	b, err := json.Marshal(w)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestScenarioNames(t *testing.T) {
	var names []string
	for _, s := range rehearsal.Scenarios() {
		names = append(names, s.Name)
		if !strings.HasSuffix(s.What, ".") || strings.Count(s.What, ".") != 1 {
			t.Errorf("%s: %q is not one sentence", s.Name, s.What)
		}
	}
	want := []string{"good", "cold-door", "boils-dry", "cold-refill", "probe-dies", "switch-stuck", "slow-fitter", "windy"}
	if !slices.Equal(names, want) {
		t.Errorf("scenarios %v", names)
	}
	if _, err := rehearsal.New("no-such", 1); !errors.Is(err, rehearsal.ErrUnknown) {
		t.Errorf("unknown scenario: %v", err)
	}
}

func TestSameSeedSameWorld(t *testing.T) {
	run := func(seed uint64) string {
		h := newHand(t, "probe-dies", seed)
		h.until(44 * time.Minute)
		return text(t, h.w)
	}
	eight := run(8)
	if run(8) != eight {
		t.Error("one seed made two worlds")
	}
	if run(9) == eight {
		t.Error("two seeds made one world")
	}
}

// A rehearsal killed at any moment goes on as if nothing had been.
func TestRoundTrip(t *testing.T) {
	t.Parallel()
	for _, s := range rehearsal.Scenarios() {
		h := newHand(t, s.Name, 21)
		h.start = 18 * time.Minute
		h.until(27*time.Minute + 13*time.Second)
		h.w.Step(130 * time.Millisecond)
		before, again := text(t, h.w), new(rehearsal.World)
		if err := json.Unmarshal([]byte(before), again); err != nil {
			t.Fatal(err)
		}
		if text(t, again) != before {
			t.Fatalf("%s: another world came back", s.Name)
		}
		twin := *h
		twin.w, twin.outcomes = again, map[rehearsal.Result]int{}
		h.until(33 * time.Minute)
		twin.until(33 * time.Minute)
		if text(t, twin.w) != text(t, h.w) {
			t.Errorf("%s: the two went apart", s.Name)
		}
		if fmt.Sprint(h.w.Delay(rehearsal.Fit)) != fmt.Sprint(twin.w.Delay(rehearsal.Fit)) {
			t.Errorf("%s: the crews went apart", s.Name)
		}
	}
}

func TestUnmarshalNonsense(t *testing.T) {
	for _, in := range []string{`{}`, `[]`, `{"Dice":"AAAA"}`} {
		if err := json.Unmarshal([]byte(in), new(rehearsal.World)); err == nil {
			t.Errorf("%s was taken for a world", in)
		}
	}
}

// It does not matter how a stretch of time is divided.
func TestAnyDivisionOfTime(t *testing.T) {
	run := func(steps ...time.Duration) string {
		w := world(t, "good", 12)
		w.Step(20 * time.Minute)
		if err := w.Load(1, rehearsal.Plan()[0]); err != nil {
			t.Fatal(err)
		}
		end := w.Elapsed() + 4*time.Minute
		for i := 0; w.Elapsed() < end; i++ {
			w.Step(min(steps[i%len(steps)], end-w.Elapsed()))
		}
		w.Step(-time.Hour)
		w.Step(0)
		return text(t, w)
	}
	once := run(4 * time.Minute)
	if run(time.Second) != once || run(7*time.Millisecond, 911*time.Millisecond) != once {
		t.Error("small steps made another world than one long one")
	}
}

func TestProbesReadSixteenths(t *testing.T) {
	w := world(t, "good", 4)
	for range 45 * 60 {
		w.Step(time.Second)
		for i, p := range w.Probes() {
			if s := float64(p.Temp) * 16; s != math.Round(s) || !p.OK || p.PowerOn {
				t.Fatalf("%+v", p)
			}
			if want := []string{"steam", "door"}[i]; p.Name != want {
				t.Fatalf("probe %d is %q", i, p.Name)
			}
		}
	}
	for _, p := range w.Probes() { // nothing has moved for a while: no lag
		if d := float64(p.Temp.Sub(w.Gas(p.X))); math.Abs(d) > 0.2+0.15 {
			t.Errorf("%s: calibrated probe %.2f K out", p.Name, d)
		}
	}
}

func TestUncalibrated(t *testing.T) {
	worst := 0.0
	for seed := range uint64(12) {
		w := world(t, "good", seed)
		w.Uncalibrate()
		w.Step(3 * time.Minute)
		for _, p := range w.Probes() {
			worst = max(worst, math.Abs(float64(p.Temp.Sub(w.Gas(p.X)))))
		}
		if w.Calibrated() {
			t.Error("still called calibrated")
		}
	}
	if worst < 0.8 || worst > 2.2 {
		t.Errorf("worst of 24 probes as bought %.2f K out", worst)
	}
}

// The door end's probe stops, comes back with the chip's 85 °C, and then reads.
func TestProbeDies(t *testing.T) {
	w := world(t, "probe-dies", 6)
	var seen []string
	for range 75 * 60 {
		w.Step(time.Second)
		p := w.Probes()[1]
		state := map[bool]string{true: "reads", false: "dead"}[p.OK]
		if p.PowerOn {
			state = "power-on"
			if p.Temp != 85 {
				t.Errorf("power-on value %v", p.Temp)
			}
		}
		if len(seen) == 0 || seen[len(seen)-1] != state {
			seen = append(seen, state)
		}
		if !w.Probes()[0].OK {
			t.Fatal("the steam end's probe died too")
		}
	}
	if want := []string{"reads", "dead", "power-on", "reads"}; !slices.Equal(seen, want) {
		t.Errorf("%v, want %v", seen, want)
	}
}

func TestTruthBelongsToTheRib(t *testing.T) {
	w := world(t, "good", 1)
	r := rehearsal.Plan()[0]
	if _, ok := w.Truth(r.Label, 0); ok {
		t.Error("truth of a rib that was never loaded")
	}
	if err := w.Load(0, r); err != nil {
		t.Fatal(err)
	}
	for _, x := range []unit.Metre{-0.001, r.Length + 0.001, unit.Metre(math.NaN())} {
		if _, ok := w.Truth(r.Label, x); ok {
			t.Errorf("truth at %v", x)
		}
	}
	for _, x := range []unit.Metre{0, 0.4, r.Length} {
		if got, ok := w.Truth(r.Label, x); !ok || math.Abs(float64(got.Core.Sub(w.ShopC()))) > 0.01 {
			t.Errorf("at %v: %+v, %v", x, got, ok)
		}
	}
}
