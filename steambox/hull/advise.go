package hull

import (
	"fmt"
	"math"
	"slices"
)

// DefaultMargin is by how much leaving the turns must lower the worst of lean and
// twist at the end of the run to be worth a builder's second look.
const DefaultMargin = 0.01

// Rule is how far the advice may go. The zero value leaves the turns for any
// gain that is beyond doubt.
type Rule struct {
	Margin float64 // smallest gain worth leaving the turns for; see DefaultMargin
	Always bool    // never leave them
	Blind  bool    // which end is the softer can't be known: probes not calibrated, or steam let in at the middle
}

// Reason is why the advice is what it is.
type Reason int

// The reasons. All but Depart go by turns.
const (
	Turns  Reason = iota // nothing went wrong
	First                // no other rib is in yet
	Always               // the rule says so
	Blind                // which end is the softer can't be known
	Keep                 // something went wrong, and leaving the turns would not mend enough
	Wait                 // something went wrong, and a later rib mends it better
	Depart               // something went wrong, and this rib mends it
)

var reasons = [...]string{"turns", "first", "always", "blind", "keep", "wait", "depart"}

// String returns the reason as one word.
func (r Reason) String() string { return reasons[r] }

// Advice is the way round for the next rib. The figures are 0 unless the reason
// is Keep, Wait or Depart.
type Advice struct {
	Mark     Side // where its mark goes
	ByTurns  Side // where it would go by turns along the keel
	Reason   Reason
	Against  []string // ribs that went in the other way round than turns would have them, from the bow
	Replaced []string // ribs that replaced others and came out unlike their neighbours, from the bow
	SameAs   string   // a neighbour with its mark to the same side as Mark; "": none

	// What the greater of lean and twist would be with every rib fitted, if each
	// came out as the last ones did: by turns from here on, and by the best that
	// at most MaxDepartures can do.
	PlainWorst, BestWorst float64
	Doubt                 float64 // how far the next rib may be off what is expected of it, in the same measure
}

// Advise returns the way round for the rib at stationM, one of the hull's. Where
// a rib stands there already the next one replaces it.
//
// The advice leaves the turns only after a rib went in the wrong way round, or
// one was replaced by one unlike its neighbours, and only if looking ahead over
// all ribs still to be fitted that lowers the greater of lean and twist at the
// end by more than margin and doubt together, no later rib does it better, and
// the hull is not worse off if turns are kept from then on. It depends on what is
// fitted where, not on the order of work.
func (h *Hull) Advise(stationM float64, r Rule) (Advice, error) {
	next, ok := h.index(stationM)
	if !ok {
		return Advice{}, fmt.Errorf("no station at %g m", stationM)
	}
	way := h.way(next)
	a := Advice{ByTurns: byTurns(way, next), Against: h.against(way, next)}
	h.decide(&a, way, next, r)
	a.Mark = a.ByTurns
	if a.Reason == Depart {
		a.Mark = a.ByTurns.Other()
	}
	a.SameAs = h.sameBeside(a.Mark, next)
	return a, nil
}

// decide sets the reason and the figures behind it.
func (h *Hull) decide(a *Advice, way float64, next int, r Rule) {
	switch {
	case !h.begun(next):
		a.Reason = First
		return
	case r.Blind:
		a.Reason = Blind
		return
	}
	a.Replaced = h.unlike(next)
	switch {
	case len(a.Against) == 0 && len(a.Replaced) == 0:
		a.Reason = Turns
	case r.Always:
		a.Reason = Always
	default:
		h.weigh(a, way, next, r.Margin)
	}
}

// begun reports whether a rib is in at another station than next.
func (h *Hull) begun(next int) bool {
	for i := range h.places {
		if i != next && h.places[i].rib != nil {
			return true
		}
	}
	return false
}

// even is how close two outcomes count as the same: rounding, far below any margin.
const even = 1e-9

// weigh compares leaving the turns with this rib, with a later one and not at all.
func (h *Hull) weigh(a *Advice, way float64, next int, margin float64) {
	rest := h.ahead(way, next)
	turned, others := rest.byTurns.plus(rest.turned[0]), rest.turned[1:]
	now := best(turned, others, MaxDepartures-1) / rest.weight
	later := best(rest.byTurns, others, MaxDepartures) / rest.weight
	a.PlainWorst = rest.byTurns.worst() / rest.weight
	a.BestWorst = min(now, later)
	a.Doubt = rest.doubt
	enough := func(worst float64) bool { return a.PlainWorst-worst > margin+a.Doubt }
	alone := turned.worst() <= rest.byTurns.worst()
	switch {
	case enough(now) && now <= later+even && alone:
		a.Reason = Depart
	case enough(a.BestWorst):
		a.Reason = Wait
	default:
		a.Reason = Keep
	}
}

// MaxDepartures is how many departures from the turns are looked ahead for: two
// more after the next, for a lean and a twist.
const MaxDepartures = 3

// pair is a lean and a twist, not yet divided by the hull's weight.
type pair struct{ lean, twist float64 }

func (p pair) plus(q pair) pair { return pair{p.lean + q.lean, p.twist + q.twist} }

// rest is what is left of the run.
type rest struct {
	byTurns pair    // of the whole hull, if turns are kept from here on
	turned  []pair  // what turning one rib still to come would add; the next one first
	weight  float64 // of the whole hull
	doubt   float64 // of what turning the next rib does, already divided by the weight
}

// ahead lays out the rest of the run at a constant difference between the ends:
// every rib to come weighs as the mean of those fitted and is as different as is
// expected of the next.
func (h *Hull) ahead(way float64, next int) rest {
	fitted := h.without(next)
	s := fitted.sums()
	e := fitted.expect(next)
	weight := s.weight / float64(s.ribs)
	r := rest{byTurns: pair{s.lean, s.twist}, weight: s.weight}
	for _, i := range fitted.toCome(next) {
		wd := byTurns(way, i).sign() * weight * e.d
		rib := pair{wd, wd * fitted.places[i].xi}
		r.byTurns = r.byTurns.plus(rib)
		r.turned = append(r.turned, pair{-2 * rib.lean, -2 * rib.twist})
		r.weight += weight
	}
	r.doubt = 2 * weight * e.sd / r.weight
	return r
}

// without returns the hull before the rib at one station went in.
func (h *Hull) without(station int) *Hull {
	copied := &Hull{places: slices.Clone(h.places)}
	copied.places[station].rib = nil
	return copied
}

// toCome returns the stations still without a rib, next first.
func (h *Hull) toCome(next int) []int {
	stations := []int{next}
	for i := range h.places {
		if i != next && h.places[i].rib == nil {
			stations = append(stations, i)
		}
	}
	return stations
}

// worst returns the greater of lean and twist without their signs.
func (p pair) worst() float64 { return max(math.Abs(p.lean), math.Abs(p.twist)) }

// best returns the lowest worst that can be had from p by turning at most
// departures of the ribs in turned, one at least being allowed.
func best(p pair, turned []pair, departures int) float64 {
	low := p.worst()
	for i, t := range turned {
		q := p.plus(t)
		if departures == 1 {
			low = min(low, q.worst())
		} else {
			low = min(low, best(q, turned[i+1:], departures-1))
		}
	}
	return low
}
