package ribs

import (
	"cmp"
	"math"
	"slices"
)

// Spare is one blank beyond those that the table needs.
type Spare struct {
	Section
	LengthM float64
	Covers  []string // labels of the ribs that it can replace, the longest first
}

// UsualShare is how many spares are cut for each rib; first-timers and poor stock
// take 0.50 to 0.75 (common practice; a published count is 42 blanks for 24 ribs).
const UsualShare = 0.30

// likelihood is how often a rib breaks beside one that bends easily (common practice,
// no source).
var likelihood = map[Bend]float64{Easy: 1, "": 2, Middling: 2, Hard: 3}

// secondForHard is the number of spares from which one is kept as the second for the
// hard bends.
const secondForHard = 3

// MostShare is the most spares that are asked for each rib: two.
const MostShare = 2

// Spares returns spares for share of the ribs, 0 to MostShare, rounded up and at least
// one for each section of a stick, the longest first. Beyond one for each rib a second
// set is begun. Every rib can be replaced by one of
// them. The lengths are those at which least is cut off when the likely breakers are
// replaced by the next longer spare; where there are three or more, every hard bend is
// covered twice. The table must have passed Check.
func Spares(table []Rib, share float64) []Spare {
	var spares []Spare
	for _, group := range bySection(table) {
		section := sectionOf(table, group)
		for _, lengthM := range setsOf(table, group, max(1, int(math.Ceil(share*float64(len(group))-1e-9)))) {
			s := Spare{Section: section, LengthM: lengthM}
			for _, i := range group {
				if table[i].LengthM <= lengthM {
					s.Covers = append(s.Covers, table[i].Label)
				}
			}
			spares = append(spares, s)
		}
	}
	return spares
}

// setsOf returns n lengths for a group, longest first: where there are more than ribs,
// one for each and the rest as if there were no others.
func setsOf(table []Rib, group []int, n int) []float64 {
	var lengths []float64
	for ; n > 0; n -= len(group) {
		lengths = append(lengths, spareLengths(table, group, min(n, len(group)))...)
	}
	slices.SortFunc(lengths, func(a, b float64) int { return cmp.Compare(b, a) })
	return lengths
}

// spareLengths returns n lengths for a group, no more than it has ribs, both longest
// first.
func spareLengths(table []Rib, group []int, n int) []float64 {
	hard := slices.IndexFunc(group, func(i int) bool { return table[i].Bend == Hard })
	if hard < 0 || n < secondForHard {
		return leastWaste(table, group, n)
	}
	lengths := append(leastWaste(table, group, n-1), table[group[hard]].LengthM)
	slices.SortFunc(lengths, func(a, b float64) int { return cmp.Compare(b, a) })
	return lengths
}

// leastWaste parts a group, longest first, into n runs, each with a spare as long as
// its first rib, so that the least is cut off: by trying every last run for every
// number of runs.
func leastWaste(table []Rib, group []int, n int) []float64 {
	w := newWaste(table, group)
	least := make([]float64, len(group)+1) // of the first so many ribs
	for end := 1; end < len(least); end++ {
		least[end] = w.of(0, end)
	}
	begins := make([][]int, n) // of the last run, by runs less one and ribs
	begins[0] = make([]int, len(least))
	for runs := 1; runs < n; runs++ {
		begins[runs] = make([]int, len(least))
		for end := len(group); end > runs; end-- {
			least[end] = math.Inf(1)
			for begin := runs; begin < end; begin++ {
				if all := least[begin] + w.of(begin, end); all < least[end] {
					least[end], begins[runs][end] = all, begin
				}
			}
		}
	}
	lengths := make([]float64, n)
	for runs, end := n-1, len(group); runs >= 0; runs-- {
		end = begins[runs][end]
		lengths[runs] = w.length[end]
	}
	return lengths
}

// waste knows what is cut off, weighted by how likely each rib breaks, when a run of
// ribs is replaced by spares as long as the first of them.
type waste struct {
	length       []float64
	often, metre []float64 // running sums of likelihood, and of likelihood × length
}

func newWaste(table []Rib, group []int) waste {
	w := waste{often: []float64{0}, metre: []float64{0}}
	for n, i := range group {
		p, length := likelihood[table[i].Bend], table[i].LengthM
		w.length = append(w.length, length)
		w.often = append(w.often, w.often[n]+p)
		w.metre = append(w.metre, w.metre[n]+p*length)
	}
	return w
}

func (w *waste) of(begin, end int) float64 {
	return w.length[begin]*(w.often[end]-w.often[begin]) - (w.metre[end] - w.metre[begin])
}
