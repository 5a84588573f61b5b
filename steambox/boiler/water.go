package boiler

import "math"

// Contact is what a level switch says. It is normally closed: a cut wire reads
// as low water.
type Contact int

// Unknown: no switch, or it could not be read. Closed: water above it.
const (
	Unknown Contact = iota
	Closed
	Open
)

// String returns "unknown", "closed" or "open".
func (c Contact) String() string { return [...]string{"unknown", "closed", "open"}[c] }

// How well the litres behind an event are known, as a share of them and in
// litres: a fill that somebody told, the level at which a float trips.
const (
	toldShare  = 0.05
	floatDoubt = 0.15
)

// tripS is how long a switch must read low before it counts as the water's level
// and not as a loose wire or a wave.
const tripS = 10

// Water is the water in a boiler. Its fields are its whole state.
type Water struct {
	Known   bool    // Left means something
	Left    Span    // when it was last told or seen, L
	BoiledS float64 // seconds of boiling since then
	MaybeS  float64 // seconds since then in which it may have boiled, unseen
	Rate    Rate
	FilledL float64 // what a fill brought it to, 0 once the switch has been used on it
	FillS   float64 // seconds of boiling since that fill
	Reads   Contact // what the switch says now; Unknown while it can't be read
	LowS    float64 // how long it has read low
	Tripped bool    // it has read low for long enough to be believed
	Proven  bool    // it has been seen to sink and to rise again with the water
}

// NewWater returns an empty account for a boiler.
func NewWater(b Boiler, latentJPerKg float64) Water {
	return Water{Rate: b.FirstRate(latentJPerKg)}
}

// Fill enters that the boiler now holds litres, as poured cold, as somebody told.
func (w *Water) Fill(b Boiler, litres float64) {
	doubt := toldShare * litres
	w.set(Span{max(0, litres-doubt), litres, min(litres+doubt, max(b.FullL, litres))})
	w.FilledL, w.FillS = litres, 0
}

// Add enters that litres were poured in on top of what there was.
func (w *Water) Add(b Boiler, litres float64) {
	left, known := w.Now()
	if !known {
		// Only what was poured is certain; it may lie on anything up to full.
		w.set(Span{litres * (1 - toldShare), litres, max(b.FullL, litres)})
		w.FilledL = 0
		return
	}
	doubt := toldShare * litres
	w.set(Span{left.Lo + litres - doubt, left.Best + litres, min(left.Hi+litres+doubt, max(b.FullL, left.Best+litres))})
	w.FilledL, w.FillS = left.Best+litres, 0
}

func (w *Water) set(s Span) { w.Known, w.Left, w.BoiledS, w.MaybeS = true, s, 0, 0 }

// Boils says what is known of a stretch of time: that it boiled, that it didn't,
// or that nobody saw.
type Boils int

// Nobody saw: the early bound counts the time as boiling, the late one doesn't.
const (
	Still Boils = iota
	Boiling
	Unseen
)

// Pass lets dtS seconds go by with the switch as read.
func (w *Water) Pass(b Boiler, dtS float64, boils Boils, c Contact) {
	switch boils {
	case Boiling:
		w.BoiledS += dtS
		w.FillS += dtS
	case Unseen:
		w.MaybeS += dtS
		w.FilledL = 0 // nothing can be learnt of the rate from it
	}
	if b.SwitchL <= 0 {
		return
	}
	w.Reads = c
	switch {
	case c == Open:
		if w.LowS += dtS; w.LowS >= tripS && !w.Tripped {
			w.trip(b)
		}
	case c == Closed && w.Tripped: // it rose: the float follows the water both ways
		w.Proven, w.Tripped, w.LowS = true, false, 0
		w.atLeast(b.SwitchL - floatDoubt)
	default:
		w.LowS = 0
	}
}

// trip enters that the water has sunk to the switch. The early bound believes it
// at once; the others, and what is known of the rate, only if the account allows
// it: a cut wire reads low too.
func (w *Water) trip(b Boiler) {
	w.Tripped = true
	left, known := w.Now()
	if known && left.Lo > b.SwitchL+floatDoubt {
		left.Lo = max(0, b.SwitchL-floatDoubt)
		w.set(left)
		w.FilledL = 0
		return
	}
	w.learn(b)
	w.set(Span{max(0, b.SwitchL-floatDoubt), b.SwitchL, b.SwitchL + floatDoubt})
}

// learn takes the rate from the fill that has boiled down to the switch, if the
// boiler's power could have done that.
func (w *Water) learn(b Boiler) {
	used := w.FilledL - b.SwitchL
	if w.FilledL > 0 && used > 2*floatDoubt && w.FillS > 60 {
		rate, span := used/w.FillS, w.Rate.Span()
		if rate >= span.Lo && rate <= w.Rate.MaxLPerS {
			w.Rate = w.Rate.Learn(rate, math.Hypot(toldShare*w.FilledL, floatDoubt)/used)
		}
	}
	w.FilledL = 0
}

func (w *Water) atLeast(l float64) {
	left, known := w.Now()
	if !known || left.Lo < l {
		w.set(Span{l, max(l, left.Best), max(l, left.Hi)})
	}
}

// Now returns the litres left and whether anything is known of them.
func (w *Water) Now() (Span, bool) {
	if !w.Known {
		return Span{}, false
	}
	r := w.Rate.Span()
	return Span{
		Lo:   max(0, w.Left.Lo-(w.BoiledS+w.MaybeS)*r.Hi),
		Best: max(0, w.Left.Best-(w.BoiledS+w.MaybeS/2)*r.Best),
		Hi:   max(0, w.Left.Hi-w.BoiledS*r.Lo),
	}, true
}

// NowWith is Now with what a switch that reads closed adds. Where nothing was
// told, a proven one says that there is as much water as holds the float. Where
// the account is kept it only moves the best guess, and no further than the
// account allows: a float may stick, so it never makes the early bound later.
func (w *Water) NowWith(b Boiler) (Span, bool) {
	left, known := w.Now()
	if !w.Proven || w.Reads != Closed || b.SwitchL <= 0 {
		return left, known
	}
	floor := b.SwitchL - floatDoubt
	if !known {
		return Span{floor, (floor + b.FullL) / 2, b.FullL}, true
	}
	left.Best = max(left.Best, min(floor, left.Hi))
	return left, true
}

// UntilDry returns the seconds of boiling until the element is bare. Hi supposes
// the most water and the slowest rate, Lo the least and the fastest.
func (w *Water) UntilDry(b Boiler) (Span, bool) {
	left, known := w.NowWith(b)
	if !known {
		return Span{}, false
	}
	r := w.Rate.Span()
	return Span{
		Lo:   max(0, left.Lo-b.BareL) / r.Hi,
		Best: max(0, left.Best-b.BareL) / r.Best,
		Hi:   max(0, left.Hi-b.BareL) / r.Lo,
	}, true
}
