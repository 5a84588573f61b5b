package sensor

import (
	"context"
	"errors"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"periph.io/x/conn/v3/gpio"
)

// fakeBoard is a board without probes in a bubble, on lines WATER, DOOR and
// BUTTON.
func fakeBoard(t *testing.T) (b *Board, water, door, button *fakePin) {
	water, door, button = newFakePin(gpio.Low), newFakePin(gpio.Low), newFakePin(gpio.High)
	take := takeFrom(map[string]pin{"WATER": water, "DOOR": door, "BUTTON": button})
	b, err := newBoard(Config{
		Level:   ContactConfig{Line: "WATER"},
		Door:    ContactConfig{Line: "DOOR"},
		Buttons: []ButtonConfig{{Name: "pull", Contact: ContactConfig{Line: "BUTTON"}, MaxHold: 3 * time.Second}},
	}, quiet(), elapsed(), take)
	if err != nil {
		t.Fatal(err)
	}
	return b, water, door, button
}

// next reads a sweep and returns when it came, rounded.
func next(t *testing.T, b *Board) (Sweep, time.Duration) {
	t.Helper()
	s, err := b.Read(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return s, s.At.Round(10 * time.Millisecond)
}

// Sweeps come each second, and at once when an input changes, with the
// default hold times: 5 s for water, 0.2 s for a door.
func TestBoardPace(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, water, door, _ := fakeBoard(t)
		defer b.Close()
		ms := time.Millisecond
		water.move(gpio.High, false)
		time.AfterFunc(300*ms, func() { water.move(gpio.Low, false) })
		time.AfterFunc(6300*ms, func() { door.move(gpio.High, false) })
		for _, want := range []struct {
			at          time.Duration
			level, door Contact
		}{
			{30 * ms, Unknown, Unknown}, // the button is known to be up
			{200 * ms, Unknown, Closed},
			{1000 * ms, Unknown, Closed},
			{2000 * ms, Unknown, Closed},
			{3000 * ms, Unknown, Closed},
			{4000 * ms, Unknown, Closed},
			{5000 * ms, Unknown, Closed},
			{5300 * ms, Closed, Closed},
			{6000 * ms, Closed, Closed},
			{6500 * ms, Closed, Open},
			{7000 * ms, Closed, Open},
		} {
			s, at := next(t, b)
			if at != want.at || s.Level != want.level || s.Door != want.door {
				t.Errorf("at %v level %v door %v, want %+v", at, s.Level, s.Door, want)
			}
		}
	})
}

func TestBoardPresses(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, _, _, button := fakeBoard(t)
		defer b.Close()
		press := func() {
			button.move(gpio.Low, false)
			time.Sleep(500 * time.Millisecond)
			button.move(gpio.High, false)
			time.Sleep(500 * time.Millisecond)
		}
		time.Sleep(10 * time.Second)
		press()
		press()
		first, _ := next(t, b)
		if len(first.Presses) != 2 || first.Presses[1].Held != 500*time.Millisecond || first.Presses[1].At != 11*time.Second {
			t.Errorf("presses %+v", first.Presses)
		}
		if second, _ := next(t, b); len(second.Presses) != 0 {
			t.Errorf("handed out again: %+v", second.Presses)
		}
		for range keptPresses + 5 {
			press()
		}
		if many, _ := next(t, b); len(many.Presses) != keptPresses {
			t.Errorf("%d presses kept, want %d", len(many.Presses), keptPresses)
		}
	})
}

// A reader that was away gets one sweep at once and then the usual pace.
func TestBoardLateReader(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, _, _, _ := fakeBoard(t)
		defer b.Close()
		time.Sleep(10*time.Second + 500*time.Millisecond)
		_, first := next(t, b)
		_, second := next(t, b)
		if first != 10500*time.Millisecond || second != 11500*time.Millisecond {
			t.Errorf("sweeps at %v and %v", first, second)
		}
	})
}

func TestBoardClose(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, water, door, button := fakeBoard(t)
		done := make(chan struct{})
		time.AfterFunc(300*time.Millisecond, func() {
			_ = b.Close()
			close(done)
		})
		for {
			if _, err := b.Read(context.Background()); err != nil {
				if !errors.Is(err, ErrClosed) {
					t.Error(err)
				}
				break
			}
		}
		<-done
		for _, p := range []*fakePin{water, door, button} {
			if p.usable {
				t.Error("a line was not given back")
			}
			p.checkUse(t)
		}
	})
}

func TestBoardCountsEdges(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, water, _, _ := fakeBoard(t)
		defer b.Close()
		for range 20 {
			water.move(gpio.High, false)
			time.Sleep(100 * time.Millisecond)
		}
		lines := b.Lines()
		if len(lines) != 3 || lines[0].Input != levelName || lines[0].Edges != 20 || lines[1].Input != doorName || lines[2].Input != "pull" {
			t.Errorf("lines %+v", lines)
		}
	})
}

// A float counts as sunk when it has read so for 10 s, and as risen after a minute: one that
// bobs at its level turns once.
func TestBoardFloats(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		upper, middle := newFakePin(gpio.Low), newFakePin(gpio.High)
		b, err := newBoard(Config{Floats: []ContactConfig{{Line: "UPPER"}, {Line: "MIDDLE"}, {Line: "CUT"}}}, quiet(), elapsed(),
			takeFrom(map[string]pin{"UPPER": upper, "MIDDLE": middle}))
		if err != nil {
			t.Fatal(err)
		}
		defer b.Close()
		go func() {
			time.Sleep(100 * time.Second)
			for range 9 { // it bobs, and in the end stays down
				upper.move(gpio.High, false)
				time.Sleep(4 * time.Second)
				upper.move(gpio.Low, false)
				time.Sleep(time.Second)
			}
			upper.move(gpio.High, false)
		}()
		turned := map[int][]string{}
		last := []Contact{Unknown, Unknown, Unknown}
		for b.Now() < 200*time.Second {
			s, at := next(t, b)
			for i, c := range s.Floats {
				if c != last[i] {
					turned[i] = append(turned[i], c.String()+"@"+at.String())
				}
			}
			last = s.Floats
		}
		want := map[int][]string{0: {"closed@1m0s", "open@2m35s"}, 1: {"open@10s"}}
		for i := range last {
			if !slices.Equal(turned[i], want[i]) {
				t.Errorf("float %d turned %v, want %v", i+1, turned[i], want[i])
			}
		}
	})
}
