// Package shop puts several boxes in order: whose call comes next, who needs the one
// kettle first, and what hangs on one circuit.
package shop

import (
	"cmp"
	"slices"

	"withy/steambox"
	"withy/steambox/boiler"
)

// Box is one box of the shop: what is told of it beforehand, and what it said last.
type Box struct {
	Number  int              // painted on it
	Watts   float64          // of its boiler; 0 for gas
	Circuit string           // that its boiler hangs on; "" where nobody told
	Status  *steambox.Status // as heard last; nil: never heard
	AgeS    float64          // how long ago that was heard, by the box's own time
	Silent  bool             // it does not answer
}

// Call returns the box's next call as it is by now, and whether one is known.
func (b *Box) Call() (steambox.Call, bool) {
	if b.Silent || b.Status == nil || len(b.Status.Calls) == 0 {
		return steambox.Call{}, false
	}
	return aged(b.Status.Calls[0], b.AgeS), true
}

// aged returns a call that was told some seconds ago. A rib begins to use up the time that
// it has to spare only when it is due.
func aged(c steambox.Call, ageS float64) steambox.Call {
	due := 0.0
	if c.InS != nil {
		due = *c.InS
		c.InS = new(max(0, due-ageS))
	}
	if c.GoodS != nil {
		c.GoodS = new(max(0, *c.GoodS-max(0, ageS-due)))
	}
	return c
}

// DryS returns how long the water lasts at least from now, nil where nobody knows.
func (b *Box) DryS() *float64 {
	if b.Silent || b.Status == nil || b.Status.Water.DryLoS == nil {
		return nil
	}
	return new(max(0, *b.Status.Water.DryLoS-b.AgeS))
}

// Order returns the boxes by their next call: the soonest first; of calls that are due, the
// one whose rib has the least time to spare. Then boxes that call for nothing, and those
// that are silent last.
func Order(boxes []Box) []Box {
	out := slices.Clone(boxes)
	slices.SortStableFunc(out, func(a, b Box) int {
		x, xOK := a.Call()
		y, yOK := b.Call()
		return cmp.Or(
			before(xOK, yOK),
			earlier(x.InS, y.InS),
			earlier(x.GoodS, y.GoodS),
			cmp.Compare(a.Number, b.Number))
	})
	return out
}

// before sorts what is so before what isn't.
func before(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return -1
	}
	return 1
}

// earlier compares times: the sooner first, and what has no time last.
func earlier(a, b *float64) int {
	if a == nil || b == nil {
		return before(a != nil, b != nil)
	}
	return cmp.Compare(*a, *b)
}

// Turn is one turn of the shop's kettle.
type Turn struct {
	Number int     // of the box
	OnS    float64 // until the kettle must go on, at the latest, for this box and all after it; below 0 it is too late for one of them
	Now    bool    // the box itself calls for it now
	LateS  float64 // for how long its element may be bare before the water comes, if the kettle goes on now; 0: not at all
}

// Kettle puts the boxes that must be filled hot into an order for one kettle: the one that
// may be dry first goes first. That order makes the worst lateness as small as any can
// (J. R. Jackson, 1955: earliest due date). busyS is how long the kettle is still away,
// on for another box or being carried there.
//
// A box calls when its level switch has tripped or its water lasts no longer than twice the
// lead, as its own alarms do. A turn is as long as a box's kettle lead: boiling, carrying, pouring. All go by the early
// bound of the water. Boxes that are not to be poured into while hot, are silent, off, or
// done, have no turn.
func Kettle(boxes []Box) (turns []Turn, busyS float64) {
	type need struct {
		number      int
		dryS, leadS float64
		now         bool
	}
	var needs []need
	for i := range boxes {
		b := &boxes[i]
		if b.Status == nil {
			continue
		}
		w, dry := &b.Status.Water, b.DryS()
		switch c, _ := b.Call(); {
		case w.KettleS != nil: // also of one that is silent since
			busyS = max(busyS, w.LeadS-*w.KettleS-b.AgeS)
		case b.Silent:
		case b.Status.BoilerKind == boiler.OpenPot && w.Boiling && !b.Status.HeatOff && dry != nil && c.Do != steambox.DoneCall:
			needs = append(needs, need{b.Number, *dry, w.LeadS, w.Switch == "open" || *dry <= 2*w.LeadS})
		}
	}
	slices.SortStableFunc(needs, func(a, b need) int { return cmp.Compare(a.dryS, b.dryS) })
	done := busyS
	for _, n := range needs {
		done += n.leadS
		turns = append(turns, Turn{Number: n.number, OnS: n.dryS - n.leadS, Now: n.now, LateS: max(0, done-n.dryS)})
	}
	for i := len(turns) - 2; i >= 0; i-- {
		turns[i].OnS = min(turns[i].OnS, turns[i+1].OnS-needs[i].leadS)
	}
	return turns, busyS
}

// Circuit is one circuit of the house, and what its breaker lets through.
type Circuit struct {
	Name        string
	Volts, Amps float64
}

// Steady is the share of a breaker's amps that a load of hours may be: NEC 210.20(A), from
// memory; a warm breaker trips earlier than a cold one.
const Steady = 0.8

// Load is what hangs on a circuit, in amps. Boilers and kettles are resistors: watts over
// volts.
type Load struct {
	Circuit
	OnA  float64 // by boxes that heat now, as far as anybody knows, and the kettle if it is on
	AllA float64 // with all boilers and the kettle at once
}

// Trips reports whether all at once would be more than the breaker lets through.
func (l Load) Trips() bool { return l.AllA > l.Amps }

// Close reports whether all at once would be more than it lets through for hours.
func (l Load) Close() bool { return l.AllA > Steady*l.Amps }

// Loads adds up what hangs on each circuit. kettle is the shop's own, with its circuit and
// watts; the zero value where there is none, or where it is on gas.
func Loads(circuits []Circuit, boxes []Box, kettle Shared) []Load {
	var out []Load
	for _, c := range circuits {
		l := Load{Circuit: c}
		for i := range boxes {
			b := &boxes[i]
			if b.Circuit == c.Name {
				l.AllA += b.Watts / c.Volts
				if b.heats() {
					l.OnA += b.Watts / c.Volts
				}
			}
		}
		if kettle.Circuit == c.Name {
			l.AllA += kettle.Watts / c.Volts
			if slices.ContainsFunc(boxes, kettleOn) {
				l.OnA += kettle.Watts / c.Volts
			}
		}
		out = append(out, l)
	}
	return out
}

// Shared is the one kettle of the shop.
type Shared struct {
	Watts   float64
	Circuit string
}

// forgotten is how long after its lead, in seconds, a kettle of which nothing more was told
// has surely boiled and switched itself off.
const forgotten = 180

// kettleOn reports whether the kettle is on for a box, as far as anybody knows.
func kettleOn(b Box) bool {
	return b.Status != nil && b.Status.Water.KettleS != nil && *b.Status.Water.KettleS+b.AgeS < b.Status.Water.LeadS+forgotten
}

// heats reports whether a box's boiler is on, as far as anybody knows: one that was hot and
// is silent may well be, and a cold one that was filled may just have been switched on,
// which is when it takes the most for the longest.
func (b *Box) heats() bool {
	s := b.Status
	if s == nil || s.HeatOff {
		return false
	}
	done := len(s.Calls) > 0 && s.Calls[0].Do == steambox.DoneCall
	return s.Phase != steambox.Cold || s.Water.LeftL != nil && !done
}
