package calibrate_test

import (
	"errors"
	"math"
	"slices"
	"testing"
	"time"

	"withy/steambox/calibrate"
	"withy/steambox/rehearsal"
)

// curve is what a probe reads, °C, by the seconds since the bath began; NaN where it
// does not answer.
type curve func(s float64) float64

// put is a tip that is in the shed at 15 °C and put into c °C at s0; it follows with a
// lag of 8 s, and reads k off.
func put(s0, c, k float64) curve {
	return func(s float64) float64 {
		if s < s0 {
			return 15 + k
		}
		return c + k - (c-15)*math.Exp(-(s-s0)/8)
	}
}

// taken is a tip that is taken out into air of c °C at s0, and follows with a lag of a
// minute there.
func (in curve) taken(s0, c float64) curve {
	return func(s float64) float64 {
		if s < s0 {
			return in(s)
		}
		return c + (in(s0)-c)*math.Exp(-(s-s0)/60)
	}
}

// moment is what probes on these curves say, each in sixteenths.
func moment(s float64, probes []curve) calibrate.Moment {
	m := calibrate.Moment{AtS: s}
	for _, c := range probes {
		read := c(s)
		m.Said = append(m.Said, calibrate.Said{Sample: calibrate.Sample{AtS: s, C: sixteenths(read)}, Silent: math.IsNaN(read)})
	}
	return m
}

// boils is where water boils at 101.325 kPa, °C (IAPWS-IF97).
const boils = 99.974

func newBath(t *testing.T, place calibrate.Place, limitS float64) *calibrate.Bath {
	t.Helper()
	truth := calibrate.Melting()
	if place != calibrate.Ice {
		var err error
		if truth, err = calibrate.Boiling(place, 101325, calibrate.Barometer); err != nil {
			t.Fatal(err)
		}
	}
	return calibrate.NewBath(truth, []string{"steam", "door"}, limitS)
}

// Put into the pot after a minute, 1.5 K low and 0.5 K high: found once both have been
// at rest for three minutes, and not before.
func TestBath(t *testing.T) {
	b := newBath(t, calibrate.Pot, 2700)
	probes := []curve{put(60, boils, -1.5), put(70, boils, 0.5)}
	s := 0.0
	for ; b.State() == calibrate.Watched && s < 2700; s++ {
		b.Take(moment(s, probes))
	}
	if b.State() != calibrate.Found || s < 240 || s > 340 {
		t.Fatalf("state %d after %.0f s", b.State(), s)
	}
	off := b.Offsets()
	near(t, "steam off", off[0].OffK, 1.5, 1.0/32+0.001)
	near(t, "door off", off[1].OffK, -0.5, 1.0/32+0.001)
}

// Before they are put in they rest, but not there, and each says so of itself.
func TestBathAway(t *testing.T) {
	b := newBath(t, calibrate.Pot, 2700)
	probes := []curve{put(400, boils, 0), put(1e9, boils, 0)}
	for s := range 300 {
		b.Take(moment(float64(s), probes))
	}
	if !b.Away() || b.State() != calibrate.Watched || b.SinceS() != 299 {
		t.Errorf("away %v, state %d", b.Away(), b.State())
	}
	for s := 300; s < 430; s++ {
		b.Take(moment(float64(s), probes))
	}
	tips := b.Tips()
	if b.Away() || tips[0].Rests || !tips[1].Rests || tips[0].C < 90 || tips[1].C != 15 {
		t.Errorf("one is put in: away %v, %+v", b.Away(), tips)
	}
}

func TestBathEnds(t *testing.T) {
	in := put(60, boils, 0)
	for _, c := range []struct {
		name   string
		place  calibrate.Place
		probes []curve
		state  calibrate.State
		doubts []calibrate.DoubtKind
	}{
		{"ice", calibrate.Ice, []curve{put(60, 0, 0.3), put(60, 0, -0.4)}, calibrate.Found, nil},
		{"one far off", calibrate.Pot, []curve{in, put(60, boils, -6)}, calibrate.Doubted, []calibrate.DoubtKind{calibrate.TooFar, calibrate.TooWide}},
		{"never put in", calibrate.Pot, []curve{put(1e9, boils, 0), put(1e9, boils, 0)}, calibrate.Late, nil},
		{"one doesn't answer", calibrate.Pot, []curve{in, func(float64) float64 { return math.NaN() }}, calibrate.Late, nil},
		{"together in the box", calibrate.Box, []curve{in, in}, calibrate.Found, nil},
		{"apart in the box", calibrate.Box, []curve{in, put(240, boils, 0)}, calibrate.Doubted, []calibrate.DoubtKind{calibrate.NotTogether}},
		{"apart in a pot is nobody's business", calibrate.Pot, []curve{in, put(240, boils, 0)}, calibrate.Found, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBath(t, c.place, 900)
			for s := 0; s <= 902; s++ {
				b.Take(moment(float64(s), c.probes))
			}
			var kinds []calibrate.DoubtKind
			for _, d := range b.Doubts() {
				kinds = append(kinds, d.Kind)
			}
			if b.State() != c.state || !slices.Equal(kinds, c.doubts) {
				t.Errorf("state %d with doubts %v", b.State(), b.Doubts())
			}
		})
	}
}

// A tip that is taken out has left once it rests somewhere else, and not while it cools;
// one that nobody takes out hasn't.
func TestBathLeft(t *testing.T) {
	in := put(10, boils, 0)
	for _, c := range []struct {
		name  string
		probe curve
		want  float64 // s, about when it has left; 0: not in half an hour
	}{
		{"into the shed's air", in.taken(600, 15), 880}, // 85 K fall to 1 K/min times a minute in 4.4 minutes
		{"stays in", in, 0},
		{"into the hot box", in.taken(600, 98), 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBath(t, calibrate.Pot, 2700)
			left := 0.0
			for s := 0.0; s < 2400 && left == 0; s++ {
				b.Take(moment(s, []curve{c.probe, c.probe}))
				if b.Left() {
					left = s
				}
			}
			if b.State() != calibrate.Found || math.Abs(left-c.want) > 60 {
				t.Errorf("left after %.0f s, want about %.0f", left, c.want)
			}
		})
	}
}

func TestBathStopped(t *testing.T) {
	b := newBath(t, calibrate.Pot, 2700)
	b.Take(moment(0, []curve{put(0, boils, 0), put(0, boils, 0)}))
	b.Stop()
	for s := range 400 {
		b.Take(moment(float64(s+1), []curve{put(0, boils, 0), put(0, boils, 0)}))
	}
	if b.State() != calibrate.Late || b.Offsets() != nil {
		t.Errorf("stopped, and then %d with %v", b.State(), b.Offsets())
	}
}

// The rehearsal's box knows nothing of this package. Its tips hang at the two ends, and
// somebody who says that they hang together is not believed when the warm-up was watched.
func TestBathRehearsed(t *testing.T) {
	w, err := rehearsal.New("good", 9)
	if err != nil {
		t.Fatal(err)
	}
	truth, err := calibrate.Boiling(calibrate.Box, w.AmbientPa(), calibrate.Barometer)
	if err != nil {
		t.Fatal(err)
	}
	b := calibrate.NewBath(truth, []string{"steam", "door"}, 2700)
	for b.State() == calibrate.Watched {
		w.Step(time.Second)
		m := calibrate.Moment{AtS: w.Elapsed().Seconds()}
		for _, p := range w.Probes() {
			m.Said = append(m.Said, calibrate.Said{Sample: calibrate.Sample{AtS: m.AtS, C: float64(p.Temp)}})
		}
		b.Take(m)
	}
	if b.State() != calibrate.Doubted {
		t.Errorf("state %d, %+v", b.State(), b.Offsets())
	}
}

// A step from the shed's air into steam shows the lag that the curve was made with, of each
// probe apart; a rise that is no step is doubted, and tips that stay cool are late.
func TestBathIsAStep(t *testing.T) {
	ramp := func(s float64) float64 { return min(boils, 15+s/3) }
	for _, c := range []struct {
		name   string
		probes []curve
		want   calibrate.State
		errs   []error
	}{
		{"two at one stroke", []curve{put(120, boils, 0), put(122, boils, 0.3)}, calibrate.Found, []error{nil, nil}},
		{"one lowered slowly", []curve{put(120, boils, 0), ramp}, calibrate.Found, []error{nil, calibrate.ErrNotSharp}},
		{"both lowered slowly", []curve{ramp, ramp}, calibrate.Doubted, []error{calibrate.ErrNotSharp, calibrate.ErrNotSharp}},
		{"never put in", []curve{put(9999, boils, 0), put(120, boils, 0)}, calibrate.Late, nil},
		{"hot from the first", []curve{put(-100, boils, 0), put(-100, boils, 0)}, calibrate.Late, nil},
	} {
		b := newBath(t, calibrate.Steam, 900)
		for s := 0.0; s < 1000 && b.State() == calibrate.Watched; s++ {
			b.Take(moment(s, c.probes))
		}
		if b.State() != c.want || len(b.Steps()) != len(c.errs) {
			t.Errorf("%s: %v, %+v", c.name, b.State(), b.Steps())
			continue
		}
		for i, f := range b.Steps() {
			if !errors.Is(f.Err, c.errs[i]) || f.Err == nil && math.Abs(f.TauS-8) > 0.3 {
				t.Errorf("%s, %s: %+v", c.name, f.ID, f)
			}
		}
	}
}
