package sensor

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"testing/synctest"
	"time"
)

// fakeKeys plays a keyboard: what it tells comes out of a channel.
type fakeKeys struct {
	tells chan any // []byte, or an error

	mu       sync.Mutex
	deadline time.Time
	held     []byte
	closed   bool
}

func newFakeKeys() *fakeKeys {
	return &fakeKeys{tells: make(chan any, 16), held: make([]byte, maxKey/8+1)}
}

func (k *fakeKeys) SetReadDeadline(t time.Time) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.deadline = t
	return nil
}

func (k *fakeKeys) Read(b []byte) (int, error) {
	k.mu.Lock()
	late := time.After(time.Until(k.deadline))
	k.mu.Unlock()
	select {
	case told := <-k.tells:
		if err, ok := told.(error); ok {
			return 0, err
		}
		return copy(b, told.([]byte)), nil
	case <-late:
		return 0, os.ErrDeadlineExceeded
	}
}

func (k *fakeKeys) down() ([]byte, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	return slices.Clone(k.held), nil
}

func (k *fakeKeys) hold(code uint16, down bool) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.held[code/8] &^= 1 << (code % 8)
	if down {
		k.held[code/8] |= 1 << (code % 8)
	}
}

func (k *fakeKeys) Close() error {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.closed = true
	return nil
}

// event is a struct input_event of this processor, by linux/input.h.
func event(kind, code uint16, value int32) []byte {
	b := bytes.Repeat([]byte{0x5a}, eventTime) // a time, of no account
	b = binary.NativeEndian.AppendUint16(b, kind)
	b = binary.NativeEndian.AppendUint16(b, code)
	return binary.NativeEndian.AppendUint32(b, uint32(value))
}

func TestParseKey(t *testing.T) {
	// By linux/input-event-codes.h.
	for name, want := range map[string]uint16{"": 0, "space": 57, "enter": 28, "pagedown": 109, "b": 48, "1": 1, "767": 767} {
		if got, err := ParseKey(name); got != want || err != nil {
			t.Errorf("%q is %d, %v; want %d", name, got, err, want)
		}
	}
	for _, name := range []string{"0", "768", "-1", "Space", "page down", "65536"} {
		if got, err := ParseKey(name); err == nil {
			t.Errorf("%q passes, as %d", name, got)
		}
	}
}

// 24 bytes with 64 bits, 16 with 32: two words of time, then type, code and value. The
// bytes of a little-endian 64-bit board as linux/input.h lays them out.
func TestParseEvents(t *testing.T) {
	if eventSize != 8+2*strconv.IntSize/8 {
		t.Errorf("an event has %d bytes", eventSize)
	}
	got := parseEvents(slices.Concat(event(1, 57, 1), event(0, 0, 0), event(1, 57, 0), []byte{1, 2, 3}))
	if want := []keyEvent{{1, 57, 1}, {0, 0, 0}, {1, 57, 0}}; !slices.Equal(got, want) {
		t.Errorf("events are %v, want %v", got, want)
	}
}

func FuzzParseEvents(f *testing.F) {
	f.Add(event(1, 57, 1))
	f.Add(slices.Concat(event(1, 57, 2), event(0, 3, 0)))
	f.Add([]byte{1})
	f.Fuzz(func(t *testing.T, b []byte) {
		events := parseEvents(b)
		if len(events) != len(b)/eventSize {
			t.Fatalf("%d bytes are %d events", len(b), len(events))
		}
		for i, e := range events {
			from := i*eventSize + eventTime
			if !bytes.Equal(event(e.kind, e.code, e.value)[eventTime:], b[from:from+8]) {
				t.Errorf("event %d is %+v", i, e)
			}
		}
	})
}

// pedal is a board with a pedal of two keys, which is as opened tells.
func pedal(t *testing.T, opened func() (keys, error)) (*Board, *logged) {
	t.Helper()
	log := &logged{}
	b, err := newBoard(Config{
		Buttons: []ButtonConfig{
			{Name: "left", Key: KeyConfig{Device: "usb-Pedal-event-kbd", Key: "a"}, MaxHold: 3 * time.Second},
			{Name: "right", Key: KeyConfig{Device: "usb-Pedal-event-kbd", Key: "b"}},
		},
		keys: func(path string) (keys, error) {
			if path != "/dev/input/by-id/usb-Pedal-event-kbd" {
				t.Errorf("opened %s", path)
			}
			return opened()
		},
	}, quiet(), elapsed(), nil)
	if err != nil {
		t.Fatal(err)
	}
	return b, log
}

// logged are the presses of a board.
type logged struct{ presses []string }

// until reads sweeps for d and returns the presses in them.
func (l *logged) until(b *Board, d time.Duration) string {
	l.presses = nil
	for end := b.Now() + d; ; {
		ctx, cancel := context.WithTimeout(context.Background(), end-b.Now())
		sweep, err := b.Read(ctx)
		cancel()
		if err != nil {
			return strings.Join(l.presses, " ")
		}
		for _, p := range sweep.Presses {
			l.presses = append(l.presses, fmt.Sprintf("%s@%v/%v", p.Button, p.At, p.Held))
		}
	}
}

func TestKeyboardPresses(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFakeKeys()
		f.hold(48, true) // a foot is on the right one already: that is no press
		b, log := pedal(t, func() (keys, error) { return f, nil })
		defer b.Close()
		step := func(after time.Duration, code uint16, value int32) {
			time.AfterFunc(after, func() {
				f.hold(code, value != keyUp)
				f.tells <- slices.Concat(event(keyKind, code, value), event(synKind, 0, 0))
			})
		}
		ms := time.Millisecond
		step(500*ms, 48, keyUp)
		step(1000*ms, 30, keyDown)
		step(1250*ms, 30, 2) // it repeats
		step(1300*ms, 30, keyUp)
		step(2000*ms, 48, keyDown)
		step(2000*ms, 99, keyDown) // no button of ours
		step(2400*ms, 48, keyUp)
		step(3000*ms, 30, keyDown) // and stays: reported after 3 s, and not again
		step(9000*ms, 30, keyUp)
		if got, want := log.until(b, 5990*ms), "left@1s/300ms right@2s/400ms"; got != want {
			t.Errorf("presses %s, want %s", got, want)
		}
		if got, want := log.until(b, 4*time.Second), "left@3s/3s"; got != want {
			t.Errorf("presses %s, want %s", got, want)
		}
		for _, l := range b.Lines() {
			if l.Err != nil || l.Contact != Open || l.Line != "/dev/input/by-id/usb-Pedal-event-kbd" || l.Edges == 0 {
				t.Errorf("key is %+v", l)
			}
		}
	})
}

// Events that the kernel had to drop are made good by looking at the keys.
func TestKeyboardDropped(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFakeKeys()
		b, log := pedal(t, func() (keys, error) { return f, nil })
		defer b.Close()
		time.AfterFunc(time.Second, func() { f.tells <- event(keyKind, 48, keyDown) })
		time.AfterFunc(1400*time.Millisecond, func() { f.tells <- event(synKind, synDropped, 0) })
		if got, want := log.until(b, 3*time.Second), "right@1s/400ms"; got != want {
			t.Errorf("presses %s, want %s", got, want)
		}
	})
}

// A pedal that is pulled out is looked for until it is back; a press under way is none.
func TestKeyboardComesAndGoes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var mu sync.Mutex
		var there *fakeKeys
		plug := func(f *fakeKeys) {
			mu.Lock()
			defer mu.Unlock()
			there = f
		}
		b, log := pedal(t, func() (keys, error) {
			mu.Lock()
			defer mu.Unlock()
			if there == nil {
				return nil, fs.ErrNotExist
			}
			return there, nil
		})
		defer b.Close()
		log.until(b, 100*time.Millisecond)
		for _, l := range b.Lines() {
			if !errors.Is(l.Err, fs.ErrNotExist) || l.Contact != Unknown {
				t.Errorf("key of a pedal that is not there is %+v", l)
			}
		}
		f := newFakeKeys()
		plug(f)
		log.until(b, 4*time.Second)
		f.tells <- event(keyKind, 48, keyDown)
		log.until(b, time.Second)
		plug(nil)
		f.tells <- syscall.ENODEV
		if got := log.until(b, time.Second); got != "" {
			t.Errorf("pulling the plug is the press %s", got)
		}
		if !f.closed {
			t.Error("the pedal that is gone is still open")
		}
		f = newFakeKeys()
		plug(f)
		log.until(b, 4*time.Second)
		f.tells <- slices.Concat(event(keyKind, 30, keyDown), event(keyKind, 30, keyUp))
		if got := log.until(b, time.Second); !strings.HasPrefix(got, "left@") {
			t.Errorf("back again, the press is %q", got)
		}
	})
}

func TestOpenKeys(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "usb-Other-event-kbd")
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := openKeys(filepath.Join(dir, "usb-Pedal-event-kbd")); err == nil || !strings.Contains(err.Error(), "There are usb-Other-event-kbd") {
		t.Errorf("a pedal that is not there: %v", err)
	}
	if _, err := openKeys(path); !errors.Is(err, syscall.ENOTTY) {
		t.Errorf("a file that is no keyboard: %v", err)
	}
}

func TestKeyMistakes(t *testing.T) {
	_, err := NewBoard(Config{Buttons: []ButtonConfig{
		{Name: "one", Key: KeyConfig{Device: "pedal", Key: "b"}},
		{Name: "two", Key: KeyConfig{Device: "pedal", Key: "48"}},
		{Name: "three", Key: KeyConfig{Device: "pedal", Key: "nonsense"}},
		{Name: "four", Key: KeyConfig{Device: "pedal"}, Contact: ContactConfig{Line: "GPIO4"}},
		{Name: "five"},
		{Name: "one", Key: KeyConfig{Device: "other"}},
	}}, quiet())
	if err == nil {
		t.Fatal("all mistakes pass")
	}
	for _, want := range []string{"one and two are the same key of /dev/input/by-id/pedal", `three: key "nonsense"`,
		"four is on line GPIO4 and a key of pedal", `line ""`, `named "one"`} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("no word of %q in:\n%v", want, err)
		}
	}
}
