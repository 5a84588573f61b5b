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

// Water is the water in a boiler. Its fields are its whole state.
type Water struct {
	Known   bool    // Left means something
	Left    Span    // when it was last told or seen, L
	BoiledS float64 // seconds of boiling since then
	Rate    Rate
	FilledL float64 // what a fill brought it to, 0 once the switch has been used on it
	FillS   float64 // seconds of boiling since that fill
	Switch  Contact
	LowS    float64 // how long the switch has read low
	Proven  bool    // the switch has been seen to follow the water
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

func (w *Water) set(s Span) { w.Known, w.Left, w.BoiledS = true, s, 0 }

// Pass lets dtS seconds go by, boiling or not, with the switch as read.
func (w *Water) Pass(b Boiler, dtS float64, boiling bool, c Contact) {
	if boiling {
		w.BoiledS += dtS
		w.FillS += dtS
	}
	if c == Open {
		w.LowS += dtS
	} else {
		w.LowS = 0
	}
	was := w.Switch
	if c != Unknown {
		w.Switch = c
	}
	switch {
	case b.SwitchL <= 0 || was == Unknown || was == w.Switch:
	case w.Switch == Open:
		w.trip(b)
	default: // it rose: the float follows the water
		w.Proven = true
		w.atLeast(b.SwitchL - floatDoubt)
	}
}

// trip enters that the water has sunk to the switch.
func (w *Water) trip(b Boiler) {
	w.Proven = true
	used := w.FilledL - b.SwitchL
	if w.FilledL > 0 && used > 2*floatDoubt && w.FillS > 60 {
		sd := math.Hypot(toldShare*w.FilledL, floatDoubt) / used
		w.Rate = w.Rate.Learn(used/w.FillS, sd)
	}
	w.FilledL = 0
	w.set(Span{max(0, b.SwitchL-floatDoubt), b.SwitchL, b.SwitchL + floatDoubt})
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
		Lo:   max(0, w.Left.Lo-w.BoiledS*r.Hi),
		Best: max(0, w.Left.Best-w.BoiledS*r.Best),
		Hi:   max(0, w.Left.Hi-w.BoiledS*r.Lo),
	}, true
}

// NowWith is Now with what a proven switch that still reads closed adds: there is
// at least as much water as it takes to hold the float.
func (w *Water) NowWith(b Boiler) (Span, bool) {
	left, known := w.Now()
	if w.Proven && w.Switch == Closed && b.SwitchL > 0 {
		floor := b.SwitchL - floatDoubt
		if !known {
			return Span{floor, (floor + b.FullL) / 2, b.FullL}, true
		}
		left = Span{max(left.Lo, floor), max(left.Best, floor), max(left.Hi, floor)}
	}
	return left, known
}

// UntilL returns the seconds of boiling until no more than litres are left. Hi
// supposes the most water and the slowest rate, Lo the least and the fastest.
func (w *Water) UntilL(b Boiler, litres float64) (Span, bool) {
	left, known := w.NowWith(b)
	if !known {
		return Span{}, false
	}
	r := w.Rate.Span()
	return Span{
		Lo:   max(0, left.Lo-litres) / r.Hi,
		Best: max(0, left.Best-litres) / r.Best,
		Hi:   max(0, left.Hi-litres) / r.Lo,
	}, true
}

// UntilDry returns the seconds of boiling until the element is bare.
func (w *Water) UntilDry(b Boiler) (Span, bool) { return w.UntilL(b, b.BareL) }
