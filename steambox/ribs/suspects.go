package ribs

import (
	"math"
	"slices"
)

// A hearing is one round of judging: battens laid through all ribs that still
// speak, one for each guess at the hull, and the last question asked of them.
type hearing struct {
	keel  *keel
	out   []bool
	width int
	lays  []lay
	base  float64 // log evidence that nobody else is wrong

	// The answer under each guess: its log evidence, how far the rib asked about is
	// off and the variance of that, in saw errors.
	logs, off, variance []float64
}

// farOff is how many places apart two ribs of a long table can be judged together;
// longTable is what is long. Further apart neither hides the other.
const (
	longTable = 64
	farOff    = 12
)

// hold lays the battens through all that are not out.
func hold(k *keel, length []float64, out []bool) *hearing {
	n := len(hulls)
	h := &hearing{
		keel: k, out: out, width: len(k.x) - 1, lays: make([]lay, n),
		logs: make([]float64, n), off: make([]float64, n), variance: make([]float64, n),
	}
	if h.width >= longTable {
		h.width = farOff
	}
	v := hear(k, length, out)
	for g, guess := range hulls {
		h.lays[g] = layBatten(k, v, guess, h.width)
		h.logs[g] = h.lays[g].logL
	}
	h.base = logSum(h.logs)
	return h
}

// pull returns the batten's covariance between two ribs' places, in squared saw
// errors: how much the one's length pulls the batten at the other.
func (h *hearing) pull(l *lay, i, j int) float64 {
	a, b := h.keel.at[i], h.keel.at[j]
	if a > b {
		a, b = b, a
	}
	return l.inverse[a*(h.width+1)+b-a]
}

// accusation is the log evidence, before any length is looked at, that one rib in
// particular is wrong, by what may be anything over a hundred saw errors: one in
// fifty is.
var accusation = math.Log(0.02 * math.Sqrt(2*math.Pi) / 100)

// silent asks how far rib i, which has no say, is off.
func (h *hearing) silent(i int) shift {
	for g := range h.lays {
		l := &h.lays[g]
		h.logs[g], h.off[g], h.variance[g] = l.logL, l.off[i], 1+h.pull(l, i, i)
	}
	return h.shift()
}

// alone asks how far rib i is off the batten that the others alone would take, and
// returns the log of how much likelier the table is with that rib wrong.
//
// Leaving one out needs no new batten: it then stands off/(1−pull) away.
func (h *hearing) alone(i int) float64 {
	for g := range h.lays {
		l := &h.lays[g]
		free := 1 - h.pull(l, i, i)
		h.logs[g] = l.logL + l.off[i]*l.off[i]/free/2 - math.Log(free)/2
		h.off[g], h.variance[g] = l.off[i]/free, 1/free
	}
	return logSum(h.logs) - h.base + accusation
}

// beside is alone for rib i with rib j wrong as well.
func (h *hearing) beside(i, j int) float64 {
	for g := range h.lays {
		l := &h.lays[g]
		a, b, c := 1-h.pull(l, i, i), 1-h.pull(l, j, j), h.pull(l, i, j)
		det, oi, oj := a*b-c*c, l.off[i], l.off[j]
		h.off[g], h.variance[g] = (b*oi+c*oj)/det, b/det
		h.logs[g] = l.logL + (b*oi*oi+2*c*oi*oj+a*oj*oj)/det/2 - math.Log(det)/2
	}
	return logSum(h.logs) - h.base + 2*accusation
}

// shift is by how much a rib is off what the others suggest.
type shift struct {
	off, stdErr float64 // saw errors
	chance      float64 // that a right one would be so far off or further
}

// shift sums up the last answer over all guesses at the hull.
func (h *hearing) shift() (s shift) {
	total := logSum(h.logs)
	for g := range h.logs {
		share := math.Exp(h.logs[g] - total)
		s.off += share * h.off[g]
		s.stdErr += share * (h.variance[g] + h.off[g]*h.off[g])
		s.chance += share * math.Erfc(math.Abs(h.off[g])/math.Sqrt(2*h.variance[g]))
	}
	s.stdErr = math.Sqrt(max(0, s.stdErr-s.off*s.off))
	return s
}

// limit is what a shift must exceed for its rib to be named, in saw errors.
type limit float64

// How certain a name must be: 3.5 standard errors, and a chance as small as that
// of a normal variate beyond them, which asks for more where the hull's roughness
// is known from few ribs.
const (
	sureStdErrs = 3.5
	sureChance  = 4.65e-4
)

// passed reports whether a shift is beyond the limit and certain.
func (l limit) passed(s shift) bool {
	return math.Abs(s.off) > max(sureStdErrs*s.stdErr, float64(l)) && s.chance < sureChance
}

// suspects returns the ribs that are wrong and the last hearing, in which none of
// them had a say. Lengths and limit are in saw errors.
//
// Each round takes the rib or pair that makes the table likeliest and would be named,
// and hears the others again without it: a neighbour isn't blamed for what one rib
// does to the line, and two that hide each other are found together.
func suspects(k *keel, length []float64, meant []bool, beyond limit) ([]int, *hearing) {
	out, speak := slices.Clone(meant), 0
	for _, m := range meant {
		if !m {
			speak++
		}
	}
	var named []int
	for {
		h := hold(k, length, out)
		pick := h.likeliest(beyond, speak >= pairsFrom)
		if len(pick) == 0 || len(named)+len(pick) > speak/wrongAtMost {
			return confirm(h, length, named, beyond)
		}
		for _, i := range pick {
			out[i] = true
		}
		named = append(named, pick...)
	}
}

// pairsFrom is the least number of ribs of which two can be judged together;
// wrongAtMost the part of them that can be wrong with the others still to be trusted.
const (
	pairsFrom   = 20
	wrongAtMost = 6
)

// likeliest returns the rib or pair to take next; none when it is likelier that the
// others are right.
func (h *hearing) likeliest(beyond limit, pairs bool) (pick []int) {
	best := 0.0
	for i := range h.out {
		if h.out[i] {
			continue
		}
		if e := h.alone(i); e > best && beyond.passed(h.shift()) {
			best, pick = e, []int{i}
		}
		for j := range i {
			if !pairs || h.out[j] || !h.judgeable(i, j) {
				continue
			}
			if e := h.beside(i, j); e > best && beyond.passed(h.shift()) {
				h.beside(j, i)
				if beyond.passed(h.shift()) {
					best, pick = e, []int{j, i}
				}
			}
		}
	}
	return pick
}

// judgeable reports whether two ribs can be judged together. Not when they stand at
// opposite ends: without them nobody says how a hull runs out.
func (h *hearing) judgeable(i, j int) bool {
	a, b := h.keel.at[i], h.keel.at[j]
	if a > b {
		a, b = b, a
	}
	return b-a <= h.width && !(a < 2 && b >= len(h.keel.x)-2)
}

// confirm lets speak again, the least certain first, suspects that don't stand with
// all the others silent.
func confirm(h *hearing, length []float64, named []int, beyond limit) ([]int, *hearing) {
	for {
		weakest, at := 0.0, -1
		for n, i := range named {
			if s := h.silent(i); !beyond.passed(s) && s.chance >= weakest {
				weakest, at = s.chance, n
			}
		}
		if at < 0 {
			return named, h
		}
		h.out[named[at]] = false
		named = slices.Delete(named, at, at+1)
		h = hold(h.keel, length, h.out)
	}
}

// logSum returns the logarithm of the sum of what v has the logarithms of.
func logSum(v []float64) float64 {
	top, sum := slices.Max(v), 0.0
	for _, x := range v {
		sum += math.Exp(x - top)
	}
	return top + math.Log(sum)
}
