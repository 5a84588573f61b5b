package daemon

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"time"

	"withy/cmd/withy/internal/view"
	"withy/steambox"
)

// outputs returns how each output stands.
func (d *Daemon) outputs() []view.Output {
	if d.Outputs == nil {
		return []view.Output{}
	}
	return d.Outputs.Standing()
}

// reach enters, at a time on the source's clock, which outputs could not tell of an alarm in
// time or take no sign of life, and which can be reached again: as events, so that the alarm
// that comes of it is the same in replay.
func (d *Daemon) reach(at time.Duration) {
	var late, still []string
	for _, o := range d.outputs() {
		switch {
		case o.Late && o.Kind == view.Heartbeat:
			still = append(still, o.Name)
		case o.Late:
			late = append(late, o.Name)
		}
	}
	d.silence(at, steambox.Reach, d.fold.Session.Unreached, late)
	d.silence(at, steambox.Beat, d.fold.Session.NoBeat, still)
}

// silence enters by events of a kind what has changed between those that were silent and those
// that are.
func (d *Daemon) silence(at time.Duration, kind steambox.Kind, were, are []string) {
	were = slices.Clone(were) // each event changes it
	for _, name := range are {
		if !slices.Contains(were, name) {
			d.reached(at, kind, name, false)
		}
	}
	for _, name := range were {
		if !slices.Contains(are, name) {
			d.reached(at, kind, name, true)
		}
	}
}

func (d *Daemon) reached(at time.Duration, kind steambox.Kind, name string, can bool) {
	e := steambox.Event{
		ID: fmt.Sprintf("%s-%s-%d-%s", kind, d.Source.Boot(), at, name), Kind: kind, Text: name, On: can, By: "output",
	}
	if err := d.enter(e); err != nil {
		d.Log.Warn("output's silence not taken", "output", name, "err", err)
	}
}

// messages remembers the test message that was sent last. One is sent at a time.
type messages struct {
	mu    sync.Mutex
	id    string
	tried []view.Tried
}

// Message sends a test message by each output, so that it is known to arrive, and returns what
// became of it. The same id is sent once. The loop has no part in it.
func (d *Daemon) Message(ctx context.Context, id string) []view.Tried {
	m := &d.messages
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.id != id {
		m.id, m.tried = id, []view.Tried{}
		if d.Outputs != nil {
			m.tried = d.Outputs.Try(ctx, d.View().Status.Box)
		}
	}
	return m.tried
}
