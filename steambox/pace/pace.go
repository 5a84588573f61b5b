// Package pace is the rhythm of a run: how many slots, how far apart, and how
// long until the box is empty.
package pace

import (
	"slices"
	"time"
)

// Way is how ribs go through the box.
type Way string

// The three ways of working. Run: one in and one out every interval. Batch: two
// to four loaded and pulled together. Single: one at a time.
const (
	Run    Way = "run"
	Batch  Way = "batch"
	Single Way = "single"
)

// Ways lists all of them.
var Ways = []Way{Run, Batch, Single}

// Rhythm is a way of working with its numbers.
type Rhythm struct {
	Way      Way
	Slots    int           // in use at once
	Interval time.Duration // from one load to the next; of a batch, within it
	Soak     time.Duration // expected in the box as it is
}

// Offer returns the rhythm for a soak in a box with so many slots when the crew
// needs at least crew from one rib to the next. In a run the soak is shared out
// over the slots; when that is faster than the crew, as many slots are left empty
// as it takes, and one slot more than the soak needs is never used.
//
// Common practice, no source: 4 slots at 1½ min give 6 min, 3 give 4½.
func Offer(way Way, soak time.Duration, slots int, crew time.Duration) Rhythm {
	r := Rhythm{Way: way, Slots: max(1, slots), Soak: soak, Interval: crew}
	switch way {
	case Single:
		r.Slots, r.Interval = 1, max(soak, crew)
	case Batch:
	default:
		for r.Slots > 1 && soak/time.Duration(r.Slots) < crew {
			r.Slots--
		}
		r.Interval = max(soak/time.Duration(r.Slots), crew)
	}
	return r
}

// crewWindow is how many of the last intervals the pace is taken from.
const crewWindow = 7

// Crew is the crew's own pace: the time from one pull to the next. Its field is
// its whole state.
type Crew struct {
	Last []time.Duration
}

// longestInterval is what still counts as the next pull rather than a break.
const longestInterval = 5 * time.Minute

// Pulled enters the time since the last pull.
func (c *Crew) Pulled(since time.Duration) {
	if since <= 0 || since > longestInterval {
		return
	}
	c.Last = append(c.Last, since)
	if len(c.Last) > crewWindow {
		c.Last = c.Last[1:]
	}
}

// Pace returns the median interval, and false before there are three.
func (c *Crew) Pace() (time.Duration, bool) {
	if len(c.Last) < 3 {
		return 0, false
	}
	s := slices.Clone(c.Last)
	slices.Sort(s)
	return s[len(s)/2], true
}
