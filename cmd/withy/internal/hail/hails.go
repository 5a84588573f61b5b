package hail

import (
	"context"
	"errors"
	"log/slog"
	"math/rand/v2"
	"sync"
	"sync/atomic"
	"time"

	"withy/cmd/withy/internal/view"
)

const (
	// LateAfter is how long an alarm of high priority may wait to be told before that is
	// an alarm of its own: with a sweep of the sensors, which raises it, within 30 s.
	LateAfter = 28 * time.Second
	toSend    = 10 * time.Second // how long one attempt may take
	gap       = 5 * time.Second  // between notices, unless the next is urgent
	firstWait = time.Second      // after a first failure; it doubles with each
	mostWait  = time.Minute
	mostAfter = time.Hour // of what the other side asks for
)

// Hails is all outputs. Its methods may be called by any goroutine, and only Run and Try take
// any time.
type Hails struct {
	// Sensing returns nil while the box is being watched by a probe that answers; it is asked
	// before each heartbeat.
	Sensing func() error
	began   time.Time
	views   chan *view.View
	outputs []*output
	log     *slog.Logger
}

// output is one output at work.
type output struct {
	Output
	wake chan struct{}
	now  atomic.Pointer[standing]
	send sync.Mutex // held for one attempt

	mu        sync.Mutex // never held while anything is sent
	book      book
	failures  int           // since something was last taken
	notBefore time.Duration // the next attempt
	asked     bool          // the other side asked for notBefore
	sent      time.Duration // when something was last taken
	stale     bool          // how things stand must be told, with nothing new in it too
	standing
}

// standing is how an output stands, on the clock of its Hails.
type standing struct {
	good, bad *time.Duration // the last success and the last failure
	says      string         // why it fails; "" while it works
	waiting   int
	high      *time.Duration // since when an alarm of high priority waits; nil: none does
	missed    int            // heartbeats in a row
	taken     int            // what was sent and taken
	failed    int            // and what was not
}

// New returns the outputs; nothing is told before Run. Failures are logged to log.
func New(outputs []Output, log *slog.Logger) *Hails {
	h := &Hails{Sensing: func() error { return nil }, began: time.Now(), views: make(chan *view.View, 1), log: log}
	for _, o := range outputs {
		one := &output{Output: o, wake: make(chan struct{}, 1), book: book{name: o.Name, least: o.Least}}
		one.now.Store(&standing{})
		h.outputs = append(h.outputs, one)
	}
	return h
}

// Hand gives the newest view and doesn't wait. It may be called by one goroutine only.
func (h *Hails) Hand(v *view.View) {
	select {
	case <-h.views: // one that nobody has seen
	default:
	}
	h.views <- v
}

// Standing returns how each output stands now.
func (h *Hails) Standing() []view.Output {
	now := time.Since(h.began)
	out := make([]view.Output, len(h.outputs))
	for i, o := range h.outputs {
		s := o.now.Load()
		out[i] = view.Output{
			Name: o.Name, Kind: o.Kind, GoodS: ago(now, s.good), BadS: ago(now, s.bad), Fails: s.says, Waiting: s.waiting, Taken: s.taken, Failed: s.failed,
			Late: s.high != nil && now-*s.high >= LateAfter || s.missed >= mostMissed,
		}
	}
	return out
}

func ago(now time.Duration, at *time.Duration) *float64 {
	if at == nil {
		return nil
	}
	return new((now - *at).Seconds())
}

// Run tells what it is handed until ctx is done.
func (h *Hails) Run(ctx context.Context) {
	var group sync.WaitGroup
	defer group.Wait()
	var tell []*output
	for _, o := range h.outputs {
		switch w := o.Way.(type) {
		case *Heart:
			group.Go(func() { o.beat(ctx, w, h) })
			continue
		case Keeper:
			defer w.Keep(ctx, func(err error) { o.changed(err, h) })()
		}
		tell = append(tell, o)
		group.Go(func() { o.run(ctx, h) })
	}
	for {
		select {
		case <-ctx.Done():
			return
		case v := <-h.views:
			for _, o := range tell {
				o.take(v, time.Since(h.began))
			}
		}
	}
}

// Try sends a test notice by each output at once and returns what became of them.
func (h *Hails) Try(ctx context.Context, box string) []view.Tried {
	out := make([]view.Tried, len(h.outputs))
	var group sync.WaitGroup
	for i, o := range h.outputs {
		group.Go(func() {
			err := o.attempt(ctx, Notice{Box: box, Test: true})
			var key string
			if f, ok := errors.AsType[*Failure](err); ok {
				key = f.Key
			}
			out[i] = view.Tried{Key: key, Name: o.Name, Kind: o.Kind, OK: err == nil, Says: says(err)}
			o.mu.Lock()
			defer o.mu.Unlock()
			o.delivered(err, time.Since(h.began))
			o.publish()
		})
	}
	group.Wait()
	return out
}

func says(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}

// attempt sends one notice, and gives up after toSend.
func (o *output) attempt(ctx context.Context, n Notice) error {
	ctx, cancel := context.WithTimeout(ctx, toSend)
	defer cancel()
	o.send.Lock()
	defer o.send.Unlock()
	return o.Way.Send(ctx, n)
}

func (o *output) take(v *view.View, now time.Duration) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.book.take(v, now) || o.stale {
		o.rouse()
	}
	o.publish()
}

// changed enters that a connection was made, so that there is everything to tell, or why there
// is none.
func (o *output) changed(err error, h *Hails) {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.report(err, h)
	o.enter(err, time.Since(h.began))
	if err == nil {
		o.stale, o.failures, o.notBefore, o.asked = true, 0, 0, false
		o.rouse()
	}
	o.publish()
}

// rouse has what is due looked for anew.
func (o *output) rouse() {
	select {
	case o.wake <- struct{}{}:
	default:
	}
}

// report logs a failure once, not each minute of an outage.
func (o *output) report(err error, h *Hails) {
	if s := says(err); s != "" && s != o.says {
		h.log.Warn("output", "name", o.Name, "fails", s)
	}
}

// publish shows how the output stands.
func (o *output) publish() {
	s := o.standing
	s.waiting = o.book.waiting()
	if since, waits := o.book.highSince(); waits {
		s.high = &since
	}
	o.now.Store(&s)
}

// never is a time that does not come.
const never = time.Duration(1<<63 - 1)

// run sends what is due.
func (o *output) run(ctx context.Context, h *Hails) {
	for ctx.Err() == nil {
		n, at := o.next(time.Since(h.began))
		if at > 0 {
			o.wait(ctx, at-time.Since(h.began))
			continue
		}
		err := o.attempt(ctx, n)
		if ctx.Err() != nil {
			return
		}
		o.sentAt(n, err, h)
	}
}

// wait lets d pass, or returns earlier when there is news.
func (o *output) wait(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
	case <-o.wake:
	case <-t.C:
	}
}

// next returns the notice that is due, or when to ask again.
func (o *output) next(now time.Duration) (n Notice, at time.Duration) {
	o.mu.Lock()
	defer o.mu.Unlock()
	due := never
	switch {
	case o.book.waiting() > 0 || o.stale && o.book.began():
		due = 0
	case o.Again > 0 && o.book.anyUp():
		due = o.sent + o.Again
	}
	if !o.book.urgent() || o.asked {
		due = max(due, o.notBefore)
	}
	if due > now {
		return n, due
	}
	o.stale = false
	return o.book.notice(), 0
}

// sentAt enters what became of a notice.
func (o *output) sentAt(n Notice, err error, h *Hails) {
	now := time.Since(h.began)
	o.mu.Lock()
	defer o.mu.Unlock()
	o.report(err, h)
	o.delivered(err, now)
	if err == nil {
		o.book.taken(n, now)
		o.sent, o.failures, o.notBefore, o.asked = now, 0, now+gap, false
	} else {
		o.notBefore, o.asked = now+backOff(o.failures), false
		if f, ok := errors.AsType[*Failure](err); ok && f.After > 0 {
			o.notBefore, o.asked = max(o.notBefore, now+min(f.After, mostAfter)), true
		}
		o.failures++
		_, o.stale = o.Way.(Keeper)
	}
	o.publish()
}

// delivered notes what became of something that was sent.
func (o *output) delivered(err error, now time.Duration) {
	o.enter(err, now)
	if err == nil {
		o.taken++
		return
	}
	o.failed++
}

// enter notes a success or a failure.
func (o *output) enter(err error, now time.Duration) {
	o.says = says(err)
	if err == nil {
		o.good = &now
		return
	}
	o.bad = &now
}

// backOff is how long to wait after so many failures before: doubled with each, and by chance
// between half of that and all, so that many boards do not come back at one stroke.
func backOff(failures int) time.Duration {
	most := min(firstWait<<min(failures, 10), mostWait)
	return most/2 + rand.N(most/2)
}
