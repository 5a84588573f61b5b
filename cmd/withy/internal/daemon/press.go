package daemon

import (
	"fmt"
	"time"

	"withy/alert"
	"withy/sensor"
	"withy/steambox"
)

// What a button at the box can be set to do.
const (
	// PressNext does what the next call asks: pulled, or loaded.
	PressNext = "next"
	// PressHeard says that the alarm that sounds has been heard.
	PressHeard = "heard"
)

// Presses lists what a button can do.
var Presses = []string{PressNext, PressHeard}

// hold is how long a press must be held to be meant, and bounce how long after
// one the next is a wet fist's second thought rather than another press.
const (
	hold   = 40 * time.Millisecond
	bounce = 3 * time.Second
)

// press turns the press of a button into an event, which the sweep that brought it
// publishes. While an alarm sounds, any
// button says that it was heard.
func (d *Daemon) press(p sensor.Press) {
	if p.Held < hold || d.pressed > 0 && p.At-d.pressed < bounce {
		return
	}
	e, ok := d.meant(d.Buttons[p.Button])
	if !ok {
		return
	}
	d.pressed = p.At
	e.ID, e.By = fmt.Sprintf("button-%s-%d", d.Source.Boot(), p.At), "button "+p.Button
	if err := d.enter(e); err != nil {
		d.Log.Warn("press not taken", "button", p.Button, "err", err)
	}
}

// meant returns the event that a button means now.
func (d *Daemon) meant(does string) (steambox.Event, bool) {
	s := d.fold.Session.Status()
	for _, a := range d.fold.Alarms.Alarms(&s) {
		if a.State == alert.Raised {
			return steambox.Event{Kind: steambox.Heard, Alarm: a.Key()}, true
		}
	}
	if does != PressNext || len(s.Calls) == 0 {
		return steambox.Event{}, false
	}
	switch c := s.Calls[0]; c.Do {
	case steambox.PullCall:
		return steambox.Event{Kind: steambox.Pulled, Slot: c.Slot}, true
	case steambox.LoadCall:
		return steambox.Event{Kind: steambox.Loaded, Rib: c.Rib, Slot: c.Slot}, true
	}
	return steambox.Event{}, false
}
