package daemon

import (
	"fmt"
	"sync/atomic"
	"time"

	"withy/sensor"
)

// staleAfter is how long the loop may go without a sweep, and without a temperature, before
// it counts as dead.
const staleAfter = 5 * time.Second

// senses is when the loop went round last and when a probe gave a temperature last, on the
// process's clock.
type senses struct {
	swept, read atomic.Int64
	answered    bool // a probe did, if only by a fault, since the start
}

// take enters a sweep at a time. It reports whether no probe answers any more, each read of
// them waits: whoever looks after the program may start it again, and sees by that whether it
// was the program. Where none has answered since the start it wasn't, and the watch over the
// water, the buttons and the alarms is worth more than another start. A fault is an answer.
func (s *senses) take(at time.Duration, sweep sensor.Sweep) (helpless bool) {
	s.swept.Store(int64(at))
	answers := false
	for _, p := range sweep.Probes {
		switch {
		case p.Fault == nil:
			s.read.Store(int64(at))
			answers = true
		case p.Fault.Kind != sensor.Timeout && p.Fault.Kind != sensor.Pending:
			answers = true
		}
	}
	helpless = s.answered && !answers
	s.answered = s.answered || answers
	return helpless
}

// Watching returns nil while sweeps are being folded, else what is wrong.
func (d *Daemon) Watching() error {
	if since := time.Since(d.started) - time.Duration(d.senses.swept.Load()); since > staleAfter {
		return fmt.Errorf("no sweep of the sensors for %.0f s", since.Seconds())
	}
	return nil
}

// Healthy returns nil while sweeps are being folded and a probe gives temperatures, else what
// is wrong.
func (d *Daemon) Healthy() error {
	if err := d.Watching(); err != nil {
		return err
	}
	if since := time.Since(d.started) - time.Duration(d.senses.read.Load()); since > staleAfter {
		return fmt.Errorf("no temperature from any probe for %.0f s", since.Seconds())
	}
	return nil
}
