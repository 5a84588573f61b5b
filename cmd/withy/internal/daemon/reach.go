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
// time and which can be reached again: as events, so that the alarm that comes of it is the
// same in replay.
func (d *Daemon) reach(at time.Duration) {
	var late []string
	for _, o := range d.outputs() {
		if o.Late {
			late = append(late, o.Name)
		}
	}
	silent := slices.Clone(d.fold.Session.Unreached)
	for _, name := range late {
		if !slices.Contains(silent, name) {
			d.reached(at, name, false)
		}
	}
	for _, name := range silent {
		if !slices.Contains(late, name) {
			d.reached(at, name, true)
		}
	}
}

func (d *Daemon) reached(at time.Duration, name string, can bool) {
	e := steambox.Event{
		ID: fmt.Sprintf("reach-%s-%d-%s", d.Source.Boot(), at, name), Kind: steambox.Reach, Text: name, On: can, By: "output",
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
