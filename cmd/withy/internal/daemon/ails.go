package daemon

import (
	"fmt"
	"slices"
	"time"

	"withy/steambox"
)

// ails enters, at a time on the source's clock, what is wrong with the board and what is
// well again: as events, so that the alarms that come of it are the same in replay.
func (d *Daemon) ails(at time.Duration) {
	var now []steambox.Ailment
	if d.Ails != nil {
		now = slices.Clone(d.Ails())
	}
	if d.lost {
		now = append(now, steambox.Unkept)
	}
	for _, a := range steambox.Ailments {
		if is := slices.Contains(now, a); is != slices.Contains(d.fold.Session.Ails, a) {
			e := steambox.Event{ID: fmt.Sprintf("board-%s-%d-%s", d.Source.Boot(), at, a), Kind: steambox.Board, Text: string(a), On: is, By: "board"}
			_ = d.enter(e) // ErrNotKept, which is a trouble already: what the board says of itself is never refused
		}
	}
}
