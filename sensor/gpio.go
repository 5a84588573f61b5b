package sensor

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"

	"periph.io/x/conn/v3/driver/driverreg"
	"periph.io/x/conn/v3/gpio"
	"periph.io/x/host/v3/gpioioctl"
)

// pin is what is used of a periph line, here always a gpioioctl.GPIOLine.
type pin interface {
	In(gpio.Pull, gpio.Edge) error
	Read() gpio.Level
	WaitForEdge(time.Duration) bool
	Out(gpio.Level) error
	Close()
}

var _ pin = (*gpioioctl.GPIOLine)(nil)

// chip is a GPIO controller with its lines, by offset.
type chip struct {
	name, label string
	lines       []line
}

// line is one line of a chip. Its name may be empty.
type line struct {
	name string
	pin  pin
}

// LineSpec says which GPIO line is meant. See [ParseLine].
type LineSpec struct {
	// Chip is the controller's name or label, empty for any.
	Chip string
	// Name is the line's name, empty when Offset counts.
	Name string
	// Offset is the line's number on its chip, from 0.
	Offset int
}

// ParseLine reads the spec of a GPIO line, in one of these forms:
//
//	GPIO17                  a line's name, on whichever chip has it
//	gpiochip0/17            a chip's name and the line's number on it
//	pinctrl-bcm2835/17      a chip's label and the line's number on it
//	pinctrl-bcm2835/GPIO17  a chip's name or label and the line's name
//
// Labels stay the same when a kernel numbers its chips in another way. A bare
// number is refused: it may mean a line or a pin of the header.
func ParseLine(spec string) (LineSpec, error) {
	chipName, lineName, ok := strings.Cut(strings.TrimPrefix(spec, "/dev/"), "/")
	if !ok {
		chipName, lineName = "", spec
	}
	n, err := strconv.ParseUint(lineName, 10, 16)
	number := err == nil
	switch {
	case lineName == "" || ok && chipName == "" || strings.ContainsAny(lineName, "/ \t\n"):
		return LineSpec{}, fmt.Errorf("line %q: want GPIO17, gpiochip0/17 or pinctrl-bcm2835/17", spec)
	case number && !ok:
		return LineSpec{}, fmt.Errorf("line %q: a number needs its chip, such as gpiochip0/%[1]s; or write GPIO%[1]s", spec)
	case number:
		return LineSpec{Chip: chipName, Offset: int(n)}, nil
	}
	return LineSpec{Chip: chipName, Name: lineName}, nil
}

// String returns the spec in the form that ParseLine reads.
func (s LineSpec) String() string {
	name := s.Name
	if name == "" {
		name = strconv.Itoa(s.Offset)
	}
	if s.Chip == "" {
		return name
	}
	return s.Chip + "/" + name
}

// find returns the one line that spec means. The error says what is there.
func find(chips []chip, spec LineSpec) (pin, error) {
	var found []pin
	var where []string
	for _, c := range chips {
		if spec.Chip != "" && spec.Chip != c.name && spec.Chip != c.label {
			continue
		}
		for offset, l := range c.lines {
			if l.is(c, offset, spec) {
				found = append(found, l.pin)
				where = append(where, fmt.Sprintf("%s/%d", c.name, offset))
			}
		}
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		return nil, fmt.Errorf("no line %s; there are %s", spec, describe(chips))
	}
	return nil, fmt.Errorf("line %s may be any of %s", spec, strings.Join(where, ", "))
}

// is reports whether spec means this line, given that the chip is right.
func (l line) is(c chip, offset int, spec LineSpec) bool {
	if spec.Name == "" {
		return offset == spec.Offset
	}
	// periph puts its chip before a name that another chip has too.
	return l.name == spec.Name || l.name == c.name+"-"+spec.Name
}

// describe lists the chips and the names of their lines.
func describe(chips []chip) string {
	var all []string
	for _, c := range chips {
		s := fmt.Sprintf("%s (%s) with %d lines", c.name, c.label, len(c.lines))
		var names []string
		for _, l := range c.lines {
			if l.name != "" && l.name != "-" {
				names = append(names, l.name)
			}
		}
		if len(names) > 0 {
			s += ": " + strings.Join(names, " ")
		}
		all = append(all, s)
	}
	return strings.Join(all, "; ")
}

// openChips finds the board's GPIO chips, once: periph loads its drivers once
// in the life of a program. A chip that appears later is not seen.
//
// Only the character-device driver is imported, so only that one is loaded, and not
// everything that host.Init knows. Lines are taken from the driver's own
// list and not from gpioreg, which on older boards gives a memory-mapped pin
// with other habits.
var openChips = sync.OnceValues(func() ([]chip, error) {
	_, err := driverreg.Init()
	keepStdin()
	if len(gpioioctl.Chips) == 0 {
		return nil, errors.Join(noChips(), err)
	}
	var chips []chip
	for _, c := range gpioioctl.Chips {
		seen := chip{name: c.Name(), label: c.Label()}
		for _, l := range c.Lines() {
			seen.lines = append(seen.lines, line{name: l.Name(), pin: l})
		}
		chips = append(chips, seen)
	}
	return chips, nil
})

// noChips says why there is no chip.
func noChips() error {
	paths, _ := filepath.Glob("/dev/gpiochip*")
	if len(paths) == 0 {
		return errors.New("gpio: this machine has no /dev/gpiochip*")
	}
	f, err := os.Open(paths[0])
	if err != nil {
		return fmt.Errorf("gpio: %w (is the user in the group of that device?)", err)
	}
	return errors.Join(fmt.Errorf("gpio: %s is not usable", paths[0]), f.Close())
}

// keepStdin makes sure that file descriptor 0 is taken. periph's GPIOChip.Close,
// which its Init calls where /dev has two names for a chip (a Pi with
// gpiochip4 linked to gpiochip0), closes descriptor 0 too; and a line that was then
// given 0 would count there as one never opened.
func keepStdin() {
	for {
		fd, err := syscall.Open(os.DevNull, syscall.O_RDONLY|syscall.O_CLOEXEC, 0)
		if err == syscall.EINTR {
			continue
		}
		if err == nil && fd != 0 {
			_ = syscall.Close(fd)
		}
		return
	}
}

// claims holds the lines in use by this program. The kernel guards a line against
// other programs only; here two users would share one line's queue of
// edges, or turn each other's output into an input.
var claims struct {
	sync.Mutex
	held map[pin]bool
}

// takeLine finds a line of this board and claims it, until dropLine.
func takeLine(spec LineSpec) (pin, error) {
	chips, err := openChips()
	if err != nil {
		return nil, err
	}
	p, err := find(chips, spec)
	if err != nil {
		return nil, err
	}
	return p, claim(p, spec)
}

func claim(p pin, spec LineSpec) error {
	claims.Lock()
	defer claims.Unlock()
	if claims.held[p] {
		return fmt.Errorf("line %s is in use twice in this program", spec)
	}
	if claims.held == nil {
		claims.held = map[pin]bool{}
	}
	claims.held[p] = true
	return nil
}

// dropLine closes a line and gives up its claim.
func dropLine(p pin) {
	p.Close()
	claims.Lock()
	defer claims.Unlock()
	delete(claims.held, p)
}
