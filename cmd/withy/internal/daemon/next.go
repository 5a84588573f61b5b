package daemon

import (
	"context"
	"fmt"
	"slices"

	"withy/alert"
	"withy/steambox"
	"withy/steambox/words"
)

// next is what the crew wants when it begins another log: what of the ribs in the box.
type next struct{ out bool }

// Next ends the session that goes on and begins another one in the same box, hot or cold:
// another boat on the same day. Its ribs all wait; what is known of the water, the crew's pace
// and what the wood has shown goes on with it, and what was told of rig and heat is told to it
// too. Ribs that lie in the box were pulled just now if out says so. The same id counts once.
// The error is a *steambox.RefusedError where this is no time for it.
func (d *Daemon) Next(ctx context.Context, id string, out bool) error {
	return d.ask(ctx, command{event: steambox.Event{ID: id}, next: &next{out}})
}

// begins does so. Alarms that nobody may lose sight of belong to the session in which they
// were raised.
func (d *Daemon) begins(id string, n next) error {
	if id == d.nextID {
		return d.keepWaiting()
	}
	s := d.fold.Session.Status()
	var in []string
	for _, slot := range s.Slots {
		if slot.Rib != "" {
			in = append(in, slot.Rib)
		}
	}
	alarms := d.fold.Alarms.Alarms(&s)
	danger := slices.IndexFunc(alarms, func(a alert.Alarm) bool { return a.Sound == alert.Danger })
	switch {
	case danger >= 0:
		return &steambox.RefusedError{Why: words.NextLater(alarms[danger].Title)}
	case len(in) > 0 && !n.out:
		return &steambox.RefusedError{Why: words.NextRibsIn(in)}
	case len(in) == 0 && d.fold.Session.LastIn == 0:
		return &steambox.RefusedError{Why: words.NextIsNew}
	case d.busy():
		return errBusy
	case d.lost:
		return &steambox.RefusedError{Why: words.NextUnkept}
	}
	for _, slot := range s.Slots {
		if slot.Rib != "" {
			_ = d.enter(steambox.Event{ID: id + " out " + slot.Slot, Kind: steambox.Pulled, Slot: slot.Slot, By: "page"})
		}
	}
	_ = d.keepSoon(d.snapshot()) // what its bends taught is read from there
	at, wall := d.elapsed(), d.Wall()
	_ = d.keepSoon(func() error { return d.Record.Finish(at, wall) })
	s = d.fold.Session.Status()
	if err := d.freshBy(d.keepSoon, d.learnt(d.fold.Session), d.fold.Session.After()); err != nil {
		return err
	}
	d.pressed, d.nextID = pressed{}, id
	for i, e := range carried(&s) {
		e.ID, e.By = fmt.Sprintf("%s %d", id, i), "log before"
		_ = d.enter(e)
	}
	d.Log.Info("a new session was begun", "after_s", at.Seconds(), "ribs_out", len(in))
	d.publish()
	return d.keepWaiting()
}

// carried is what was told of a box and goes on with the next session, beside what that takes
// over. What the daemon finds out by itself, it will again.
func carried(s *steambox.Status) []steambox.Event {
	var out []steambox.Event
	for _, r := range s.Rig {
		if r.State == steambox.RigGood && !r.Seen {
			out = append(out, steambox.Event{Kind: steambox.Checked, Item: string(r.Item), On: true})
		}
	}
	if s.Water.KettleS != nil {
		out = append(out, steambox.Event{Kind: steambox.KettleOn})
	}
	if s.HeatOff {
		out = append(out, steambox.Event{Kind: steambox.Heat})
	}
	return out
}
