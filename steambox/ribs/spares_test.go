package ribs_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"withy/steambox/ribs"
)

// A published count: 42 blanks were cut for 24 ribs, three spares for four ribs.
func TestSpareCount(t *testing.T) {
	for _, row := range []struct {
		name  string
		ribs  int
		share float64
		want  int
	}{
		{"42 blanks for 24 ribs", 24, 0.75, 18},
		{"usual", 20, ribs.UsualShare, 6},
		{"rounded up", 24, ribs.UsualShare, 8},
		{"at least one", 24, 0, 1},
		{"one rib", 1, 0.3, 1},
		{"no ribs", 0, 0.3, 0},
		{"one each", 7, 1, 7},
		{"a second set begun", 8, 1.25, 10},
		{"two each", 7, ribs.MostShare, 14},
	} {
		if got := len(ribs.Spares(lettered(make([]float64, row.ribs)...), row.share)); got != row.want {
			t.Errorf("%s: %d spares, want %d", row.name, got, row.want)
		}
	}
}

func TestSparesByHand(t *testing.T) {
	table := lettered(1000, 990, 985, 700, 695, 690)
	spares := ribs.Spares(table, 0.3)
	if len(spares) != 2 || spares[0].LengthM != 1 || spares[1].LengthM != 0.7 {
		t.Fatalf("%+v, want 1000 and 700", spares)
	}
	if !slices.Equal(spares[0].Covers, []string{"A", "B", "C", "D", "E", "F"}) || !slices.Equal(spares[1].Covers, []string{"D", "E", "F"}) {
		t.Errorf("%+v", spares)
	}

	var lengths []float64
	for _, s := range ribs.Spares(table, 4.0/3) {
		lengths = append(lengths, s.LengthM)
	}
	if want := []float64{1, 1, 0.99, 0.985, 0.7, 0.7, 0.695, 0.69}; !slices.Equal(lengths, want) {
		t.Errorf("%v, want %v: one each, and two more", lengths, want)
	}

	table[1].Bend = ribs.Hard // 990: second of two spares is kept for it from three on
	spares = ribs.Spares(table, 0.5)
	if len(spares) != 3 || spares[0].LengthM != 1 || spares[1].LengthM != 0.99 || spares[2].LengthM != 0.7 {
		t.Errorf("%+v, want 1000, 990, 700", spares)
	}
}

// A spare of one stick or section can't stand in for a rib of another.
func TestSparesBySection(t *testing.T) {
	table := lettered(1000, 900, 800, 700)
	for i := range table {
		table[i].Stick, table[i].ThicknessM, table[i].WidthM = "oak", 0.0065, 0.025
	}
	table[1].Stick = "ash"
	table[2].ThicknessM = 0.008
	table[3].WidthM = 0.030
	spares := ribs.Spares(table, 0.3)
	want := []ribs.Spare{
		{ribs.Section{Stick: "ash", WidthM: 0.025, ThicknessM: 0.0065}, 0.9, []string{"B"}},
		{ribs.Section{Stick: "oak", WidthM: 0.025, ThicknessM: 0.008}, 0.8, []string{"C"}},
		{ribs.Section{Stick: "oak", WidthM: 0.030, ThicknessM: 0.0065}, 0.7, []string{"D"}},
		{ribs.Section{Stick: "oak", WidthM: 0.025, ThicknessM: 0.0065}, 1.0, []string{"A"}},
	}
	if len(spares) != len(want) {
		t.Fatalf("%+v", spares)
	}
	for i, s := range spares {
		if s.Section != want[i].Section || s.LengthM != want[i].LengthM || !slices.Equal(s.Covers, want[i].Covers) {
			t.Errorf("%d: %+v, want %+v", i, s, want[i])
		}
	}
}

// anyStock is ribs of two sticks and all difficulties.
func anyStock(t *rapid.T, most int) []ribs.Rib {
	n := rapid.IntRange(1, most).Draw(t, "ribs")
	table := lettered(make([]float64, n)...)
	for i := range table {
		table[i].LengthM = float64(rapid.IntRange(500, 1100).Draw(t, "mm")) / 1000
		table[i].Stick = rapid.SampledFrom([]string{"", "oak"}).Draw(t, "stick")
		table[i].Bend = rapid.SampledFrom([]ribs.Bend{"", ribs.Easy, ribs.Middling, ribs.Hard}).Draw(t, "bend")
	}
	return table
}

func TestEveryRibIsCovered(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := anyStock(t, 40)
		covers, of := map[string]int{}, map[string]int{}
		for _, s := range ribs.Spares(table, rapid.Float64Range(0, ribs.MostShare).Draw(t, "share")) {
			of[s.Stick]++
			for _, label := range s.Covers {
				r := table[slices.IndexFunc(table, func(r ribs.Rib) bool { return r.Label == label })]
				if r.LengthM > s.LengthM || r.Stick != s.Stick {
					t.Fatalf("%+v does not cover %+v", s, r)
				}
				covers[label]++
			}
		}
		for _, r := range table {
			if covers[r.Label] == 0 || r.Bend == ribs.Hard && of[r.Stick] >= 3 && covers[r.Label] < 2 {
				t.Fatalf("%+v is covered %d times by %d spares", r, covers[r.Label], of[r.Stick])
			}
		}
	})
}

// Against every choice of lengths there is.
func TestLeastIsCutOff(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := anyStock(t, 9)
		for i := range table {
			table[i].Stick = ""
			if table[i].Bend == ribs.Hard { // which ask for a second one
				table[i].Bend = ribs.Easy
			}
		}
		var lengths []float64
		for _, s := range ribs.Spares(table, rapid.Float64Range(0, 1).Draw(t, "share")) {
			lengths = append(lengths, s.LengthM)
		}
		least := math.Inf(1)
		for set := range 1 << len(table) {
			var some []float64
			for i, r := range table {
				if set>>i&1 == 1 {
					some = append(some, r.LengthM)
				}
			}
			if len(some) == len(lengths) {
				least = min(least, cutOff(table, some))
			}
		}
		if got := cutOff(table, lengths); got > least+1e-9 {
			t.Fatalf("%v cut off %g m, %g would do", lengths, got, least)
		}
	})
}

// cutOff is what is cut off when each rib is replaced by the next longer spare,
// those that bend easily counting half.
func cutOff(table []ribs.Rib, spares []float64) (sum float64) {
	for _, r := range table {
		over := math.Inf(1)
		for _, s := range spares {
			if s >= r.LengthM {
				over = min(over, s-r.LengthM)
			}
		}
		if r.Bend == ribs.Easy {
			over /= 2
		}
		sum += over
	}
	return sum
}

// Worked by hand.
func TestCutList(t *testing.T) {
	table := lettered(800, 950, 950.04, 800, 700)
	for i := range table {
		table[i].Stick, table[i].ThicknessM = "oak", 0.0064+0.0001*float64(i)
	}
	table[4].Stick = "ash"
	lots := ribs.CutList(table, ribs.Spares(table, 0.3), 0.025)
	if len(lots) != 2 {
		t.Fatalf("%+v", lots)
	}
	ash, oak := lots[0], lots[1]
	if ash.Stick != "ash" || ash.Count != 2 || len(ash.Blanks) != 1 || ash.Blanks[0].LengthM != 0.75 || ash.Blanks[0].Spares != 1 {
		t.Errorf("ash: %+v", ash)
	}
	if oak.Count != 6 || math.Abs(oak.TotalM-(3*1.0+3*0.85)) > 0.0005 || oak.ThicknessM != 0.0067 {
		t.Errorf("oak: %d blanks, %g m, %g thick", oak.Count, oak.TotalM, oak.ThicknessM)
	}
	long, short := oak.Blanks[0], oak.Blanks[len(oak.Blanks)-1]
	if long.LengthM != 1 || !slices.Equal(long.Ribs, []string{"B", "C"}) || long.Count() != 3 {
		t.Errorf("long: %+v", long)
	}
	if short.LengthM != 0.85 || !slices.Equal(short.Ribs, []string{"A", "D"}) {
		t.Errorf("short: %+v", short)
	}
	if ribs.CutList(nil, nil, 0) != nil {
		t.Error("blanks for no ribs")
	}
}

// Every rib and every spare is cut once, at its length.
func TestCutListIsWhole(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := anyStock(t, 30)
		spares := ribs.Spares(table, 0.3)
		total, want, count := 0.0, 0.0, 0
		for _, lot := range ribs.CutList(table, spares, 0) {
			total += lot.TotalM
			last := math.Inf(1)
			for _, b := range lot.Blanks {
				if b.LengthM >= last {
					t.Fatalf("%g m after %g m", b.LengthM, last)
				}
				last = b.LengthM
				count += b.Count()
			}
		}
		for _, r := range table {
			want += r.LengthM
		}
		for _, s := range spares {
			want += s.LengthM
		}
		if count != len(table)+len(spares) || math.Abs(total-want) > 1e-6 {
			t.Fatalf("%d blanks of %g m in all, want %d of %g", count, total, len(table)+len(spares), want)
		}
	})
}

// BenchmarkTable200 is all that a plan of 200 ribs asks of a table.
func BenchmarkTable200(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 2))
	table := sawn(shifted(hullCurves[2].lengths(200, r), r, 60, 61), 0, r)
	named := 0
	for b.Loop() {
		named = len(ribs.Judge(table, ribs.DefaultOptions()).Odd)
		ribs.CutList(table, ribs.Spares(table, ribs.UsualShare), 0)
	}
	b.ReportMetric(float64(named), "named")
}
