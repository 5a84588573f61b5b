package calibrate

import (
	"cmp"
	"math"
	"slices"
)

// Bath is a calibration under way: the tips of several probes lie together where the
// truth is known, and are watched until they rest. It knows no clock; all its times are
// those of the moments that it takes. It belongs to one goroutine.
type Bath struct {
	truth  Truth
	ids    []string
	limitS float64

	state   State
	begun   bool
	beganS  float64
	atS     float64
	tips    []Tip
	traces  []Trace // since it began or, once it is over, since then
	open    bool    // the door
	openedS []float64
	away    bool
	offsets []Offset
	doubts  []Doubt
	steps   []Followed
}

// Followed is how one probe followed the step into steam, or why that can't be told.
type Followed struct {
	ID string
	Step
	Err error // one of FitStep's
}

// State is how far a bath is.
type State int

// A bath is watched until the tips have rested where they should, or for as long as it
// was given.
const (
	Watched State = iota
	Found         // how far each probe is off, or how slowly at least one follows
	Doubted       // they rest, and what they read can't be true of sound probes, or was no step
	Late          // they never rested there
)

// NewBath returns a bath of the probes with these ids, which has limitS seconds.
func NewBath(t Truth, ids []string, limitS float64) *Bath {
	tips := make([]Tip, len(ids))
	for i, id := range ids {
		tips[i].ID = id
	}
	return &Bath{truth: t, ids: slices.Clone(ids), limitS: limitS, tips: tips, traces: make([]Trace, len(ids))}
}

// Moment is what the probes of a bath say at one time.
type Moment struct {
	AtS      float64 // s, on a clock that only goes forward
	Said     []Said  // one a probe, in the order of the bath's
	DoorOpen bool    // false where nothing tells
}

// Said is the newest word of a probe: a reading, or none. One that was taken before
// counts once.
type Said struct {
	Sample
	Silent bool
}

// Tip is what is known of one probe in a bath.
type Tip struct {
	ID     string
	C      float64 // °C, uncorrected; the last good reading
	Read   bool    // there is one
	Silent bool    // it doesn't answer now
	Rests  bool    // calm since long enough
}

// Take enters a moment, and judges.
func (b *Bath) Take(m Moment) {
	if !b.begun {
		b.begun, b.beganS, b.open = true, m.AtS, m.DoorOpen
	}
	b.atS = m.AtS
	if m.DoorOpen && !b.open {
		b.openedS = append(b.openedS, m.AtS)
	}
	b.open = m.DoorOpen
	for i, said := range m.Said {
		b.enter(i, said)
	}
	if b.state == Watched {
		b.judge()
	}
}

// enter takes in what one probe says.
func (b *Bath) enter(i int, said Said) {
	tip := &b.tips[i]
	tip.Silent = said.Silent
	if n := len(b.traces[i]); !said.Silent && (n == 0 || said.AtS > b.traces[i][n-1].AtS) {
		b.traces[i] = append(b.traces[i], said.Sample)
		tip.C, tip.Read = said.C, true
	}
	tip.Rests = !said.Silent && b.rule().Judge(b.traces[i]).Steady
}

// rule is by which a tip rests: calm while it is watched, merely arrived afterwards.
func (b *Bath) rule() Rule {
	if b.state == Watched && b.truth.Place != Steam {
		return Calm
	}
	return Arrived
}

// judge ends the bath once the tips rest where they should, or its time is over.
func (b *Bath) judge() {
	read, ok := b.rests()
	stepped := b.truth.Place == Steam
	b.away = ok && !stepped && Elsewhere(b.truth, read)
	switch {
	case ok && stepped && b.risen(read):
		b.follow()
	case ok && !stepped && !b.away:
		b.offsets, b.doubts = Compare(b.truth, read)
		if len(b.doubts) == 0 && b.apart() {
			b.doubts = []Doubt{{Kind: NotTogether}}
		}
		b.over(Found)
		if len(b.doubts) > 0 {
			b.state = Doubted
		}
	case b.atS-b.beganS > b.limitS:
		b.over(Late)
	}
}

// risen reports whether every tip has come up out of the cool.
func (b *Bath) risen(read []Reading) bool {
	for i, t := range b.traces {
		lowest := slices.MinFunc(t, func(a, b Sample) int { return cmp.Compare(a.C, b.C) })
		if float64(read[i].C)-lowest.C < MinRiseK {
			return false
		}
	}
	return true
}

// follow ends a bath that was a step.
func (b *Bath) follow() {
	how := Doubted
	for i, t := range b.traces {
		step, err := FitStep(t)
		b.steps = append(b.steps, Followed{b.ids[i], step, err})
		if err == nil {
			how = Found
		}
	}
	b.over(how)
}

// over ends it. What the tips do from here on is another matter.
func (b *Bath) over(how State) {
	b.state, b.traces = how, make([]Trace, len(b.ids))
	for i := range b.tips {
		b.tips[i].Rests = false
	}
}

// rests returns what each probe reads at rest; ok is false while one of them moves.
func (b *Bath) rests() (read []Reading, ok bool) {
	for i, tip := range b.tips {
		if !tip.Rests {
			return nil, false
		}
		read = append(read, Reading{ID: tip.ID, C: b.rule().Judge(b.traces[i]).C})
	}
	return read, true
}

// apart reports whether two probes that should hang together in the box warmed up one
// after the other.
func (b *Bath) apart() bool {
	last := len(b.traces) - 1
	return b.truth.Place == Box && last > 0 && Swapped(b.traces[0], b.traces[last], b.openedS) != Untold
}

// Stop ends a bath that is still watched, with nothing found.
func (b *Bath) Stop() {
	if b.state == Watched {
		b.over(Late)
	}
}

// State returns how far the bath is.
func (b *Bath) State() State { return b.state }

// Truth returns what the tips are truly at.
func (b *Bath) Truth() Truth { return b.truth }

// SinceS returns how long it has been going on, in seconds.
func (b *Bath) SinceS() float64 { return b.atS - b.beganS }

// Tips returns what is known of each probe now.
func (b *Bath) Tips() []Tip { return slices.Clone(b.tips) }

// Away reports whether the tips rest, but so far from the truth that they can't be there
// yet.
func (b *Bath) Away() bool { return b.away }

// Offsets returns how far each probe is off, once that is found or doubted.
func (b *Bath) Offsets() []Offset { return b.offsets }

// Doubts returns why that is hard to believe.
func (b *Bath) Doubts() []Doubt { return b.doubts }

// Steps returns how each probe followed, once a bath that is a step has found it or
// doubts it.
func (b *Bath) Steps() []Followed { return b.steps }

// Left reports whether, since the bath was over, every tip has come to rest far from its
// truth: somebody took them out.
func (b *Bath) Left() bool {
	read, ok := b.rests()
	return ok && b.state != Watched && !slices.ContainsFunc(read, func(r Reading) bool {
		return math.Abs(r.C-float64(b.truth.C)) <= float64(b.truth.farK())
	})
}
