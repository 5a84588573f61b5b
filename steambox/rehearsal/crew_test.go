package rehearsal_test

import (
	"testing"
	"time"

	"withy/steambox/rehearsal"
)

// hand is a crew that works by the clock: four slots, one rib in and one out
// every interval. It knows nothing that a crew could not know but the water.
type hand struct {
	t        testing.TB
	w        *rehearsal.World
	interval time.Duration
	start    time.Duration // first load
	queue    []rehearsal.Rib
	loaded   int
	pulled   int
	each     func() // called after every second, if not nil
	outcomes map[rehearsal.Result]int
	pouring  time.Duration // when the kettle comes, 0 for none
}

func newHand(t testing.TB, scenario string, seed uint64) *hand {
	t.Helper()
	w, err := rehearsal.New(scenario, seed)
	if err != nil {
		t.Fatal(err)
	}
	return &hand{t: t, w: w, interval: 90 * time.Second, start: 35 * time.Minute,
		queue: rehearsal.Plan(), outcomes: map[rehearsal.Result]int{}}
}

// until works on to the elapsed time end.
func (h *hand) until(end time.Duration) {
	h.t.Helper()
	for h.w.Elapsed() < end {
		h.second()
	}
}

func (h *hand) second() {
	h.t.Helper()
	h.water()
	due := h.start + time.Duration(h.loaded)*h.interval
	if h.loaded < len(h.queue) && h.w.Elapsed() >= due {
		if h.loaded >= h.w.Slots() {
			h.pull()
		}
		h.must(h.w.Load(h.loaded%h.w.Slots(), h.queue[h.loaded]))
		h.loaded++
	}
	h.w.Step(time.Second)
	if h.each != nil {
		h.each()
	}
}

// pull takes the oldest rib out and bends it after the carry.
func (h *hand) pull() {
	h.t.Helper()
	rib, err := h.w.Pull(h.pulled % h.w.Slots())
	h.must(err)
	h.pulled++
	h.w.Step(5 * time.Second)
	o, err := h.w.Bend(rib.Label)
	h.must(err)
	h.outcomes[o.Result]++
}

// water pours a kettle half a minute after the level falls under 1.5 L.
func (h *hand) water() {
	f := h.w.Fitter()
	switch {
	case !f.Refills:
	case h.pouring == 0 && h.w.WaterL() < 1.5:
		h.pouring = h.w.Elapsed() + 30*time.Second
	case h.pouring > 0 && h.w.Elapsed() >= h.pouring:
		h.w.Refill(f.PourL, f.PourTemp)
		h.pouring = 0
	}
}

func (h *hand) must(err error) {
	h.t.Helper()
	if err != nil {
		h.t.Fatal(err)
	}
}
