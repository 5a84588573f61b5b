package steambox

import (
	"cmp"
	"fmt"
	"slices"
	"time"
)

// Entry is one thing in a session's history: a sample or an event.
type Entry struct {
	At     time.Duration // elapsed, when it was entered
	Sample *Sample
	Event  *Event
}

// Corrects reports whether an event says that the past was different from what
// was told: then the session is the Refold of its history, and Do is not enough.
func (e *Event) Corrects() bool {
	return e.Kind == Struck || e.Kind == Amended || e.EarlierS > 0
}

// Refold folds a session's history in the order in which it was entered, with one
// correction more, told at elapsed time at: as it is now known to have been. What was
// struck never happened, what was amended happened as corrected, what was told late
// happened earlier. Samples and events that came since may then be entered, and at
// last the correction itself, by Do.
//
// A correction that makes no sense, or that would make something told later
// impossible, is a RefusedError.
func Refold(b Box, past []Entry, at time.Duration, e Event) (*Session, error) {
	settled, err := Settle(append(slices.Clip(past), Entry{At: at, Event: &e}))
	if err != nil {
		return nil, err
	}
	s, err := NewSession(b)
	if err != nil {
		return nil, err
	}
	for _, entry := range settled {
		if entry.Event == &e && (e.Kind == Struck || e.Kind == Amended) {
			continue
		}
		if err := s.Enter(entry); err != nil {
			return nil, refuse("Then what was told at %s could not be: %s Put that right first.", clock(entry.At), err)
		}
	}
	return s, nil
}

// Told returns the event as it must be kept when it counts only later than it was
// told: what happened earlier did so at the same moment.
func (e Event) Told(at, counts time.Duration) Event {
	if e.EarlierS > 0 && e.Kind != Struck && e.Kind != Amended {
		e.EarlierS = (counts - at + seconds(e.EarlierS)).Seconds()
	}
	return e
}

// Enter enters one entry, as Sample and Do would.
func (s *Session) Enter(e Entry) error {
	if e.Sample != nil {
		s.Sample(e.At, *e.Sample)
		return nil
	}
	return s.Do(e.At, *e.Event)
}

// clock is an elapsed time for people, such as 1:02:30.
func clock(at time.Duration) string {
	n := int(at.Seconds())
	return fmt.Sprintf("%d:%02d:%02d", n/3600, n/60%60, n%60)
}

// Settle returns a history, or the events of one, with its corrections made, in rising
// time. A struck event stays as a correction of itself, which does nothing but keep its
// id. A correction that makes no sense is a RefusedError.
func Settle(history []Entry) ([]Entry, error) {
	settled := slices.Clone(history)
	for i := 1; i < len(settled); i++ { // as they were entered: nothing counts before what was known
		settled[i].At = max(settled[i].At, settled[i-1].At)
	}
	told := slices.Clone(settled)
	struck := strikes(settled)
	index := map[string]int{} // of the events so far, by id
	for i := range settled {
		e := settled[i].Event
		if e == nil {
			continue
		}
		if struck[e.ID] {
			if err := stays(e.Kind); err != nil {
				return nil, err
			}
			settled[i].Event = &Event{ID: e.ID, Kind: Struck, Of: e.ID}
			index[e.ID] = i
			continue
		}
		index[e.ID] = i
		if e.Kind != Struck && e.Kind != Amended {
			settled[i].At -= seconds(e.EarlierS)
			continue
		}
		of, ok := index[e.Of]
		if !ok || of == i {
			return nil, refuse("Nothing was told before under the id %q.", e.Of)
		}
		if struck[e.Of] {
			continue // it is struck, however it was amended before
		}
		if err := correct(&settled[of], told[of].At, e); err != nil {
			return nil, err
		}
	}
	for i := range settled {
		settled[i].At = max(0, settled[i].At)
	}
	slices.SortStableFunc(settled, func(a, b Entry) int { return cmp.Compare(a.At, b.At) })
	return settled, nil
}

// stays refuses to correct what was no account of what happened.
func stays(k Kind) error {
	switch k {
	case Heard, Reset, Remind:
		return refuse("What was done about an alarm stays done.")
	case Reach, Beat:
		return refuse("An output that was silent was silent.")
	case Board:
		return refuse("What ailed the board ailed it.")
	case Set:
		return refuse("What was set was in use from then on: set it otherwise from now on.")
	}
	return nil
}

// strikes lists the ids that were struck by something that wasn't struck itself.
func strikes(history []Entry) map[string]bool {
	struck := map[string]bool{}
	for _, entry := range slices.Backward(history) {
		if e := entry.Event; e != nil && e.Kind == Struck && !struck[e.ID] {
			struck[e.Of] = true
		}
	}
	return struck
}

// correct makes one correction of an entry that was told at a moment before.
func correct(entry *Entry, toldAt time.Duration, e *Event) error {
	was := *entry.Event
	if e.Kind == Struck {
		return nil // it was left out already
	}
	if err := stays(was.Kind); err != nil {
		return err
	}
	if was.Kind == Struck || was.Kind == Amended {
		return refuse("That was a correction itself: strike it, and correct again.")
	}
	was.Rib, was.Slot = cmp.Or(e.Rib, was.Rib), cmp.Or(e.Slot, was.Slot)
	if e.Outcome != "" && e.Outcome != was.Outcome {
		was.Where = "" // where it cracked says nothing of a rib that bent otherwise
	}
	was.Outcome, was.Where = cmp.Or(e.Outcome, was.Outcome), cmp.Or(e.Where, was.Where)
	was.Mark, was.Text = cmp.Or(e.Mark, was.Mark), cmp.Or(e.Text, was.Text)
	was.With, was.LiftMM = cmp.Or(e.With, was.With), cmp.Or(e.LiftMM, was.LiftMM)
	was.AcrossPct, was.ThroughPct = cmp.Or(e.AcrossPct, was.AcrossPct), cmp.Or(e.ThroughPct, was.ThroughPct)
	was.Litres, was.TempC = cmp.Or(e.Litres, was.Litres), cmp.Or(e.TempC, was.TempC)
	if err := was.Check(); err != nil {
		return refuse("Corrected like that it makes no sense: %v.", err)
	}
	if e.EarlierS > 0 {
		was.EarlierS, entry.At = e.EarlierS, toldAt-seconds(e.EarlierS)
	}
	entry.Event = &was
	return nil
}
