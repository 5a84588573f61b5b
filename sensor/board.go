package sensor

import (
	"context"
	"errors"
	"log/slog"
	"slices"
	"sync"
	"time"
)

// Defaults of [Config] and of the hold times in it. The level switch is slow:
// a float bobs in boiling water for seconds, and "low" should be known sooner than
// "filled again".
const (
	DefaultPeriod = time.Second
	DefaultMaxAge = 3 * time.Second

	levelOpenHold  = 3 * time.Second
	levelCloseHold = 5 * time.Second
	floatOpenHold  = 10 * time.Second
	floatCloseHold = time.Minute // so that a float that bobs at its level turns once
	doorHold       = 200 * time.Millisecond
	buttonHold     = 30 * time.Millisecond

	// keptPresses is how many presses wait for a Read that does not come.
	keptPresses = 32
	// closeWithin is how long Close waits for the lines to be given back.
	closeWithin = 2 * lookEvery
)

// Config says what is on the board. The zero Config is a board with nothing on it,
// which is a valid one.
type Config struct {
	// W1Root is the kernel's list of 1-wire devices; empty means [DefaultW1Root].
	W1Root string
	// IIORoot and HwmonRoot are the kernel's lists of other sensors; empty means
	// [DefaultIIORoot] and [DefaultHwmonRoot].
	IIORoot, HwmonRoot string
	// BootFile holds the boot id; empty means [DefaultBootFile].
	BootFile string
	// Probes are the thermometers' names: see [CheckProbe]. A probe
	// that is not there is a fault in each sweep until it is.
	Probes []string
	// Elements are what hangs at those probes that give ohms or volts, by name.
	Elements map[string]Element
	// Level is the water switch: a contact that is closed while there is
	// water above it, so that a broken wire reads as low water.
	Level ContactConfig
	// Floats are further such switches, at levels above that of Level.
	Floats []ContactConfig
	// Door is a contact that is closed while the door is shut.
	Door ContactConfig
	// Buttons are contacts closed while pressed.
	Buttons []ButtonConfig
	// Period is the pace of sweeps and of reading probes; 0 means [DefaultPeriod].
	Period time.Duration
	// MaxAge is the age past which a reading is no longer given out, and a
	// silent probe is a [Timeout]; 0 means a second for each 1-wire probe and one more,
	// and at least [DefaultMaxAge]: where this program may not have all of a bus
	// convert at once they are read in turn, 0.8 s each.
	MaxAge time.Duration

	// spi opens a chip at an SPI bus; nil means [openSPI].
	spi func(bus, chipSelect, hertz int) (spiConn, error)
	// keys opens a keyboard; nil means [openKeys].
	keys func(path string) (keys, error)
}

// ButtonConfig describes a push button or a key.
type ButtonConfig struct {
	// Name is the button's name in [Press], unlike that of any other; not
	// "level", "door" or a float's.
	Name string
	// Contact is its line; without a line it is a key.
	Contact ContactConfig
	// Key is the key that it is.
	Key KeyConfig
	// MaxHold is that of [Button].
	MaxHold time.Duration
}

// LineState is what is known about one input line or key, for a self-check and for
// metrics.
type LineState struct {
	// Input is "level", "door", "float 1" and so on, or a button's name.
	Input string
	// Line is the line's spec, or the keyboard's path.
	Line string
	// Contact is its settled state.
	Contact Contact
	// Edges counts the raw edges since start: how much the contact chatters.
	Edges uint64
	// Err is why the line is not to be had, nil when it is. Before the first
	// look at it both are unset.
	Err error
}

// Board reads the probes, switches and buttons of this machine.
//
// Read is for one goroutine at a time; all else is safe for concurrent use.
type Board struct {
	boot      string
	period    time.Duration
	now       func() time.Duration
	probes    *probes
	inputs    []*input // of lines and keys
	floats    int      // how many of them are floats
	keyboards []*keyboard
	wake      chan struct{} // an input changed
	closed    chan struct{}
	closing   sync.Once
	stop      context.CancelFunc
	lines     sync.WaitGroup
	log       *slog.Logger

	mu      sync.Mutex
	due     time.Duration // of the next sweep
	states  map[*input]LineState
	presses []Press
}

// NewBoard starts reading. All mistakes in cfg are reported together; hardware
// that is not there, or not yet, is not an error but a fault in the sweeps, or a
// contact that is Unknown. Close stops it.
func NewBoard(cfg Config, log *slog.Logger) (*Board, error) {
	return newBoard(cfg, log, bootTime, takeLine)
}

// newBoard is NewBoard with the clock and the lines as parameters.
func newBoard(cfg Config, log *slog.Logger, now func() time.Duration, take func(LineSpec) (pin, error)) (*Board, error) {
	cfg = cfg.withDefaults()
	boot, bootErr := readBoot(cfg.BootFile)
	inputs, keyboards, inputErr := cfg.inputs()
	if err := errors.Join(cfg.check(), inputErr, bootErr); err != nil {
		return nil, err
	}
	start := now()
	b := &Board{
		boot:   boot,
		period: cfg.Period,
		now:    now,
		probes: &probes{
			root: cfg.W1Root, names: slices.Clone(cfg.Probes), readers: cfg.readers(), due: pace{due: start, period: cfg.Period}, maxAge: cfg.MaxAge,
			now: now, log: log, started: start, judge: NewJudge(),
			latest: map[string]Reading{}, running: map[string]bool{},
		},
		inputs:    inputs,
		keyboards: keyboards,
		floats:    len(cfg.Floats),
		wake:      make(chan struct{}, 1),
		closed:    make(chan struct{}),
		log:       log,
		due:       start + cfg.Period,
		states:    map[*input]LineState{},
	}
	b.start(take)
	return b, nil
}

// start starts the goroutines.
func (b *Board) start(take func(LineSpec) (pin, error)) {
	var ctx context.Context
	ctx, b.stop = context.WithCancel(context.Background())
	for _, in := range b.inputs {
		in.take, in.now, in.log, in.tell = take, b.now, b.log, b.hear
		b.states[in] = LineState{Input: in.name, Line: in.where}
	}
	for _, in := range b.inputs {
		if !in.key {
			b.lines.Go(func() { in.run(ctx) })
		}
	}
	for _, k := range b.keyboards {
		k.log = b.log
		b.lines.Go(func() { k.run(ctx) })
	}
	if len(b.probes.names) > 0 {
		go b.probes.run(ctx)
	}
}

// Read waits until the next sweep is due, or an input has changed, and returns
// what every sensor says at that moment. Sweeps are a period apart; one
// that came early for an input does not move those after it.
//
// Faults of sensors are in the sweep. The error is ctx's, or [ErrClosed].
func (b *Board) Read(ctx context.Context) (Sweep, error) {
	if err := ctx.Err(); err != nil {
		return Sweep{}, err
	}
	b.mu.Lock()
	wait := b.due - b.now()
	b.mu.Unlock()
	timer := time.NewTimer(wait)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return Sweep{}, ctx.Err()
	case <-b.closed:
		return Sweep{}, ErrClosed
	case <-b.wake:
	case <-timer.C:
	}
	select {
	case <-b.closed:
		return Sweep{}, ErrClosed
	default:
		return b.sweep(), nil
	}
}

// sweep puts together what is known now.
func (b *Board) sweep() Sweep {
	b.mu.Lock()
	defer b.mu.Unlock()
	select {
	case <-b.wake: // what it was about is in this sweep
	default:
	}
	readings, now := b.probes.readings()
	if now >= b.due {
		b.due += b.period
	}
	if now >= b.due { // so late that it missed one: no catching up
		b.due = now + b.period
	}
	s := Sweep{At: now, Probes: readings, Presses: b.presses, Floats: make([]Contact, b.floats)}
	b.presses = nil
	for in, st := range b.states {
		switch {
		case in.name == levelName:
			s.Level = st.Contact
		case in.name == doorName:
			s.Door = st.Contact
		case in.float > 0:
			s.Floats[in.float-1] = st.Contact
		}
	}
	return s
}

// hear takes what an input has to say.
func (b *Board) hear(in *input, c Contact, p *Press, err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	st := b.states[in]
	changed := st.Contact != c || p != nil
	st.Contact, st.Err = c, err
	b.states[in] = st
	if p != nil {
		b.presses = append(b.presses, *p)
		if n := len(b.presses); n > keptPresses {
			b.presses = b.presses[n-keptPresses:]
		}
	}
	if changed {
		select {
		case b.wake <- struct{}{}:
		default: // already told
		}
	}
}

// Lines returns the state of every input line: level, door, floats, then the buttons
// in their order.
func (b *Board) Lines() []LineState {
	b.mu.Lock()
	defer b.mu.Unlock()
	var out []LineState
	for _, in := range b.inputs {
		st := b.states[in]
		st.Edges = in.edges.Load()
		out = append(out, st)
	}
	return out
}

// Now returns the time on the clock of the sweeps: time since boot, time asleep
// included.
func (b *Board) Now() time.Duration { return b.now() }

// Boot returns the name of this boot, under which times of Now can be compared.
func (b *Board) Boot() string { return b.boot }

// Close stops reading, ends a Read under way, and gives the lines back, which
// takes up to a second. It does not wait for a probe's read that hangs. A second
// Close does nothing.
func (b *Board) Close() error {
	b.closing.Do(func() {
		close(b.closed)
		b.stop()
		done := make(chan struct{})
		go func() {
			b.lines.Wait()
			close(done)
		}()
		select {
		case <-done:
		case <-time.After(closeWithin):
			b.log.Warn("lines not given back in time", "after", closeWithin)
		}
	})
	return nil
}
