package ribs

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"withy/steambox/median"
)

// Options are what fairness is judged by. A saw error given too small blames fair ribs:
// with twice as much in truth, 9 to 33 % of fair tables of 17 to 33 ribs.
type Options struct {
	SawM       float64 // standard deviation of one length as sawn or measured, 0.00005 to 0.01 m
	ToleranceM float64 // a length is never named for less, 0 to 0.1 m
}

// DefaultOptions returns half a millimetre of saw and 3 mm of tolerance (common
// practice, no source).
func DefaultOptions() Options { return Options{SawM: 0.0005, ToleranceM: 0.003} }

// Check returns every mistake, one a line, or nil.
func (o Options) Check() error {
	var errs []error
	if !(o.SawM >= 0.00005 && o.SawM <= 0.01) {
		errs = append(errs, fmt.Errorf("saw error %g mm: 0.05 to 10", o.SawM*1000))
	}
	if !(o.ToleranceM >= 0 && o.ToleranceM <= 0.1) {
		errs = append(errs, fmt.Errorf("tolerance %g mm: 0 to 100", o.ToleranceM*1000))
	}
	return errors.Join(errs...)
}

// Verdict is what can be said of a boat's lengths.
type Verdict string

// The verdicts. Of fewer than ten lengths that are not meant to be off the curve
// nothing can be said: any few points lie on some fair curve. Nor of lengths that
// jump about so much that no rib could be named for twice the tolerance.
const (
	TooShort Verdict = "too short to tell"
	TooRough Verdict = "too rough to tell"
	Fair     Verdict = "fair"
	Unfair   Verdict = "unfair"
)

// enough is the least number of stations with a rib that speaks.
const enough = 10

// Odd is a rib whose length or thickness is out of line.
type Odd struct {
	Rib        int // index in the table
	Label      string
	IsM        float64
	SuggestedM float64 // by the others
	OffM       float64 // IsM − SuggestedM: above zero is too long or too thick
	StdErrM    float64 // of OffM, were the rib right
}

// Fairness is one boat's lengths judged.
type Fairness struct {
	Verdict Verdict
	Odd     []Odd     // in the table's order
	CurveM  []float64 // the fair length at each rib, in the table's order; nil when too short
	RoughM  float64   // the hull's own roughness: standard deviation of the fair lengths' fourth differences amidships
	SeesM   float64   // the least error for which most ribs would be named
	SawM    float64   // standard deviation of one length, the rule's marks included
}

// Judge says whether the ribs of one boat show a fair curve over their stations.
// The table and the options must have passed Check.
//
// The batten is stiff in fourth differences, as stiff as the lengths themselves
// show with the suspect left out, so that shifting every length alike, or by a
// straight line or up to a cubic along the keel, changes nothing. A rib is named
// beyond 3.5 standard errors and the tolerance. Up to one rib in six can be named;
// two at a time that hide each other from 20 ribs up.
//
// How often a 6 mm error is found and a smooth hull blamed is TestScore's to say. The
// first and last rib of a hull that isn't nearly a cubic can hardly be judged: one
// difference each speaks for them.
func Judge(boat []Rib, o Options) Fairness {
	f := Fairness{Verdict: TooShort, SawM: math.Hypot(o.SawM, step(boat)/math.Sqrt(12))}
	if len(boat) < enough {
		return f
	}
	k := layOut(stations(boat))
	length, meant := make([]float64, len(boat)), make([]bool, len(boat))
	for i, r := range boat {
		length[i], meant[i] = r.LengthM/f.SawM, r.Meant
	}
	if k.speaking(meant) < enough {
		return f
	}
	odd, h := suspects(&k, length, meant, limit(o.ToleranceM/f.SawM))
	f.CurveM, f.RoughM = h.curve(boat, f.SawM), h.rough()*f.SawM
	f.SeesM = max(h.sees()*f.SawM, o.ToleranceM)
	slices.Sort(odd)
	for _, i := range odd {
		f.Odd = append(f.Odd, h.odd(boat, i, f.SawM))
	}
	switch {
	case len(odd) > 0:
		f.Verdict = Unfair
	case f.SeesM > max(2*o.ToleranceM, 12*f.SawM):
		f.Verdict = TooRough
	default:
		f.Verdict = Fair
	}
	return f
}

func (h *hearing) odd(boat []Rib, i int, sawM float64) Odd {
	s, is := h.silent(i), boat[i].LengthM
	off := s.off * sawM
	return Odd{Rib: i, Label: boat[i].Label, IsM: is, SuggestedM: is - off, OffM: off, StdErrM: s.stdErr * sawM}
}

// curve returns the fair length at each rib, over all guesses at the hull.
func (h *hearing) curve(boat []Rib, sawM float64) []float64 {
	fair := make([]float64, len(boat))
	for i, r := range boat {
		fair[i] = r.LengthM - h.silent(i).off*sawM
	}
	return fair
}

// sees returns the shift, in saw errors, for which half of the ribs that speak are
// certain to be off.
func (h *hearing) sees() float64 {
	var least []float64
	for i, out := range h.out {
		if !out {
			h.alone(i)
			least = append(least, sureStdErrs*h.shift().stdErr)
		}
	}
	return median.Of(least)
}

// rough returns the hull's roughness in saw errors: the mean over all guesses.
func (h *hearing) rough() (sum float64) {
	for g := range h.lays {
		sum += math.Exp(h.lays[g].logL-h.base) * hulls[g].rough
	}
	return sum
}

// rules are the marks that lengths are read to, coarsest first.
var rules = []float64{0.005, 0.0254 / 8, 0.0254 / 16, 0.001, 0.0254 / 32, 0.0005}

// marks is the least number of different lengths that shows what rule they were
// read from.
const marks = 5

// step returns the mark that all lengths lie on, 0 when there is none. Sixteenths
// written in tenths of a millimetre are still seen as such.
func step(boat []Rib) float64 {
	const written = 0.000051
	lengths := map[float64]bool{}
	for _, r := range boat {
		lengths[r.LengthM] = true
	}
	if len(lengths) < marks {
		return 0
	}
	for _, mark := range rules {
		if !slices.ContainsFunc(boat, func(r Rib) bool {
			return math.Abs(math.Remainder(r.LengthM, mark)) > written
		}) {
			return mark
		}
	}
	return 0
}
