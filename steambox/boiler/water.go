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

// tripS is how long a switch must read low before it counts as the water's level
// and not as a loose wire or a wave, and how long closed before it counts as risen.
const tripS = 10

// tellS is how long after a float rose a pour that is told may be the one that raised
// it.
const tellS = 180

// Water is the water in a boiler. Its fields are its whole state.
type Water struct {
	Known  bool    // Left means something
	Left   Level   // what is left
	Float  Level   // how much is left when the switch turns
	Cov    float64 // covariance of the two, L²
	MaybeS float64 // seconds in which it may have boiled, unseen, not yet in Left
	MoreL  float64 // how much more there may be, where an unknown amount was poured or lay there
	ChillS float64 // seconds in which a cold refill may keep it from boiling
	Rate   Rate

	Doubted bool    // the early bound believes a trip that the account does not
	Early   Level   // what is left if that trip was true
	Reads   Contact // what the switch says now; Unknown while it can't be read
	LowS    float64 // how long it has read low
	Tripped bool    // it has read low for long enough to be believed
	HighS   float64 // how long it has read closed again since then
	Poured  bool    // since it tripped somebody told of a refill
	PouredS float64 // how long it has read low since then
	RoseS   float64 // since it rose with no refill told; 0: it hasn't
	Proven  bool    // it has been seen to sink and to rise again with the water
}

// NewWater returns an empty account for a boiler.
func NewWater(b Boiler, latentJPerKg float64) Water {
	return Water{Rate: b.FirstRate(latentJPerKg), Float: Level{L: b.SwitchL, Var: floatSdL * floatSdL}}
}

// Refit enters that the boiler is told to be otherwise than it was. What is in it stays;
// what was learnt of the switch's level and of the rate stays where the same is told of
// them.
func (w *Water) Refit(was, now Boiler, latentJPerKg float64) {
	anew := NewWater(now, latentJPerKg)
	if now.SwitchL != was.SwitchL {
		w.Float, w.Cov = anew.Float, 0
	}
	if anew.Rate != was.FirstRate(latentJPerKg) {
		w.Rate = anew.Rate
	}
}

// Fill enters that the boiler now holds litres, as poured cold, as somebody told.
func (w *Water) Fill(litres float64) {
	w.set(litres, toldShare*litres)
	w.ChillS = 0
	w.Poured, w.PouredS = w.Tripped, 0
}

// Add enters that litres were poured in on top of what there was. What would stand over
// the brim ran over, or there had been less than thought.
func (w *Water) Add(b Boiler, litres float64) {
	sd := toldShare * litres
	w.Early.L += litres - 2*sd
	w.Poured, w.PouredS = w.Tripped, 0
	if !w.Known { // only what was poured is certain; it may lie on anything up to full
		w.set(litres, sd)
		w.MoreL = max(0, b.FullL-litres)
		w.brim(b)
		return
	}
	w.Left.L += litres
	w.Left.Var += sd * sd
	w.brim(b)
	if w.RoseS > 0 && w.RoseS <= tellS { // told late: it is what raised the float
		w.RoseS, w.MoreL = 0, 0
		w.beside(above)
	}
}

// brim lets run over what the boiler can't hold.
func (w *Water) brim(b Boiler) {
	rate := w.Rate.Quantile(0.5)
	w.Left.L -= max(0, w.Left.at(rate)-b.FullL)
	w.Early.L -= max(0, w.Early.at(rate)-b.FullL)
}

// Chill enters that the boiler may not boil for the next s seconds although the box
// is still hot: it was refilled cold. Until then time that looks like boiling counts
// as unseen.
func (w *Water) Chill(s float64) { w.ChillS += s }

// Read enters that somebody read the level by eye, on a sight tube or on scales:
// litres, as poured cold. It teaches the rate.
func (w *Water) Read(litres float64) {
	sd := math.Hypot(toldShare*litres, readSdL)
	if !w.Known || w.MoreL > 0 {
		w.set(litres, sd)
		return
	}
	w.settle()
	gap, doubt := w.gap(0)
	if math.Abs(litres-gap) > absurd*math.Hypot(doubt, sd) {
		w.set(litres, sd) // something happened that nobody told; the eye is right
		return
	}
	w.observe(0, litres, sd*sd)
	w.Doubted = false
}

// set starts the account anew.
func (w *Water) set(litres, sd float64) {
	w.Known, w.Doubted = true, false
	w.Left = Level{L: litres, Var: sd * sd}
	w.Cov, w.MaybeS, w.MoreL, w.RoseS = 0, 0, 0, 0
}

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
	chilled := min(dtS, w.ChillS)
	w.ChillS -= chilled
	switch boils {
	case Boiling:
		w.Left.S += dtS - chilled
		w.MaybeS += chilled
		w.Early.S += dtS
	case Unseen:
		w.MaybeS += dtS
		w.Early.S += dtS
	}
	if b.SwitchL > 0 {
		w.read(b, dtS, c)
	}
}

// read takes what the switch says.
func (w *Water) read(b Boiler, dtS float64, c Contact) {
	w.Reads = c
	if w.RoseS > 0 {
		w.RoseS += dtS
	}
	switch {
	case c == Open:
		w.low(dtS)
	case c == Closed && w.Tripped:
		w.high(b, dtS)
	default:
		w.LowS = 0
	}
}

// low lets dtS seconds go by with the switch reading low. Once that has lasted it is
// the level; and where it lasts after a refill, the refill was not enough.
func (w *Water) low(dtS float64) {
	w.LowS += dtS
	w.HighS = 0
	switch {
	case !w.Tripped && w.LowS >= tripS:
		w.Tripped, w.Poured = true, false
		w.trip()
	case w.Poured:
		if w.PouredS += dtS; w.PouredS >= tripS {
			w.Poured = false
			w.beside(under)
		}
	}
}

// high lets dtS seconds go by with a switch that had tripped reading closed. Once
// that has lasted it rose: the float follows the water both ways.
func (w *Water) high(b Boiler, dtS float64) {
	if w.HighS += dtS; w.HighS >= tripS {
		w.Proven, w.Tripped, w.LowS, w.HighS = true, false, 0, 0
		w.rise(b)
	}
}

// Now returns the litres left and whether anything is known of them. Of true levels
// about one in five thousand is beyond each bound.
func (w *Water) Now() (Span, bool) {
	if !w.Known {
		return Span{}, false
	}
	r := w.Rate.Span()
	seen, doubt := w.Left.at(r.Best), sigmas*math.Sqrt(w.Left.Var)
	s := Span{
		Lo:   seen - math.Hypot(doubt, w.Left.S*(r.Hi-r.Best)) - w.MaybeS*r.Hi,
		Best: seen - w.MaybeS/2*r.Best,
		Hi:   seen + math.Hypot(doubt, w.Left.S*(r.Best-r.Lo)) + w.MoreL,
	}
	switch {
	case w.Doubted:
		s.Lo = min(s.Lo, w.Early.L-w.Early.S*r.Hi)
	case w.RoseS > 0:
		s.Lo, s.Best = max(s.Lo, w.floor()-w.RoseS*r.Hi), max(s.Best, w.floor()-w.RoseS*r.Best)
	}
	return Span{max(0, s.Lo), max(0, s.Best), max(0, s.Hi)}, true
}

// NowWith is Now with what a switch that reads closed adds. Where nothing was
// told, a proven one says that there is as much water as holds the float. Where
// the account is kept it only moves the best guess, and no further than the
// account allows: a float may stick, so it never makes the early bound later.
func (w *Water) NowWith(b Boiler) (Span, bool) {
	left, known := w.Now()
	left.Hi = min(left.Hi, max(b.FullL, left.Best))
	if !w.floats(b) {
		return left, known
	}
	if !known {
		return Span{w.floor(), (w.floor() + b.FullL) / 2, b.FullL}, true
	}
	left.Best = max(left.Best, min(w.floor(), left.Hi))
	return left, true
}

// floats reports whether the switch shows by itself that there is water above it.
func (w *Water) floats(b Boiler) bool { return w.Proven && w.Reads == Closed && b.SwitchL > 0 }

// floor is the least that is left while the float floats.
func (w *Water) floor() float64 { return w.floatL() - 2*math.Sqrt(w.Float.Var) }

// floatL is the best guess of what is left when the switch turns.
func (w *Water) floatL() float64 { return w.Float.at(w.Rate.Quantile(0.5)) }

// UntilDry returns the seconds of boiling until the element is bare. About one true
// time in five thousand is before Lo. Where only the switch is known it counts from the
// switch.
func (w *Water) UntilDry(b Boiler) (Span, bool) {
	r := w.Rate.Span()
	if !w.Known {
		left, known := w.NowWith(b)
		return Span{max(0, left.Lo-b.BareL) / r.Hi, max(0, left.Best-b.BareL) / r.Best, max(0, left.Hi-b.BareL) / r.Lo}, known
	}
	whole, doubt := w.Left.L-b.BareL, sigmas*math.Sqrt(w.Left.Var)
	best := whole / r.Best
	s := Span{
		Lo:   w.Rate.earliest(whole, math.Sqrt(w.Left.Var)) - w.Left.S - w.MaybeS,
		Best: best - w.Left.S - w.MaybeS/2,
		Hi:   (whole+w.MoreL)/r.Best + math.Hypot(doubt/r.Best, (whole+w.MoreL)*(1/r.Lo-1/r.Best)) - w.Left.S,
	}
	switch {
	case w.Doubted:
		s.Lo = min(s.Lo, (w.Early.L-b.BareL)/r.Hi-w.Early.S)
	case w.RoseS > 0:
		floor := w.floor() - b.BareL
		s.Lo, s.Best = max(s.Lo, floor/r.Hi-w.RoseS), max(s.Best, floor/r.Best-w.RoseS)
	}
	if w.floats(b) {
		s.Best = max(s.Best, min((w.floor()-b.BareL)/r.Best, s.Hi))
	}
	return Span{max(0, s.Lo), max(0, s.Best), max(0, s.Hi)}, true
}

// Basis is what the account of the water rests on.
type Basis string

// FillUnknown: nothing was told and no switch has been proven; nothing can be said
// of the time until dry. FromSwitch: only that there is as much as the switch needs.
// FromFill: somebody told a fill or a level, or the water was seen at the switch.
const (
	FillUnknown Basis = "fill-unknown"
	FromSwitch  Basis = "switch"
	FromFill    Basis = "fill"
)

// Basis returns what the account rests on.
func (w *Water) Basis(b Boiler) Basis {
	switch {
	case w.Known:
		return FromFill
	case w.floats(b):
		return FromSwitch
	}
	return FillUnknown
}

// Reserve returns the seconds of boiling between the switch's trip and a bare
// element: what a crew that waits for the switch has for the kettle. False without a
// switch.
func (w *Water) Reserve(b Boiler) (Span, bool) {
	if b.SwitchL <= 0 {
		return Span{}, false
	}
	r, doubt := w.Rate.Span(), 2*math.Sqrt(w.Float.Var)
	best := w.floatL() - b.BareL
	return Span{max(0, best-doubt) / r.Hi, max(0, best) / r.Best, max(0, best+doubt) / r.Lo}, true
}
