package sensor

import (
	"errors"
	"fmt"
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
	if c.BootFile == "" {
		c.BootFile = DefaultBootFile
	}
	if c.Period == 0 {
		c.Period = DefaultPeriod
	}
	if c.MaxAge == 0 {
		c.MaxAge = max(DefaultMaxAge, time.Duration(1+len(c.Probes))*time.Second)
	}
	return c
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

// inputs returns the inputs that are fitted: level, door, buttons.
func (c Config) inputs() ([]*input, error) {
	var ins []*input
	var errs []error
	names := map[string]bool{levelName: true, doorName: true} // not for buttons
	specs := map[LineSpec]string{}
	add := func(name string, cc ContactConfig, button *Button) {
		in, err := newInput(name, cc)
		if err != nil {
			errs = append(errs, err)
			return
		}
		if button != nil && names[name] {
			errs = append(errs, fmt.Errorf("two inputs are named %q", name))
		}
		if other, ok := specs[in.spec]; ok {
			errs = append(errs, fmt.Errorf("%s and %s are both on line %s", other, name, in.spec))
		}
		names[name], specs[in.spec] = true, name
		in.button = button
		ins = append(ins, in)
	}
	if c.Level.Line != "" {
		add(levelName, c.Level.withDefaults(levelCloseHold, levelOpenHold), nil)
	}
	if c.Door.Line != "" {
		add(doorName, c.Door.withDefaults(doorHold, doorHold), nil)
	}
	for _, bc := range c.Buttons {
		if bc.Name == "" {
			errs = append(errs, fmt.Errorf("button on line %q has no name", bc.Contact.Line))
		}
		add(bc.Name, bc.Contact.withDefaults(buttonHold, buttonHold), &Button{Name: bc.Name, MaxHold: bc.MaxHold})
	}
	return ins, errors.Join(errs...)
}
