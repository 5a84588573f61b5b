package beside_test

import (
	"bufio"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// curve is what something costs by how much there is of something else.
type curve struct {
	what, of, unit string
	x, y           []float64
}

func (c *curve) add(x, y float64) { c.x, c.y = append(c.x, x), append(c.y, y) }

// exponent is the slope of a straight line through the logarithms, by least squares, from
// the point with that index on: 0 is flat, 1 is proportional, 2 is square.
func (c *curve) exponent(from int) float64 {
	var n, sx, sy, sxx, sxy float64
	for i := from; i < len(c.x); i++ {
		x, y := math.Log(c.x[i]), math.Log(c.y[i])
		n, sx, sy, sxx, sxy = n+1, sx+x, sy+y, sxx+x*x, sxy+x*y
	}
	return (n*sxy - sx*sy) / (n*sxx - sx*sx)
}

// line is the straight line base + slope × x with the least sum of squares of relative
// deviations.
func (c *curve) line() (base, slope float64) {
	var w, wx, wy, wxx, wxy float64
	for i, x := range c.x {
		k := 1 / (c.y[i] * c.y[i])
		w, wx, wy, wxx, wxy = w+k, wx+k*x, wy+k*c.y[i], wxx+k*x*x, wxy+k*x*c.y[i]
	}
	slope = (w*wxy - wx*wy) / (w*wxx - wx*wx)
	return (wy - slope*wx) / w, slope
}

// What counts as flat and as linear, with room for what a busy machine adds.
const (
	flatBelow   = 0.1 // exponent of all
	linearBelow = 1.2 // exponent of the upper half
	bentBelow   = 1.2 // the last point over the line of all
)

// says is what a curve is. What grows is hidden at first by a share that doesn't, so it is
// judged by the upper half, and by whether the last point lies above the line of all.
func (c *curve) says() string {
	base, slope := c.line()
	last := len(c.x) - 1
	upper, over := c.exponent(len(c.x)/2), c.y[last]/(base+slope*c.x[last])
	switch {
	case math.IsNaN(upper):
		return "not measured"
	case upper > linearBelow, upper > flatBelow && over > bentBelow:
		return fmt.Sprintf("**steeper than linear**: at last %.2f times what a line of %.3g and %.2g for each %s gives", over, base, slope, c.of)
	case math.Abs(slope*c.x[last]) < 0.01*base:
		return fmt.Sprintf("flat: %.3g", base)
	case math.Abs(c.exponent(0)) < flatBelow && upper < 3*flatBelow:
		return fmt.Sprintf("flat: %.3g and %.2g for each %s", base, slope, c.of)
	case upper < flatBelow:
		return fmt.Sprintf("flat from %g on", c.x[len(c.x)/2])
	}
	return fmt.Sprintf("linear: %.3g and %.2g for each %s", base, slope, c.of)
}

// curves is the table of some.
func curves(all ...curve) string {
	var b strings.Builder
	b.WriteString("| cost | by | is | exponent: all, upper half | |\n| --- | --- | --- | --- | --- |\n")
	for _, c := range all {
		fmt.Fprintf(&b, "| %s, %s | %s %s | %s | %.2f, %.2f | %s |\n", c.what, c.unit, c.of, list(c.x), list(c.y), c.exponent(0), c.exponent(len(c.x)/2), c.says())
	}
	return b.String()
}

func list(numbers []float64) string {
	out := make([]string, len(numbers))
	for i, x := range numbers {
		out[i] = strconv.FormatFloat(x, 'g', 3, 64)
		if x >= 100 {
			out[i] = strconv.FormatFloat(x, 'f', 0, 64)
		}
	}
	return strings.Join(out, ", ")
}

// benchmarks reads what go test prints of benchmarks called Benchmark<Of>/<x>: by Of and by
// unit a curve. Of one that was run several times it takes the least.
func benchmarks(text string) map[string]map[string]*curve {
	all := map[string]map[string]*curve{}
	for lines := bufio.NewScanner(strings.NewReader(text)); lines.Scan(); {
		fields := strings.Fields(lines.Text())
		if len(fields) < 4 || !strings.HasPrefix(fields[0], "Benchmark") {
			continue
		}
		of, size, found := strings.Cut(strings.TrimPrefix(fields[0], "Benchmark"), "/")
		size, _, _ = strings.Cut(size, "-") // and the number of processors
		x, err := strconv.ParseFloat(size, 64)
		if !found || err != nil {
			continue
		}
		if all[of] == nil {
			all[of] = map[string]*curve{}
		}
		for i := 2; i+1 < len(fields); i += 2 {
			y, err := strconv.ParseFloat(fields[i], 64)
			if err != nil {
				continue
			}
			c := all[of][fields[i+1]]
			if c == nil {
				c = &curve{}
				all[of][fields[i+1]] = c
			}
			if n := len(c.x); n > 0 && c.x[n-1] == x {
				c.y[n-1] = min(c.y[n-1], y)
			} else {
				c.add(x, y)
			}
		}
	}
	return all
}

// lifted are the limits that a curve goes beyond: what a build without them has in their place.
var lifted = []struct{ file, from, to string }{
	{"steambox/profile/profile.go", "const MaxProbes = 8\n", "const MaxProbes = 64\n"},
	{"steambox/box.go", "const MaxSlots = 26\n", "const MaxSlots = 64\n"},
}

// lift writes those files anew, without the limits, and returns what tells go build of them.
func lift(t *testing.T) (overlay string) {
	t.Helper()
	dir, replace := t.TempDir(), map[string]string{}
	for i, l := range lifted {
		file, err := filepath.Abs(filepath.Join("..", "..", l.file))
		if err != nil {
			t.Fatal(err)
		}
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Count(string(text), l.from) != 1 {
			t.Fatalf("%s: no %q to be lifted", l.file, l.from)
		}
		replace[file] = filepath.Join(dir, fmt.Sprint(i, ".go"))
		if err := os.WriteFile(replace[file], []byte(strings.Replace(string(text), l.from, l.to, 1)), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	text, err := json.Marshal(map[string]any{"Replace": replace})
	overlay = filepath.Join(dir, "overlay.json")
	if err == nil {
		err = os.WriteFile(overlay, text, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	return overlay
}

// TestCurves prints what Withy costs by probes, slots and hours of a session, from the
// benchmarks of its loop. WITHY_HOURS is how long the longest session is; else only those are
// made sure of that can be without running them.
func TestCurves(t *testing.T) {
	overlay := lift(t)
	if os.Getenv("WITHY_HOURS") == "" {
		t.Skip("takes minutes; WITHY_HOURS=1000. That the limits can be lifted was tried")
	}
	text := bench(t, overlay, "^Benchmark(Probes|Slots)$", "2000x", "3") + bench(t, overlay, "^BenchmarkSession$", "9x", "1")
	all := benchmarks(text)
	var out []curve
	for _, want := range []struct {
		of, name, unit, what, in string
		scale                    float64
	}{
		{"Probes", "probe", "cpu-ns-sweep", "a second in the loop, CPU", "µs", 1e-3},
		{"Probes", "probe", "cpu-ns-scrape", "a scrape, CPU", "µs", 1e-3},
		{"Probes", "probe", "B-sample", "a sample on record", "bytes", 1},
		{"Slots", "slot", "cpu-ns-sweep", "a second in the loop, CPU", "µs", 1e-3},
		{"Slots", "slot", "cpu-ns-scrape", "a scrape, CPU", "µs", 1e-3},
		{"Slots", "slot", "B-sample", "a sample on record", "bytes", 1},
		{"Session", "hour", "ns/op", "a start in the middle of it", "ms", 1e-6},
		{"Session", "hour", "B-held", "memory held after that", "KiB", 1. / 1024},
		{"Session", "hour", "B-file", "the record", "KiB", 1. / 1024},
		{"Session", "hour", "cpu-ns-report", "its report, all folded again, CPU", "ms", 1e-6},
		{"Session", "hour", "B-report", "the report's page", "KiB", 1. / 1024},
	} {
		c := all[want.of][want.unit]
		if c == nil || len(c.x) < 2 {
			t.Fatalf("no %s of %s in\n%s", want.unit, want.of, text)
		}
		c.what, c.of, c.unit = want.what, want.name, want.in
		for i := range c.y {
			c.y[i] *= want.scale
		}
		out = append(out, *c)
	}
	write(t, curves(out...))
}

func bench(t *testing.T, overlay, which, times, count string) string {
	t.Helper()
	cmd := exec.Command("go", "test", "-timeout", "0", "-overlay", overlay, "-run", "^$", "-bench", which, "-benchtime", times, "-count", count, "withy/cmd/withy/internal/daemon")
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	t.Logf("%s", out)
	return string(out)
}

// Curves whose exponent and line are known by hand.
func TestCurve(t *testing.T) {
	of := func(f func(x float64) float64) *curve {
		c := &curve{of: "thing"}
		for x := 1.; x <= 64; x *= 2 {
			c.add(x, f(x))
		}
		return c
	}
	for _, c := range []struct {
		curve                 *curve
		exponent, base, slope float64 // NaN: not known by hand
		says                  string
	}{
		{of(func(float64) float64 { return 5 }), 0, 5, 0, "flat: 5"},
		{of(func(x float64) float64 { return 3 * x }), 1, 0, 3, "linear: "},
		{of(func(x float64) float64 { return 40 + 9*x }), math.NaN(), 40, 9, "linear: 40 and 9 for each thing"},
		{of(func(x float64) float64 { return x * x }), 2, math.NaN(), math.NaN(), "**steeper than linear**"},
		{of(func(x float64) float64 { return 1000 + x*x }), math.NaN(), math.NaN(), math.NaN(), "**steeper than linear**"},
		{of(func(x float64) float64 { return min(x, 4) }), math.NaN(), math.NaN(), math.NaN(), "flat from 8 on"},
		{of(math.Sqrt), 0.5, math.NaN(), math.NaN(), "linear"},
		{of(func(float64) float64 { return 0 }), math.NaN(), math.NaN(), math.NaN(), "not measured"},
	} {
		base, slope := c.curve.line()
		for _, is := range [][2]float64{{c.curve.exponent(0), c.exponent}, {base, c.base}, {slope, c.slope}} {
			if !math.IsNaN(is[1]) && math.Abs(is[0]-is[1]) > 1e-9 {
				t.Errorf("%v: %g, want %g", c.curve.y, is[0], is[1])
			}
		}
		if !strings.HasPrefix(c.curve.says(), c.says) {
			t.Errorf("%v: %s, want %s", c.curve.y, c.curve.says(), c.says)
		}
	}
}

// What go test printed once, with a benchmark that was run twice and lines that are none.
func TestBenchmarks(t *testing.T) {
	const text = `goos: linux
pkg: withy/cmd/withy/internal/daemon
BenchmarkProbes/1-2 	    2000	    171798 ns/op	         5.600 B-sample	    409028 cpu-ns-scrape
BenchmarkProbes/1-2 	    2000	     66708 ns/op	         5.700 B-sample	    505051 cpu-ns-scrape
BenchmarkProbes/64-2         	    2000	    341282 ns/op	       137.9 B-sample	    522980 cpu-ns-scrape
BenchmarkProbes/128-2         	--- SKIP: BenchmarkProbes/128-2
BenchmarkFold/4_thicknesses-2	    1	    5 ns/op
BenchmarkSession/1000-2      	       5	  15793839 ns/op	    153600 B-file
PASS
ok  	withy/cmd/withy/internal/daemon	37.166s
`
	all := benchmarks(text)
	for _, want := range []struct {
		of, unit, x, y string
	}{
		{"Probes", "ns/op", "1, 64", "66708, 341282"},
		{"Probes", "B-sample", "1, 64", "5.6, 138"},
		{"Probes", "cpu-ns-scrape", "1, 64", "409028, 522980"},
		{"Session", "B-file", "1000", "153600"},
	} {
		c := all[want.of][want.unit]
		if c == nil || list(c.x) != want.x || list(c.y) != want.y {
			t.Errorf("%s, %s: %+v", want.of, want.unit, c)
		}
	}
	if len(all) != 2 {
		t.Errorf("%d kinds", len(all))
	}
}
