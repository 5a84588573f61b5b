package hail

import (
	"context"
	"time"
)

// Heart tells a watcher outside, each so often, that the board lives, its watch goes on and a
// probe answers, so that whoever the watcher calls learns of a dead board. While one of them
// does not, the heart is silent: the silence is the message.
type Heart struct {
	Post
	Method string        // GET or POST
	Each   time.Duration // between two beats
	// Hidden says that Secret is the last part of the address, and no bearer token.
	Hidden bool
}

const (
	mostMissed = 3                // beats in a row before that is an alarm
	firstBeat  = 15 * time.Second // after the start: one that is started over and over is not alive
)

// Send beats once, whatever the notice.
func (h *Heart) Send(ctx context.Context, _ Notice) error {
	path := ""
	if h.Hidden {
		secret, err := h.Secret.Read()
		if err != nil {
			return err
		}
		path = secret
	}
	r, err := h.request(ctx, h.Method, path, nil)
	if err != nil {
		return err
	}
	_, err = h.do(r, !h.Hidden)
	return err
}

// beat beats while the box is being watched, until ctx is done.
func (o *output) beat(ctx context.Context, heart *Heart, h *Hails) {
	t := time.NewTimer(min(heart.Each, firstBeat))
	defer t.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-t.C:
			t.Reset(heart.Each)
		}
		if h.Sensing() != nil {
			continue
		}
		if err := o.attempt(ctx, Notice{}); ctx.Err() == nil {
			o.beaten(err, h)
		}
	}
}

// beaten enters what became of a beat.
func (o *output) beaten(err error, h *Hails) {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.report(err, h)
	o.delivered(err, time.Since(h.began))
	o.missed++
	if err == nil {
		o.missed = 0
	}
	o.publish()
}
