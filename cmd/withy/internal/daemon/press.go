package daemon

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"withy/alert"
	"withy/cmd/withy/internal/door"
	"withy/cmd/withy/internal/view"
	"withy/sensor"
	"withy/steambox"
	"withy/steambox/words"
)

// hold is how long a press must be held to be meant, bounce how long after one the
// next is a wet fist's trembling, and takeBack how long after one the same button
// says no to it. A press never takes back anything older than that.
const (
	hold     = 40 * time.Millisecond
	letIn    = 5 * time.Second // a press so long lets in the phone that asks
	bounce   = 1500 * time.Millisecond
	takeBack = 5 * time.Second
)

// pressed is the press that was taken last.
type pressed struct {
	does string
	at   time.Duration // on the source's clock
	id   string        // of its event; "" for one that can't be taken back
}

// press turns the press of a button into an event, which the sweep that brought it
// publishes.
func (d *Daemon) press(p sensor.Press) {
	if p.Held < hold {
		return
	}
	if d.pairs(p) {
		return
	}
	id := fmt.Sprintf("button-%s-%d", d.Source.Boot(), p.At)
	if err := d.pressFor(d.Buttons[p.Button], id, "button "+p.Button, p.At); err != nil && !errors.Is(err, ErrNotKept) {
		d.Log.Warn("press not taken", "button", p.Button, "err", err)
	}
}

// pairs lets in the phone that asks, if the press means that. While an alarm sounds a
// press means that it was heard, and nothing else.
func (d *Daemon) pairs(p sensor.Press) bool {
	own := d.Buttons[p.Button] == view.PressPair
	if d.Door == nil || !own && (p.Held < letIn || !d.Door.Asked()) || d.sounding() {
		return false
	}
	name, err := d.Door.Press()
	switch {
	case errors.Is(err, door.ErrSeveral):
		d.say(words.SeveralAsk, 0)
	case err != nil:
		d.say(words.NobodyAsks, 0)
	default:
		d.Log.Info("let in by the button", "device", name)
		d.say(words.LetIn(name), 0)
		d.play(alert.Look)
	}
	return true
}

// sounding reports whether an alarm waits to be heard.
func (d *Daemon) sounding() bool {
	s := d.fold.Session.Status()
	return slices.ContainsFunc(d.fold.Alarms.Alarms(&s), func(a alert.Alarm) bool { return a.State == alert.Raised })
}

// sunk enters the level that a float has sunk with: the water has been seen there. One
// that rises says no more than that there is some more, and the first word of one may be
// as old as the boiler's fill. One that sinks when there can't be so much left any more had
// stuck: believed, it would put off the kettle.
func (d *Daemon) sunk(sweep sensor.Sweep) {
	for i, c := range sweep.Floats {
		if i >= len(d.Floats) || c == sensor.Unknown {
			continue
		}
		if i >= len(d.floats) {
			d.floats = append(d.floats, make([]sensor.Contact, i+1-len(d.floats))...)
		}
		before := d.floats[i]
		d.floats[i] = c
		if c != sensor.Open || before != sensor.Closed {
			continue
		}
		if most := d.fold.Session.Status().Water.LeftHiL; most != nil && d.Floats[i] > *most {
			d.Log.Warn("float not believed: it sank too late", "float", i+1, "litres", d.Floats[i], "most", *most)
			continue
		}
		e := steambox.Event{
			ID: fmt.Sprintf("float-%s-%d-%d", d.Source.Boot(), i, sweep.At), Kind: steambox.Level, Litres: d.Floats[i],
			By: fmt.Sprintf("float %d", i+1),
		}
		if err := d.enter(e); err != nil {
			d.Log.Warn("float not taken", "float", i+1, "err", err)
		}
	}
}

// Press takes the press of a key on somebody's page, by what it does, and returns
// the answer to be said. The same id counts once.
func (d *Daemon) Press(ctx context.Context, does, id string) (view.Answer, error) {
	err := d.ask(ctx, command{press: does, event: steambox.Event{ID: id}})
	return d.View().Answer, err
}

// pressFor does what a press means now, or takes the last one back. ErrNotKept says that it
// counts and is not on record.
func (d *Daemon) pressFor(does, id, by string, at time.Duration) error {
	since, again := at-d.pressed.at, d.pressed.does == does
	switch {
	case d.fold.Session.Knows(id):
		return d.keepWaiting()
	case again && since < bounce:
		return nil
	case again && d.pressed.id != "" && since < takeBack:
		return d.takeBack(id, by, at)
	}
	e, what, ok := d.meant(does)
	if !ok {
		d.say(words.NothingToSay, 0)
		return nil
	}
	e.ID, e.By = id, by
	kept := d.enter(e)
	if kept != nil && !errors.Is(kept, ErrNotKept) {
		d.say(kept.Error(), 0)
		return kept
	}
	d.pressed = pressed{does: does, at: at, id: id}
	says, undo := words.Pressed(e, what), takeBack
	if e.Kind == steambox.Heard {
		d.pressed.id, undo = "", 0
	} else {
		says += " " + words.PressForNo
	}
	d.say(says, undo)
	return kept
}

// takeBack strikes what the last press said.
func (d *Daemon) takeBack(id, by string, at time.Duration) error {
	c := command{event: steambox.Event{ID: id, Kind: steambox.Struck, Of: d.pressed.id, By: by}, done: make(chan error, 1)}
	d.correct(c)
	select {
	case err := <-c.done: // refused at once
		if err != nil {
			d.say(err.Error(), 0)
		}
		return err
	default: // it counts when the copy is folded
	}
	d.pressed = pressed{does: d.pressed.does, at: at}
	d.say(words.TakenBack, 0)
	return nil
}

// say answers a press, for people and for the page's voice.
func (d *Daemon) say(sentence string, undo time.Duration) {
	d.answer = view.Answer{N: d.answer.N + 1, Says: sentence, UndoS: undo.Seconds()}
}

// meant returns the event that a press means now, and what it is about.
func (d *Daemon) meant(does string) (e steambox.Event, what string, ok bool) {
	s := d.fold.Session.Status()
	for _, a := range d.fold.Alarms.Alarms(&s) {
		if a.State == alert.Raised {
			return steambox.Event{Kind: steambox.Heard, Alarm: a.Key()}, "", true
		}
	}
	switch does {
	case view.PressNext:
		return nextOf(&s)
	case view.PressSupple, view.PressStiff, view.PressCracked:
		rib, ok := lastPulled(&s)
		return steambox.Event{Kind: steambox.Outcome, Rib: rib, Outcome: does}, rib, ok
	case view.PressKettle:
		return steambox.Event{Kind: steambox.KettleOn}, "", true
	case view.PressStop:
		if s.Resting {
			return steambox.Event{Kind: steambox.Back}, "", true
		}
		return steambox.Event{Kind: steambox.Break}, "", true
	}
	return steambox.Event{}, "", false
}

// nextOf is what the next call asks.
func nextOf(s *steambox.Status) (e steambox.Event, what string, ok bool) {
	if len(s.Calls) == 0 {
		return steambox.Event{}, "", false
	}
	switch c := s.Calls[0]; c.Do {
	case steambox.PullCall:
		return steambox.Event{Kind: steambox.Pulled, Slot: c.Slot}, c.Rib, true
	case steambox.LoadCall:
		return steambox.Event{Kind: steambox.Loaded, Rib: c.Rib, Slot: c.Slot}, c.Rib, true
	case steambox.DryCall:
		return steambox.Event{Kind: steambox.Round}, words.Clock(s.Dry.SinceS), true
	}
	return steambox.Event{}, "", false
}

// lastPulled is the rib that came out of the box last.
func lastPulled(s *steambox.Status) (rib string, ok bool) {
	last := -1.0
	for _, r := range s.Ribs {
		if r.Place == steambox.Out && r.PulledS > last {
			rib, last = r.Rib, r.PulledS
		}
	}
	return rib, last >= 0
}
