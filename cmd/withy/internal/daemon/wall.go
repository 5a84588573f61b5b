package daemon

import (
	"slices"
	"time"

	"withy/cmd/withy/internal/record"
)

// The wall clock is a label: nothing is reckoned by it but how long a board was off. It may
// be set at any moment, and boards without a battery for it wake up in another year.

// noClock is before the time of any session: a clock that shows less was never set.
var noClock = time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)

// leastStep is by how much the wall clock must move between two sweeps to have been set.
const leastStep = 500 * time.Millisecond

// off is a time that the board was off, and how long is not known.
type off struct {
	since time.Time     // by the wall clock of then; zero: nothing is unknown
	taken time.Duration // how long it was taken for
	at    time.Duration // the source's clock when it was on again
}

// unknownAway is what a board that can't say how long it was off takes for that, until it
// knows. It is no bound, and people are told so.
const unknownAway = 10 * time.Minute

// offUnknown is shown as long as it isn't known how long the board was off.
const offUnknown = "How long the board was off is not known: pull what is in the box and try it, and look at the water."

// followWall looks whether the wall clock was set since the last sweep, and puts right what
// was labelled by it.
func (d *Daemon) followWall() {
	if d.Speed != 1 {
		return // a rehearsal's clock is faster than the wall's
	}
	before := d.epoch
	d.epoch = d.Wall().UnixNano() - int64(d.Source.Now())
	if step := time.Duration(d.epoch - before); step > leastStep || step < -leastStep {
		d.Log.Info("the clock was set", "by_s", step.Seconds())
		d.retime()
	}
	timed := (d.undated || !d.off.since.IsZero()) && d.Timed()
	if timed && d.undated {
		d.undated = false
		d.moved(d.keepSoon)
	}
	if timed && !d.off.since.IsZero() {
		d.wasOff()
	}
}

// clock is what elapsed time comes from.
func (d *Daemon) clock() record.Clock {
	return record.Clock{Boot: d.Source.Boot(), Origin: d.origin, Undated: d.undated}
}

// moved keeps that elapsed time comes from another clock, or more is known of it.
func (d *Daemon) moved(keep func(write func() error) error) {
	clock, wall := d.clock(), d.Wall()
	_ = keep(func() error { return d.Record.Moved(clock, wall) })
}

// retime labels the sessions that were begun under this boot by what the wall clock says
// now.
func (d *Daemon) retime() {
	if d.Speed != 1 {
		return
	}
	d.epoch = d.Wall().UnixNano() - int64(d.Source.Now())
	boot, epoch := d.Source.Boot(), time.Duration(d.epoch)
	_ = d.keepSoon(func() error { return d.Record.Retime(boot, epoch) })
}

// wasOff takes in how long the board was off, once that is known: what is missing of it
// goes by now, unseen. Where it was taken for longer than it was, that stays: what a rib
// may have taken is not less for it. What is longer than a session may be left for was more
// likely begun by a clock of another year, as some systems set it at their start.
func (d *Daemon) wasOff() {
	on := d.Source.Now() - d.off.at
	was := d.Wall().Sub(d.off.since) - on
	if d.off.since.Before(noClock) || was < 0 || was > resumeWithin {
		return // labelled by a clock that was wrong: it will never be known
	}
	missing := was - d.off.taken
	d.off = off{}
	d.Troubles = slices.DeleteFunc(d.Troubles, func(t string) bool { return t == offUnknown })
	d.Log.Info("the board was off", "for_s", was.Seconds())
	if missing > 0 {
		d.origin -= missing
		d.moved(d.keepSoon)
	}
}
