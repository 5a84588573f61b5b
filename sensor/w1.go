package sensor

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"time"
)

// DefaultW1Root is where the kernel lists the devices of every 1-wire bus.
// Documented in the kernel's ABI/testing/sysfs-driver-w1_therm.
const DefaultW1Root = "/sys/bus/w1/devices"

// Discover returns the names of the thermometers that the kernel lists under
// root, in order. A root that is not there is an error wrapping
// [fs.ErrNotExist]: the kernel has no 1-wire driver loaded.
//
// A listed probe need not answer: the kernel goes on listing one that was
// pulled out for a minute or more.
func Discover(root string) ([]string, error) {
	entries, err := os.ReadDir(root)
	if err != nil {
		return nil, fmt.Errorf("1-wire: %w", err)
	}
	var names []string
	for _, e := range entries {
		if w1Name.MatchString(e.Name()) {
			names = append(names, e.Name())
		}
	}
	slices.Sort(names)
	return names, nil
}

// busOf returns the directory of the bus master that a probe hangs on. The
// kernel's entry is a link into that directory.
func busOf(root, probe string) (string, error) {
	dir, err := filepath.EvalSymlinks(filepath.Join(root, probe))
	if err == nil {
		return filepath.Dir(dir), nil
	}
	if _, rootErr := os.Stat(root); errors.Is(rootErr, fs.ErrNotExist) {
		return "", faultf(Absent, "no %s: the kernel has no 1-wire bus", root)
	}
	return "", err
}

// readProbe asks the kernel for one probe's temperature, by the newer file
// where there is one. The read starts a conversion and takes up to 0.8 s,
// unless a bulk conversion has just been done.
func readProbe(root, probe string) Sample {
	text, err := readFile(filepath.Join(root, probe, "temperature"))
	if errors.Is(err, fs.ErrNotExist) {
		return readSlave(root, probe)
	}
	s := Sample{Probe: probe}
	if err == nil {
		s.Milli, err = ParseTemperature(text)
	}
	s.Fault = faultOf(err)
	return s
}

// readSlave asks for one probe's temperature together with its scratchpad. It
// always starts a conversion.
func readSlave(root, probe string) Sample {
	s := Sample{Probe: probe}
	text, err := readFile(filepath.Join(root, probe, "w1_slave"))
	if err != nil {
		s.Fault = faultOf(err)
		return s
	}
	pad, milli, err := ParseSlave(text)
	if s.Fault = faultOf(err); s.Fault == nil {
		s.Milli, s.Pad = milli, &pad
	}
	return s
}

// readFile reads a file of the kernel's, a few hundred bytes at most.
func readFile(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, 4096))
}

// faultOf turns an error of a read into the fault it means; nil into nil.
func faultOf(err error) *Fault {
	if err == nil {
		return nil
	}
	if f, ok := errors.AsType[*Fault](err); ok {
		return f
	}
	// A device that goes away under an open file gives ENODEV, a chip that does not
	// answer on its bus ENXIO or EREMOTEIO.
	kind := Unreadable
	switch {
	case is(err, fs.ErrNotExist, syscall.ENODEV, syscall.ENXIO, syscall.EREMOTEIO):
		kind = Absent
	case errors.Is(err, fs.ErrPermission):
		kind = Denied
	case errors.Is(err, syscall.EBUSY):
		kind = Busy
	case is(err, syscall.ETIMEDOUT, syscall.EAGAIN):
		kind = Timeout
	}
	return &Fault{Kind: kind, Detail: err.Error()}
}

// is reports whether err is any of those.
func is(err error, any ...error) bool {
	return slices.ContainsFunc(any, func(e error) bool { return errors.Is(err, e) })
}

// convertAll has all thermometers of the bus in directory dir convert at
// once. It blocks for the longest conversion, 0.75 s at 12 bit. After it each
// probe's temperature file must be read once: one left out would later answer
// with this old value.
//
// The file is there on the first bus master only, and is writable for root
// unless a rule says otherwise; without it probes are read in turn.
func convertAll(dir string) error {
	f, err := os.OpenFile(filepath.Join(dir, "therm_bulk_read"), os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	// The newline counts: the driver compares the length with 8 and passes
	// over anything else without an error.
	_, err = f.WriteString("trigger\n")
	return errors.Join(err, f.Close())
}

// shortedWithin is the time within which a dead bus answers for one probe: the kernel
// resets it ten times, a millisecond each, where the shortest conversion takes
// 94 ms.
const shortedWithin = 50 * time.Millisecond
