package boiler

import "math"

// Level is an amount of water that falls with the boil-off: L − S·rate litres, give
// or take the square root of Var, where the rate is the true one in L/s. S are
// seconds of boiling.
//
// Kept this way, whatever is seen of a level tells the rate too, and nothing is
// counted twice: the litres told at a fill and the place of the float are in doubt
// once, however often they are used.
type Level struct{ L, S, Var float64 }

// How well litres are known, as a standard deviation (common practice, no source): a
// fill or a pour that somebody told, as a share of it; a level read by eye, beyond
// that share; where a float turns; and how much that differs from one time to the
// next, with the water dancing.
const (
	toldShare = 0.05
	readSdL   = 0.10
	floatSdL  = 0.075
	turnSdL   = 0.05
)

// absurd is how many standard deviations off a level is not believed, or shows that
// something was not told.
const absurd = 4

// at returns the litres at a rate.
func (l Level) at(lPerS float64) float64 { return l.L - l.S*lPerS }

// gap returns how far the water stands above floats times the float's place, by the
// account, and the standard deviation of that, all doubts together: floats is 0 for
// the level itself and 1 for the level over the float.
func (w *Water) gap(floats float64) (litres, sd float64) {
	l := w.apart(floats)
	return l.at(w.Rate.Quantile(0.5)), math.Sqrt(l.Var + l.S*l.S*w.Rate.sd()*w.Rate.sd())
}

// apart is the level less floats times the float's place.
func (w *Water) apart(floats float64) Level {
	return Level{
		L: w.Left.L - floats*w.Float.L, S: w.Left.S - floats*w.Float.S,
		Var: max(0, w.Left.Var+floats*(floats*w.Float.Var-2*w.Cov)),
	}
}

// observe enters that the gap is litres, measured with a variance in L²: the rate
// learns from how long the water took to get there, the level and the float's place
// from what is left of the difference. Given the rate all three are normal, and this
// is the usual way to put two normal distributions together.
func (w *Water) observe(floats, litres, variance float64) {
	g := w.apart(floats)
	total := g.Var + variance
	if g.S != 0 {
		w.Rate = w.Rate.Learn((g.L-litres)/g.S, math.Sqrt(total)/math.Abs(g.S))
	}
	left := (w.Left.Var - floats*w.Cov) / total
	float := (w.Cov - floats*w.Float.Var) / total
	w.Left = Level{w.Left.L + left*(litres-g.L), w.Left.S - left*g.S, max(0, w.Left.Var-left*left*total)}
	w.Float = Level{w.Float.L + float*(litres-g.L), w.Float.S - float*g.S, max(0, w.Float.Var-float*float*total)}
	w.Cov -= left * float * total
}

// settle takes the time that nobody saw into the level: half of it boiled, give or
// take.
func (w *Water) settle() {
	r := w.Rate.Quantile(0.5)
	w.Left.S += w.MaybeS / 2
	w.Left.Var += r * r * w.MaybeS * w.MaybeS / 12 // a boiling time anywhere between nought and all
	w.MaybeS = 0
}

// trip enters that the water has sunk to the switch. The early bound believes it
// at once; the others, and what is known of the rate, only if the account allows
// it: a cut wire reads low too.
func (w *Water) trip() {
	if !w.Known || w.MoreL > 0 {
		w.atFloat()
		return
	}
	w.settle()
	gap, sd := w.gap(1)
	switch sd = math.Hypot(sd, turnSdL); {
	case gap > absurd*sd:
		w.doubt()
	case gap < -absurd*sd: // more was poured than was told; nothing of the rate
		w.atFloat()
	default:
		w.observe(1, 0, turnSdL*turnSdL)
		w.Doubted = false
	}
}

// atFloat starts the account anew with the water at the switch.
func (w *Water) atFloat() {
	w.set(0, 0)
	w.Left = Level{w.Float.L, w.Float.S, w.Float.Var + turnSdL*turnSdL}
	w.Cov = w.Float.Var
}

// doubt keeps the account and lets the early bound believe the switch.
func (w *Water) doubt() {
	w.Doubted, w.Early = true, Level{L: w.floor()}
}

// side is where the water stands as seen from the float.
type side float64

const (
	above side = 1
	under side = -1
)

// rise enters that the float rose. Where a refill was told it was enough. Where none
// was, the account lacks one until somebody tells of it, and the float shows that
// there is at least what it needs; that also goes for a switch that was not believed
// when it tripped.
func (w *Water) rise(b Boiler) {
	switch {
	case w.Poured:
		w.Poured = false
		w.beside(above)
	case w.Doubted:
		w.Early = Level{L: w.floor()}
	default:
		w.RoseS, w.MoreL = tripS, b.FullL
	}
}

// beside enters that after a refill the water stands on one side of the float. The
// rate learns how little, or how much, can have boiled off before. It puts a normal
// distribution with the same mean and variance in place of one that is cut off at
// the float.
func (w *Water) beside(s side) {
	w.settle()
	gap, sd := w.gap(1)
	z := float64(s) * gap / sd
	switch {
	case z > 3: // as was to be expected
		return
	case z < -absurd && s == above:
		w.atFloat()
		return
	case z < -absurd:
		w.doubt()
		return
	}
	heavier := math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) / below(z)
	mean := gap + float64(s)*sd*heavier
	variance := sd * sd * (1 - heavier*(z+heavier))
	// What would have to be measured, and how well, to know just that afterwards.
	noise := 1 / (1/variance - 1/(sd*sd))
	w.observe(1, noise*(mean/variance-gap/(sd*sd)), noise)
}
