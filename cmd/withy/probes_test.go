package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"withy/cmd/withy/internal/calibration"
	"withy/sensor"
	"withy/sensor/sensortest"
	"withy/steambox"
	"withy/steambox/calibrate"
	"withy/steambox/measure"
	"withy/steambox/unit"
)

const (
	steamID   = "28-00000000000a"
	doorID    = "28-00000000000b"
	carriedID = "28-00000000000c"
)

// boilsAtSea is where water boils at 101.325 kPa, °C (IAPWS-IF97).
const boilsAtSea = 99.974

// course is what a probe's tip is at, °C, by the seconds since the beginning.
type course func(s float64) float64

// plunge is a tip that follows a change of its surroundings at s0 by a lag of tau s.
func plunge(from course, s0, to, tau float64) course {
	return func(s float64) float64 {
		if s < s0 {
			return from(s)
		}
		return to - (to-from(s0))*math.Exp(-(s-s0)/tau)
	}
}

func at(c float64) course { return func(float64) float64 { return c } }

// ramp is a tip that warms by 0.15 K a second from s0 on until it boils.
func ramp(from, s0 float64) course {
	return func(s float64) float64 { return min(boilsAtSea, from+0.15*max(0, s-s0)) }
}

// creep is a tip that never comes to rest.
func creep(s float64) float64 { return 15 + 0.002*s }

// readsOff is a DS18B20 in the course, off by k, at 12 bit.
func readsOff(c course, k float64) course {
	return func(s float64) float64 { return math.Round(16*(c(s)+k)) / 16 }
}

// played is a source of sweeps a second apart that takes no time.
type played struct {
	probes []course
	door   func(s float64) sensor.Contact // nil: no switch
	s      float64
}

func (p *played) Read(ctx context.Context) (sensor.Sweep, error) {
	if err := ctx.Err(); err != nil {
		return sensor.Sweep{}, err
	}
	p.s++
	at := time.Duration(p.s * float64(time.Second))
	sweep := sensor.Sweep{At: at}
	for _, c := range p.probes {
		r := sensor.Reading{At: at, Temp: unit.Celsius(c(p.s))}
		if math.IsNaN(c(p.s)) {
			r.Fault = &sensor.Fault{Kind: sensor.Empty}
		}
		sweep.Probes = append(sweep.Probes, r)
	}
	if p.door != nil {
		sweep.Door = p.door(p.s)
	}
	return sweep, nil
}

// newCalibrating returns a calibration of two probes at sea level by a barometer.
func newCalibrating(t *testing.T, from sweeps, out io.Writer) *calibrating {
	t.Helper()
	truth, err := calibrate.Boiling(calibrate.Pot, 101325, calibrate.Barometer)
	if err != nil {
		t.Fatal(err)
	}
	return &calibrating{
		watch: newWatch(from, out, []string{"steam", "door"}, 45*time.Minute, measure.Metric), ids: []string{steamID, doorID},
		data: t.TempDir(), now: func() time.Time { return time.Date(2026, 5, 1, 10, 0, 0, 0, time.UTC) }, truth: truth,
	}
}

func kept(t *testing.T, data string) calibration.Kept {
	t.Helper()
	k, err := calibration.Load(data)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

// Ice, pot and step in one walk, with nobody pressing a key: 0.3 and −0.2 K at ice, 1.2
// and −0.8 at the boil, lags of 6 and 11 s.
func TestCalibrateWalk(t *testing.T) {
	tip := func(iceK, boilK, tau float64) course {
		ice := plunge(at(15), 30, 0, tau)
		pot := plunge(ice, 400, boilsAtSea, tau)
		shed := plunge(pot, 900, 15, 60)
		steam := plunge(shed, 1500, boilsAtSea, tau)
		return func(s float64) float64 {
			c := steam(s)
			return readsOff(at(c), -(iceK + (boilK-iceK)*c/boilsAtSea))(s)
		}
	}
	var out strings.Builder
	w := newCalibrating(t, &played{probes: []course{tip(0.3, 1.2, 6), tip(-0.2, -0.8, 11)}}, &out)
	w.ice, w.step = true, true
	if err := w.run(t.Context()); err != nil {
		t.Fatalf("%v\n%s", err, &out)
	}
	for i, want := range []struct{ ice, boil, tau float64 }{{0.3, 1.2, 6}, {-0.2, -0.8, 11}} {
		p := kept(t, w.data).Probe(w.ids[i])
		// A step of the chip is 1/16 K: its reading is within 1/32.
		if math.Abs(p.Boil.OffK-want.boil) > 1.0/32+0.001 || math.Abs(p.Ice.OffK-want.ice) > 1.0/32+0.001 {
			t.Errorf("%s: %+v, ice %+v", w.ids[i], p.Boil, p.Ice)
		}
		if math.Abs(*p.TauS-want.tau) > 0.03*want.tau {
			t.Errorf("%s follows in %.2f s, want %g", w.ids[i], *p.TauS, want.tau)
		}
	}
	for _, want := range []string{"crushed ice", "rolling boil", "99.97 °C, by the barometer", "Done, take them out with tongs.", "at rest", "not in boiling water"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("%q was not said:\n%s", want, &out)
		}
	}
}

// What sound probes in boiling water can't do is refused, with what to look at; nothing
// is kept.
func TestCalibrateRefuses(t *testing.T) {
	pot := plunge(at(15), 60, boilsAtSea, 8)
	for _, c := range []struct {
		name  string
		tips  []course
		inBox bool
		says  string
	}{
		{"one 6 K off", []course{pot, readsOff(pot, -6)}, false, "door is 6.0 °C below what it should read. Is it a rolling boil"},
		{"apart", []course{readsOff(pot, 3), readsOff(pot, -3)}, false, "6.0 °C apart"},
		{"woken up", []course{pot, at(85)}, false, "door gives 85 °C to the digit"},
		{"never in the pot", []course{at(15), at(15)}, false, "not in boiling water"},
		{"never at rest", []course{creep, pot}, false, "Not at rest after 45:00"},
		{"gone", []course{pot, at(math.NaN())}, false, "door: empty: it does not answer"},
		{"left at the two ends", []course{ramp(12, 0), ramp(12, 180)}, true, "do not hang together"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var out strings.Builder
			w := newCalibrating(t, &played{probes: c.tips}, &out)
			if c.inBox {
				w.truth.Place = calibrate.Box
			}
			if err := w.run(t.Context()); !errors.Is(err, errWrong) {
				t.Errorf("ended with %v", err)
			}
			if !strings.Contains(out.String(), c.says) {
				t.Errorf("%q was not said:\n%s", c.says, &out)
			}
			if p := kept(t, w.data).Probe(steamID); p.Boil != nil {
				t.Errorf("kept %+v", p.Boil)
			}
		})
	}
}

// stopping is a source whose reader presses Ctrl-C after some sweeps.
type stopping struct {
	sweeps
	left int
	stop context.CancelFunc
}

func (s *stopping) Read(ctx context.Context) (sensor.Sweep, error) {
	if s.left--; s.left == 0 {
		s.stop()
	}
	return s.sweeps.Read(ctx)
}

// Stopped in the pot, what was found in ice is on the card.
func TestCalibrateStopped(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	ice := plunge(at(15), 30, 0, 8)
	var out strings.Builder
	w := newCalibrating(t, &stopping{&played{probes: []course{ice, ice}}, 500, stop}, &out)
	w.ice = true
	if err := w.run(ctx); !errors.Is(err, errWrong) || !strings.Contains(out.String(), "Stopped.") {
		t.Errorf("%v\n%s", err, &out)
	}
	if p := kept(t, w.data).Probe(steamID); p.Ice == nil || p.Boil != nil {
		t.Errorf("kept %+v", p)
	}
}

// An altitude makes boiling no better known than the weather lets it; what the probes are
// apart is the same whatever the pressure was taken to be.
func TestCalibratePressure(t *testing.T) {
	pot := plunge(at(15), 60, 94.984, 8) // 1500 m: U.S. Standard Atmosphere and IAPWS-IF97
	var apart [2]float64
	for i, pa := range []float64{84559.68, 83500} {
		w := newCalibrating(t, &played{probes: []course{readsOff(pot, 0.5), readsOff(pot, -1)}}, io.Discard)
		w.truth, _ = calibrate.Boiling(calibrate.Pot, pa, calibrate.Altitude)
		if err := w.run(t.Context()); err != nil {
			t.Fatal(err)
		}
		k := kept(t, w.data)
		s, d := k.Probe(steamID), k.Probe(doorID)
		if i == 0 && math.Abs(s.Boil.OffK+0.5) > 1.0/32+0.001 {
			t.Errorf("steam end off by %.3f K, want -0.5", s.Boil.OffK)
		}
		if s.In.Source != calibrate.Altitude || s.In.PressurePa != pa || s.In.WithinK < 1 {
			t.Errorf("kept the truth as %+v", s.In)
		}
		apart[i] = d.Boil.BesideK - s.Boil.BesideK
	}
	if math.Abs(apart[0]-1.5) > 1.0/16 || math.Abs(apart[0]-apart[1]) > 1e-9 {
		t.Errorf("apart by %v, want 1.5 twice", apart)
	}
}

// A daemon that goes on with its last good settings takes a newer calibration all the same.
func TestLastGoodCalibrated(t *testing.T) {
	w := newCalibrating(t, &played{probes: []course{at(98.5), at(99.5)}}, io.Discard)
	b := steambox.DefaultBox()
	b.Probes = []steambox.BoxProbe{{Name: "steam", ID: steamID}, {Name: "door", ID: doorID, XM: 1.5}}
	keepGood(settings{Box: b, Data: w.data})
	if err := w.run(t.Context()); err != nil {
		t.Fatal(err)
	}
	s, troubles, err := lastGood("nowhere.yaml", w.data)
	if err != nil || len(troubles) != 1 {
		t.Fatalf("%v, %q", err, troubles)
	}
	if p := s.Box.Probes[0]; !p.Calibrated || math.Abs(p.OffsetK-(boilsAtSea-98.5)) > 0.001 {
		t.Errorf("%+v", p)
	}
}

// newSurveying returns a survey of a box of 1.5 m with slots A and B; nobody presses Enter.
func newSurveying(t *testing.T, from sweeps, out io.Writer) *surveying {
	t.Helper()
	b := steambox.DefaultBox()
	b.Slots = []string{"A", "B"}
	b.Probes = []steambox.BoxProbe{{Name: "steam", ID: steamID, Calibrated: true}, {Name: "door", ID: doorID, XM: 1.5, Calibrated: true}}
	return &surveying{
		watch: newWatch(from, out, []string{"steam", "door", "carried"}, 30*time.Minute, measure.Metric), ids: []string{steamID, doorID, carriedID},
		box: b, data: t.TempDir(), now: func() time.Time { return time.Date(2026, 5, 1, 11, 0, 0, 0, time.UTC) },
		atM: []float64{0.5, 1}, slots: true, slotM: 0.75, carryS: 60,
	}
}

// A box from 98.5 to 92.5 °C with 97.5 a third along and 95 two thirds: shares of 1/6
// and 7/12 by hand. Half way the survey then puts 3/8 of the fall, 96.25 °C; slot A is
// read at that, slot B at 95.75, so half a kelvin cooler.
func TestSurveyWalk(t *testing.T) {
	reads := []float64{97.5, 95, 96.25, 95.75}
	// Each place takes a minute to get to and two to rest.
	carried := plunge(plunge(plunge(at(reads[0]), 195, reads[1], 8), 390, reads[2], 8), 620, reads[3], 8)
	var out strings.Builder
	w := newSurveying(t, &played{probes: []course{at(98.5), at(92.5), carried}}, &out)
	if err := w.run(t.Context()); err != nil {
		t.Fatalf("%v\n%s", err, &out)
	}
	b := w.box
	kept(t, w.data).Apply(&b)
	for i, want := range []float64{1.0 / 6, 7.0 / 12} {
		if got := b.Survey[i].Share; math.Abs(got-want) > 0.01 {
			t.Errorf("share %d is %.3f, want %.3f", i, got, want)
		}
	}
	for i, want := range []float64{0, -0.5} {
		if got := b.SlotK[i]; math.Abs(got-want) > 0.05 {
			t.Errorf("slot %d is off by %.3f K, want %g", i, got, want)
		}
	}
	if err := b.Check(); err != nil {
		t.Error(err)
	}
	if !strings.Contains(out.String(), "Put the carried probe at slot B, 750 mm") || !strings.Contains(out.String(), "Nobody to press Enter") {
		t.Errorf("said:\n%s", &out)
	}
}

// Each place waits for its own press, and for as long as it takes.
func TestSurveyEnter(t *testing.T) {
	presses := enters(strings.NewReader("\nsaid aloud\n"))
	pressed := make(chan struct{}, 2)
	for range presses {
		pressed <- struct{}{}
	}
	w := newSurveying(t, &played{probes: []course{at(98.5), at(92.5), at(96)}}, io.Discard)
	w.slots, w.carryS, w.enter = false, 1e6, pressed
	if err := w.run(t.Context()); err != nil || len(pressed) > 0 {
		t.Errorf("%v, and %d presses left", err, len(pressed))
	}
	w.enter = pressed // nobody presses
	if err := w.run(t.Context()); !errors.Is(err, errWrong) {
		t.Errorf("without a press it went on: %v", err)
	}
}

func TestSurveyRefuses(t *testing.T) {
	opens := func(s float64) sensor.Contact {
		if s > 20 && s < 40 {
			return sensor.Open
		}
		return sensor.Closed
	}
	dips := plunge(plunge(at(98), 20, 80, 8), 40, 98, 8)
	for _, c := range []struct {
		name string
		play played
		says string
	}{
		{"ends alike", played{probes: []course{at(98.5), at(98.2), at(98.3)}}, "Nothing can be placed between the ends"},
		{"carried probe left outside", played{probes: []course{at(98.5), at(92), at(20)}}, "no place between the ends has"},
		{"swapped, by the door", played{probes: []course{dips, at(97), at(97)}, door: opens}, "The probes are swapped"},
		{"swapped, by the warm-up", played{probes: []course{ramp(12, 180), ramp(12, 0), ramp(12, 90)}}, "The probes are swapped"},
		{"carried probe gone", played{probes: []course{at(98.5), at(92), at(math.NaN())}}, "carried: empty"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var out strings.Builder
			w := newSurveying(t, &c.play, &out)
			if err := w.run(t.Context()); !errors.Is(err, errWrong) || !strings.Contains(out.String(), c.says) {
				t.Errorf("%v; %q was not said:\n%s", err, c.says, &out)
			}
			b := w.box
			if kept(t, w.data).Apply(&b); len(b.Survey) > 0 {
				t.Errorf("kept %v", b.Survey)
			}
		})
	}
}

// haste is how many times as fast as life the pretend boards run.
const haste = 100

// hastened is a board whose clock runs fast.
type hastened struct{ *sensor.Board }

func (h hastened) Read(ctx context.Context) (sensor.Sweep, error) {
	sweep, err := h.Board.Read(ctx)
	sweep.At *= haste
	for i := range sweep.Probes {
		sweep.Probes[i].At *= haste
	}
	return sweep, err
}

// board is a board on a pretend 1-wire tree whose files follow the courses, in the order
// of ids, until the test ends.
func board(t *testing.T, ids []string, courses []course) sweeps {
	t.Helper()
	tree := sensortest.NewTree(t)
	write := func(i int, s float64) {
		tree.Write(ids[i], "temperature", fmt.Sprintf("%d\n", int(1000*courses[i](s))))
	}
	for i, id := range ids {
		tree.Plug("w1_bus_master1", id)
		write(i, 0)
	}
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() {
		defer close(done)
		began, tick := time.Now(), time.NewTicker(5*time.Millisecond)
		defer tick.Stop()
		for {
			select {
			case <-ctx.Done():
				return
			case <-tick.C:
			}
			for i := range ids {
				write(i, haste*time.Since(began).Seconds())
			}
		}
	}()
	b, err := sensor.NewBoard(sensor.Config{W1Root: tree.Root, Probes: ids, Period: time.Second / haste, MaxAge: 300 * time.Millisecond}, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		stop()
		<-done
		_ = b.Close()
	})
	return hastened{b}
}

// The kernel's files, rewritten as two tips go into the pot, through to what the box
// then has.
func TestCalibrateTree(t *testing.T) {
	t.Parallel()
	pot := plunge(at(15), 30, boilsAtSea, 8)
	ids := []string{steamID, doorID}
	var out strings.Builder
	w := newCalibrating(t, board(t, ids, []course{readsOff(pot, -1.3), readsOff(pot, 0.9)}), &out)
	if err := w.run(t.Context()); err != nil {
		t.Fatalf("%v\n%s", err, &out)
	}
	b := steambox.DefaultBox()
	b.Probes = []steambox.BoxProbe{{Name: "steam", ID: steamID}, {Name: "door", ID: doorID, XM: 1.5}}
	kept(t, w.data).Apply(&b)
	for i, want := range []float64{1.3, -0.9} {
		if p := b.Probes[i]; !p.Calibrated || math.Abs(p.OffsetK-want) > 1.0/32+0.002 {
			t.Errorf("%+v, want an offset of %g", p, want)
		}
	}
}

func TestSurveyTree(t *testing.T) {
	t.Parallel()
	ids := []string{steamID, doorID, carriedID}
	w := newSurveying(t, board(t, ids, []course{at(98.5), at(92.5), at(95.5)}), io.Discard)
	w.slots, w.atM = false, []float64{0.75}
	if err := w.run(t.Context()); err != nil {
		t.Fatal(err)
	}
	b := w.box
	kept(t, w.data).Apply(&b)
	if len(b.Survey) != 1 || math.Abs(b.Survey[0].Share-0.5) > 0.01 {
		t.Errorf("half way between the ends' temperatures: %v", b.Survey)
	}
}

// Three probes on one cable, warmed in a hand one after the other: each is named once,
// in that order, though the first is still warm when the second is taken.
func TestTellWalk(t *testing.T) {
	hand := func(from float64) course { return plunge(at(15), from, 31, 12) }
	var out strings.Builder
	names := []string{"steam " + steamID, "door " + doorID, carriedID}
	w := newWatch(&played{probes: []course{hand(60), readsOff(hand(5), 0.4), hand(30)}}, &out, names, time.Minute, measure.Metric)
	if err := w.tell(t.Context()); err != nil {
		t.Fatalf("%v\n%s", err, &out)
	}
	var said []string
	for line := range strings.Lines(out.String()) {
		if strings.HasPrefix(line, "T") {
			said = append(said, strings.TrimSpace(line))
		}
	}
	want := []string{
		"Take one in your hand: 3 to go.", "That is door " + doorID + ".", "Take one in your hand: 2 to go.", "That is " + carriedID + ".",
		"Take the last one in your hand.", "That is steam " + steamID + ".",
	}
	if !slices.Equal(said, want) {
		t.Errorf("said was\n%s", &out)
	}
}

// Where all warm together none is named, and it ends.
func TestTellNone(t *testing.T) {
	var out strings.Builder
	w := newWatch(&played{probes: []course{ramp(15, 5), ramp(15, 5)}}, &out, []string{"a", "b"}, time.Minute, measure.Metric)
	if err := w.tell(t.Context()); !errors.Is(err, errWrong) || !strings.Contains(out.String(), "None rose by itself") {
		t.Errorf("%v\n%s", err, &out)
	}
}

// levels is a level switch in a hand, a contact a second.
type levels []sensor.Contact

func (l *levels) Read(ctx context.Context) (sensor.Sweep, error) {
	if len(*l) == 0 {
		return sensor.Sweep{}, context.DeadlineExceeded
	}
	now := (*l)[0]
	*l = (*l)[1:]
	return sensor.Sweep{Level: now}, ctx.Err()
}

func TestFloatLifted(t *testing.T) {
	for _, c := range []struct {
		seen levels
		ok   bool
	}{
		{levels{sensor.Unknown, sensor.Open, sensor.Open, sensor.Closed}, true},
		{levels{sensor.Closed, sensor.Open}, true},
		{levels{sensor.Open, sensor.Open, sensor.Unknown}, false},
		{levels{sensor.Closed}, false},
	} {
		if f := tryFloat(t.Context(), &c.seen); f.OK != c.ok {
			t.Errorf("%+v", f)
		}
	}
}
