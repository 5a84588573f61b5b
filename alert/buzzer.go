package alert

import (
	"context"
	"slices"
	"time"
)

// Pulse is one stretch of a sound: on, then off.
type Pulse struct{ On, Off time.Duration }

const ms = time.Millisecond

// Patterns holds the timing of each sound on a buzzer that can only be on or off.
// Danger's two fives are the idea of IEC 60601-1-8 (timing from memory).
var Patterns = map[Sound][]Pulse{
	Look:      {{60 * ms, 0}},
	ReadySoon: {{120 * ms, 0}},
	Pull:      {{200 * ms, 120 * ms}, {200 * ms, 0}},
	Kettle:    {{300 * ms, 300 * ms}, {300 * ms, 300 * ms}, {300 * ms, 0}},
	Danger: {
		{150 * ms, 100 * ms}, {150 * ms, 100 * ms}, {150 * ms, 100 * ms}, {150 * ms, 100 * ms}, {150 * ms, 400 * ms},
		{150 * ms, 100 * ms}, {150 * ms, 100 * ms}, {150 * ms, 100 * ms}, {150 * ms, 100 * ms}, {150 * ms, 0},
	},
}

// switcher is a pin that is on or off.
type switcher interface{ Set(on bool) error }

// Buzzer plays sounds on a pin, one after the other, in real time. Play never
// waits: a sound that comes while another waits to be played replaces it unless
// that one is danger; danger breaks off what is being played.
type Buzzer struct {
	pin   switcher
	queue chan Sound
	fail  func(error)
}

// NewBuzzer returns a buzzer on a pin; fail is told of each failure to switch it.
// It plays while Run runs.
func NewBuzzer(pin switcher, fail func(error)) *Buzzer {
	return &Buzzer{pin: pin, queue: make(chan Sound, 1), fail: fail}
}

// Play asks for a sound. It may be called by one goroutine only.
func (b *Buzzer) Play(s Sound) {
	if len(Patterns[s]) == 0 {
		return
	}
	select {
	case b.queue <- s:
	default:
		select {
		case waiting := <-b.queue:
			if waiting == Danger {
				s = Danger
			}
		default:
		}
		b.queue <- s
	}
}

// Run plays until ctx is done and leaves the pin off.
func (b *Buzzer) Run(ctx context.Context) {
	defer b.set(false)
	for {
		select {
		case <-ctx.Done():
			return
		case s := <-b.queue:
			for s != Silent {
				s = b.play(ctx, s)
			}
		}
	}
}

// pause is the silence between two sounds that follow one another.
const pause = 250 * ms

// play plays one sound to its end and returns Silent, or breaks it off and returns
// what is to be played instead. Each edge has its time from the beginning, so that a busy
// board does not draw a sound out little by little; a pulse that was missed as a whole
// puts off those after it.
func (b *Buzzer) play(ctx context.Context, s Sound) Sound {
	edge := time.Now()
	until := func(d time.Duration) time.Time {
		edge = edge.Add(d)
		if now := time.Now(); now.After(edge) {
			edge = now.Add(d)
		}
		return edge
	}
	for _, p := range append(slices.Clip(Patterns[s]), Pulse{0, pause}) {
		if p.On > 0 {
			b.set(true)
			if next := b.wait(ctx, until(p.On), s); next != Silent {
				return next
			}
			b.set(false)
		}
		if next := b.wait(ctx, until(p.Off), s); next != Silent {
			return next
		}
	}
	return Silent
}

// wait waits until a time. Danger ends it early unless danger is being played.
func (b *Buzzer) wait(ctx context.Context, until time.Time, playing Sound) Sound {
	t := time.NewTimer(time.Until(until))
	defer t.Stop()
	queue := b.queue
	var held Sound
	for {
		select {
		case <-ctx.Done():
			return Silent
		case <-t.C:
			if held != Silent {
				select {
				case b.queue <- held:
				default: // a newer one waits
				}
			}
			return Silent
		case s := <-queue:
			if s == Danger && playing != Danger {
				b.set(false)
				return Danger
			}
			if held = s; playing == Danger {
				queue = nil
			}
		}
	}
}

func (b *Buzzer) set(on bool) {
	if err := b.pin.Set(on); err != nil && b.fail != nil {
		b.fail(err)
	}
}
