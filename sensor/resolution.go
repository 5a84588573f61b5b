package sensor

import (
	"bytes"
	"path/filepath"
	"strconv"
)

// Resolution returns how many bits a probe converts to, 9 to 12 for a DS18B20: a
// step of 1/2 to 1/16 K. ok is false where the kernel doesn't say, as older ones
// don't, or the probe doesn't answer.
//
// Documented in the kernel's ABI/testing/sysfs-driver-w1_therm.
func Resolution(root, probe string) (bits int, ok bool) {
	text, err := readFile(filepath.Join(root, probe, "resolution"))
	if err != nil {
		return 0, false
	}
	bits, err = strconv.Atoi(string(bytes.TrimSpace(text)))
	if err != nil || bits < 9 || bits > 14 {
		return 0, false
	}
	return bits, true
}
