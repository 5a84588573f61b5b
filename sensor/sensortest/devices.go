package sensortest

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
)

// Devices is a directory laid out as the kernel lays out one of its sensor subsystems: a list
// of numbered links, and the devices themselves under the places that they sit at.
// Documented in its ABI/testing/sysfs-bus-iio and Documentation/hwmon/sysfs-interface.rst.
type Devices struct {
	// Root is the list, to be used as sensor.Config's IIORoot or HwmonRoot.
	Root string

	t       testing.TB
	prefix  string
	devices string
	hwmon   bool
}

// NewIIO makes an empty list of IIO devices.
func NewIIO(t testing.TB) *Devices { return newDevices(t, "bus/iio/devices", "iio:device", false) }

// NewHwmon makes an empty list of hwmon devices.
func NewHwmon(t testing.TB) *Devices { return newDevices(t, "class/hwmon", "hwmon", true) }

func newDevices(t testing.TB, list, prefix string, hwmon bool) *Devices {
	t.Helper()
	dir := t.TempDir()
	d := &Devices{Root: filepath.Join(dir, list), t: t, prefix: prefix, devices: filepath.Join(dir, "devices"), hwmon: hwmon}
	d.must(os.MkdirAll(d.Root, 0o755))
	return d
}

// Files are a device's files by name.
type Files map[string]string

// Plug puts a device at a place, "spi0.1", under the number that the kernel gives it this
// time.
func (d *Devices) Plug(number int, place string, files Files) {
	d.t.Helper()
	dir := filepath.Join(d.devices, place, d.entry(number))
	if d.hwmon {
		dir = filepath.Join(d.devices, place, "hwmon", d.entry(number))
	}
	d.must(os.MkdirAll(dir, 0o755))
	if d.hwmon {
		d.must(os.Symlink("../../../"+place, filepath.Join(dir, "device")))
	}
	for file, text := range files {
		d.must(os.WriteFile(filepath.Join(dir, file), []byte(text+"\n"), 0o644))
	}
	d.must(os.Symlink(dir, d.link(number)))
}

// Pull takes a device out, files and all.
func (d *Devices) Pull(number int) {
	d.t.Helper()
	dir, err := filepath.EvalSymlinks(d.link(number))
	d.must(err)
	d.must(os.Remove(d.link(number)))
	d.must(os.RemoveAll(dir))
}

// Write gives a device's file another text, at one stroke: no reader finds half of it.
func (d *Devices) Write(number int, file, text string) {
	d.t.Helper()
	path := filepath.Join(d.link(number), file)
	d.must(os.WriteFile(path+".new", []byte(text+"\n"), 0o644))
	d.must(os.Rename(path+".new", path))
}

// Remove takes a file away.
func (d *Devices) Remove(number int, file string) {
	d.t.Helper()
	d.must(os.Remove(filepath.Join(d.link(number), file)))
}

// Hang makes reads of a device's file never return, until the test ends.
func (d *Devices) Hang(number int, file string) {
	d.t.Helper()
	hang(d.t, filepath.Join(d.link(number), file))
}

func (d *Devices) entry(number int) string { return fmt.Sprintf("%s%d", d.prefix, number) }

func (d *Devices) link(number int) string { return filepath.Join(d.Root, d.entry(number)) }

func (d *Devices) must(err error) {
	d.t.Helper()
	if err != nil {
		d.t.Fatal(err)
	}
}
