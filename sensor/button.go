package sensor

import "time"

// Button finds presses in a debounced contact that is closed while the button
// is down. It holds no clock.
type Button struct {
	// Name goes into each [Press].
	Name string
	// MaxHold is the time after which a press is reported although the button is
	// still down; letting go then reports nothing more. 0 waits for the release.
	MaxHold time.Duration

	state Contact
	down  time.Duration // when it went down
	armed bool          // was seen up, so that the next Closed is a press
	held  bool          // a press is under way and not yet reported
}

// Step takes the contact at time now, and since when it has been in this
// state. It returns the press that ended, if one did.
//
// A button that is down when first seen, or after its line had failed, is
// not being pressed: it must be let go first.
func (b *Button) Step(now time.Duration, c Contact, since time.Duration) (Press, bool) {
	if c != b.state {
		return b.change(c, since)
	}
	if b.held && b.MaxHold > 0 && now-b.down >= b.MaxHold {
		return b.end(b.MaxHold), true
	}
	return Press{}, false
}

// Due returns how long after now the next Step is needed to report a long
// press in time. ok is false when none is under way.
func (b *Button) Due(now time.Duration) (wait time.Duration, ok bool) {
	if !b.held || b.MaxHold <= 0 {
		return 0, false
	}
	return max(0, b.down+b.MaxHold-now), true
}

func (b *Button) change(c Contact, since time.Duration) (Press, bool) {
	b.state = c
	switch {
	case c == Unknown:
		b.armed, b.held = false, false
	case c == Closed && b.armed:
		b.armed, b.held, b.down = false, true, since
	case c == Open:
		b.armed = true
		if b.held {
			return b.end(since - b.down), true
		}
	}
	return Press{}, false
}

func (b *Button) end(held time.Duration) Press {
	b.held = false
	if b.MaxHold > 0 {
		held = min(held, b.MaxHold)
	}
	return Press{Button: b.Name, At: b.down, Held: held}
}
