package sensor_test

import (
	"strings"
	"testing"
	"time"

	"withy/sensor"
)

// Each letter is the raw contact for 100 ms: o open, c closed, ? unknown.
// Hold times: 500 ms to close, 300 ms to open.
func TestDebounce(t *testing.T) {
	for _, test := range []struct {
		name, raw, want string
	}{
		{"unknown until it holds", "ccccccc", "?????cc"},
		{"opens sooner than it closes", "ccccccooooo", "?????cccc" + "oo"},
		{"a glitch is nothing", "ccccccoocccc", "?????ccccccc"},
		{"chatter never settles", "cccccc" + "cocococococ", "?????c" + "ccccccccccc"},
		{"chatter from the start", "cocococo", "????????"},
		{"the hold begins anew", "cccccc" + "oococoooo", "?????c" + "cccccccco"},
		{"a failed line counts at once", "cccccc?cccccc", "?????c?" + "?????c"},
	} {
		t.Run(test.name, func(t *testing.T) {
			d := sensor.Debounce{CloseHold: 500 * time.Millisecond, OpenHold: 300 * time.Millisecond}
			var got strings.Builder
			for i, letter := range test.raw {
				now := time.Duration(i) * 100 * time.Millisecond
				got.WriteByte("?oc"[d.Step(now, contact(letter))])
			}
			if got.String() != test.want {
				t.Errorf("raw     %s\nsettled %s\nwant    %s", test.raw, got.String(), test.want)
			}
		})
	}
}

func contact(letter rune) sensor.Contact {
	return map[rune]sensor.Contact{'?': sensor.Unknown, 'o': sensor.Open, 'c': sensor.Closed}[letter]
}

func TestDebounceDueAndSince(t *testing.T) {
	d := sensor.Debounce{CloseHold: 500 * time.Millisecond, OpenHold: 300 * time.Millisecond}
	if _, ok := d.Due(0); ok {
		t.Error("something is due before the first step")
	}
	d.Step(time.Second, sensor.Closed)
	if wait, ok := d.Due(1200 * time.Millisecond); wait != 300*time.Millisecond || !ok {
		t.Errorf("due in %v, %t; want 300ms", wait, ok)
	}
	if wait, ok := d.Due(time.Minute); wait != 0 || !ok {
		t.Errorf("overdue by %v, %t; want 0", wait, ok)
	}
	if c := d.Step(1500*time.Millisecond, sensor.Closed); c != sensor.Closed || d.Since() != time.Second {
		t.Errorf("%v since %v; want closed since 1s", c, d.Since())
	}
	if _, ok := d.Due(1600 * time.Millisecond); ok {
		t.Error("something is due although all is settled")
	}
}

func TestDebounceZeroPassesOn(t *testing.T) {
	var d sensor.Debounce
	for i, c := range []sensor.Contact{sensor.Open, sensor.Closed, sensor.Open, sensor.Unknown} {
		if got := d.Step(time.Duration(i), c); got != c {
			t.Errorf("%v became %v", c, got)
		}
	}
}

// Each letter is the settled contact for 100 ms; presses are written as
// start+held in tenths of a second, at the tenth at which they are reported.
func TestButton(t *testing.T) {
	type report struct{ at, start, held int }
	for _, test := range []struct {
		name, contact string
		maxHold       int
		want          []report
	}{
		{"short", "?ooccco", 0, []report{{6, 3, 3}}},
		{"two", "occoocccoo", 0, []report{{3, 1, 2}, {8, 5, 3}}},
		{"held past the longest", "occccccccooco", 4, []report{{5, 1, 4}, {12, 11, 1}}},
		{"down at the start", "??cccco", 2, nil},
		{"down at the start, then pressed", "cccoccoo", 0, []report{{6, 4, 2}}},
		{"line fails under it", "occ??cccoo", 2, nil},
		{"line fails, then pressed", "oc?oco", 0, []report{{5, 4, 1}}},
	} {
		t.Run(test.name, func(t *testing.T) {
			const tenth = 100 * time.Millisecond
			b := sensor.Button{Name: "pull", MaxHold: time.Duration(test.maxHold) * tenth}
			var got []report
			var since time.Duration
			last := '!'
			for i, letter := range test.contact {
				now := time.Duration(i) * tenth
				if letter != last {
					since, last = now, letter
				}
				if p, ok := b.Step(now, contact(letter), since); ok {
					got = append(got, report{i, int(p.At / tenth), int(p.Held / tenth)})
				}
			}
			if len(got) != len(test.want) {
				t.Fatalf("reported %v, want %v", got, test.want)
			}
			for i := range got {
				if got[i] != test.want[i] {
					t.Errorf("reported %v, want %v", got, test.want)
				}
			}
		})
	}
}

func TestButtonDue(t *testing.T) {
	b := sensor.Button{Name: "pull", MaxHold: time.Second}
	b.Step(0, sensor.Open, 0)
	if _, ok := b.Due(0); ok {
		t.Error("a report is due while the button is up")
	}
	b.Step(130*time.Millisecond, sensor.Closed, 100*time.Millisecond)
	if wait, ok := b.Due(600 * time.Millisecond); wait != 500*time.Millisecond || !ok {
		t.Errorf("due in %v, %t; want 500ms", wait, ok)
	}
}
