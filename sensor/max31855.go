package sensor

import (
	"encoding/binary"

	"withy/sensor/thermocouple"
)

// Frame is what a MAX31855 answers: the thermocouple's temperature, the chip's own, and
// its fault bits.
//
// Source: MAX31855 data sheet, tables 2 to 5.
type Frame uint32

// Couple returns the temperature of the hot end as the chip reckons it, °C in steps of a
// quarter.
func (f Frame) Couple() float64 { return float64(int32(f)>>18) / 4 }

// Chip returns the temperature of the chip, which is that of the cold end, °C in steps of
// a sixteenth.
func (f Frame) Chip() float64 { return float64(int16(f)>>4) / 16 }

// Bits of a frame.
const (
	openBit     = 1 << 0
	toGroundBit = 1 << 1
	toSupplyBit = 1 << 2
	faultBit    = 1 << 16
	alwaysZero  = 1<<17 | 1<<3

	nothingLow  Frame = 0
	nothingHigh Frame = 0xFFFFFFFF
)

// minChipC is the coldest that the chip works at.
const minChipC = -40

// Check returns the *[Fault] that a frame tells of, or nil. A chip at 0.0000 °C is not
// believed: its zeros are also what a data line that is held low gives, or a chip that
// stopped in the middle of its answer.
func (f Frame) Check() error {
	fault := f&faultBit != 0
	switch bits := f & (openBit | toGroundBit | toSupplyBit); {
	case f == nothingLow:
		return faultf(Shorted, "only zeros: the data line is held low, or no chip drives it")
	case f == nothingHigh:
		return faultf(Absent, "only ones: no chip answers")
	case f&alwaysZero != 0 || fault != (bits != 0):
		return faultf(Malformed, "%08x is not what a MAX31855 answers", uint32(f))
	case f&0xFFFF == 0:
		return faultf(Malformed, "%08x ends in zeros: the chip stopped in the middle of its answer", uint32(f))
	case bits&openBit != 0:
		return faultf(OpenWire, "the chip says open")
	case bits&toGroundBit != 0:
		return faultf(ToGround, "the chip says shorted to ground")
	case bits&toSupplyBit != 0:
		return faultf(ToSupply, "the chip says shorted to the supply")
	case f.Chip() < minChipC:
		return faultf(OutOfRange, "the chip at %.1f °C", f.Chip())
	}
	return nil
}

// chipSlope is the slope that the chip takes the whole curve of a thermocouple for, in
// mV/K. Source: MAX31855 data sheet, table 1.
var chipSlope = map[string]float64{"K": 0.041276, "T": 0.052180}

// Celsius returns the temperature of the hot end by the thermocouple's own curve. The frame
// must have passed [Frame.Check]; an error wraps [thermocouple.ErrRange].
func (f Frame) Celsius(kind thermocouple.Type) (float64, error) {
	return bent(f.Couple(), f.Chip(), kind)
}

// bent returns the temperature of the hot end by the thermocouple's own curve, from the
// chip's straight line, which makes 88 °C of a type T at 100 °C.
func bent(coupleC, chipC float64, kind thermocouple.Type) (float64, error) {
	return kind.Compensated((coupleC-chipC)*chipSlope[kind.String()], chipC)
}

// maxChipStep is by how much the chip's temperature may change from one answer to the
// next. A chip that stops in the middle of an answer leaves the rest of it zeros or
// ones, and the chip's temperature is the rest.
const maxChipStep = 5

// chipClock is in hertz, well under the chip's fastest, 5 MHz, for wires in a shed.
const chipClock = 500_000

// max31855 reads one such chip.
type max31855 struct {
	at   address
	open func(bus, chipSelect, hertz int) (spiConn, error)

	conn spiConn
	last *Frame
}

func (p *max31855) read() Sample {
	f, err := p.frame()
	if err == nil {
		err = p.check(f)
	}
	if err != nil {
		return Sample{Fault: faultOf(err)}
	}
	c, err := f.Celsius(p.at.couple)
	if err != nil {
		return Sample{Fault: faultf(OutOfRange, "%v", err)}
	}
	m, err := milli(1000 * c)
	return Sample{Milli: m, Proven: true, Fault: faultOf(err)}
}

// check holds a frame against the one before.
func (p *max31855) check(f Frame) error {
	if err := f.Check(); err != nil {
		return err
	}
	last := p.last
	p.last = &f
	if last == nil {
		return faultf(Pending, "one answer so far")
	}
	if step := f.Chip() - last.Chip(); step > maxChipStep || step < -maxChipStep {
		return faultf(Malformed, "%08x: the chip went from %.1f to %.1f °C at once", uint32(f), last.Chip(), f.Chip())
	}
	return nil
}

// frame asks the chip, and takes up the bus anew after a failure.
func (p *max31855) frame() (Frame, error) {
	if p.conn == nil {
		c, err := p.open(p.at.bus, p.at.chipSelect, chipClock)
		if err != nil {
			return 0, err
		}
		p.conn = c
	}
	var answer [4]byte
	if err := p.conn.Tx(nil, answer[:]); err != nil {
		p.close()
		return 0, err
	}
	return Frame(binary.BigEndian.Uint32(answer[:])), nil
}

func (p *max31855) close() {
	if p.conn != nil {
		_ = p.conn.Close() // there is nothing to lose in it
	}
	p.conn, p.last = nil, nil
}
