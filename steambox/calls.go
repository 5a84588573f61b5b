package steambox

import (
	"slices"
	"strconv"
	"time"

	"withy/steambox/pace"
	"withy/steambox/soak"
	"withy/steambox/unit"
)

// horizon is how far ahead anything is foretold.
const horizon = 3 * time.Hour

// Due is when a rib in the box will be ready and when it will have had too much,
// if the box stays as it is. Both count from now; past is 0.
type Due struct {
	Ready, Over     time.Duration
	ReadyOK, OverOK bool // false: not within the next three hours
	Sure            bool // the whole soak was seen
}

// due foretells a rib in the box: ready at its cooler end, overdone where it is
// hottest.
func (s *Session) due(r *RibState) Due {
	m, w := s.modelOf(r), s.windowOf(r.Rib)
	if r.Test && s.box.Learn {
		w.Target = s.testTarget(r)
		w.Over = max(w.Over, 2*w.Target) // it is there to find out
	}
	d := Due{ReadyOK: true, Sure: r.Heat.BlindS == 0 && r.Heat.DoubtS == 0}
	for _, e := range unit.Ends {
		p := r.Heat.End(e)
		ready, ok := p.Until(m, w.Target+p.Less, horizon)
		d.Ready, d.ReadyOK = max(d.Ready, ready), d.ReadyOK && ok
	}
	for _, p := range []*soak.Point{r.Heat.End(unit.SteamEnd), r.Heat.End(unit.DoorEnd), hottest(&r.Heat)} {
		over, ok := p.Until(m, max(0, w.Over-p.More), horizon)
		if ok && (!d.OverOK || over < d.Over) {
			d.Over, d.OverOK = over, true
		}
	}
	return d
}

// CallKind is what the crew is asked to do.
type CallKind string

// The calls: pull a rib, load one, hold the blanks back, wait for the box.
const (
	PullCall CallKind = "pull"
	LoadCall CallKind = "load"
	HoldCall CallKind = "hold"
	WaitCall CallKind = "wait"
	DoneCall CallKind = "done"
	DryCall  CallKind = "dry" // a round of a dry run
)

// Call is one instruction to the crew.
type Call struct {
	Do     CallKind `json:"do"`
	Rib    string   `json:"rib,omitempty"`
	Slot   string   `json:"slot,omitempty"`
	Mark   string   `json:"mark,omitempty"`    // the side that the mark goes to
	Boat   string   `json:"boat,omitempty"`    // whose rib it is, where there are several boats
	Test   bool     `json:"test,omitempty"`    // an offcut, bent to learn
	InS    *float64 `json:"in_s,omitempty"`    // until it is due, 0: now; absent: not known
	GoodS  *float64 `json:"good_s,omitempty"`  // how long the rib will still wait once due; from now when it is due
	Sure   bool     `json:"sure"`              // false: part of the soak was not seen
	TooFar bool     `json:"too_far,omitempty"` // the hotter end has had too much
}

// dues foretells the rib in each slot; a slot without one has the zero value.
func (s *Session) dues() []Due {
	out := make([]Due, len(s.InSlot))
	for slot, i := range s.InSlot {
		if i != empty {
			out[slot] = s.due(&s.Ribs[i])
		}
	}
	return out
}

// calls returns what is to be done next and, where the crew must get ready for
// it, what comes after.
func (s *Session) calls(dues []Due) []Call {
	if s.drying() {
		return []Call{s.dryCall()}
	}
	var out []Call
	if pull, ok := s.nextPull(dues); ok {
		out = append(out, pull)
	}
	if load, ok := s.nextLoad(); ok {
		out = append(out, load)
	}
	slices.SortStableFunc(out, func(a, b Call) int { return compareDue(a.InS, b.InS) })
	if len(out) == 0 {
		out = append(out, s.idle())
	}
	return out
}

// compareDue sorts by the time until due; what is not known comes last.
func compareDue(a, b *float64) int {
	switch {
	case a == nil && b == nil:
		return 0
	case a == nil:
		return 1
	case b == nil:
		return -1
	case *a < *b:
		return -1
	case *a > *b:
		return 1
	}
	return 0
}

// idle is what to do when there is nothing to pull or load.
func (s *Session) idle() Call {
	switch {
	case s.Resting:
		return Call{Do: HoldCall, Sure: true}
	case s.count(Waiting) == 0 && s.LastIn > 0 && len(s.box.Ribs) > 0:
		return Call{Do: DoneCall, Sure: true}
	}
	return Call{Do: WaitCall, Sure: true}
}

// nextPull is the rib with the least time to spare.
func (s *Session) nextPull(dues []Due) (Call, bool) {
	best, found := -1, Due{}
	for slot, i := range s.InSlot {
		if i != empty && (best < 0 || sooner(dues[slot], found)) {
			best, found = i, dues[slot]
		}
	}
	if best < 0 {
		return Call{}, false
	}
	r := &s.Ribs[best]
	c := Call{Do: PullCall, Rib: r.Label, Slot: s.box.Slots[r.Slot], Mark: s.side(best), Boat: s.whose(r), Test: r.Test, Sure: found.Sure, TooFar: found.OverOK && found.Over == 0}
	if found.ReadyOK {
		c.InS = inSeconds(found.Ready)
		if found.OverOK {
			c.GoodS = inSeconds(max(0, found.Over-found.Ready))
		}
	}
	return c, true
}

// sooner reports whether a is to be pulled before b: what is ready comes before what
// isn't, and then what has less time to spare.
func sooner(a, b Due) bool {
	if ready := a.ReadyOK && a.Ready == 0; ready != (b.ReadyOK && b.Ready == 0) {
		return ready
	}
	if a.OverOK != b.OverOK {
		return a.OverOK
	}
	if a.OverOK && a.Over != b.Over {
		return a.Over < b.Over
	}
	return a.ReadyOK && (!b.ReadyOK || a.Ready < b.Ready)
}

func inSeconds(d time.Duration) *float64 { x := d.Seconds(); return &x }

// whose is the boat of a rib, where there are several.
func (s *Session) whose(r *RibState) string {
	if len(s.boats()) < 2 {
		return ""
	}
	return s.boat(r)
}

func (s *Session) boat(r *RibState) string {
	if r.Boat != "" {
		return r.Boat
	}
	return s.box.Boat
}

// nextLoad is the next blank, the slot it goes into and when.
func (s *Session) nextLoad() (Call, bool) {
	if !s.Warmth.Ready || s.Resting || s.HeatOff || s.boiledDry() {
		return Call{}, false
	}
	i := slices.IndexFunc(s.Ribs, func(r RibState) bool { return r.Place == Waiting })
	slot := slices.Index(s.InSlot, empty)
	rhythm, known := s.rhythm()
	in := s.count(InBox)
	full := slot < 0 || in >= rhythm.Slots || s.box.Way == pace.Batch && s.Closed && in > 0
	if full || i < 0 && len(s.box.Ribs) > 0 {
		return Call{}, false
	}
	c := Call{Do: LoadCall, Slot: s.box.Slots[slot], Sure: known}
	if i < 0 { // without a table there is always another, and its number is the next
		for n := len(s.Ribs) + 1; c.Rib == "" || s.rib(c.Rib) >= 0; n++ {
			c.Rib = strconv.Itoa(n)
		}
	} else {
		c.Rib, c.Boat = s.Ribs[i].Label, s.whose(&s.Ribs[i])
	}
	due := time.Duration(0)
	if s.LastIn > 0 && in > 0 {
		due = max(0, s.LastIn+rhythm.Interval-s.At)
	}
	c.InS = inSeconds(due)
	return c, true
}

// boiledDry reports whether by the best guess the boiler is bare. No blank goes into a box
// whose heat must come off, until somebody tells of water.
func (s *Session) boiledDry() bool {
	dry, known := s.Water.UntilDry(s.box.Boiler)
	return known && dry.Best <= 0
}

// rhythm returns how ribs should go through the box as it is now; false if the
// box can't make a rib ready.
func (s *Session) rhythm() (pace.Rhythm, bool) {
	soaking, ok := s.soakNow()
	crew := s.crew()
	if !ok {
		return pace.Rhythm{Way: s.box.Way, Slots: 1, Interval: crew}, false
	}
	// No faster than the boiler can heat ribs, but one at a time always: what it lacks
	// for that is said elsewhere, and must not hold everything up.
	crew = max(crew, min(seconds(s.heatNow(0).ShortestS), soaking))
	return pace.Offer(s.box.Way, soaking, len(s.box.Slots), crew), true
}

// soakNow returns how long a rib that is loaded now will take to be ready at its
// cooler end.
func (s *Session) soakNow() (time.Duration, bool) {
	r := RibState{Rib: s.nextRib()}
	steam, _ := s.air.At(0)
	outer, _ := s.air.At(unit.Metre(r.LengthM))
	return s.modelOf(&r).Fresh(s.windowOf(r.Rib).Target, s.box.WoodC, min(steam, outer), horizon)
}

// nextRib is the next blank to be loaded, or one like all.
func (s *Session) nextRib() Rib {
	if i := slices.IndexFunc(s.Ribs, func(r RibState) bool { return r.Place == Waiting }); i >= 0 {
		return s.Ribs[i].Rib
	}
	return s.box.Common
}

// Stop answers "can I stop?".
type Stop struct {
	InBox  int      `json:"in_box"`
	EmptyS *float64 `json:"empty_s,omitempty"` // load no more, and the last rib is ready in
	WaitS  *float64 `json:"wait_s,omitempty"`  // or the ribs wait at most, from now
	Back   *BackIn  `json:"back,omitempty"`    // how to begin again; absent while there is no break
}

// BackIn is how to begin again after a break.
type BackIn struct {
	Ready  bool     `json:"ready"`             // the box is hot enough to load
	WaterS *float64 `json:"water_s,omitempty"` // until dry, early bound; absent where nothing is known
	LoadS  float64  `json:"load_s"`            // until the first blank may go in
}

// stop reckons both answers from the ribs in the box.
func (s *Session) stop(dues []Due) Stop {
	out := Stop{InBox: s.count(InBox), Back: s.back()}
	emptyS, known := 0.0, true
	for slot, i := range s.InSlot {
		if i == empty {
			continue
		}
		d := dues[slot]
		emptyS, known = max(emptyS, d.Ready.Seconds()), known && d.ReadyOK
		if d.OverOK && (out.WaitS == nil || d.Over.Seconds() < *out.WaitS) {
			out.WaitS = inSeconds(d.Over)
		}
	}
	if known {
		out.EmptyS = &emptyS
	}
	return out
}

// back says how to begin again; nil while there is no break.
func (s *Session) back() *BackIn {
	if !s.Resting {
		return nil
	}
	b := &BackIn{Ready: s.phase() == Running || s.phase() == Ready}
	if dry, known := s.Water.UntilDry(s.box.Boiler); known {
		b.WaterS = &dry.Lo
	}
	if rhythm, _ := s.rhythm(); s.LastIn > 0 && !s.Empty() {
		b.LoadS = max(0, (s.LastIn + rhythm.Interval - s.At).Seconds())
	}
	return b
}

// heatOf returns a rib's exposure at both ends, best guess, and its bounds.
func heatOf(h *soak.Heat) (ends [2]EndHeat) {
	for _, e := range unit.Ends {
		p := h.End(e)
		ends[e] = EndHeat{
			Min: float64(p.Track[soak.Best].Exposure), LoMin: float64(p.Track[soak.Low].Exposure),
			HiMin: float64(p.Track[soak.High].Exposure), CoreC: p.Track[soak.Best].CoreC,
		}
	}
	return ends
}
