package sensor

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync/atomic"
	"time"

	"periph.io/x/conn/v3/gpio"
)

const (
	// lookEvery is the longest wait for an edge. The level is read after each
	// wait, so an edge that got lost costs no more than this.
	lookEvery = time.Second
	// retryEvery is the pause before a line that failed is tried again.
	retryEvery = 3 * time.Second
)

// errLine is the failure of a line that had been working: its chip is gone.
var errLine = errors.New("line gave up waiting for edges")

// ContactConfig describes a switch on a GPIO line.
type ContactConfig struct {
	// Line is a spec for [ParseLine]; empty where there is no such switch.
	Line string
	// ToHigh is set for a contact that connects the line to 3.3 V, so that
	// the line is pulled down; otherwise the contact connects it to ground,
	// and it is pulled up.
	ToHigh bool
	// CloseHold and OpenHold are the hold times of [Debounce]; 0 means the
	// default of the place it is used in.
	CloseHold, OpenHold time.Duration
}

// withDefaults fills in hold times that are 0.
func (c ContactConfig) withDefaults(closeHold, openHold time.Duration) ContactConfig {
	if c.CloseHold == 0 {
		c.CloseHold = closeHold
	}
	if c.OpenHold == 0 {
		c.OpenHold = openHold
	}
	return c
}

// input watches one line in its own goroutine. The line is taken, read and
// closed by that goroutine only: GPIOLine's own methods are not safe
// together (Close during WaitForEdge is a data race, and a Halt that comes before the
// wait is lost). So stopping takes up to lookEvery.
type input struct {
	name   string
	where  string // its line, or the keyboard that it is a key of
	key    bool   // its keyboard steps it, and all about lines is unset
	float  int    // which of the floats it is, from 1; 0: none
	spec   LineSpec
	toHigh bool
	bounce Debounce
	button *Button // nil for a switch
	take   func(LineSpec) (pin, error)
	now    func() time.Duration
	log    *slog.Logger
	// tell is called from the goroutine with each change, and with each press.
	tell func(*input, Contact, *Press, error)

	edges  atomic.Uint64
	logged string // the failure last logged, so that a retry logs only news
}

// newInput describes a watched line; spec mistakes are the only error.
func newInput(name string, c ContactConfig) (*input, error) {
	spec, err := ParseLine(c.Line)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if c.CloseHold < 0 || c.OpenHold < 0 {
		return nil, fmt.Errorf("%s: hold time below zero", name)
	}
	return &input{
		name:   name,
		where:  spec.String(),
		spec:   spec,
		toHigh: c.ToHigh,
		bounce: Debounce{CloseHold: c.CloseHold, OpenHold: c.OpenHold},
	}, nil
}

// run watches the line until ctx is done, and tries again each few seconds when
// it cannot be had.
func (in *input) run(ctx context.Context) {
	for ctx.Err() == nil {
		err := in.session(ctx)
		if ctx.Err() != nil {
			return
		}
		if msg := err.Error(); msg != in.logged {
			in.log.Warn("line failed", "line", in.spec.String(), "input", in.name, "err", err)
			in.logged = msg
		}
		in.step(Unknown, err)
		sleep(ctx, retryEvery)
	}
}

// session takes the line and watches it until it fails or ctx is done.
func (in *input) session(ctx context.Context) error {
	p, err := in.take(in.spec)
	if err != nil {
		return err
	}
	// After a failed In the line must not be touched but to close it: it would
	// read descriptor 0, standard input.
	defer dropLine(p)
	if err := p.In(in.pull(), gpio.BothEdges); err != nil {
		return fmt.Errorf("line %s: %w", in.spec, err)
	}
	in.logged = ""
	in.log.Info("line taken", "line", in.spec.String(), "input", in.name)
	return in.watch(ctx, p)
}

// watch reads the level after every wait, whatever the wait returned.
func (in *input) watch(ctx context.Context, p pin) error {
	for ctx.Err() == nil {
		in.step(in.contact(p.Read()), nil)
		wait := in.wait()
		start := time.Now()
		if p.WaitForEdge(wait) {
			in.edges.Add(1)
			continue
		}
		// Read reports an error as Low, and here Low may mean that all is well.
		// But an error also ends the wait too soon, and that can be seen.
		if time.Since(start) < wait/2 {
			return fmt.Errorf("line %s: %w", in.spec, errLine)
		}
	}
	return nil
}

// wait returns how long to wait for the next edge. It is always above zero:
// periph's WaitForEdge(0) waits for ever and WaitForEdge(-1) not at all, the
// opposite of what its interface says.
func (in *input) wait() time.Duration {
	wait, now := lookEvery, in.now()
	if due, ok := in.bounce.Due(now); ok {
		wait = min(wait, due)
	}
	if in.button != nil {
		if due, ok := in.button.Due(now); ok {
			wait = min(wait, due)
		}
	}
	return max(wait, time.Millisecond)
}

// step takes the raw contact, or the error that left it unknown.
func (in *input) step(raw Contact, err error) {
	now := in.now()
	c := in.bounce.Step(now, raw)
	var press *Press
	if in.button != nil {
		if p, ok := in.button.Step(now, c, in.bounce.Since()); ok {
			press = &p
		}
	}
	in.tell(in, c, press, err)
}

// contact translates the line's level.
func (in *input) contact(l gpio.Level) Contact {
	if bool(l) == in.toHigh {
		return Closed
	}
	return Open
}

// pull is the side an open contact leaves the line on. It is always given: a
// floating line keeps whatever pull it had before.
func (in *input) pull() gpio.Pull {
	if in.toHigh {
		return gpio.PullDown
	}
	return gpio.PullUp
}

// sleep waits for d or until ctx is done.
func sleep(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
	case <-ctx.Done():
	}
}
