package sensor_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"withy/sensor"
)

// fixture returns the text of a file of testdata/w1.
func fixture(t testing.TB, name string) []byte {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("../testdata/w1", name))
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// kindOf returns the kind of the fault in err, 0 for none.
func kindOf(err error) sensor.FaultKind {
	if f, ok := errors.AsType[*sensor.Fault](err); ok {
		return f.Kind
	}
	return 0
}

// Register values: DS18B20 data sheet, table 1. Thousandths: w1_therm.c of
// Linux 6.12, which cuts off towards zero.
func TestScratchpadMilli(t *testing.T) {
	for _, test := range []struct {
		low, high byte
		milli     int
	}{
		{0xd0, 0x07, 125000},
		{0x50, 0x05, 85000},
		{0x91, 0x01, 25062},
		{0xa2, 0x00, 10125},
		{0x08, 0x00, 500},
		{0x00, 0x00, 0},
		{0xf8, 0xff, -500},
		{0x5e, 0xff, -10125},
		{0x6f, 0xfe, -25062},
		{0x90, 0xfc, -55000},
		{0xff, 0xff, -62}, // one step below zero: not −63
	} {
		pad := sensor.Scratchpad{test.low, test.high}
		if got := pad.Milli(); got != test.milli {
			t.Errorf("%02x%02x is %d, want %d", test.high, test.low, got, test.milli)
		}
	}
}

// Scratchpads with CRCs computed by crcmod and by a bitwise routine.
func TestScratchpadVerdicts(t *testing.T) {
	for _, test := range []struct {
		hex           string
		crc           bool
		dead, powerOn bool
	}{
		{"50 05 4b 46 7f ff 0c 10 1c", true, false, true},
		{"50 05 4b 46 7f ff 10 10 bd", true, false, false},
		{"ff 07 4b 46 7f ff 0c 10 a6", true, false, false},
		{"72 01 4b 46 7f ff 0e 10 57", true, false, false},
		{"40 06 4b 46 7f ff 10 10 ae", true, false, false},
		{"28 06 4b 46 7f ff 08 10 ff", true, false, false},
		{"f0 05 4b 46 7f ff 10 10 87", true, false, false},
		{"40 01 4b 46 7f ff 10 10 1d", true, false, false},
		{"f8 ff 4b 46 7f ff 08 10 f8", true, false, false},
		{"00 00 00 00 00 00 00 00 00", true, true, false},
		{"ff ff ff ff ff ff ff ff ff", false, false, false}, // CRC would be c9
		{"40 06 4b 46 7f ff 10 10 af", false, false, false},
		{"54 05 4b 46 7f ff 0c 10 00", false, false, false}, // byte 6 of a true 85.25
	} {
		var pad sensor.Scratchpad
		for i, f := range strings.Fields(test.hex) {
			if _, err := fmt.Sscanf(f, "%02x", &pad[i]); err != nil {
				t.Fatal(err)
			}
		}
		if pad.CheckCRC() != test.crc || pad.Dead() != test.dead || pad.PowerOn() != test.powerOn {
			t.Errorf("%s: CRC %t dead %t power-on %t", test.hex, pad.CheckCRC(), pad.Dead(), pad.PowerOn())
		}
	}
}

// Texts and their values: testdata/w1/README.md.
func TestParseSlave(t *testing.T) {
	for _, test := range []struct {
		file  string
		milli int
		kind  sensor.FaultKind
	}{
		{"slave-100", 100000, 0},
		{"slave-98.5", 98500, 0},
		{"slave-23.125", 23125, 0},
		{"slave-minus-0.5", -500, 0},
		{"slave-true-85", 85000, 0},
		{"slave-no-newline", 100000, 0},
		{"slave-power-on", 85000, 0}, // well formed: for the judge to reject
		{"slave-dead", 0, 0},
		{"slave-low-power", 127937, 0},
		{"slave-no", 0, sensor.Checksum},
		{"slave-wrong-yes", 0, sensor.Checksum},
		{"slave-cut-first-line", 0, sensor.Malformed},
		{"slave-cut-second-line", 0, sensor.Malformed},
		{"empty", 0, sensor.Empty},
		{"temperature-98.125", 0, sensor.Malformed},
	} {
		pad, milli, err := sensor.ParseSlave(fixture(t, test.file))
		if milli != test.milli || kindOf(err) != test.kind || (err == nil) != (test.kind == 0) {
			t.Errorf("%s: %d, %v; want %d, %v", test.file, milli, err, test.milli, test.kind)
		}
		if err == nil && pad.Milli() != milli {
			t.Errorf("%s: scratchpad says %d, text says %d", test.file, pad.Milli(), milli)
		}
	}
}

func TestParseTemperature(t *testing.T) {
	for _, test := range []struct {
		text  string
		milli int
		kind  sensor.FaultKind
	}{
		{string(fixture(t, "temperature-98.125")), 98125, 0},
		{string(fixture(t, "temperature-minus-1.25")), -1250, 0},
		{string(fixture(t, "temperature-no-newline")), 98125, 0},
		{string(fixture(t, "temperature-85")), 85000, 0},
		{string(fixture(t, "empty")), 0, sensor.Empty},
		{"\n", 0, sensor.Empty},
		{"98.125\n", 0, sensor.Malformed},
		{"98125\n98125\n", 0, sensor.Malformed},
		{"99999999999999999999\n", 0, sensor.Malformed},
		{string(fixture(t, "slave-100")), 0, sensor.Malformed},
	} {
		milli, err := sensor.ParseTemperature([]byte(test.text))
		if milli != test.milli || kindOf(err) != test.kind || (err == nil) != (test.kind == 0) {
			t.Errorf("%q: %d, %v; want %d, %v", test.text, milli, err, test.milli, test.kind)
		}
	}
}

// What is accepted must come out the same when written down again.
func FuzzParseSlave(f *testing.F) {
	files, err := filepath.Glob("../testdata/w1/*")
	if err != nil || len(files) == 0 {
		f.Fatal("no fixtures", err)
	}
	for _, file := range files {
		f.Add(fixture(f, filepath.Base(file)))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		pad, milli, err := sensor.ParseSlave(text)
		if err != nil {
			if kindOf(err) == 0 {
				t.Fatalf("error is no fault: %v", err)
			}
			return
		}
		if !pad.CheckCRC() {
			t.Fatalf("accepted % x in spite of its CRC", pad)
		}
		again := fmt.Sprintf("% x : crc=%02x YES\n% x t=%d\n", pad[:], pad[8], pad[:], milli)
		pad2, milli2, err := sensor.ParseSlave([]byte(again))
		if pad2 != pad || milli2 != milli || err != nil {
			t.Fatalf("%q became %q: % x %d %v", text, again, pad2, milli2, err)
		}
	})
}

func FuzzParseTemperature(f *testing.F) {
	for _, s := range []string{"98125\n", "-1250\n", "85000", "", "\n", "t=1", "+1", "-0"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		milli, err := sensor.ParseTemperature(text)
		if err != nil {
			if kindOf(err) == 0 {
				t.Fatalf("error is no fault: %v", err)
			}
			return
		}
		if again, err := sensor.ParseTemperature(fmt.Appendf(nil, "%d\n", milli)); again != milli || err != nil {
			t.Fatalf("%q is %d, then %d, %v", text, milli, again, err)
		}
	})
}
