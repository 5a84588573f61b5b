package sensor

import "time"

// Debounce turns a chattering contact into a settled one: a state counts once the
// raw contact has been in it for a hold time, which may differ both ways. It
// holds no clock. The zero value passes every state on at once.
//
// It acts on levels, never on a number of edges: the queue of edges that a
// kernel keeps is short, and holds stale ones.
type Debounce struct {
	// CloseHold is how long the raw contact must stay closed to count as closed.
	CloseHold time.Duration
	// OpenHold is how long it must stay open to count as open.
	OpenHold time.Duration

	settled   Contact
	since     time.Duration // raw beginning of the settled state
	candidate Contact
	seen      time.Duration // raw beginning of the candidate
}

// Step takes the raw contact at time now and returns the settled one. It is
// Unknown until the first state has held. An Unknown raw contact, a line that
// failed, counts at once: what was settled before it is no longer known.
func (d *Debounce) Step(now time.Duration, raw Contact) Contact {
	if raw != d.candidate {
		d.candidate, d.seen = raw, now
	}
	if d.candidate != d.settled && now-d.seen >= d.hold() {
		d.settled, d.since = d.candidate, d.seen
	}
	return d.settled
}

// Since returns when the raw contact came to the settled state: earlier than
// it settled by the hold time.
func (d *Debounce) Since() time.Duration { return d.since }

// Due returns how long after now the next Step is needed for a change to
// settle in time, provided the contact stays as it is. ok is false when
// nothing is under way.
func (d *Debounce) Due(now time.Duration) (wait time.Duration, ok bool) {
	if d.candidate == d.settled {
		return 0, false
	}
	return max(0, d.seen+d.hold()-now), true
}

// hold returns the hold time of the candidate.
func (d *Debounce) hold() time.Duration {
	switch d.candidate {
	case Closed:
		return d.CloseHold
	case Open:
		return d.OpenHold
	}
	return 0
}
