package sensor

import (
	"bytes"
	"strconv"
)

// Scratchpad is the memory of a DS18B20 as it came over the wire: temperature
// (two bytes, low one first), two alarm bytes, configuration, three reserved
// bytes, and the CRC of the eight before it.
//
// Source: DS18B20 data sheet, memory map.
type Scratchpad [9]byte

// Raw returns the temperature register in sixteenths of a degree. A DS18S20
// (family 10) counts in halves instead.
func (p Scratchpad) Raw() int16 { return int16(uint16(p[1])<<8 | uint16(p[0])) }

// Milli returns the temperature in thousandths of a degree, cut off towards
// zero as the kernel does it (w1_therm.c).
func (p Scratchpad) Milli() int { return int(p.Raw()) * 1000 / 16 }

// CheckCRC reports whether the ninth byte is the CRC of the eight before it.
// A scratchpad of nothing but zeros passes: see [Scratchpad.Dead].
func (p Scratchpad) CheckCRC() bool { return crc8(p[:]) == 0 }

// Dead reports whether all nine bytes are zero. That is a data line held low:
// the configuration byte of a working chip is never zero.
func (p Scratchpad) Dead() bool { return p == Scratchpad{} }

// PowerOn reports whether the register holds what the chip wakes up with,
// and not a measured 85 °C: 0x0550 with 0x0C in byte 6, as w1_therm.c tests it.
// Byte 6 alone says nothing; it is 0x0C at a true 85.25 °C too.
func (p Scratchpad) PowerOn() bool { return p.Raw() == 0x0550 && p[6] == 0x0C }

// crc8 is the 1-wire CRC, x⁸+x⁵+x⁴+1, reflected, starting at 0. Over data
// followed by their CRC it is 0.
//
// Source: Maxim application note 27.
func crc8(data []byte) byte {
	var crc byte
	for _, b := range data {
		crc ^= b
		for range 8 {
			if crc&1 != 0 {
				crc = crc>>1 ^ 0x8C
			} else {
				crc >>= 1
			}
		}
	}
	return crc
}

// ParseTemperature reads the text of a probe's temperature file: thousandths of
// a degree Celsius and a newline, which may be missing.
//
// The error is a *[Fault]: Empty for an empty file, else Malformed. Whether the
// value can be believed is [Judge]'s question, not asked here.
func ParseTemperature(text []byte) (milli int, err error) {
	text = bytes.TrimSpace(text)
	if len(text) == 0 {
		return 0, &Fault{Kind: Empty}
	}
	return parseMilli(text)
}

// ParseSlave reads the text of a probe's w1_slave file: two lines, each nine
// bytes in hexadecimal, the first ending in YES or NO, the second in the
// temperature in thousandths of a degree.
//
// The error is a *[Fault]: Empty; Checksum when the first line ends in NO or
// its bytes contradict their CRC; else Malformed. A dead or power-on scratchpad
// is returned as it stands, for [Judge] to reject.
//
// Source: the print statements of drivers/w1/slaves/w1_therm.c.
func ParseSlave(text []byte) (pad Scratchpad, milli int, err error) {
	text = bytes.TrimSpace(text)
	if len(text) == 0 {
		return pad, 0, &Fault{Kind: Empty}
	}
	first, second, _ := bytes.Cut(text, []byte("\n"))
	if pad, err = parsePad(first); err != nil {
		return pad, 0, err
	}
	_, value, ok := bytes.Cut(second, []byte("t="))
	if !ok {
		return pad, 0, faultf(Malformed, "no temperature in %.60q", second)
	}
	milli, err = parseMilli(bytes.TrimSpace(value))
	return pad, milli, err
}

// parsePad reads the first line, "40 06 4b 46 7f ff 10 10 ae : crc=ae YES".
func parsePad(line []byte) (pad Scratchpad, err error) {
	fields := bytes.Fields(line)
	if len(fields) != len(pad)+3 {
		return pad, faultf(Malformed, "first line is %.60q", line)
	}
	for i := range pad {
		b, err := strconv.ParseUint(string(fields[i]), 16, 8)
		if err != nil {
			return pad, faultf(Malformed, "byte %d is %.10q", i, fields[i])
		}
		pad[i] = byte(b)
	}
	switch verdict := string(fields[len(fields)-1]); {
	case verdict == "NO":
		return pad, faultf(Checksum, "kernel says NO to % x", pad[:])
	case verdict != "YES":
		return pad, faultf(Malformed, "first line is %.60q", line)
	case !pad.CheckCRC():
		return pad, faultf(Checksum, "% x under a YES", pad[:])
	}
	return pad, nil
}

// parseMilli reads a whole number small enough to be a temperature of any
// kind: the out-of-range fault is for numbers, not for garbage.
func parseMilli(text []byte) (int, error) {
	n, err := strconv.ParseInt(string(text), 10, 32)
	if err != nil {
		return 0, faultf(Malformed, "%.30q is no temperature", text)
	}
	return int(n), nil
}
