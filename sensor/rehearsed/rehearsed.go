// Package rehearsed lets the rehearsal box wear the sensors' interfaces: its
// probes, its level switch, its clock, at any pace. It also is the box to its
// crew: what they do to the real one, they do to it here.
package rehearsed

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"sync"
	"time"

	"withy/sensor"
	"withy/steambox/rehearsal"
	"withy/steambox/unit"
)

// Box is a rehearsal box in time. Its methods may be called by any goroutine.
type Box struct {
	speed  float64
	closed chan struct{}
	once   sync.Once

	mu    sync.Mutex
	world *rehearsal.World
	boot  string
	next  time.Time     // when the next sweep is due
	at    time.Duration // of the last sweep
	read  time.Time     // when that was
}

// MaxSpeed is the fastest pace: beyond it the box is as fast as the machine.
const MaxSpeed = 5000

// New returns the box of a world that goes speed times as fast as life, more than
// 0 and at most MaxSpeed. boot names this run of it.
func New(w *rehearsal.World, boot string, speed float64) (*Box, error) {
	if !(speed > 0 && speed <= MaxSpeed) {
		return nil, fmt.Errorf("speed %g: more than 0, at most %d", speed, MaxSpeed)
	}
	return &Box{speed: speed, world: w, boot: boot, closed: make(chan struct{}), at: -1}, nil
}

// step is how much of the box's time lies between two sweeps.
const step = time.Second

// Read waits until the next second of the box is due at its pace, lets it pass and
// returns what the sensors say then. It returns ctx's error, or sensor.ErrClosed.
func (b *Box) Read(ctx context.Context) (sensor.Sweep, error) {
	if err := b.wait(ctx); err != nil {
		return sensor.Sweep{}, err
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.world.Step(step)
	b.at, b.read = b.world.Elapsed(), time.Now()
	return b.sweep(), nil
}

// wait waits for the next sweep to be due. One that is late is not made up for
// beyond a second: a machine that can't keep the pace goes slower.
func (b *Box) wait(ctx context.Context) error {
	b.mu.Lock()
	now := time.Now()
	pause := time.Duration(float64(step) / b.speed)
	if b.next.Before(now.Add(-time.Second)) {
		b.next = now
	}
	due := b.next
	b.next = b.next.Add(pause)
	b.mu.Unlock()
	timer := time.NewTimer(due.Sub(now))
	defer timer.Stop()
	select {
	case <-ctx.Done():
	case <-b.closed:
	case <-timer.C:
	}
	// Whichever came first, the end of the box or of the wait goes before a sweep.
	select {
	case <-b.closed:
		return sensor.ErrClosed
	default:
		return ctx.Err()
	}
}

func (b *Box) sweep() sensor.Sweep {
	s := sensor.Sweep{At: b.at, Level: sensor.Open}
	if b.world.LevelClosed() {
		s.Level = sensor.Closed
	}
	for _, p := range b.world.Probes() {
		r := sensor.Reading{Probe: p.Name, Temp: p.Temp, At: b.at}
		switch {
		case !p.OK:
			r.Fault = &sensor.Fault{Kind: sensor.Absent}
		case p.PowerOn:
			r.Fault = &sensor.Fault{Kind: sensor.PowerOn}
		}
		s.Probes = append(s.Probes, r)
	}
	return s
}

// Now returns the box's time, between two sweeps by the pace.
func (b *Box) Now() time.Duration {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.at < 0 {
		return b.world.Elapsed()
	}
	since := time.Duration(float64(time.Since(b.read)) * b.speed)
	return b.at + min(since, step-1)
}

// Boot names the run that the box's clock belongs to; it goes on after a restart
// from what Save kept.
func (b *Box) Boot() string { return b.boot }

// Close ends the box.
func (b *Box) Close() error {
	b.once.Do(func() { close(b.closed) })
	return nil
}

// saved is a box on disk.
type saved struct {
	Boot  string
	Wall  time.Time
	Speed float64
	World *rehearsal.World
}

// Save returns the box as it is, for Load.
func (b *Box) Save() ([]byte, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return json.Marshal(saved{b.boot, time.Now(), b.speed, b.world})
}

// longestAway is how much of its own time a box goes on by while nobody runs it.
const longestAway = 2 * time.Hour

// Load returns a box that Save kept. Time has gone on for it since, as it would
// for a real one.
func Load(text []byte, speed float64) (*Box, error) {
	s := saved{World: &rehearsal.World{}}
	if err := json.Unmarshal(text, &s); err != nil {
		return nil, fmt.Errorf("rehearsal box: %w", err)
	}
	b, err := New(s.World, s.Boot, speed)
	if err != nil {
		return nil, err
	}
	away := time.Duration(min(time.Since(s.Wall).Seconds()*s.Speed, longestAway.Seconds())) * time.Second
	if away > 0 {
		b.world.Step(away)
	}
	return b, nil
}

// Scenario names what the box rehearses.
func (b *Box) Scenario() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.world.Name()
}

// Load puts a rib into a slot, counted from 0.
func (b *Box) Load(slot int, rib rehearsal.Rib) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.world.Load(slot, rib)
}

// Discard throws a rib away that is done with, so that a new blank may have its label.
func (b *Box) Discard(label string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.world.Discard(label)
}

// Pull takes the rib out of a slot.
func (b *Box) Pull(slot int) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	_, err := b.world.Pull(slot)
	return err
}

// Bend bends a rib that has been pulled and returns how it went.
func (b *Box) Bend(rib string) (rehearsal.Outcome, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.world.Bend(rib)
}

// Refill pours litres of water of c °C into the boiler.
func (b *Box) Refill(litres, c float64) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.world.Refill(litres, unit.Celsius(math.Max(0, c)))
}

// SetFire switches what heats the boiler.
func (b *Box) SetFire(on bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.world.SetFire(on)
}

// CarryTips carries the tips of the probes somewhere.
func (b *Box) CarryTips(to rehearsal.Tips) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.world.CarryTips(to)
}

// Delay draws how long the crew takes over something.
func (b *Box) Delay(t rehearsal.Task) time.Duration {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.world.Delay(t)
}

// Fitter returns the crew's habits.
func (b *Box) Fitter() rehearsal.Fitter {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.world.Fitter()
}

// Truth returns what a rib has really taken at a place in the box.
func (b *Box) Truth(rib string, x unit.Metre) (rehearsal.Truth, bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.world.Truth(rib, x)
}
