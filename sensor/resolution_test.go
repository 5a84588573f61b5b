package sensor_test

import (
	"testing"

	"withy/sensor"
	"withy/sensor/sensortest"
)

// The kernel's ABI document: a whole number of bits, 9 to 12 for a DS18B20 and up to 14
// for a look-alike; a negative number is an error of its own.
func TestResolution(t *testing.T) {
	tree := sensortest.NewTree(t)
	tree.Plug(bus1, steam)
	if bits, ok := sensor.Resolution(tree.Root, steam); ok {
		t.Errorf("no file, and %d bits", bits)
	}
	for text, want := range map[string]int{"12\n": 12, "9": 9, "14\n": 14, "-19\n": 0, "": 0, "many\n": 0} {
		tree.Write(steam, "resolution", text)
		if bits, ok := sensor.Resolution(tree.Root, steam); ok != (want > 0) || bits != want {
			t.Errorf("%q: %d bits, %v", text, bits, ok)
		}
	}
}
