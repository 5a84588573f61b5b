package sensor

import (
	"fmt"
	"log/slog"
	"sync"
	"time"

	"periph.io/x/conn/v3/gpio"
)

// OutputConfig describes an output on a GPIO line: a buzzer, a lamp.
type OutputConfig struct {
	// Line is a spec for [ParseLine].
	Line string
	// ActiveLow is set when a low line means on. Such an output is on for a moment
	// as the line is taken: periph makes the line an output first and sets
	// its level after.
	ActiveLow bool
}

// Output switches one line. It remembers what it was told and never asks the
// line: periph's Read and Func turn an output into an input with a
// pull-up, and a buzzer would sound. Safe for concurrent use.
type Output struct {
	spec      LineSpec
	activeLow bool
	take      func(LineSpec) (pin, error)
	log       *slog.Logger

	mu     sync.Mutex
	pin    pin // nil while the line is not to be had
	on     bool
	err    error
	retry  *time.Timer // set while a retry is due
	closed bool
}

// OpenOutput takes the line and switches it off. The error is for a spec that cannot
// be read; a line that is not to be had now is tried again each few
// seconds, and [Output.Err] tells.
func OpenOutput(cfg OutputConfig, log *slog.Logger) (*Output, error) {
	return openOutput(cfg, log, takeLine)
}

func openOutput(cfg OutputConfig, log *slog.Logger, take func(LineSpec) (pin, error)) (*Output, error) {
	spec, err := ParseLine(cfg.Line)
	if err != nil {
		return nil, fmt.Errorf("output: %w", err)
	}
	o := &Output{spec: spec, activeLow: cfg.ActiveLow, take: take, log: log}
	_ = o.Set(false) // kept in o.err and tried again
	return o, nil
}

// Set switches the output. An error means that the line did not take it; it
// will be given the last state asked for as soon as it can be had again. After
// Close the error is [ErrClosed].
func (o *Output) Set(on bool) error {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.closed {
		return ErrClosed
	}
	o.on = on
	return o.write()
}

// Err returns why the last write failed, nil when it did not.
func (o *Output) Err() error {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.err
}

// Close switches the output off and gives the line back, as far as it can be
// had. A second Close does nothing.
func (o *Output) Close() error {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.closed {
		return nil
	}
	o.closed, o.on = true, false
	if o.retry != nil {
		o.retry.Stop()
	}
	if o.pin == nil {
		return nil
	}
	err := o.pin.Out(o.level())
	o.drop()
	return err
}

// write brings the line to the state asked for.
func (o *Output) write() error {
	err := o.tryWrite()
	if err != nil {
		if o.err == nil {
			o.log.Warn("output failed", "line", o.spec.String(), "err", err)
		}
		o.retryLater()
	}
	o.err = err
	return err
}

func (o *Output) tryWrite() error {
	if o.pin == nil {
		p, err := o.take(o.spec)
		if err != nil {
			return err
		}
		o.pin = p
	}
	if err := o.pin.Out(o.level()); err != nil {
		// The line counts itself as an output although it isn't one: the
		// next Out would write to descriptor 0. Closing it makes it forget.
		o.drop()
		return fmt.Errorf("line %s: %w", o.spec, err)
	}
	return nil
}

// retryLater has the line tried again, once, unless that is already due.
func (o *Output) retryLater() {
	if o.retry != nil {
		return
	}
	o.retry = time.AfterFunc(retryEvery, func() {
		o.mu.Lock()
		defer o.mu.Unlock()
		o.retry = nil
		if !o.closed {
			_ = o.write() // kept in o.err and tried again
		}
	})
}

func (o *Output) drop() {
	dropLine(o.pin)
	o.pin = nil
}

func (o *Output) level() gpio.Level { return gpio.Level(o.on != o.activeLow) }
