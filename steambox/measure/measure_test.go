package measure_test

import (
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"withy/steambox/measure"
)

// said is a quantity as both kinds of people read it.
type said struct {
	C, K, MM, Litres float64
	Decimals         int
	Metric, US       string
}

// typedLength is what somebody types; MM is nil where it is refused.
type typedLength struct {
	Text  string
	Units measure.Units
	MM    *float64
}

// cases are those that the page's own writing and reading is tested on too. Their
// factors are those of NIST Special Publication 811, appendix B.8, and of NIST
// Handbook 44, appendix C.
type cases struct {
	Temperature, Difference, Length, Volume []said
	Parse                                   []typedLength
}

func readCases(t testing.TB) (c cases) {
	t.Helper()
	text, err := os.ReadFile("../../testdata/measures.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &c); err != nil {
		t.Fatal(err)
	}
	if min(len(c.Temperature), len(c.Difference), len(c.Length), len(c.Volume), len(c.Parse)) == 0 {
		t.Fatal("a list of cases is empty")
	}
	return c
}

func TestSaid(t *testing.T) {
	c := readCases(t)
	for what, list := range map[string]struct {
		cases []said
		says  func(u measure.Units, s said) string
	}{
		"temperature": {c.Temperature, func(u measure.Units, s said) string { return u.Temperature(s.C, s.Decimals) }},
		"difference":  {c.Difference, func(u measure.Units, s said) string { return u.Difference(s.K, s.Decimals) }},
		"length":      {c.Length, func(u measure.Units, s said) string { return u.Length(s.MM/1000, 0) }},
		"volume":      {c.Volume, func(u measure.Units, s said) string { return u.Volume(s.Litres) }},
	} {
		for _, s := range list.cases {
			for u, want := range map[measure.Units]string{measure.Metric: s.Metric, "": s.Metric, measure.US: s.US} {
				if got := list.says(u, s); got != want {
					t.Errorf("%s %+v in %q: %s, want %s", what, s, u, got, want)
				}
			}
		}
	}
}

// 1 in is 25.4 mm and 1 ft 0.3048 m, exactly; a standard atmosphere is 101 325 Pa, by
// tables 29.92 inHg (NIST Special Publication 811, from memory).
func TestOtherWays(t *testing.T) {
	us, metric := measure.US, measure.Metric
	for got, want := range map[string]string{
		us.Length(0.0015875, 1): "1/16 in", metric.Length(0.0065, 1): "6.5 mm",
		us.Section(0.0254, 0.00635): "1 × 1/4 in", metric.Section(0.025, 0.0065): "25 × 6.5 mm",
		us.Side(0.0254): "1 in", metric.Side(0.025): "25 mm",
		us.Beside(0.0254): "25 mm", metric.Beside(1.095): "43 1/8 in", metric.Beside(0.3): "11 13/16 in", metric.Beside(0.02539): "1 in",
		us.Stock(30.48): "100.0 ft", metric.Stock(18.72): "18.7 m",
		us.Pressure(101325): "29.92 inHg", metric.Pressure(101325): "1013 hPa",
		us.Offset(-0.5, 2): "-0.90 °F", us.Offset(0.5, 2): "+0.90 °F", metric.Offset(0.25, 2): "+0.25 °C", metric.Offset(-0.001, 2): "+0.00 °C",
		us.HeatAt(): "212 °F", metric.HeatAt(): "100 °C",
	} {
		if got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
}

// What must not be told as less than it is goes up, but a whole number of steps stays.
func TestLengthUp(t *testing.T) {
	for m, want := range map[float64][2]string{
		0.0036: {"4 mm", "5/32 in"}, 0.004: {"4 mm", "11/64 in"}, 0.0041: {"5 mm", "11/64 in"},
		0.0015875: {"2 mm", "1/16 in"}, 0.003: {"3 mm", "1/8 in"}, 0.0254: {"26 mm", "1 in"}, 0: {"0 mm", "0 in"},
	} {
		if got := [2]string{measure.Metric.LengthUp(m), measure.US.LengthUp(m)}; got != want {
			t.Errorf("%g m: %q, want %q", m, got, want)
		}
	}
}

// A tie goes to the even digit (NIST Special Publication 811, B.7.1); 0.25 and 0.75 are
// ties in binary too.
func TestTies(t *testing.T) {
	for k, want := range map[float64]string{0.25: "0.2 °C", 0.75: "0.8 °C", -0.25: "-0.2 °C"} {
		if got := measure.Metric.Difference(k, 1); got != want {
			t.Errorf("%g: %s, want %s", k, got, want)
		}
	}
}

// The nearest 64th is told, and past 63 1/2 of them the next inch.
func TestNearest64th(t *testing.T) {
	for parts, want := range map[float64]string{
		0.49: "under 1/64 in", 0.51: "1/64 in", 1.49: "1/64 in", 1.51: "1/32 in", 63.49: "63/64 in", 63.51: "1 in", 127.6: "2 in", -63.51: "-1 in",
	} {
		if got := measure.US.Length(parts/64*0.0254, 0); got != want {
			t.Errorf("%g/64 in: %s, want %s", parts, got, want)
		}
	}
}

func TestParseLength(t *testing.T) {
	for _, c := range readCases(t).Parse {
		mm, err := measure.ParseLength(c.Text, c.Units)
		switch {
		case c.MM == nil && err == nil:
			t.Errorf("%q in %s: %g mm, want an error", c.Text, c.Units, mm)
		case c.MM != nil && (err != nil || math.Abs(mm-*c.MM) > 1e-9):
			t.Errorf("%q in %s: %g mm, %v; want %g", c.Text, c.Units, mm, err, *c.MM)
		}
	}
}

// Whoever typed it must see what to type instead.
func TestParseLengthSaysWhatIsWrong(t *testing.T) {
	for text, says := range map[string]string{
		"": "such as 37 5/16", "1,095": "decimal point", "37 5/17": "16ths, 32nds or 64ths", "37 17/16": "below 16", "37.5 1/2": "not both",
		"37 yd": "mm, cm, m, in or ft", "3' 14\"": "less than 12", "5/16 mm": "goes with inches", "37 5": `"5" is too much`, "2000 m": "1000 m",
	} {
		if _, err := measure.ParseLength(text, measure.US); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v, want %q in it", text, err, says)
		}
	}
}

// What is taken is a length in range, and what is told of it reads back as the same to
// half a 64th of an inch.
func FuzzParseLength(f *testing.F) {
	for _, c := range readCases(f).Parse {
		f.Add(c.Text, c.Units == measure.US)
	}
	f.Fuzz(func(t *testing.T, text string, us bool) {
		units := measure.Metric
		if us {
			units = measure.US
		}
		mm, err := measure.ParseLength(text, units)
		if err != nil {
			return
		}
		if !(math.Abs(mm) <= measure.LongestMM) {
			t.Fatalf("%q: %g mm", text, mm)
		}
		said := strings.TrimPrefix(measure.US.Length(mm/1000, 0), "under ")
		again, err := measure.ParseLength(said, units)
		if err != nil || math.Abs(math.Abs(again)-math.Abs(mm)) > 25.4/64 {
			t.Fatalf("%q: %g mm, said %q, read %g mm, %v", text, mm, said, again, err)
		}
	})
}
