package sensor

import (
	"context"
	"errors"
	"io/fs"
	"log/slog"
	"sync"
	"time"
)

// probes reads the configured probes: one goroutine per bus master, and one
// that sees which bus each probe hangs on. A read that never returns holds up the
// probes of its own bus and nothing else.
type probes struct {
	root   string
	names  []string
	period time.Duration
	maxAge time.Duration
	now    func() time.Duration
	log    *slog.Logger

	mu      sync.Mutex
	started time.Duration
	judge   *Judge
	latest  map[string]Reading
	running map[string]bool // bus directories that have a reader
}

// run looks where the probes are, each period, until ctx is done.
func (w *probes) run(ctx context.Context) {
	for ctx.Err() == nil {
		for _, name := range w.names {
			dir, err := busOf(w.root, name)
			if err != nil {
				w.add(Sample{Probe: name, At: w.now(), Fault: faultOf(err)})
				continue
			}
			w.startBus(ctx, dir)
		}
		sleep(ctx, w.period)
	}
}

// startBus starts a reader for a bus that has none.
func (w *probes) startBus(ctx context.Context, dir string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.running[dir] {
		return
	}
	w.running[dir] = true
	go (&bus{probes: w, dir: dir}).run(ctx)
}

// add has a sample judged and keeps what comes of it. It reports whether the
// judge is in doubt.
func (w *probes) add(s Sample) (doubt bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, r := range w.judge.Add(s) {
		w.latest[r.Probe] = r
	}
	return w.judge.Doubts(s.Probe)
}

// readings returns the newest word of each probe, as of now.
func (w *probes) readings(now time.Duration) []Reading {
	w.mu.Lock()
	defer w.mu.Unlock()
	out := make([]Reading, 0, len(w.names))
	for _, name := range w.names {
		r, ok := w.latest[name]
		switch age := now - r.At; {
		case !ok && now-w.started <= w.maxAge:
			r = Reading{Probe: name, At: now, Fault: faultf(Pending, "not read yet")}
		case !ok:
			r = Reading{Probe: name, At: now, Fault: faultf(Timeout, "no answer since the start")}
		case age > w.maxAge:
			r = Reading{Probe: name, At: now, Fault: faultf(Timeout, "no answer for %s", age.Round(time.Millisecond))}
		}
		out = append(out, r)
	}
	return out
}

// bus reads the probes of one bus master.
type bus struct {
	*probes
	dir     string
	drained map[string]bool // probes whose first value is out of the way
	refused bool            // the bulk conversion is known not to be permitted
}

// run reads the bus each period while any probe hangs on it.
func (b *bus) run(ctx context.Context) {
	defer b.stop()
	for ctx.Err() == nil {
		start := b.now()
		names := b.here()
		if len(names) == 0 {
			return
		}
		if again := b.cycle(names); !again {
			sleep(ctx, start+b.period-b.now())
		}
	}
}

func (b *bus) stop() {
	b.mu.Lock()
	defer b.mu.Unlock()
	delete(b.running, b.dir)
}

// here returns the configured probes that hang on this bus now.
func (b *bus) here() []string {
	var names []string
	for _, name := range b.names {
		if dir, err := busOf(b.root, name); err == nil && dir == b.dir {
			names = append(names, name)
		}
	}
	return names
}

// cycle reads each probe once. It reports whether values were thrown away, so
// that the next cycle should follow at once.
//
// A value is handed on as soon as it is there: probes read in turn take 0.8 s
// each. Probes that say nothing are kept to the end, since all of them
// silent at once, and in no time, is a fault of the bus.
func (b *bus) cycle(names []string) (again bool) {
	bulk := len(names) > 1 && b.convert()
	var silent []Sample
	dead := true // so far
	for _, name := range names {
		start := b.now()
		s := b.read(name, readProbe)
		dead = dead && s.Fault != nil && s.Fault.Kind == Empty && s.At-start < shortedWithin
		switch {
		case bulk && b.drain(name):
			again = true
		case s.Fault != nil && s.Fault.Kind == Empty:
			silent = append(silent, s)
		default:
			b.hand(s)
		}
	}
	for _, s := range silent {
		if dead {
			s.Fault = faultf(Shorted, "all %d probes of the bus silent at once: data line shorted or cut off", len(names))
		}
		b.add(s)
	}
	return again
}

// hand gives a sample to the judge, and its scratchpad too where the judge is
// in doubt.
func (b *bus) hand(s Sample) {
	if !b.add(s) || s.Pad != nil {
		return
	}
	if s = b.read(s.Probe, readSlave); s.Pad != nil {
		b.add(s)
	}
}

// read reads a probe and notes when. An answer that took too long may be a
// value as old as the question.
func (b *bus) read(name string, how func(root, probe string) Sample) Sample {
	start := b.now()
	s := how(b.root, name)
	s.At = b.now()
	if took := s.At - start; took > b.maxAge {
		s.Fault = faultf(Timeout, "answer after %s", took.Round(time.Millisecond))
	}
	return s
}

// convert starts a conversion of all probes at once, where the bus has that
// and this program may. It reports whether it did.
func (b *bus) convert() bool {
	err := convertAll(b.dir)
	if err == nil {
		return true
	}
	if !errors.Is(err, fs.ErrNotExist) && !b.refused {
		b.refused = true
		b.log.Warn("no bulk conversion: probes are read in turn", "bus", b.dir, "err", err)
	}
	return false
}

// drain reports whether this was a probe's first value after a bulk
// conversion: it may be left over from one that somebody else began.
func (b *bus) drain(name string) bool {
	if b.drained[name] {
		return false
	}
	if b.drained == nil {
		b.drained = map[string]bool{}
	}
	b.drained[name] = true
	return true
}
