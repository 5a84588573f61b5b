package hail

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"withy/alert"
	"withy/cmd/withy/internal/view"
)

// mostWaiting is how many alarms may wait to be told to one output. Beyond it those that are
// over already are only counted, the oldest first.
const mostWaiting = 64

// book is what one output has been told and what not. It is pure: time is handed in.
type book struct {
	name         string // of the output
	least        alert.Priority
	box, session string
	entries      map[string]*entry // by alert.Alarm.Key
	leftOut      int
}

// entry is one alarm in the book.
type entry struct {
	alarm   alert.Alarm
	key     string // of its raise
	over    bool
	waiting bool          // there is something about it that was not told
	told    bool          // its raise was
	tried   bool          // a notice with it was sent, with whatever result
	since   time.Duration // it waits
}

// take enters what is up now, and reports whether there is something new to tell.
func (b *book) take(v *view.View, now time.Duration) (fresh bool) {
	if b.entries == nil {
		b.entries = map[string]*entry{}
	}
	b.box, b.session = v.Status.Box, v.Session
	up := map[string]bool{}
	for _, a := range v.Alarms {
		switch {
		case !b.concerns(a) || a.State == alert.Cleared || a.State == alert.Latched:
		case a.State == alert.Raised || a.State == alert.HeardBy:
			up[a.Key()] = true
			fresh = b.up(a, now) || fresh
		default: // put off for a while: neither new nor over
			up[a.Key()] = true
		}
	}
	for name, e := range b.entries {
		if !up[name] && !e.over {
			e.over, fresh = true, true
			if !e.waiting {
				e.waiting, e.tried, e.since = true, false, now
			}
		}
	}
	b.bound()
	return fresh
}

// concerns reports whether an output is told of an alarm: never of its own silence.
func (b *book) concerns(a alert.Alarm) bool {
	return rank[a.Priority] <= rank[b.least] && !((a.ID == alert.Unreached || a.ID == alert.NoBeat) && a.On == b.name)
}

// up enters an alarm that is so. One that was heard before it was first seen needs no telling.
func (b *book) up(a alert.Alarm, now time.Duration) (fresh bool) {
	key := fmt.Sprintf("%s/%s/%d", b.session, a.Key(), a.Count)
	e := b.entries[a.Key()]
	if e != nil && e.key == key && !e.over {
		e.alarm = a
		return false
	}
	since := now
	if e != nil && e.waiting && !e.told {
		since = e.since
	}
	raised := a.State == alert.Raised
	b.entries[a.Key()] = &entry{alarm: a, key: key, waiting: raised, told: !raised, since: since}
	return raised
}

// bound forgets the oldest of those that are over when too many wait.
func (b *book) bound() {
	for {
		var oldest *entry
		n := 0
		for _, e := range b.entries {
			if e.waiting {
				n++
			}
			if e.waiting && e.over && (oldest == nil || before(e, oldest)) {
				oldest = e
			}
		}
		if n <= mostWaiting || oldest == nil {
			return
		}
		delete(b.entries, oldest.alarm.Key())
		b.leftOut++
	}
}

func before(a, b *entry) bool {
	return cmp.Or(cmp.Compare(a.since, b.since), cmp.Compare(a.key, b.key)) < 0
}

// began reports whether anything was seen yet.
func (b *book) began() bool { return b.entries != nil }

// waiting returns how many alarms wait to be told.
func (b *book) waiting() (n int) {
	for _, e := range b.entries {
		if e.waiting {
			n++
		}
	}
	return n
}

// anyUp reports whether there is an alarm that is so.
func (b *book) anyUp() bool {
	for _, e := range b.entries {
		if !e.over {
			return true
		}
	}
	return false
}

// urgent reports whether an alarm of high priority waits that was not tried to tell yet.
func (b *book) urgent() bool {
	for _, e := range b.entries {
		if e.waiting && !e.tried && !e.over && e.alarm.Priority == alert.High {
			return true
		}
	}
	return false
}

// highSince returns since when the raise of an alarm of high priority has waited to be told.
func (b *book) highSince() (since time.Duration, waits bool) {
	for _, e := range b.entries {
		if e.waiting && !e.told && e.alarm.Priority == alert.High && (!waits || e.since < since) {
			since, waits = e.since, true
		}
	}
	return since, waits
}

// notice makes the notice of all that there is to tell now.
func (b *book) notice() Notice {
	var all []*entry
	for _, e := range b.entries {
		e.tried = true
		all = append(all, e)
	}
	slices.SortFunc(all, func(x, y *entry) int {
		return cmp.Or(
			cmp.Compare(number(x.over), number(y.over)), cmp.Compare(rank[x.alarm.Priority], rank[y.alarm.Priority]),
			cmp.Compare(y.since, x.since), cmp.Compare(x.key, y.key))
	})
	n := Notice{Box: b.box, Session: b.session, LeftOut: b.leftOut}
	for _, e := range all {
		n.Alarms = append(n.Alarms, Alarm{Key: e.key, Alarm: e.alarm, Over: e.over, New: e.waiting})
	}
	return n
}

func number(is bool) int {
	if is {
		return 1
	}
	return 0
}

// taken enters that a notice was told. What has changed since then still waits.
func (b *book) taken(n Notice, now time.Duration) {
	b.leftOut -= n.LeftOut
	for _, a := range n.Alarms {
		e := b.entries[a.Alarm.Key()]
		switch {
		case e == nil || e.key != a.Key || !a.New:
		case e.over && a.Over:
			delete(b.entries, a.Alarm.Key())
		case e.over: // it ended on the way
			e.told, e.since = true, now
		default:
			e.told, e.waiting = true, false
		}
	}
}
