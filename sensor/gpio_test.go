package sensor

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"periph.io/x/conn/v3/gpio"
)

// fakePin stands for a gpioioctl.GPIOLine whose far side the test moves.
// It keeps that driver's habits that matter here.
type fakePin struct {
	mu       sync.Mutex
	level    gpio.Level
	pull     gpio.Pull
	edge     chan struct{}
	refuse   error // what In and Out answer
	gone     bool  // the chip was taken away
	output   bool
	usable   bool // In or Out succeeded since the last Close
	written  []gpio.Level
	misuse   string // something that would have hurt with the real line
	deadline time.Duration
}

func newFakePin(l gpio.Level) *fakePin { return &fakePin{level: l, edge: make(chan struct{}, 16)} }

func (p *fakePin) In(pull gpio.Pull, _ gpio.Edge) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.pull, p.usable = pull, p.refuse == nil
	return p.refuse
}

func (p *fakePin) Out(l gpio.Level) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.output && !p.usable {
		p.misuse = "Out after a failed Out writes to descriptor 0"
	}
	p.output, p.usable = true, p.refuse == nil
	if p.refuse == nil {
		p.level = l
		p.written = append(p.written, l)
	}
	return p.refuse
}

func (p *fakePin) Read() gpio.Level {
	p.mu.Lock()
	defer p.mu.Unlock()
	switch {
	case p.output:
		p.misuse = "Read makes an output an input"
	case !p.usable:
		p.misuse = "Read of a line that was not taken"
	case p.gone:
		return gpio.Low // periph logs the error and says Low
	}
	return p.level
}

func (p *fakePin) WaitForEdge(timeout time.Duration) bool {
	p.mu.Lock()
	gone := p.gone
	if timeout <= 0 {
		p.misuse = "WaitForEdge with a timeout not above zero"
	}
	if !p.usable {
		p.misuse = "WaitForEdge on descriptor 0"
	}
	p.deadline = timeout
	p.mu.Unlock()
	if gone {
		return false
	}
	select {
	case <-p.edge:
		return true
	case <-time.After(timeout):
		return false
	}
}

func (p *fakePin) Close() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.output, p.usable = false, false
}

// move sets the level on the far side. An edge may get lost on the way.
func (p *fakePin) move(l gpio.Level, lost bool) {
	p.mu.Lock()
	p.level = l
	p.mu.Unlock()
	if !lost {
		select {
		case p.edge <- struct{}{}:
		default: // the queue is full, as the kernel's may be
		}
	}
}

func (p *fakePin) set(f func(*fakePin)) {
	p.mu.Lock()
	defer p.mu.Unlock()
	f(p)
}

// checkUse fails the test if the line was used in a way that hurts.
func (p *fakePin) checkUse(t *testing.T) {
	t.Helper()
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.misuse != "" {
		t.Error(p.misuse)
	}
}

// takeFrom returns a take function over some named pins.
func takeFrom(pins map[string]pin) func(LineSpec) (pin, error) {
	return func(s LineSpec) (pin, error) {
		if p := pins[s.Name]; p != nil {
			return p, claim(p, s)
		}
		return nil, errors.New("no line " + s.String())
	}
}

func TestParseLine(t *testing.T) {
	for _, test := range []struct {
		spec string
		want LineSpec
		err  string
	}{
		{"GPIO17", LineSpec{Name: "GPIO17"}, ""},
		{"WATER_LOW", LineSpec{Name: "WATER_LOW"}, ""},
		{"gpiochip0/17", LineSpec{Chip: "gpiochip0", Offset: 17}, ""},
		{"/dev/gpiochip0/17", LineSpec{Chip: "gpiochip0", Offset: 17}, ""},
		{"pinctrl-bcm2835/17", LineSpec{Chip: "pinctrl-bcm2835", Offset: 17}, ""},
		{"pinctrl-bcm2835/GPIO17", LineSpec{Chip: "pinctrl-bcm2835", Name: "GPIO17"}, ""},
		{"gpiochip0/0", LineSpec{Chip: "gpiochip0"}, ""},
		{"17", LineSpec{}, "needs its chip"},
		{"", LineSpec{}, "want GPIO17"},
		{"/17", LineSpec{}, "want GPIO17"},
		{"gpiochip0/", LineSpec{}, "want GPIO17"},
		{"a/b/c", LineSpec{}, "want GPIO17"},
		{"GPIO 17", LineSpec{}, "want GPIO17"},
	} {
		got, err := ParseLine(test.spec)
		if got != test.want || (err == nil) != (test.err == "") || err != nil && !strings.Contains(err.Error(), test.err) {
			t.Errorf("%q: %+v, %v", test.spec, got, err)
		}
	}
}

func FuzzParseLine(f *testing.F) {
	for _, s := range []string{"GPIO17", "gpiochip0/17", "pinctrl-bcm2835/GPIO17", "/dev/x/1", "/", "17"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		spec, err := ParseLine(s)
		if err != nil {
			return
		}
		if again, err := ParseLine(spec.String()); again != spec || err != nil {
			t.Errorf("%q is %+v, written %q, read again %+v, %v", s, spec, spec, again, err)
		}
	})
}

func TestFind(t *testing.T) {
	pins := make([]*fakePin, 5)
	for i := range pins {
		pins[i] = newFakePin(gpio.Low)
	}
	// The second chip has a line of the same name, which periph renames.
	chips := []chip{
		{"gpiochip4", "pinctrl-rp1", []line{{"ID_SDA", pins[0]}, {"GPIO17", pins[1]}, {"", pins[2]}}},
		{"gpiochip0", "expander", []line{{"gpiochip0-GPIO17", pins[3]}, {"GPIO5", pins[4]}}},
	}
	for _, test := range []struct {
		spec string
		want pin
		err  string
	}{
		{"ID_SDA", pins[0], ""},
		{"gpiochip4/1", pins[1], ""},
		{"pinctrl-rp1/2", pins[2], ""},
		{"pinctrl-rp1/GPIO17", pins[1], ""},
		{"expander/GPIO17", pins[3], ""},
		{"gpiochip0/1", pins[4], ""},
		{"GPIO17", nil, "may be any of gpiochip4/1, gpiochip0/0"},
		{"GPIO99", nil, "gpiochip4 (pinctrl-rp1) with 3 lines: ID_SDA GPIO17; gpiochip0 (expander) with 2 lines"},
		{"gpiochip0/2", nil, "no line gpiochip0/2"},
		{"gpiochip9/1", nil, "no line gpiochip9/1"},
	} {
		spec, err := ParseLine(test.spec)
		if err != nil {
			t.Fatal(err)
		}
		got, err := find(chips, spec)
		if got != test.want || (err == nil) != (test.err == "") || err != nil && !strings.Contains(err.Error(), test.err) {
			t.Errorf("%s: %v, %v", test.spec, got, err)
		}
	}
}

func TestClaim(t *testing.T) {
	p := newFakePin(gpio.Low)
	spec := LineSpec{Name: "GPIO17"}
	if err := claim(p, spec); err != nil {
		t.Fatal(err)
	}
	if claim(p, spec) == nil {
		t.Error("a line can be claimed twice")
	}
	dropLine(p)
	if err := claim(p, spec); err != nil {
		t.Error(err)
	}
	dropLine(p)
}

// Runs the real driver. Where there is no GPIO the error must say so.
func TestOpenChips(t *testing.T) {
	paths, _ := filepath.Glob("/dev/gpiochip*")
	chips, err := openChips()
	if len(paths) == 0 {
		if err == nil || !strings.Contains(err.Error(), "no /dev/gpiochip*") {
			t.Errorf("without GPIO: %v, %v", chips, err)
		}
		if _, err := takeLine(LineSpec{Name: "GPIO17"}); err == nil {
			t.Error("took a line of no chip")
		}
		return
	}
	if err != nil {
		t.Skip("GPIO is there but not for this user: ", err)
	}
	if _, err := find(chips, LineSpec{Name: "no such line"}); err == nil || !strings.Contains(err.Error(), chips[0].name) {
		t.Errorf("error does not name the chips: %v", err)
	}
}

// The descriptor of standard input must be taken after the driver was loaded.
func TestKeepStdin(t *testing.T) {
	keepStdin()
	if _, err := os.Stdin.Stat(); err != nil {
		t.Fatal(err)
	}
	copied, err := syscall.Dup(0)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		_ = syscall.Dup3(copied, 0, 0)
		_ = syscall.Close(copied)
	}()
	_ = syscall.Close(0)
	keepStdin()
	var st syscall.Stat_t
	if err := syscall.Fstat(0, &st); err != nil {
		t.Errorf("descriptor 0 is free: %v", err)
	}
}
