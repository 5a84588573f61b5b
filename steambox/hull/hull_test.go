package hull_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"withy/steambox/hull"
	"withy/steambox/soak"
)

// failer is what a test and a property have in common.
type failer interface {
	Helper()
	Fatal(a ...any)
	Errorf(format string, a ...any)
}

func mustNew(t failer, stations []float64, fitted []hull.Fitted) *hull.Hull {
	t.Helper()
	h, err := hull.New(stations, fitted)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func near(t failer, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.9g, want %.9g ± %g", what, got, want, tol)
	}
}

// evenly returns n stations from the bow, 165 mm apart.
func evenly(n int) []float64 {
	m := make([]float64, n)
	for i := range m {
		m[i] = 0.48 + 0.165*float64(i)
	}
	return m
}

// marked returns ribs at the first stations, one for each letter: p for a mark to
// port, s for one to starboard. All took 4 and 3 min at 100 °C.
func marked(stations []float64, marks string) []hull.Fitted {
	var ribs []hull.Fitted
	for i, letter := range marks {
		f := hull.Fitted{Label: string(rune('a' + i)), StationM: stations[i], Mark: hull.Port, Steam: 4, Door: 3}
		if letter == 's' {
			f.Mark = hull.Starboard
		}
		ribs = append(ribs, f)
	}
	return ribs
}

// Worked by hand from the definition, d = ln(4/3) = 0.28768 for each rib.
func TestBalance(t *testing.T) {
	const d = 0.28768207
	for _, row := range []struct {
		name, marks string
		lean, twist float64
	}{
		{"all to port: rounder to starboard", "pppp", d, 0},
		{"all to starboard: rounder to port", "ssss", -d, 0},
		{"by turns", "psps", 0, -d / 3},                    // (−1 + 1/3 + 1/3 − 1)/4
		{"two and two", "ppss", 0, -2 * d / 3},             // (−1 − 1/3 − 1/3 − 1)/4
		{"three by turns: one left over", "psp", d / 3, 0}, // (−1 + 0 + 1)/3
		{"one aft the wrong way round", "pspp", d / 2, d / 6},
		{"a single rib", "s", -d, 0},
	} {
		stations := evenly(len(row.marks))
		b := mustNew(t, nil, marked(stations, row.marks)).Balance()
		near(t, row.name+": lean", b.Lean, row.lean, 1e-8)
		near(t, row.name+": twist", b.Twist, row.twist, 1e-8)
	}
}

// The place on the keel counts in the whole hull, not among the ribs fitted.
func TestBalanceOfAPart(t *testing.T) {
	b := mustNew(t, evenly(5), marked(evenly(5), "pp")).Balance()
	near(t, "twist of two forward ribs", b.Twist, -0.75*math.Log(4.0/3), 1e-12)
	near(t, "one rib the wrong way round", b.PerRib, math.Log(4.0/3), 1e-12)
	if b := mustNew(t, evenly(5), nil).Balance(); b != (hull.Balance{}) {
		t.Errorf("an empty hull has balance %+v", b)
	}
}

// ribs draws a hull with all its stations taken, some twice.
func ribs(t *rapid.T) []hull.Fitted {
	minutes := rapid.Float64Range(0.5, 20)
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) hull.Fitted {
		return hull.Fitted{
			Label:    rapid.StringMatching("[a-z]{1,3}").Draw(t, "label"),
			StationM: float64(rapid.IntRange(-3000, 3000).Draw(t, "station mm")) / 1000,
			Mark:     rapid.SampledFrom(hull.Sides).Draw(t, "mark"),
			Steam:    soak.Exposure(minutes.Draw(t, "steam")), Door: soak.Exposure(minutes.Draw(t, "door")),
			Weight: rapid.Float64Range(0.5, 3).Draw(t, "weight"), SD: rapid.Float64Range(0.01, 0.3).Draw(t, "sd"),
		}
	}), 1, 40).Draw(t, "ribs")
}

// The same by another way: what each side of the boat took, without marks, signs
// or ratios, and stations by linear interpolation.
func TestBalanceBySides(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		fitted := ribs(t)
		at := map[float64]hull.Fitted{}
		first, last := math.Inf(1), math.Inf(-1)
		for _, f := range fitted {
			at[f.StationM] = f
			first, last = min(first, f.StationM), max(last, f.StationM)
		}
		var lean, twist, weight float64
		for m, f := range at {
			port, starboard := math.Log(float64(f.Door)), math.Log(float64(f.Steam))
			if f.Mark == hull.Starboard {
				port, starboard = starboard, port
			}
			lean += f.Weight * (starboard - port)
			if last > first {
				twist += f.Weight * (starboard - port) * (-1 + 2*(m-first)/(last-first))
			}
			weight += f.Weight
		}
		b := mustNew(t, nil, fitted).Balance()
		near(t, "lean", b.Lean, lean/weight, 1e-9)
		near(t, "twist", b.Twist, twist/weight, 1e-9)
	})
}

// Port and starboard changed over negate lean and twist; bow and stern changed
// over negate the twist only.
func TestMirror(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		fitted := ribs(t)
		b := mustNew(t, nil, fitted).Balance()
		across, along := slices.Clone(fitted), slices.Clone(fitted)
		for i := range fitted {
			across[i].Mark = fitted[i].Mark.Other()
			along[i].StationM = -fitted[i].StationM
		}
		a := mustNew(t, nil, across).Balance()
		near(t, "lean across", a.Lean, -b.Lean, 0)
		near(t, "twist across", a.Twist, -b.Twist, 0)
		l := mustNew(t, nil, along).Balance()
		near(t, "lean along", l.Lean, b.Lean, 1e-12)
		near(t, "twist along", l.Twist, -b.Twist, 1e-12)
	})
}

// once keeps the first rib at every station.
func once(fitted []hull.Fitted) []hull.Fitted {
	var out []hull.Fitted
	for _, f := range fitted {
		if !slices.ContainsFunc(out, func(o hull.Fitted) bool { return o.StationM == f.StationM }) {
			out = append(out, f)
		}
	}
	return out
}

// What the ribs are called and in what order they were entered changes neither
// the balance nor the advice.
func TestLabelsAndOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		fitted := once(ribs(t))
		stations := []float64{9.9}
		for _, f := range fitted {
			stations = append(stations, f.StationM)
		}
		other := rapid.Permutation(fitted).Draw(t, "order")
		for i := range other {
			other[i].Label = strings.ToUpper(other[i].Label)
		}
		a, b := mustNew(t, stations, fitted), mustNew(t, rapid.Permutation(stations).Draw(t, "stations"), other)
		if a.Balance() != b.Balance() {
			t.Errorf("%+v, otherwise %+v", a.Balance(), b.Balance())
		}
		x, _ := a.Advise(9.9, hull.Rule{})
		y, _ := b.Advise(9.9, hull.Rule{})
		if x.Mark != y.Mark || x.Reason != y.Reason || x.PlainWorst != y.PlainWorst || x.BestWorst != y.BestWorst {
			t.Errorf("%+v, otherwise %+v", x, y)
		}
	})
}

// The standard errors beside the spread of 20,000 hulls whose exposures were drawn.
func TestStandardErrors(t *testing.T) {
	fitted := marked(evenly(7), "psppsps")
	for i := range fitted {
		fitted[i].SD, fitted[i].Weight = 0.02*float64(1+i), 1+0.2*float64(i)
	}
	b := mustNew(t, nil, fitted).Balance()
	r := rand.New(rand.NewPCG(5, 0))
	const hulls = 20000
	var lean, twist float64
	for range hulls {
		seen := slices.Clone(fitted)
		for i := range seen {
			seen[i].Steam *= soak.Exposure(math.Exp(seen[i].SD * r.NormFloat64()))
		}
		x := mustNew(t, nil, seen).Balance()
		lean += (x.Lean - b.Lean) * (x.Lean - b.Lean) / hulls
		twist += (x.Twist - b.Twist) * (x.Twist - b.Twist) / hulls
	}
	// A standard deviation from so many is itself known to half a percent.
	near(t, "lean", b.LeanSD/math.Sqrt(lean), 1, 0.02)
	near(t, "twist", b.TwistSD/math.Sqrt(twist), 1, 0.02)
	near(t, "where none is given", mustNew(t, nil, marked(evenly(4), "psps")).Balance().LeanSD, hull.DefaultSD/2, 1e-12)
}

// Every mistake is named at once.
func TestMistakes(t *testing.T) {
	bad := hull.Fitted{Label: "7", StationM: math.NaN(), Mark: "left", Steam: 0, Door: 2000, Weight: -1, SD: 3}
	astray := hull.Fitted{Label: "8", StationM: 2, Mark: hull.Port, Steam: 1, Door: 1}
	_, err := hull.New([]float64{0, 1, 200}, []hull.Fitted{bad, astray})
	if err == nil {
		t.Fatal("accepted")
	}
	for _, want := range []string{
		"station m 200: outside -100 to 100",
		`rib "7": station m NaN: outside -100 to 100`,
		`rib "7": mark "left": port or starboard`,
		`rib "7": steam end min 0: outside 0.01 to 1000`,
		`rib "7": door end min 2000: outside 0.01 to 1000`,
		`rib "7": weight -1: outside 0.001 to 1000`,
		`rib "7": standard deviation 3: outside 0.001 to 2`,
		`rib "8": no station at 2 m`,
	} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%v\nlacks %s", err, want)
		}
	}
	if _, err := hull.New(evenly(hull.MaxRibs+1), nil); err == nil {
		t.Errorf("%d stations are too many", hull.MaxRibs+1)
	}
}

// Two ribs at one station: the later is in the boat.
func TestReplaced(t *testing.T) {
	fitted := marked(evenly(4), "psps")
	again := fitted[1]
	again.Mark, again.Steam, again.StationM = hull.Port, 6, again.StationM+0.0002
	h := mustNew(t, evenly(6), append(fitted, again))
	if n, all := h.Ribs(); n != 4 || all != 6 {
		t.Errorf("%d ribs at %d stations", n, all)
	}
	near(t, "lean", h.Balance().Lean, (math.Log(4.0/3)+math.Log(2))/4, 1e-12)
}
