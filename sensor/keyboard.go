package sensor

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"
)

// DefaultInputRoot holds the keyboards and pedals by names that stay the same whatever
// is plugged in before or after them. udev makes it.
const DefaultInputRoot = "/dev/input/by-id"

// KeyConfig says which key of which keyboard is a button. A pedal with a USB plug is a
// keyboard with a key or three.
type KeyConfig struct {
	// Device is the keyboard's name in [DefaultInputRoot], "usb-Maker_Pedal-event-kbd", or
	// a path; empty where the button is no key.
	Device string
	// Key is for [ParseKey]; empty means any.
	Key string
}

// keyNames are some keys by the names of the kernel's input-event-codes.h in lower case:
// those that pedals are sold with, and those that a hand finds.
var keyNames = map[string]uint16{
	"esc": 1, "backspace": 14, "tab": 15, "enter": 28, "a": 30, "b": 48, "c": 46, "space": 57, "kpenter": 96, "home": 102,
	"up": 103, "pageup": 104, "left": 105, "right": 106, "end": 107, "down": 108, "pagedown": 109,
	"volumedown": 114, "volumeup": 115, "nextsong": 163, "playpause": 164, "previoussong": 165,
}

// anyKey stands for every key of a keyboard. The kernel's code 0 is reserved.
const anyKey = 0

// maxKey is the kernel's greatest code, KEY_MAX.
const maxKey = 0x2ff

// ParseKey reads the name of a key, such as space or pagedown, or its code in the kernel's
// input-event-codes.h, 1 to 767. Empty is any key.
func ParseKey(name string) (uint16, error) {
	if name == "" {
		return anyKey, nil
	}
	if code, ok := keyNames[name]; ok {
		return code, nil
	}
	if code, err := strconv.ParseUint(name, 10, 16); err == nil && code >= 1 && code <= maxKey {
		return uint16(code), nil
	}
	var names []string
	for name := range keyNames {
		names = append(names, name)
	}
	slices.Sort(names)
	return 0, fmt.Errorf("key %q: want a code from 1 to %d, or one of %s", name, maxKey, strings.Join(names, ", "))
}

// keyEvent is what a keyboard tells.
type keyEvent struct {
	kind, code uint16
	value      int32
}

// Kinds and codes of linux/input-event-codes.h.
const (
	synKind, synDropped = 0, 3 // events were lost
	keyKind             = 1
	keyUp, keyDown      = 0, 1 // 2 is a repeat
)

// eventSize is that of the kernel's struct input_event, which begins with a time in words of
// this processor: 24 bytes with 64 bits, 16 with 32.
const (
	eventTime = int(unsafe.Sizeof(unix.Timeval{}))
	eventSize = eventTime + 8
)

// parseEvents reads whole events out of b.
func parseEvents(b []byte) []keyEvent {
	var out []keyEvent
	for ; len(b) >= eventSize; b = b[eventSize:] {
		e := b[eventTime:]
		out = append(out, keyEvent{binary.NativeEndian.Uint16(e), binary.NativeEndian.Uint16(e[2:]), int32(binary.NativeEndian.Uint32(e[4:]))})
	}
	return out
}

// keys is an open keyboard.
type keys interface {
	io.ReadCloser
	SetReadDeadline(time.Time) error
	// down returns the keys that are down now, a bit each.
	down() ([]byte, error)
}

// eventFile is a keyboard by the kernel's input events.
// Documented in its Documentation/input/event-codes.rst and linux/input.h.
type eventFile struct{ *os.File }

// Requests of linux/input.h: take all events for this program alone, so that a pedal doesn't
// type into a console as well; and the state of all keys.
const (
	grab     = 0x40044590
	downBits = 0x80004518 | (maxKey/8+1)<<16
)

// openKeys opens a keyboard for this program alone.
func openKeys(path string) (keys, error) {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("no %s: is it plugged in? There are %s", path, keyboards(filepath.Dir(path)))
	}
	if err != nil {
		return nil, err
	}
	k := eventFile{f}
	if err := k.control(grab, 1); err != nil {
		_ = f.Close() // nothing was written
		return nil, fmt.Errorf("%s: held by another program, or no keyboard: %w", path, err)
	}
	return k, nil
}

// keyboards lists what of a folder looks like keyboards.
func keyboards(folder string) string {
	found, _ := filepath.Glob(filepath.Join(folder, "*event*")) // the pattern is good
	if len(found) == 0 {
		return "none"
	}
	for i := range found {
		found[i] = filepath.Base(found[i])
	}
	return strings.Join(found, ", ")
}

// control makes a request without taking the file off the runtime's poller, as Fd would.
func (k eventFile) control(request uint, argument uintptr) error {
	raw, err := k.SyscallConn()
	if err != nil {
		return err
	}
	var errno unix.Errno
	err = raw.Control(func(fd uintptr) { _, _, errno = unix.Syscall(unix.SYS_IOCTL, fd, uintptr(request), argument) })
	if err == nil && errno != 0 {
		err = errno
	}
	return err
}

func (k eventFile) down() ([]byte, error) {
	raw, err := k.SyscallConn()
	if err != nil {
		return nil, err
	}
	bits := make([]byte, maxKey/8+1)
	var errno unix.Errno
	err = raw.Control(func(fd uintptr) {
		_, _, errno = unix.Syscall(unix.SYS_IOCTL, fd, downBits, uintptr(unsafe.Pointer(&bits[0])))
	})
	if err == nil && errno != 0 {
		err = errno
	}
	return bits, err
}

// keyboard watches the keys of one device in its own goroutine.
type keyboard struct {
	path string
	keys map[uint16]*input
	open func(path string) (keys, error)
	log  *slog.Logger

	logged string // the failure last logged
}

// run watches the keyboard until ctx is done, and looks for it again each few seconds when
// it isn't there.
func (k *keyboard) run(ctx context.Context) {
	for ctx.Err() == nil {
		err := k.session(ctx)
		if ctx.Err() != nil {
			return
		}
		if msg := err.Error(); msg != k.logged {
			k.log.Warn("keyboard failed", "device", k.path, "err", err)
			k.logged = msg
		}
		for _, in := range k.keys {
			in.step(Unknown, err)
		}
		sleep(ctx, retryEvery)
	}
}

// session opens the keyboard and watches it until it fails or ctx is done.
func (k *keyboard) session(ctx context.Context) error {
	f, err := k.open(k.path)
	if err != nil {
		return err
	}
	defer f.Close()
	if err := k.look(f); err != nil {
		return err
	}
	k.logged = ""
	k.log.Info("keyboard taken", "device", k.path)
	buf := make([]byte, 64*eventSize) // the kernel gives whole events only
	for ctx.Err() == nil {
		if err := f.SetReadDeadline(time.Now().Add(k.wait())); err != nil {
			return err
		}
		n, err := f.Read(buf)
		switch {
		case errors.Is(err, os.ErrDeadlineExceeded):
			k.again()
		case err != nil:
			return err
		case n < eventSize:
			return fmt.Errorf("%s: %d bytes are no event of a keyboard", k.path, n)
		}
		if err := k.take(f, parseEvents(buf[:n])); err != nil {
			return err
		}
	}
	return nil
}

// take enters events.
func (k *keyboard) take(f keys, events []keyEvent) error {
	for _, e := range events {
		switch {
		case e.kind == synKind && e.code == synDropped:
			if err := k.look(f); err != nil {
				return err
			}
		case e.kind == keyKind && (e.value == keyUp || e.value == keyDown):
			k.key(e.code, e.value == keyDown)
		}
	}
	return nil
}

// look enters which keys are down now.
func (k *keyboard) look(f keys) error {
	bits, err := f.down()
	if err != nil {
		return fmt.Errorf("%s: %w", k.path, err)
	}
	for code, in := range k.keys {
		down := bits[code/8]>>(code%8)&1 == 1
		if code == anyKey {
			down = slices.ContainsFunc(bits, func(b byte) bool { return b != 0 })
		}
		in.step(contactOf(down), nil)
	}
	return nil
}

// key enters that a key went down or up.
func (k *keyboard) key(code uint16, down bool) {
	for _, c := range []uint16{code, anyKey} {
		if in := k.keys[c]; in != nil {
			in.edges.Add(1)
			in.step(contactOf(down), nil)
		}
	}
}

// again has every key looked at in time for its longest press.
func (k *keyboard) again() {
	for _, in := range k.keys {
		in.step(in.button.state, nil)
	}
}

func (k *keyboard) wait() time.Duration {
	wait := lookEvery
	for _, in := range k.keys {
		wait = min(wait, in.wait())
	}
	return wait
}

func contactOf(down bool) Contact {
	if down {
		return Closed
	}
	return Open
}
