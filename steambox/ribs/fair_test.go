package ribs_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"withy/steambox/ribs"
)

// parabola returns n fair ribs of 600 to 1000 mm, without any error of the saw.
func parabola(n int) []float64 {
	mm := make([]float64, n)
	for i := range mm {
		x := 2*float64(i)/float64(n-1) - 1
		mm[i] = 1000 - 400*x*x
	}
	return mm
}

// anyLengths returns n ribs that have nothing to do with one another.
func anyLengths(n int) []float64 {
	r, mm := rand.New(rand.NewPCG(1, 1)), make([]float64, n)
	for i := range mm {
		mm[i] = 600 + 400*r.Float64()
	}
	return mm
}

// evenly stands ribs along the keel, gap metres apart.
func evenly(table []ribs.Rib, gap float64) []ribs.Rib {
	for i := range table {
		table[i].StationM, table[i].HasStation = gap*float64(i), true
	}
	return table
}

func judge(table []ribs.Rib) ribs.Fairness { return ribs.Judge(table, ribs.DefaultOptions()) }

func oddOnes(f ribs.Fairness) []int {
	var at []int
	for _, o := range f.Odd {
		at = append(at, o.Rib)
	}
	return at
}

func TestVerdicts(t *testing.T) {
	alike := make([]float64, 24)
	for i := range alike {
		alike[i] = 950
	}
	off := func(mm []float64, by map[int]float64) []ribs.Rib {
		mm = slices.Clone(mm)
		for i, d := range by {
			mm[i] += d
		}
		return lettered(mm...)
	}
	for _, row := range []struct {
		name  string
		table []ribs.Rib
		want  ribs.Verdict
		odd   []int
	}{
		{"none", nil, ribs.TooShort, nil},
		{"one", lettered(900), ribs.TooShort, nil},
		{"two", lettered(900, 800), ribs.TooShort, nil},
		{"nine", off(parabola(9), map[int]float64{4: 50}), ribs.TooShort, nil},
		{"ten", off(parabola(10), nil), ribs.Fair, nil},
		{"planked boat: all of one length", lettered(alike...), ribs.Fair, nil},
		{"all of one length but one", off(alike, map[int]float64{7: 6}), ribs.Unfair, []int{7}},
		{"long in the middle", off(parabola(24), map[int]float64{12: 6}), ribs.Unfair, []int{12}},
		{"short beside the end", off(parabola(24), map[int]float64{1: -6}), ribs.Unfair, []int{1}},
		{"at the end", off(parabola(24), map[int]float64{23: 6}), ribs.Unfair, []int{23}},
		{"two beside each other", off(parabola(24), map[int]float64{8: 6, 9: 6}), ribs.Unfair, []int{8, 9}},
		{"two round a right one, which looks short", off(parabola(24), map[int]float64{8: 6, 10: 6}), ribs.Unfair, []int{8, 10}},
		{"two that pull against each other", off(parabola(24), map[int]float64{8: 6, 9: -6}), ribs.Unfair, []int{8, 9}},
		{"far apart", off(parabola(24), map[int]float64{3: 6, 19: -6}), ribs.Unfair, []int{3, 19}},
		{"within the tolerance", off(parabola(24), map[int]float64{12: 2.5}), ribs.Fair, nil},
		{"no curve at all", lettered(anyLengths(16)...), ribs.TooRough, nil},
		{"very wrong", off(parabola(24), map[int]float64{12: 400}), ribs.Unfair, []int{12}},
	} {
		f := judge(row.table)
		if f.Verdict != row.want || !slices.Equal(oddOnes(f), row.odd) {
			t.Errorf("%s: %s %v, want %s %v", row.name, f.Verdict, oddOnes(f), row.want, row.odd)
		}
	}
}

// The parabola is known, so is what should be suggested. The standard error is at
// least the saw's and at a place with ribs on both sides not twice that (a global
// cubic's own spread there is a quarter of the saw's: formulas of regression).
func TestSuggestion(t *testing.T) {
	mm := parabola(24)
	table := lettered(mm...)
	table[9].LengthM += 0.006
	f := judge(table)
	if len(f.Odd) != 1 {
		t.Fatalf("%+v", f.Odd)
	}
	o := f.Odd[0]
	if math.Abs(o.SuggestedM-mm[9]/1000) > 0.0001 || math.Abs(o.OffM-0.006) > 0.0001 || o.Label != "J" || o.IsM != table[9].LengthM {
		t.Errorf("%+v, should be %g", o, mm[9]/1000)
	}
	if o.StdErrM < 0.0005 || o.StdErrM > 0.001 {
		t.Errorf("standard error %g m", o.StdErrM)
	}
	for i, c := range f.CurveM {
		if math.Abs(c-mm[i]/1000) > 0.0002 {
			t.Errorf("curve at rib %d: %g, should be %g", i, c, mm[i]/1000)
		}
	}
}

func TestMeant(t *testing.T) {
	mm := parabola(24)
	table := lettered(mm...)
	table[9].LengthM, table[9].Meant = 1.2, true
	f := judge(table)
	if f.Verdict != ribs.Fair {
		t.Errorf("%s %+v", f.Verdict, f.Odd)
	}
	if math.Abs(f.CurveM[9]-mm[9]/1000) > 0.0002 {
		t.Errorf("the curve follows the rib that is meant: %g, should be %g", f.CurveM[9], mm[9]/1000)
	}
	short := lettered(parabola(12)...)
	for i := range 3 {
		short[4*i].Meant = true
	}
	if f := judge(short); f.Verdict != ribs.TooShort {
		t.Errorf("nine that aren't meant: %s", f.Verdict)
	}
}

// Ribs at one station, or nearly, are witnesses to the same place.
func TestSharedStation(t *testing.T) {
	for _, row := range []struct {
		name  string
		apart float64   // m, with 0.2 m between the others
		off   []float64 // of the second and further ribs there, mm
		want  []int
	}{
		{"both right", 0, []float64{0}, nil},
		{"one long", 0, []float64{6}, []int{8}},
		{"three", 0, []float64{0, -6}, []int{9}},
		{"hardly apart", 0.0005, []float64{6}, []int{8}},
		{"hardly apart, three", 0.0005, []float64{0, -6}, []int{9}},
		{"a little apart", 0.002, []float64{0}, nil},
		{"a little apart, one long", 0.002, []float64{6}, []int{8}},
		{"a little apart, three", 0.002, []float64{0, -6}, []int{9}},
	} {
		mm := parabola(24)
		table := evenly(lettered(mm...), 0.2)
		for i, off := range row.off {
			extra := table[7]
			extra.StationM += float64(i+1) * row.apart
			extra.LengthM = (mm[7] + off) / 1000
			table = slices.Insert(table, 8+i, extra)
		}
		if got := oddOnes(judge(table)); !slices.Equal(got, row.want) {
			t.Errorf("%s: %v, want %v", row.name, got, row.want)
		}
	}
	heap := evenly(lettered(parabola(24)...), 0)
	if f := judge(heap); f.Verdict != ribs.TooShort {
		t.Errorf("all at one station: %s", f.Verdict)
	}
}

// A hull is fair over its stations, not over the count of its ribs: here they stand
// closer and closer, and one place is left out.
func TestUnevenStations(t *testing.T) {
	var table []ribs.Rib
	r := rand.New(rand.NewPCG(4, 4))
	for i := range 26 {
		x := 1 - math.Pow(1-float64(i)/25, 1.4)
		if i == 11 {
			continue
		}
		mm := 1000 - 400*math.Pow(2*x-1, 2) + 0.5*r.NormFloat64()
		table = append(table, ribs.Rib{Label: string(rune('a' + i)), LengthM: mm / 1000, StationM: 4 * x, HasStation: true})
	}
	if f := judge(table); f.Verdict != ribs.Fair {
		t.Errorf("fair, but %+v", f.Odd)
	}
	table[15].LengthM -= 0.006
	if got := oddOnes(judge(table)); !slices.Equal(got, []int{15}) {
		t.Errorf("%v, want 15", got)
	}
}

// The variance of rounding is the step squared over twelve (any textbook of
// measurement).
func TestRuleMarks(t *testing.T) {
	for _, row := range []struct {
		name   string
		markMM float64 // what lengths are read to
		noteMM float64 // what they are then written in
		wantMM float64
	}{
		{"not rounded", 0, 0, 0},
		{"millimetres", 1, 0, 1},
		{"five millimetres", 5, 0, 5},
		{"sixteenths, exactly", 25.4 / 16, 0, 25.4 / 16},
		{"sixteenths, written in tenths of a millimetre", 25.4 / 16, 0.1, 25.4 / 16},
	} {
		mm := parabola(24)
		for i := range mm {
			mm[i] += math.Sqrt(float64(i)) // off any mark
			for _, mark := range []float64{row.markMM, row.noteMM} {
				if mark > 0 {
					mm[i] = mark * math.Round(mm[i]/mark)
				}
			}
		}
		got, want := judge(lettered(mm...)).SawM, math.Sqrt(0.25+row.wantMM*row.wantMM/12)/1000
		if math.Abs(got-want) > 1e-9 {
			t.Errorf("%s: %g m, want %g", row.name, got, want)
		}
	}
}

// anyTable is a hull with one rib off, or none, and not on any rule's marks.
func anyTable(t *rapid.T) []ribs.Rib {
	n := rapid.IntRange(10, 30).Draw(t, "ribs")
	r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
	mm := rapid.SampledFrom(hullCurves).Draw(t, "curve").lengths(n, r)
	mm[r.IntN(n)] += rapid.Float64Range(-12, 12).Draw(t, "off")
	return evenly(sawn(mm, 0, r), 0.2)
}

// same reports two judgements that agree, rib i of the one being rib at(i) of the
// other and every length longer by add(i).
func same(t *rapid.T, f, g ribs.Fairness, at func(int) int, add func(int) float64) {
	t.Helper()
	if f.Verdict != g.Verdict || len(f.Odd) != len(g.Odd) {
		t.Fatalf("%s %+v, then %s %+v", f.Verdict, f.Odd, g.Verdict, g.Odd)
	}
	for _, o := range f.Odd {
		k := slices.IndexFunc(g.Odd, func(p ribs.Odd) bool { return p.Rib == at(o.Rib) })
		if k < 0 || math.Abs(g.Odd[k].OffM-o.OffM) > 1e-7 || math.Abs(g.Odd[k].StdErrM-o.StdErrM) > 1e-7 {
			t.Fatalf("%+v, then %+v", o, g.Odd)
		}
	}
	for i := range f.CurveM {
		if math.Abs(g.CurveM[at(i)]-f.CurveM[i]-add(i)) > 1e-7 {
			t.Fatalf("curve at %d: %g, then %g", i, f.CurveM[i], g.CurveM[at(i)])
		}
	}
}

func asIs(i int) int      { return i }
func nothing(int) float64 { return 0 }
func changed(table []ribs.Rib, by func(i int, r *ribs.Rib)) []ribs.Rib {
	table = slices.Clone(table)
	for i := range table {
		by(i, &table[i])
	}
	return table
}

// What a batten can't see: a shift and a slope of all lengths.
func TestSlopeChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := anyTable(t)
		shift, slope := rapid.Float64Range(-0.2, 2).Draw(t, "shift"), rapid.Float64Range(-0.01, 0.01).Draw(t, "slope")
		add := func(i int) float64 { return shift + slope*float64(i) }
		same(t, judge(table), judge(changed(table, func(i int, r *ribs.Rib) { r.LengthM += add(i) })), asIs, add)
	})
}

func TestEitherWayRound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := changed(anyTable(t), func(_ int, r *ribs.Rib) { r.HasStation = false })
		turned := slices.Clone(table)
		slices.Reverse(turned)
		same(t, judge(table), judge(turned), func(i int) int { return len(table) - 1 - i }, nothing)
	})
}

func TestAnyOrderOfRows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := anyTable(t)
		order := rapid.Permutation(upTo(len(table))).Draw(t, "order")
		mixed := make([]ribs.Rib, len(table))
		for i, to := range order {
			mixed[to] = table[i]
		}
		same(t, judge(table), judge(mixed), func(i int) int { return order[i] }, nothing)
	})
}

func upTo(n int) []int {
	all := make([]int, n)
	for i := range all {
		all[i] = i
	}
	return all
}

func TestScaleOfStationsChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := anyTable(t)
		scale, from := rapid.Float64Range(0.01, 10).Draw(t, "scale"), rapid.Float64Range(-5, 5).Draw(t, "from")
		moved := changed(table, func(_ int, r *ribs.Rib) { r.StationM = from + scale*r.StationM })
		same(t, judge(table), judge(moved), asIs, nothing)
		unsaid := changed(table, func(_ int, r *ribs.Rib) { r.HasStation = false })
		same(t, judge(table), judge(unsaid), asIs, nothing)
	})
}
