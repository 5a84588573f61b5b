package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"withy/cmd/withy/internal/calibration"
	"withy/sensor"
	"withy/steambox/calibrate"
	"withy/steambox/measure"
	"withy/steambox/words"
)

// sweeps is what a walk reads: a board, or something that plays one.
type sweeps interface {
	// Read waits for the next sweep; its error is ctx's, or the source's end.
	Read(ctx context.Context) (sensor.Sweep, error)
}

// watch reads probes while somebody carries them about, and shows what they read. All
// its times are those of the sweeps.
type watch struct {
	from   sweeps
	out    io.Writer
	names  []string         // for people, one a probe
	lines  []calibrate.Line // added to the readings, one a probe; the zero Line adds nothing
	limitS float64          // that a stage may last
	units  measure.Units    // that people read

	begun   bool // the stage has had a sweep
	beganS  float64
	atS     float64
	shownS  float64
	traces  []calibrate.Trace // of the stage
	whole   []calibrate.Trace // of all stages
	latest  []sensor.Reading
	door    sensor.Contact
	openedS []float64 // when the door was opened
}

func newWatch(from sweeps, out io.Writer, names []string, limit time.Duration, u measure.Units) *watch {
	n := len(names)
	return &watch{from: from, out: out, names: names, limitS: limit.Seconds(), units: u, lines: make([]calibrate.Line, n),
		traces: make([]calibrate.Trace, n), whole: make([]calibrate.Trace, n), latest: make([]sensor.Reading, n)}
}

// errLate says that a stage has had its time.
var errLate = errors.New("out of time")

// stage begins one: what was read before doesn't count in it.
func (w *watch) stage() {
	w.begun = false
	w.traces = make([]calibrate.Trace, len(w.names))
}

// next takes one sweep, and shows what was read each ten seconds by the given rule.
func (w *watch) next(ctx context.Context, r calibrate.Rule) error {
	sweep, err := w.from.Read(ctx)
	if err != nil {
		return err
	}
	w.atS = sweep.At.Seconds()
	if !w.begun {
		w.begun, w.beganS, w.shownS = true, w.atS, w.atS
	}
	for i, reading := range sweep.Probes {
		w.take(i, reading)
	}
	if sweep.Door == sensor.Open && w.door == sensor.Closed {
		w.openedS = append(w.openedS, w.atS)
	}
	w.door = sweep.Door
	if w.atS-w.shownS >= showEveryS {
		w.shownS += showEveryS
		w.show(r)
	}
	if w.atS-w.beganS > w.limitS {
		return errLate
	}
	return nil
}

// showEveryS is how often a watch shows what it reads, in seconds.
const showEveryS = 10

// take enters a reading that is new.
func (w *watch) take(i int, r sensor.Reading) {
	w.latest[i] = r
	if r.Fault != nil {
		return
	}
	s := calibrate.Sample{AtS: r.At.Seconds(), C: w.lines[i].Correct(float64(r.Temp))}
	if n := len(w.whole[i]); n > 0 && w.whole[i][n-1].AtS >= s.AtS {
		return
	}
	w.traces[i], w.whole[i] = append(w.traces[i], s), append(w.whole[i], s)
}

// show prints a line of what the probes read.
func (w *watch) show(r calibrate.Rule) {
	var b strings.Builder
	b.WriteString(words.Clock(w.atS - w.beganS))
	for i, name := range w.names {
		n := len(w.traces[i])
		switch {
		case w.latest[i].Fault != nil:
			fmt.Fprintf(&b, "  %s: %v", name, w.latest[i].Fault.Kind)
		case n == 0:
			fmt.Fprintf(&b, "  %s: nothing yet", name)
		default:
			b.WriteString("  " + name + " " + w.units.Temperature(w.traces[i][n-1].C, 2))
			if r.Judge(w.traces[i]).Steady {
				b.WriteString(" at rest")
			}
		}
	}
	fmt.Fprintln(w.out, b.String())
}

// rests returns what each probe reads at rest; ok is false while one of them moves.
func (w *watch) rests(r calibrate.Rule) (c []float64, ok bool) {
	for i, t := range w.traces {
		rest := r.Judge(t)
		if !rest.Steady || w.latest[i].Fault != nil {
			return nil, false
		}
		c = append(c, rest.C)
	}
	return c, true
}

// explain says why a watch ended with an error, and returns what the verb ends with.
func (w *watch) explain(ctx context.Context, err error) error {
	switch {
	case ctx.Err() != nil:
		fmt.Fprintln(w.out, words.Stopped)
	case errors.Is(err, errLate):
		fmt.Fprintln(w.out, words.Late(w.limitS))
	default:
		return err
	}
	for i, r := range w.latest {
		if r.Fault != nil {
			fmt.Fprintf(w.out, "%s: %s\n", w.names[i], remedy(r))
		}
	}
	return errWrong
}

// keep puts a record into the data folder and says where it is.
func (w *watch) keep(data string, r calibration.Record, at time.Time) error {
	name, err := calibration.Save(data, r, at)
	if err != nil {
		return fmt.Errorf("--data %s: %w", data, err)
	}
	fmt.Fprintf(w.out, "Kept: %s\n", name)
	return nil
}

// extraProbes returns the names of probes beside those of the configuration, from a
// flag, with all mistakes in them.
func extraProbes(s settings, ids []string) error {
	var errs []error
	for i, id := range ids {
		if err := sensor.CheckProbe(id); err != nil {
			errs = append(errs, fmt.Errorf("--probe: %w", err))
		}
		if slices.Contains(s.Sensors.Probes, id) {
			errs = append(errs, fmt.Errorf("--probe %s: the configuration names it already", id))
		}
		if slices.Contains(ids[:i], id) {
			errs = append(errs, fmt.Errorf("--probe %s: given twice", id))
		}
	}
	return errors.Join(errs...)
}

// checkLasts returns a mistake when a flag's length of time is out of range.
func checkLasts(name string, d, lo, hi time.Duration) error {
	if d < lo || d > hi {
		return fmt.Errorf("--%s %v: outside %v to %v", name, d, lo, hi)
	}
	return nil
}

// walkBoard says which probes of the board a walk reads.
func walkBoard(s settings, ids []string) sensor.Config {
	cfg := s.probesOnly(ids)
	cfg.Door = s.Sensors.Door
	return cfg
}
