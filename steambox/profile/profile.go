// Package profile tells the temperature of the air anywhere along the box from
// the few probes that are in it, with what is not known about it.
package profile

import (
	"errors"
	"fmt"
	"math"

	"withy/steambox/unit"
)

// MaxProbes is how many probes a box may have.
const MaxProbes = 8

// Quality says how far a temperature can be relied on.
type Quality int

// The three qualities, best first: every probe that matters was read; one
// place had to be inferred; there was nothing to go by.
const (
	Good Quality = iota
	Uncertain
	Bad
)

// String returns "good", "uncertain" or "bad".
func (q Quality) String() string { return [...]string{"good", "uncertain", "bad"}[q] }

// Knot is one point of a box survey: at X the air stands at Share of the way
// from the steam end's temperature to the door end's.
type Knot struct {
	X     unit.Metre `means:"Place, in metres from the steam end's probe."`
	Share float64    `means:"How far the air there is on the way from the steam end's temperature to the door end's, a share."`
}

// Shape is what does not change about a box's probes.
type Shape struct {
	X            []unit.Metre // place of each probe from the steam end's, rising, 1 to MaxProbes of them
	UncertaintyK unit.Kelvin  // of each probe: 0.2 K calibrated, 2 K not
	Survey       []Knot       // between two probes only; empty: a straight line
	Inlet        unit.Metre   // where the steam comes in; 0 is the steam end's probe
	BoilingC     float64      // the hottest that it can be there, °C
}

// Air is the air in the box now: what the probes read last and what is inferred
// where one of them did not. The zero value is not usable; see New.
type Air struct {
	shape Shape
	slope [MaxProbes]float64
	State
}

// State is the part of Air that changes, kept in a session's snapshots.
type State struct {
	T       [MaxProbes]float64 // °C, read or inferred
	SpreadK [MaxProbes]float64 // half width of what T may be off by
	Seen    [MaxProbes]bool    // read at this sample
	Known   bool               // every probe has been read at least once
	Step    [MaxProbes]float64 // last known difference to the first probe, smoothed, K
	BlindS  [MaxProbes]float64 // since when a probe has not been read, s
	Quality Quality
}

// New returns the air of a box before the first sample.
func New(s Shape) (*Air, error) {
	if len(s.X) < 1 || len(s.X) > MaxProbes {
		return nil, fmt.Errorf("%d probes: 1 to %d", len(s.X), MaxProbes)
	}
	for i := 1; i < len(s.X); i++ {
		if !(s.X[i] > s.X[i-1]) {
			return nil, fmt.Errorf("probes %d and %d in one place or out of order: %v, %v", i, i+1, s.X[i-1], s.X[i])
		}
	}
	if err := checkSurvey(s); err != nil {
		return nil, err
	}
	a := &Air{shape: s}
	a.Quality = Bad
	return a, nil
}

func checkSurvey(s Shape) error {
	if len(s.Survey) == 0 {
		return nil
	}
	if len(s.X) != 2 {
		return errors.New("a survey belongs to a box with two probes")
	}
	last := Knot{s.X[0], 0}
	for _, k := range s.Survey {
		if !(k.X > last.X && k.X < s.X[1] && k.Share >= -1 && k.Share <= 2) {
			return fmt.Errorf("survey point at %v, share %g: places rise between the probes, shares lie in -1 to 2", k.X, k.Share)
		}
		last = k
	}
	return nil
}

// inferGrowthKPerMin is how fast a place that is only inferred becomes doubtful,
// inferMaxK where that ends: a box does not change its slope at once (common
// practice, no source).
const (
	inferFirstK        = 1.5
	inferGrowthKPerMin = 1.0
	inferMaxK          = 15
)

// stepOverS is the time over which the difference between two probes is smoothed, in
// seconds: the door dips at every load and pull, and a probe that dies just then must
// not leave that behind (common practice, no source).
const stepOverS = 120

// Reading is one probe's part of a sample, corrected for offset and lag.
type Reading struct {
	C      float64 // °C
	DoubtK float64 // half width of what correcting may have added, K
	OK     bool    // false: no reading
}

// Update takes one reading per probe, in the order of Shape.X. dtS is the time
// since the last sample in seconds.
//
// One probe read: the others are it plus the last known difference, uncertain. That
// difference is the one of the last minutes, not of the last moment.
// None read: the air is bad and Bounds says what can be said all the same.
func (a *Air) Update(readings []Reading, dtS float64) {
	n, seen, from := len(a.shape.X), 0, -1
	for i := range n {
		r := &readings[i]
		a.Seen[i] = r.OK
		if !r.OK {
			a.BlindS[i] += dtS
			continue
		}
		a.T[i], a.SpreadK[i], a.BlindS[i] = r.C, float64(a.shape.UncertaintyK)+r.DoubtK, 0
		seen++
		if from < 0 {
			from = i
		}
	}
	switch {
	case seen == n:
		share := dtS / (dtS + stepOverS)
		if !a.Known {
			share = 1
		}
		a.Quality, a.Known = Good, true
		for i := range n {
			a.Step[i] += (a.T[i] - a.T[0] - a.Step[i]) * share
		}
	case seen == 0:
		a.Quality = Bad
		return
	default:
		a.Quality = Uncertain
		a.infer(from)
	}
	if n > 2 {
		a.tangents()
	}
}

// infer fills in the probes not read from the nearest one that was.
func (a *Air) infer(from int) {
	for i := range len(a.shape.X) {
		if a.Seen[i] {
			from = i
			continue
		}
		a.T[i] = a.T[from] + a.Step[i] - a.Step[from]
		grown := inferFirstK + inferGrowthKPerMin*a.BlindS[i]/60
		if !a.Known {
			grown = inferMaxK
		}
		a.SpreadK[i] = float64(a.shape.UncertaintyK) + math.Min(grown, inferMaxK)
	}
}

// tangents sets the slopes of a monotone cubic.
//
// Source: Fritsch and Carlson, Monotone piecewise cubic interpolation, SIAM J.
// Numer. Anal. 17 (1980) 238, with the circle of radius 3.
func (a *Air) tangents() {
	x, t, n := a.shape.X, &a.T, len(a.shape.X)
	var secant [MaxProbes]float64
	for i := range n - 1 {
		secant[i] = (t[i+1] - t[i]) / float64(x[i+1]-x[i])
	}
	a.slope[0], a.slope[n-1] = secant[0], secant[n-2]
	for i := 1; i < n-1; i++ {
		a.slope[i] = 0
		if secant[i-1]*secant[i] > 0 {
			a.slope[i] = (secant[i-1] + secant[i]) / 2
		}
	}
	for i := range n - 1 {
		if secant[i] == 0 {
			a.slope[i], a.slope[i+1] = 0, 0
			continue
		}
		p, q := a.slope[i]/secant[i], a.slope[i+1]/secant[i]
		if r := p*p + q*q; r > 9 {
			scale := 3 / math.Sqrt(r)
			a.slope[i], a.slope[i+1] = scale*p*secant[i], scale*q*secant[i]
		}
	}
}

// At returns the temperature at place x and the half width of what it may be off
// by, both in the quality that a.Quality says. Beyond the outermost probes it
// stays what it is there.
func (a *Air) At(x unit.Metre) (c, spreadK float64) {
	i, share, ok := a.locate(x)
	if !ok {
		return a.T[i], a.SpreadK[i]
	}
	spreadK = math.Max(a.SpreadK[i], a.SpreadK[i+1])
	if len(a.shape.X) > 2 {
		return a.hermite(i, share), spreadK
	}
	c = a.T[i] + a.surveyed(x, share)*(a.T[i+1]-a.T[i])
	if len(a.shape.Survey) == 0 {
		rise := a.fedBetween(x)
		c, spreadK = c+rise, spreadK+rise
	}
	return c, spreadK
}

// fedBetween returns how far the air at x is taken to stand over the straight line
// between two probes when the steam comes in between them: there it may be
// anything from the line to boiling, so half of that, which is the doubt as well,
// and less and less towards the probes.
func (a *Air) fedBetween(x unit.Metre) float64 {
	first, last, inlet := a.shape.X[0], a.shape.X[len(a.shape.X)-1], a.shape.Inlet
	if !(inlet > first && inlet < last) {
		return 0
	}
	share := float64((x - first) / (inlet - first))
	if x > inlet {
		share = float64((last - x) / (last - inlet))
	}
	at := float64((inlet - first) / (last - first))
	line := a.T[0] + at*(a.T[len(a.shape.X)-1]-a.T[0])
	return share * max(0, a.shape.BoilingC-line) / 2
}

// locate returns the interval that x lies in and how far along it; outside all
// of them the nearest probe and false.
func (a *Air) locate(x unit.Metre) (i int, share float64, ok bool) {
	xs := a.shape.X
	if x <= xs[0] {
		return 0, 0, false
	}
	for i := range len(xs) - 1 {
		if x < xs[i+1] {
			return i, float64((x - xs[i]) / (xs[i+1] - xs[i])), true
		}
	}
	return len(xs) - 1, 0, false
}

// surveyed bends the straight share by the box survey.
func (a *Air) surveyed(x unit.Metre, straight float64) float64 {
	if len(a.shape.Survey) == 0 {
		return straight
	}
	last := Knot{a.shape.X[0], 0}
	for _, k := range a.shape.Survey {
		if x < k.X {
			return between(last, k, x)
		}
		last = k
	}
	return between(last, Knot{a.shape.X[1], 1}, x)
}

func between(a, b Knot, x unit.Metre) float64 {
	return a.Share + (b.Share-a.Share)*float64((x-a.X)/(b.X-a.X))
}

// hermite evaluates the cubic of interval i at share s of it.
func (a *Air) hermite(i int, s float64) float64 {
	h := float64(a.shape.X[i+1] - a.shape.X[i])
	s2, s3 := s*s, s*s*s
	return (2*s3-3*s2+1)*a.T[i] + (s3-2*s2+s)*h*a.slope[i] + (3*s2-2*s3)*a.T[i+1] + (s3-s2)*h*a.slope[i+1]
}
