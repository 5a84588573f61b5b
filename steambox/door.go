package steambox

import (
	"time"

	"withy/steambox/boiler"
	"withy/steambox/soak"
	"withy/steambox/unit"
)

// Proposal is something that was seen and nobody told: the crew says yes or no when
// its hands are dry.
type Proposal struct {
	Do   CallKind `json:"do"` // pull or load
	Rib  string   `json:"rib"`
	Slot string   `json:"slot"`
	AtS  float64  `json:"at_s"`  // elapsed
	AgoS float64  `json:"ago_s"` // what to tell as earlier_s
	By   string   `json:"by"`    // switch: the door's own; dip: the door end fell
}

// opening is a moment at which the door was opened and nobody has said why.
type opening struct {
	At   time.Duration
	By   string
	Do   CallKind
	Rib  string // its label: without a table one that is to be loaded has no more yet
	Slot int
}

// A door that is opened lets the door end fall at once: by so much in so little time,
// having kept still before (seen in the rehearsal: 0.8 to 2 K in six seconds for a
// load, a little less for a pull; a probe follows within about ten).
const (
	dipK       = 0.7
	dipSpan    = 6 * time.Second
	stillK     = 0.25
	stillSpan  = 6 * time.Second
	dipAnew    = 20 * time.Second // until another opening can be told from this one
	dipBacklog = 1500 * time.Millisecond
)

// How near in time a press must be to an opening to be its reason, how near to being
// ready a rib to be what was pulled, and how long an opening is asked about.
const (
	pressBefore  = 20 * time.Second
	pressAfter   = 60 * time.Second
	pullNear     = 60 * time.Second
	forgetAfter  = 10 * time.Minute
	pouredFor    = 2 * time.Minute
	doorMoments  = 16
	doorRecently = 4 // moments below which nothing can be told
)

// door is what the door has been doing.
type door struct {
	Recent [doorMoments]moment // of the door end, the newest last
	N      int
	Last   boiler.Contact // of the door's switch
	Opened time.Duration  // when it was opened last; 0: never
	Peeped time.Duration  // when somebody only had a look; 0: never
	Poured time.Duration  // when water was poured in last; 0: never
	Open   *opening       // that nobody has explained; nil: none
}

type moment struct {
	At time.Duration
	C  float64
}

// watchDoor looks whether the door was opened since the last sample.
func (s *Session) watchDoor(at time.Duration, contact boiler.Contact) {
	d := &s.Door
	if d.Open != nil && at-d.Open.At > forgetAfter {
		d.Open = nil
	}
	if contact != boiler.Unknown {
		if contact == boiler.Open && d.Last == boiler.Closed {
			s.opened(at, "switch")
		}
		d.Last = contact
		return
	}
	last := len(s.box.Probes) - 1
	if s.Probes[last].Fault != "" {
		d.N = 0
		return
	}
	d.push(moment{at, s.measuredC(last)})
	if began, ok := d.dipped(); ok && at-d.Opened > dipAnew && s.Warmth.FirstSteam > 0 && s.fellK(30 * time.Second)[unit.SteamEnd] < dipK {
		s.opened(began, "dip")
	}
}

func (d *door) push(m moment) {
	if d.N == doorMoments {
		copy(d.Recent[:], d.Recent[1:])
		d.N--
	}
	d.Recent[d.N] = m
	d.N++
}

// dipped reports whether the door end has just begun to fall, and when.
func (d *door) dipped() (began time.Duration, ok bool) {
	if d.N < doorRecently {
		return 0, false
	}
	now := d.Recent[d.N-1]
	lo, hi, edge := 0.0, 0.0, now
	for i := d.N - 1; i >= 0; i-- {
		switch m, age := d.Recent[i], now.At-d.Recent[i].At; {
		case age <= dipSpan:
			edge, lo, hi = m, m.C, m.C
		case age <= dipSpan+stillSpan:
			lo, hi = min(lo, m.C), max(hi, m.C)
		}
	}
	return edge.At + dipBacklog, now.C <= edge.C-dipK && hi-lo <= stillK
}

// opened enters that the door was opened at a moment, and works out what for if
// nobody told.
func (s *Session) opened(at time.Duration, by string) {
	s.Door.Opened = at
	if by == "dip" && s.Door.Poured > 0 && at-s.Door.Poured < pouredFor {
		return // water that was a little cooler than the boiler's lets the far end fall as well
	}
	for _, told := range []time.Duration{s.LastIn, s.LastOut, s.Door.Peeped} {
		if told > 0 && told >= at-pressBefore {
			return
		}
	}
	o := opening{At: at, By: by}
	dues := s.dues()
	for slot, i := range s.InSlot {
		if i == empty || !dues[slot].ReadyOK || dues[slot].Ready > pullNear {
			continue
		}
		if o.Do == "" || sooner(dues[slot], dues[o.Slot]) {
			o.Do, o.Rib, o.Slot = PullCall, s.Ribs[i].Label, slot
		}
	}
	if o.Do == "" {
		c, ok := s.nextLoad()
		if !ok || c.InS == nil || *c.InS > pullNear.Seconds() {
			return // somebody had a look
		}
		o.Do, o.Rib = LoadCall, c.Rib
		o.Slot, _ = s.box.slot(c.Slot)
	}
	s.Door.Open = &o
}

// explain takes an opening as explained by a press now: one soon after it, or one that
// leaves nothing to ask.
func (s *Session) explain() {
	o := s.Door.Open
	if o == nil {
		return
	}
	i := s.rib(o.Rib)
	in := i >= 0 && s.Ribs[i].Place == InBox
	stillIn := in && s.Ribs[i].Slot == o.Slot
	stillOut := !in && s.InSlot[o.Slot] == empty
	if s.At-o.At <= pressAfter || o.Do == PullCall && !stillIn || o.Do == LoadCall && !stillOut {
		s.Door.Open = nil
	}
}

// proposal returns what was seen and not told.
func (s *Session) proposal() *Proposal {
	o := s.Door.Open
	if o == nil || s.At-o.At < pressAfter/4 {
		return nil
	}
	return &Proposal{Do: o.Do, Rib: o.Rib, Slot: s.box.Slots[o.Slot], AtS: o.At.Seconds(), AgoS: (s.At - o.At).Seconds(), By: o.By}
}

// seenOf says how much was seen of what a rib has been through: one that may have
// been pulled unseen may have gained nothing since.
func (s *Session) seenOf(i int, seen soak.Seen) soak.Seen {
	if o := s.Door.Open; o != nil && o.Do == PullCall && o.Rib == s.Ribs[i].Label && seen == soak.Whole {
		return soak.Perhaps
	}
	return seen
}
