package alert

import (
	"context"
	"time"
)

// Light is what a lamp shows, over and over: for how long it is on, then off. The zero
// Light is dark, one with no Off steady.
type Light struct{ On, Off time.Duration }

// The lights. That high flashes at 1.4 to 2.8 Hz, medium at 0.4 to 0.8 and low not at all
// is the idea of IEC 60601-1-8 (from memory).
var (
	Dark   = Light{}
	Steady = Light{On: time.Second}
	Slow   = Light{On: 700 * ms, Off: 700 * ms}
	Fast   = Light{On: 250 * ms, Off: 250 * ms}
)

// LightOf returns what the lamp shows for alarms: fast while one that is high is raised,
// slow while another is that shouldn't wait, or is over and nobody ever heard it; steady while
// there is anything else to be read on the page.
func LightOf(alarms []Alarm) Light {
	light := Dark
	for _, a := range alarms {
		switch {
		case a.State == Raised && a.Priority == High:
			return Fast
		case a.State == Raised && a.Priority == Medium, a.State == Cleared:
			light = Slow
		case light == Dark:
			light = Steady
		}
	}
	return light
}

// Lamp shows lights on a pin.
type Lamp struct {
	pin  switcher
	next chan Light
	fail func(error)
}

// NewLamp returns a lamp on a pin; fail is told of each failure to switch it. It shines
// while Run runs.
func NewLamp(pin switcher, fail func(error)) *Lamp {
	return &Lamp{pin: pin, next: make(chan Light, 1), fail: fail}
}

// Show changes the light and doesn't wait. It may be called by one goroutine only.
func (l *Lamp) Show(light Light) {
	select {
	case <-l.next: // one that nobody has seen
	default:
	}
	l.next <- light
}

// Run shines until ctx is done and leaves the pin off.
func (l *Lamp) Run(ctx context.Context) {
	defer l.set(false)
	var now Light
	on := false
	var turn <-chan time.Time // when a flash goes on or off
	for {
		select {
		case <-ctx.Done():
			return
		case light := <-l.next:
			if light == now {
				continue
			}
			now, on = light, light.On > 0
		case <-turn:
			on = !on
		}
		l.set(on)
		turn = now.turn(on)
	}
}

// turn returns when a light that flashes is to change; nil for one that doesn't.
func (l Light) turn(on bool) <-chan time.Time {
	if l.On == 0 || l.Off == 0 {
		return nil
	}
	if on {
		return time.After(l.On)
	}
	return time.After(l.Off)
}

func (l *Lamp) set(on bool) {
	if err := l.pin.Set(on); err != nil && l.fail != nil {
		l.fail(err)
	}
}
