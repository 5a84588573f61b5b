package sensor

import (
	"errors"
	"fmt"
	"time"

	"withy/steambox/unit"
)

// ErrClosed is returned by reads of a closed [Board] and writes to a closed
// [Output].
var ErrClosed = errors.New("sensor: closed")

// Sweep is what all sensors of one source said at one moment.
type Sweep struct {
	// At is the moment, on the source's own monotonic clock.
	At time.Duration
	// Probes holds one reading per configured probe, in the configured order.
	Probes []Reading
	// Level is the water switch: Closed = water above it. Unknown where none
	// is fitted or its line is not to be had.
	Level Contact
	// Floats are further level switches, in the configured order: Closed = water above.
	Floats []Contact
	// Door is the box's door switch: Closed = door shut.
	Door Contact
	// Presses are the button presses that ended since the sweep before,
	// oldest first. Each is handed out once.
	Presses []Press
}

// Reading is the newest word of one probe: a temperature, or the reason why
// there is none.
type Reading struct {
	// Probe is the probe's name as configured, "28-0000000a0b0c": see [CheckProbe].
	Probe string
	// Temp is the temperature as the probe gave it, uncorrected. It means
	// nothing when Fault is set.
	Temp unit.Celsius
	// At is when the probe was read, on the clock of [Sweep.At] and never
	// after it. Several sweeps may carry the same reading; its At tells.
	At time.Duration
	// Fault is nil for a good reading.
	Fault *Fault
}

// Press is one press of a button, reported when it is let go or when it has
// been held for as long as matters.
type Press struct {
	// Button is the name given in [ButtonConfig].
	Button string
	// At is when it went down.
	At time.Duration
	// Held is how long it was down, at most [ButtonConfig.MaxHold].
	Held time.Duration
}

// Contact is the state of a switch. The zero value is Unknown.
type Contact int

// A broken wire reads as Open: wire every switch so that Open is the state
// that is safe to believe wrongly.
const (
	Unknown Contact = iota // not fitted, not yet settled, or its line failed
	Open
	Closed
)

// String returns "unknown", "open" or "closed".
func (c Contact) String() string {
	switch c {
	case Open:
		return "open"
	case Closed:
		return "closed"
	}
	return "unknown"
}

// Fault is the reason why a probe has no temperature.
type Fault struct {
	Kind FaultKind
	// Detail is for the log: what was seen. It may be empty.
	Detail string
}

// Error returns the kind and the detail.
func (f *Fault) Error() string {
	if f.Detail == "" {
		return f.Kind.String()
	}
	return f.Kind.String() + ": " + f.Detail
}

// faultf makes a fault with a formatted detail.
func faultf(kind FaultKind, format string, a ...any) *Fault {
	return &Fault{Kind: kind, Detail: fmt.Sprintf(format, a...)}
}

// FaultKind tells faults apart as far as their remedies differ.
type FaultKind int

// The kinds of fault. The zero FaultKind is none of them.
const (
	// Absent: the kernel does not list the probe; never plugged in, or out
	// for longer than the kernel waits (a minute and more).
	Absent FaultKind = iota + 1
	// Empty: the probe's file reads empty, with no error. On current
	// kernels that is how an unplugged probe and a failed checksum look.
	Empty
	// Checksum: the kernel, or we, found the scratchpad's CRC wrong.
	Checksum
	// PowerOn: 85 °C, which the chip holds from power-up until its first
	// conversion; it lost its supply, or never heard the command.
	PowerOn
	// LowPower: 127.94 °C, the chip's answer when its supply sags while
	// it converts.
	LowPower
	// OutOfRange: outside −55…125 °C, which a DS18B20 cannot measure and a steam
	// box doesn't reach; or volts or ohms that no such element gives.
	OutOfRange
	// Shorted: the whole bus is dead: its data line is held low, or cut off.
	Shorted
	// Stuck: the value has not moved at all while another probe's did.
	Stuck
	// Timeout: no answer for longer than [Config.MaxAge].
	Timeout
	// Malformed: the file holds something that is no reading.
	Malformed
	// Unreadable: the system could not read it, for a reason that has no kind of
	// its own.
	Unreadable
	// Pending: not read yet; only in the first seconds of a source.
	Pending
	// OpenWire: a wire of the thermocouple, platinum thermometer or thermistor is cut,
	// or its plug is out.
	OpenWire
	// ToGround: the element or its cable is shorted to ground.
	ToGround
	// ToSupply: the element or its cable touches the supply.
	ToSupply
	// OtherChip: another chip sits where the probe's should, or more than one may be
	// meant.
	OtherChip
	// Denied: this user has no permission to read it.
	Denied
	// Busy: another program or driver holds it.
	Busy
	// Calibrating: it is out of the box, to be calibrated; what it reads is not of the box.
	Calibrating

	lastKind = Calibrating
)

var kindNames = [...]string{
	Absent: "absent", Empty: "empty", Checksum: "checksum", PowerOn: "power_on",
	LowPower: "low_power", OutOfRange: "out_of_range", Shorted: "shorted", Stuck: "stuck",
	Timeout: "timeout", Malformed: "malformed", Unreadable: "unreadable", Pending: "pending",
	OpenWire: "open_wire", ToGround: "to_ground", ToSupply: "to_supply", OtherChip: "other_chip",
	Denied: "denied", Busy: "busy", Calibrating: "calibrating",
}

// FaultKinds returns every kind there is, for instance to show a counter of each.
func FaultKinds() []FaultKind {
	var kinds []FaultKind
	for k := Absent; k <= lastKind; k++ {
		kinds = append(kinds, k)
	}
	return kinds
}

// String returns the kind's name in lower case with underscores, as used in
// logs and as a metric's label.
func (k FaultKind) String() string {
	if k < Absent || k > lastKind {
		return fmt.Sprintf("fault_%d", int(k))
	}
	return kindNames[k]
}

// MarshalText encodes the kind as its name.
func (k FaultKind) MarshalText() ([]byte, error) { return []byte(k.String()), nil }

// MarshalText encodes the state as its name.
func (c Contact) MarshalText() ([]byte, error) { return []byte(c.String()), nil }
