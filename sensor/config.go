package sensor

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// Names of the two switches among a board's inputs.
const (
	levelName = "level"
	doorName  = "door"
)

func (c Config) withDefaults() Config {
	if c.W1Root == "" {
		c.W1Root = DefaultW1Root
	}
	if c.IIORoot == "" {
		c.IIORoot = DefaultIIORoot
	}
	if c.HwmonRoot == "" {
		c.HwmonRoot = DefaultHwmonRoot
	}
	if c.spi == nil {
		c.spi = openSPI
	}
	if c.keys == nil {
		c.keys = openKeys
	}
	if c.BootFile == "" {
		c.BootFile = DefaultBootFile
	}
	if c.Period == 0 {
		c.Period = DefaultPeriod
	}
	if c.MaxAge == 0 {
		c.MaxAge = max(DefaultMaxAge, time.Duration(1+c.wired())*time.Second)
	}
	return c
}

// wired counts the probes on 1-wire buses, of which some may be read in turn.
func (c Config) wired() int {
	n := 0
	for _, name := range c.Probes {
		if w1Name.MatchString(name) {
			n++
		}
	}
	return n
}

// check returns all mistakes but those of the lines.
func (c Config) check() error {
	var errs []error
	for i, name := range c.Probes {
		var e *Element
		if fitted, ok := c.Elements[name]; ok {
			e = &fitted
		}
		errs = append(errs, CheckElement(name, e))
		for _, before := range c.Probes[:i] {
			if SameProbe(before, name) {
				errs = append(errs, fmt.Errorf("probe %q is named twice, as %q too", name, before))
			}
		}
	}
	if c.Period < 0 {
		errs = append(errs, fmt.Errorf("period %s is below zero", c.Period))
	}
	if c.MaxAge < c.Period {
		errs = append(errs, fmt.Errorf("greatest age %s is less than the period %s", c.MaxAge, c.Period))
	}
	return errors.Join(errs...)
}

// fitted is what inputs puts together.
type fitted struct {
	inputs    []*input
	keyboards []*keyboard
	names     map[string]bool
	errs      []error
}

func (f *fitted) wrong(format string, a ...any) { f.errs = append(f.errs, fmt.Errorf(format, a...)) }

// inputs returns the inputs that are fitted: level, door, buttons; and the keyboards that
// some of the buttons are keys of.
func (c Config) inputs() ([]*input, []*keyboard, error) {
	f := fitted{names: map[string]bool{levelName: true, doorName: true}} // not for buttons
	if c.Level.Line != "" {
		f.line(levelName, c.Level.withDefaults(levelCloseHold, levelOpenHold), nil)
	}
	if c.Door.Line != "" {
		f.line(doorName, c.Door.withDefaults(doorHold, doorHold), nil)
	}
	for i, float := range c.Floats {
		name := fmt.Sprintf("float %d", i+1)
		if in := f.line(name, float.withDefaults(floatCloseHold, floatOpenHold), nil); in != nil {
			in.float, f.names[name] = i+1, true
		}
	}
	for _, bc := range c.Buttons {
		f.button(bc, c.keys)
	}
	return f.inputs, f.keyboards, errors.Join(f.errs...)
}

func (f *fitted) button(c ButtonConfig, open func(string) (keys, error)) {
	if f.names[c.Name] {
		f.wrong("two inputs are named %q", c.Name)
	}
	f.names[c.Name] = true
	b := &Button{Name: c.Name, MaxHold: c.MaxHold}
	switch {
	case c.Name == "":
		f.wrong("button on %q has no name", c.Contact.Line+c.Key.Device)
	case c.Key.Device == "":
		f.line(c.Name, c.Contact.withDefaults(buttonHold, buttonHold), b)
	case c.Contact.Line != "":
		f.wrong("%s is on line %s and a key of %s", c.Name, c.Contact.Line, c.Key.Device)
	default:
		f.key(c.Name, c.Key, b, open)
	}
}

func (f *fitted) line(name string, c ContactConfig, b *Button) *input {
	in, err := newInput(name, c)
	if err != nil {
		f.errs = append(f.errs, err)
		return nil
	}
	for _, other := range f.inputs {
		if !other.key && other.spec == in.spec {
			f.wrong("%s and %s are both on line %s", other.name, name, in.spec)
		}
	}
	in.button = b
	f.inputs = append(f.inputs, in)
	return in
}

func (f *fitted) key(name string, c KeyConfig, b *Button, open func(string) (keys, error)) {
	code, err := ParseKey(c.Key)
	if err != nil {
		f.wrong("%s: %w", name, err)
		return
	}
	path := c.Device
	if !strings.Contains(path, "/") {
		path = filepath.Join(DefaultInputRoot, path)
	}
	i := slices.IndexFunc(f.keyboards, func(k *keyboard) bool { return k.path == path })
	if i < 0 {
		i = len(f.keyboards)
		f.keyboards = append(f.keyboards, &keyboard{path: path, keys: map[uint16]*input{}, open: open})
	}
	of := f.keyboards[i].keys
	if other := of[code]; other != nil {
		f.wrong("%s and %s are the same key of %s", other.name, name, path)
	}
	of[code] = &input{name: name, where: path, key: true, button: b}
	f.inputs = append(f.inputs, of[code])
}
