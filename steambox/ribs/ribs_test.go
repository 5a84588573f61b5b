package ribs_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"withy/steambox/ribs"
)

// labels returns the labels of the ribs at some indices, in that order.
func labels(table []ribs.Rib, at []int) string {
	var b strings.Builder
	for _, i := range at {
		b.WriteString(table[i].Label)
	}
	return b.String()
}

// lettered returns ribs A, B, C… of so many millimetres.
func lettered(mm ...float64) []ribs.Rib {
	table := make([]ribs.Rib, len(mm))
	for i, v := range mm {
		table[i] = ribs.Rib{Label: string(rune('A' + i)), LengthM: v / 1000}
	}
	return table
}

func TestCheckGathersAll(t *testing.T) {
	table := []ribs.Rib{
		{Label: "1", LengthM: 0.9, ThicknessM: 0.0065, WidthM: 0.025, StationM: 0.4, HasStation: true, Bend: ribs.Hard},
		{Label: "", LengthM: 0.9},
		{Label: "1", LengthM: -0.9},
		{Label: "4", LengthM: math.NaN(), ThicknessM: 6.5},
		{Label: "5", LengthM: 0.9, WidthM: -1, StationM: math.Inf(1), HasStation: true, Bend: "tight"},
	}
	err := ribs.Check(table)
	if err == nil {
		t.Fatal("accepted")
	}
	want := []string{
		"row 2: rib has no name",
		"row 3: rib 1 stands in row 1 already",
		"row 3: length_mm -900: 10 to 20000",
		"row 4: length_mm NaN: 10 to 20000",
		"row 4: thickness_mm 6500: 0.5 to 200",
		"row 5: width_mm -1000: 1 to 500",
		"row 5: station_mm +Inf: -100000 to 100000",
		`row 5: bend "tight": easy, middling or hard`,
		"station_mm: 2 of 5 ribs have one: all or none",
	}
	if got := strings.Split(err.Error(), "\n"); !slices.Equal(got, want) {
		t.Errorf("got\n%s\nwant\n%s", err, strings.Join(want, "\n"))
	}
	if err := ribs.Check(table[:1]); err != nil {
		t.Errorf("a good rib: %v", err)
	}
	if err := ribs.Check(nil); err != nil {
		t.Errorf("no ribs: %v", err)
	}
}

func TestBoatsMayDifferInStations(t *testing.T) {
	table := []ribs.Rib{
		{Label: "1", Boat: "Ann", LengthM: 0.9, StationM: 0.4, HasStation: true},
		{Label: "2", Boat: "Bill", LengthM: 0.8},
		{Label: "3", Boat: "Ann", LengthM: 0.9, StationM: 0.6, HasStation: true},
	}
	if err := ribs.Check(table); err != nil {
		t.Error(err)
	}
	boats := ribs.Boats(table)
	if len(boats) != 2 || len(boats[0]) != 2 || boats[0][1].Label != "3" || boats[1][0].Label != "2" {
		t.Errorf("%+v", boats)
	}
	table[2].HasStation = false
	if err := ribs.Check(table); err == nil || !strings.Contains(err.Error(), "1 of 2 ribs have one in boat Ann") {
		t.Errorf("%v", err)
	}
}

func TestOptionsCheck(t *testing.T) {
	if err := ribs.DefaultOptions().Check(); err != nil {
		t.Error(err)
	}
	err := ribs.Options{SawM: 0, ToleranceM: 3}.Check()
	if err == nil || err.Error() != "saw error 0 mm: 0.05 to 10\ntolerance 3000 mm: 0 to 100" {
		t.Errorf("%v", err)
	}
}

func TestMiddleFirst(t *testing.T) {
	stood := lettered(700, 800, 900, 800, 700)
	for i, m := range []float64{2, 1.6, 1, 0.3, 0} { // entered from the stern, uneven
		stood[i].StationM, stood[i].HasStation = m, true
	}
	for _, row := range []struct {
		name  string
		table []ribs.Rib
		want  string
	}{
		{"none", nil, ""},
		{"one", lettered(700), "A"},
		{"odd", lettered(700, 800, 900, 800, 700), "CBDAE"},
		{"even", lettered(700, 800, 800, 700), "BCAD"},
		{"by station", stood, "CBDEA"},
	} {
		if got := labels(row.table, ribs.MiddleFirst(row.table)); got != row.want {
			t.Errorf("%s: %s, want %s", row.name, got, row.want)
		}
	}
}

// The example in most textbooks, here in millimetres: of 1, 1, 2, 2, 4, 6 and 9
// the median is 2 and the median distance from it 1; 1.4826 times that is the
// robust standard deviation.
func TestOddThickness(t *testing.T) {
	table := lettered(900, 900, 900, 900, 900, 900, 900)
	for i, mm := range []float64{1, 9, 2, 2, 4, 6, 1} {
		table[i].ThicknessM = mm / 1000
	}
	odd := ribs.OddThickness(table)
	if len(odd) != 1 || odd[0].Label != "B" || odd[0].Rib != 1 {
		t.Fatalf("%+v", odd)
	}
	o := odd[0]
	for _, v := range []struct {
		what      string
		got, want float64
	}{{"is", o.IsM, 0.009}, {"suggested", o.SuggestedM, 0.002}, {"off", o.OffM, 0.007}, {"standard error", o.StdErrM, 0.0014826}} {
		if math.Abs(v.got-v.want) > 1e-9 {
			t.Errorf("%s %g m, want %g", v.what, v.got, v.want)
		}
	}
}

func TestOddThicknessByStick(t *testing.T) {
	// Millimetres of thickness, stick by stick; want is the labels named.
	for _, row := range []struct {
		name   string
		sticks []string
		mm     []float64
		meant  int // index, −1 none
		want   string
	}{
		{"alike but one", []string{"", "", "", "", ""}, []float64{6.4, 6.4, 6.9, 6.4, 6.4}, -1, "C"},
		{"within the tolerance", []string{"", "", "", "", ""}, []float64{6.4, 6.4, 6.69, 6.4, 6.4}, -1, ""},
		{"two sticks of two thicknesses", []string{"a", "b", "a", "b", "a", "b"}, []float64{6, 8, 6, 8, 6, 8}, -1, ""},
		{"thin in its own stick", []string{"a", "b", "a", "b", "a", "b"}, []float64{6, 8, 6, 6, 6, 8}, -1, "D"},
		{"two can't tell", []string{"", ""}, []float64{6, 8}, -1, ""},
		{"meant", []string{"", "", "", "", ""}, []float64{6.4, 6.4, 8, 6.4, 6.4}, 2, ""},
		{"one not measured", []string{"", "", "", "", ""}, []float64{6.4, 0, 8, 6.4, 6.4}, -1, "C"},
	} {
		table := lettered(make([]float64, len(row.mm))...)
		for i := range table {
			table[i].Stick, table[i].ThicknessM, table[i].Meant = row.sticks[i], row.mm[i]/1000, i == row.meant
		}
		got := ""
		for _, o := range ribs.OddThickness(table) {
			got += o.Label
		}
		if got != row.want {
			t.Errorf("%s: %q, want %q", row.name, got, row.want)
		}
	}
}
