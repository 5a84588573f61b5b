package sensor

import (
	"context"
	"errors"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"
)

// probes reads the configured probes: one goroutine per 1-wire bus master, one
// that sees which bus each probe hangs on, and one for each probe of another kind. A
// read that never returns holds up the probes of its own bus, or only itself, and
// nothing else.
type probes struct {
	root   string
	names  []string
	due    pace // of the first look and the first read
	maxAge time.Duration
	now    func() time.Duration
	log    *slog.Logger
	// readers are those of the probes that are on no 1-wire bus, by name.
	readers map[string]reader

	mu      sync.Mutex
	started time.Duration
	judge   *Judge
	latest  map[string]Reading
	running map[string]bool // bus directories that have a reader
}

// pace is when something is due that is done each period: with the sweeps, so that the
// program wakes up once.
type pace struct{ due, period time.Duration }

// next returns how long to wait for the next; what is late is done at once and does not
// catch up.
func (p *pace) next(now time.Duration) time.Duration {
	p.due = max(p.due+p.period, now)
	return p.due - now
}

// reader reads one probe; it is used by one goroutine.
type reader interface{ read() Sample }

// readers returns the readers of the probes that are on no 1-wire bus.
func (c Config) readers() map[string]reader {
	out := map[string]reader{}
	for _, name := range c.Probes {
		at, _ := parseProbe(name) // checked with all else
		switch at.from {
		case spiBus:
			out[name] = &max31855{at: at, open: c.spi}
		case iio:
			p := &iioProbe{root: c.IIORoot, at: at}
			if e, ok := c.Elements[name]; ok {
				p.element = &e
			}
			out[name] = p
		case hwmon:
			out[name] = &hwmonProbe{root: c.HwmonRoot, at: at}
		}
	}
	return out
}

// run looks where the 1-wire probes are, each period, until ctx is done.
func (w *probes) run(ctx context.Context) {
	for name, r := range w.readers {
		go w.watch(ctx, name, r)
	}
	wired, due := w.wired(), w.due
	for ctx.Err() == nil && len(wired) > 0 {
		for _, name := range wired {
			dir, err := busOf(w.root, name)
			if err != nil {
				w.add(Sample{Probe: name, At: w.now(), Fault: faultOf(err)})
				continue
			}
			w.startBus(ctx, dir)
		}
		sleep(ctx, due.next(w.now()))
	}
}

// wired returns the names of the probes on 1-wire buses.
func (w *probes) wired() []string {
	return slices.DeleteFunc(slices.Clone(w.names), func(name string) bool { return w.readers[name] != nil })
}

// watch reads one probe each period until ctx is done.
func (w *probes) watch(ctx context.Context, name string, r reader) {
	if c, ok := r.(interface{ close() }); ok {
		defer c.close()
	}
	for due := w.due; ctx.Err() == nil; sleep(ctx, due.next(w.now())) {
		s := w.timed(r.read)
		s.Probe = name
		w.add(s)
	}
}

// timed reads and notes when. An answer that took too long may be a value as old as the
// question.
func (w *probes) timed(read func() Sample) Sample {
	start := w.now()
	s := read()
	s.At = w.now()
	if took := s.At - start; took > w.maxAge {
		s.Fault = faultf(Timeout, "answer after %s", took.Round(time.Millisecond))
	}
	return s
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

// readings returns the newest word of each probe, and when that was so: none of them is
// younger.
func (w *probes) readings() (out []Reading, now time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	now = w.now()
	out = make([]Reading, 0, len(w.names))
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
	return out, now
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
	for due := b.due; ctx.Err() == nil; {
		names := b.here()
		if len(names) == 0 {
			return
		}
		if again := b.cycle(names); !again {
			sleep(ctx, due.next(b.now()))
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
	return slices.DeleteFunc(b.wired(), func(name string) bool {
		_, err := os.Stat(filepath.Join(b.dir, name))
		return err != nil
	})
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

// read reads a probe of the bus.
func (b *bus) read(name string, how func(root, probe string) Sample) Sample {
	return b.timed(func() Sample { return how(b.root, name) })
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
