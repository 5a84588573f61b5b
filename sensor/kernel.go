package sensor

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/sys/unix"

	"withy/steambox/unit"
)

// Where the kernel lists the devices of its two sensor subsystems. Documented in its
// ABI/testing/sysfs-bus-iio and Documentation/hwmon/sysfs-interface.rst.
const (
	DefaultIIORoot   = "/sys/bus/iio/devices"
	DefaultHwmonRoot = "/sys/class/hwmon"
)

// device is one device of the kernel's, held open: its directory may be given another
// number, or to another chip, while it is read, and what is read then is still this
// one's or nothing. An [os.Root] would be the same with 70 KB more of program.
type device struct {
	dir                *os.File
	name, label, place string
}

// openDevice opens the device that an entry of the kernel's list leads to.
func openDevice(entry string) (*device, error) {
	path, err := filepath.EvalSymlinks(entry)
	if err != nil {
		return nil, err
	}
	dir, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	d := &device{dir: dir, place: filepath.Base(filepath.Dir(path))}
	if parent, err := os.Readlink(filepath.Join(path, "device")); err == nil { // as hwmon has it
		d.place = filepath.Base(parent)
	}
	// Either may be missing; a device with neither is none that anybody means.
	d.name, _ = d.text("name")
	d.label, _ = d.text("label")
	return d, nil
}

func (d *device) close() { _ = d.dir.Close() }

// is reports whether an address means this device, wherever it sits.
func (d *device) is(a address) bool { return a.device == d.name || a.device == d.label }

// String returns what an address may call the device, "max31856@spi0.1".
func (d *device) String() string {
	if d.label != "" {
		return d.label + "@" + d.place
	}
	return d.name + "@" + d.place
}

// text returns a file's text without its newline.
func (d *device) text(file string) (string, error) {
	fd, err := unix.Openat(int(d.dir.Fd()), file, unix.O_RDONLY|unix.O_CLOEXEC, 0)
	if err != nil {
		return "", &fs.PathError{Op: "open", Path: filepath.Join(d.dir.Name(), file), Err: err}
	}
	f := os.NewFile(uintptr(fd), file)
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, 4096))
	return string(bytes.TrimSpace(text)), err
}

// number returns a file's number.
func (d *device) number(file string) (float64, error) {
	text, err := d.text(file)
	if err != nil {
		return 0, err
	}
	return parseNumber(file, text)
}

// parseNumber reads the text of a file that holds one number. Its error is a
// *[Fault]: Empty or Malformed.
func parseNumber(file, text string) (float64, error) {
	if text == "" {
		return 0, faultf(Empty, "%s", file)
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || !unit.Finite(x) {
		return 0, faultf(Malformed, "%s is %.30q", file, text)
	}
	return x, nil
}

// findDevice opens the one device that an address means, among the entries of a list
// whose names begin with prefix. Its error is a *[Fault] that says what is there.
func findDevice(root, prefix string, a address) (*device, error) {
	entries, err := os.ReadDir(root)
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil, faultf(Absent, "no %s: the kernel has no driver of that kind loaded", root)
		}
		return nil, err
	}
	var meant, others []*device
	defer func() {
		for _, d := range others {
			d.close()
		}
	}()
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), prefix) {
			continue
		}
		d, err := openDevice(filepath.Join(root, e.Name()))
		switch {
		case err != nil: // it went away since
		case d.is(a) && (a.place == "" || a.place == d.place):
			meant = append(meant, d)
		default:
			others = append(others, d)
		}
	}
	switch len(meant) {
	case 0:
		return nil, a.missing(others)
	case 1:
		return meant[0], nil
	}
	others = append(others, meant...)
	return nil, faultf(OtherChip, "%s may be %s: write which", a, list(meant))
}

// open opens the device that the address means. From then on it means the one that sits
// there: with that one out, another of its kind elsewhere isn't it.
func (a *address) open(root, prefix string) (*device, error) {
	d, err := findDevice(root, prefix, *a)
	if err == nil {
		a.place = d.place
	}
	return d, err
}

// String returns what the address calls its device.
func (a address) String() string {
	if a.place == "" {
		return a.device
	}
	return a.device + "@" + a.place
}

// missing is the fault of a device that isn't there, or of another in its place.
func (a address) missing(others []*device) *Fault {
	for _, d := range others {
		if a.place != "" && a.place == d.place {
			return faultf(OtherChip, "at %s sits %s, not %s", a.place, d.name, a.device)
		}
	}
	if len(others) == 0 {
		return faultf(Absent, "no %s; the kernel lists none of that kind", a)
	}
	return faultf(Absent, "no %s; there are %s", a, list(others))
}

func list(devices []*device) string {
	var names []string
	for _, d := range devices {
		names = append(names, d.String())
	}
	slices.Sort(names)
	return strings.Join(names, ", ")
}

// channels lists a device's channels, as cut finds them in the names of its files.
func (d *device) channels(cut func(file string) (channel string, ok bool)) []string {
	if _, err := d.dir.Seek(0, io.SeekStart); err != nil {
		return nil
	}
	files, _ := d.dir.Readdirnames(-1) // what could be listed will do
	var out []string
	for _, file := range files {
		if c, ok := cut(file); ok && !slices.Contains(out, c) {
			out = append(out, c)
		}
	}
	slices.Sort(out)
	return out
}

// noChannel is the fault of a channel that the device hasn't.
func (d *device) noChannel(channel string, cut func(string) (string, bool)) *Fault {
	has := d.channels(cut)
	if len(has) == 0 {
		return faultf(Absent, "%s has no channel at all", d)
	}
	return faultf(Absent, "%s has no %s; there are %s", d, channel, strings.Join(has, ", "))
}

// DiscoverOthers returns the names of all that the kernel lists as IIO and hwmon devices and
// that may be a probe or a barometer, in order. What can't be listed is left out.
func DiscoverOthers(iioRoot, hwmonRoot string) []string {
	names := slices.Concat(
		discover(iioRoot, "iio:device", "iio:", iioChannel),
		discover(hwmonRoot, "hwmon", "hwmon:", hwmonChannel))
	slices.Sort(names)
	return slices.DeleteFunc(names, func(name string) bool {
		a, err := parseAny(name)
		return err != nil || w1Name.MatchString(a.place) // which has a better name
	})
}

func discover(root, prefix, scheme string, cut func(string) (string, bool)) []string {
	var names []string
	entries, _ := os.ReadDir(root)
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), prefix) {
			continue
		}
		d, err := openDevice(filepath.Join(root, e.Name()))
		if err != nil {
			continue
		}
		for _, channel := range d.channels(cut) {
			names = append(names, scheme+d.String()+"/"+channel)
		}
		d.close()
	}
	return names
}

// milli rounds a temperature that the kernel gives in thousandths of a degree.
func milli(x float64) (int, error) {
	if !(x > -1e9 && x < 1e9) {
		return 0, faultf(Malformed, "%g is no temperature", x)
	}
	return int(math.Round(x)), nil
}
