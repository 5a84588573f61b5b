package sensor

import (
	"context"
	"errors"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"periph.io/x/conn/v3/gpio"
)

func quiet() *slog.Logger { return slog.New(slog.DiscardHandler) }

// elapsed returns a clock that starts now, fake in a synctest bubble.
func elapsed() func() time.Duration {
	start := time.Now()
	return func() time.Duration { return time.Since(start) }
}

// heard is what an input told, and when.
type heard struct {
	mu       sync.Mutex
	contacts []string
	presses  []Press
	err      error
	last     Contact
}

func (h *heard) String() string {
	h.mu.Lock()
	defer h.mu.Unlock()
	return strings.Join(h.contacts, " ")
}

func (h *heard) failure() error {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.err
}

// startInput runs an input on pins in a bubble until the returned stop.
func startInput(cfg ContactConfig, button *Button, pins map[string]pin) (*input, *heard, func()) {
	in, err := newInput("test", cfg)
	if err != nil {
		panic(err)
	}
	h := &heard{}
	in.button, in.take, in.now, in.log = button, takeFrom(pins), elapsed(), quiet()
	in.tell = func(in *input, c Contact, p *Press, err error) {
		h.mu.Lock()
		defer h.mu.Unlock()
		if c != h.last || h.contacts == nil {
			h.contacts = append(h.contacts, c.String()+"@"+in.now().Round(10*time.Millisecond).String())
		}
		h.last, h.err = c, err
		if p != nil {
			h.presses = append(h.presses, *p)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	var wg sync.WaitGroup
	wg.Go(func() { in.run(ctx) })
	return in, h, func() { cancel(); wg.Wait() }
}

func TestInputLevelSwitch(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := newFakePin(gpio.Low) // contact to ground, closed: water
		in, h, stop := startInput(ContactConfig{Line: "WATER", OpenHold: 3 * time.Second, CloseHold: 5 * time.Second}, nil, map[string]pin{"WATER": p})
		time.Sleep(10 * time.Second)
		for range 50 { // sloshing
			p.move(gpio.High, false)
			time.Sleep(100 * time.Millisecond)
			p.move(gpio.Low, false)
			time.Sleep(100 * time.Millisecond)
		}
		p.move(gpio.High, false) // at 20 s: low water, or a broken wire
		time.Sleep(10 * time.Second)
		stop()
		if got, want := h.String(), "unknown@0s closed@5s open@23s"; got != want {
			t.Errorf("heard %s, want %s", got, want)
		}
		if n := in.edges.Load(); n != 101 {
			t.Errorf("%d raw edges, want 101", n)
		}
		if p.pull != gpio.PullUp {
			t.Errorf("pull is %v", p.pull)
		}
		p.checkUse(t)
	})
}

// A contact to 3.3 V reads the other way and is pulled down.
func TestInputToHigh(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := newFakePin(gpio.High)
		_, h, stop := startInput(ContactConfig{Line: "DOOR", ToHigh: true}, nil, map[string]pin{"DOOR": p})
		time.Sleep(time.Second)
		p.move(gpio.Low, false)
		time.Sleep(time.Second)
		stop()
		if got, want := h.String(), "closed@0s open@1s"; got != want {
			t.Errorf("heard %s, want %s", got, want)
		}
		if p.pull != gpio.PullDown {
			t.Errorf("pull is %v", p.pull)
		}
		p.checkUse(t)
	})
}

// The level is read each second whatever the edges say.
func TestInputLostEdge(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := newFakePin(gpio.Low)
		_, h, stop := startInput(ContactConfig{Line: "WATER"}, nil, map[string]pin{"WATER": p})
		time.Sleep(2500 * time.Millisecond)
		p.move(gpio.High, true)
		time.Sleep(2 * time.Second)
		stop()
		if got, want := h.String(), "closed@0s open@3s"; got != want {
			t.Errorf("heard %s, want %s", got, want)
		}
	})
}

// A line that is busy is left alone and tried again each 3 s.
func TestInputBusyLine(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		busy := errors.New("line_request ioctl: device or resource busy")
		p := newFakePin(gpio.Low)
		p.refuse = busy
		_, h, stop := startInput(ContactConfig{Line: "WATER"}, nil, map[string]pin{"WATER": p})
		time.Sleep(4 * time.Second)
		if err := h.failure(); !errors.Is(err, busy) {
			t.Errorf("told %v", err)
		}
		p.set(func(p *fakePin) { p.refuse = nil })
		time.Sleep(4 * time.Second)
		stop()
		if got, want := h.String(), "unknown@0s closed@6s"; got != want {
			t.Errorf("heard %s, want %s", got, want)
		}
		if h.err != nil {
			t.Errorf("still tells %v", h.err)
		}
		p.checkUse(t)
	})
}

// A chip that goes away makes periph read Low, which would mean water.
func TestInputChipGone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := newFakePin(gpio.High) // open: low water
		_, h, stop := startInput(ContactConfig{Line: "WATER", CloseHold: 5 * time.Second}, nil, map[string]pin{"WATER": p})
		time.Sleep(1500 * time.Millisecond)
		p.set(func(p *fakePin) { p.gone = true })
		time.Sleep(20 * time.Second)
		stop()
		if got, want := h.String(), "open@0s unknown@2s"; got != want {
			t.Errorf("heard %s, want %s", got, want)
		}
		if !errors.Is(h.err, errLine) {
			t.Errorf("told %v", h.err)
		}
		p.checkUse(t)
	})
}

func TestInputButton(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := newFakePin(gpio.High)
		hold := 30 * time.Millisecond
		cfg := ContactConfig{Line: "BUTTON", CloseHold: hold, OpenHold: hold}
		_, h, stop := startInput(cfg, &Button{Name: "pull", MaxHold: 2 * time.Second}, map[string]pin{"BUTTON": p})
		press := func(down time.Duration) {
			for _, l := range []gpio.Level{gpio.Low, gpio.High, gpio.Low} { // bounces
				p.move(l, false)
				time.Sleep(5 * time.Millisecond)
			}
			time.Sleep(down)
			p.move(gpio.High, false)
			time.Sleep(time.Second)
		}
		time.Sleep(time.Second)
		press(395 * time.Millisecond)
		press(10 * time.Second)
		stop()
		want := []Press{
			{"pull", 1010 * time.Millisecond, 400 * time.Millisecond},
			{"pull", 2420 * time.Millisecond, 2 * time.Second},
		}
		if !slices.Equal(h.presses, want) {
			t.Errorf("presses %v, want %v", h.presses, want)
		}
		p.checkUse(t)
	})
}

func TestOutput(t *testing.T) {
	p := newFakePin(gpio.High)
	o, err := openOutput(OutputConfig{Line: "BUZZER"}, quiet(), takeFrom(map[string]pin{"BUZZER": p}))
	if err != nil {
		t.Fatal(err)
	}
	for _, on := range []bool{true, false, true} {
		if err := o.Set(on); err != nil {
			t.Error(err)
		}
	}
	for range 2 {
		if err := o.Close(); err != nil {
			t.Error(err)
		}
	}
	if want := []gpio.Level{false, true, false, true, false}; !slices.Equal(p.written, want) {
		t.Errorf("written %v, want %v", p.written, want)
	}
	if err := o.Set(true); !errors.Is(err, ErrClosed) {
		t.Errorf("Set after Close: %v", err)
	}
	p.checkUse(t)
}

func TestOutputActiveLow(t *testing.T) {
	p := newFakePin(gpio.High)
	o, err := openOutput(OutputConfig{Line: "LAMP", ActiveLow: true}, quiet(), takeFrom(map[string]pin{"LAMP": p}))
	if err != nil {
		t.Fatal(err)
	}
	_ = o.Set(true)
	_ = o.Close()
	if want := []gpio.Level{true, false, true}; !slices.Equal(p.written, want) {
		t.Errorf("written %v, want %v", p.written, want)
	}
}

// A buzzer that was asked for while its line was busy sounds once it is free.
func TestOutputRetries(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := newFakePin(gpio.Low)
		p.refuse = errors.New("line_request ioctl: device or resource busy")
		o, err := openOutput(OutputConfig{Line: "BUZZER"}, quiet(), takeFrom(map[string]pin{"BUZZER": p}))
		if err != nil {
			t.Fatal(err)
		}
		if err := o.Set(true); err == nil || o.Err() == nil {
			t.Error("a busy line took a level")
		}
		time.Sleep(7 * time.Second)
		p.set(func(p *fakePin) { p.refuse = nil })
		time.Sleep(3 * time.Second)
		synctest.Wait()
		if want := []gpio.Level{true}; !slices.Equal(p.written, want) || o.Err() != nil {
			t.Errorf("written %v, want %v; %v", p.written, want, o.Err())
		}
		_ = o.Close()
		p.checkUse(t)
	})
}

func TestOutputMistakes(t *testing.T) {
	if _, err := OpenOutput(OutputConfig{Line: "17"}, quiet()); err == nil {
		t.Error("a bare number passes as a line")
	}
	p := newFakePin(gpio.Low)
	take := takeFrom(map[string]pin{"BUZZER": p})
	one, err := openOutput(OutputConfig{Line: "BUZZER"}, quiet(), take)
	if err != nil {
		t.Fatal(err)
	}
	defer one.Close()
	two, err := openOutput(OutputConfig{Line: "BUZZER"}, quiet(), take)
	if err != nil {
		t.Fatal(err)
	}
	defer two.Close()
	if one.Err() != nil || two.Err() == nil {
		t.Errorf("two outputs on one line: %v, %v", one.Err(), two.Err())
	}
}
