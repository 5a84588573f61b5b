package sheet_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"withy/cmd/withy/internal/sheet"
	"withy/steambox"
	"withy/steambox/pace"
	"withy/steambox/plan"
	"withy/steambox/ribs"
	"withy/steambox/soak"
	"withy/steambox/window"
	"withy/steambox/wood"
)

// kink is the rib that boxOf makes 8 mm too long.
const kink = 8

// boxOf is a box with n ribs of no boat that was ever built: a parabola to the
// millimetre, from the stern, with one rib 8 mm too long.
func boxOf(n int) *steambox.Box {
	b := steambox.DefaultBox()
	b.Probes = []steambox.BoxProbe{{Name: "steam", Calibrated: true}, {Name: "door", XM: 1.5, Calibrated: true}}
	for i := range n {
		x := 2*(float64(i)+0.5)/float64(n) - 1
		r := b.Common
		r.Label, r.LengthM, r.StationM = fmt.Sprint(i+1), math.Round(1090-520*x*x)/1000, 4-0.15*float64(i)
		if i+1 == kink {
			r.LengthM += 0.008
		}
		b.Ribs = append(b.Ribs, r)
	}
	return &b
}

// statusOf is what a session of the box says before anything was seen.
func statusOf(t *testing.T, b *steambox.Box) *steambox.Status {
	t.Helper()
	session, err := steambox.NewSession(*b)
	if err != nil {
		t.Fatal(err)
	}
	s := session.Status()
	return &s
}

func planned(t *testing.T, b *steambox.Box, s *steambox.Status) sheet.Day {
	t.Helper()
	day, err := sheet.Plan(b, s, ribs.UsualShare)
	if err != nil {
		t.Fatal(err)
	}
	return day
}

func has(p *plan.Plan, k plan.Kind) bool {
	return slices.ContainsFunc(p.Limits, func(l plan.Limit) bool { return l.Kind == k })
}

// With the test bends of its stick in the box, a rib gets the heat that the verb plans
// from a file of the same bends, to a hundredth, and the time to a twentieth: the verb
// takes the film to be the same in whatever air, the box takes it as in steam alone.
func TestSoakIsTheVerbs(t *testing.T) {
	b := boxOf(24)
	bends := []window.Bend{
		{Cool: 4, Hot: 4, Outcome: window.Supple}, {Cool: 2, Hot: 2, Outcome: window.Stiff},
		{Cool: 8, Hot: 8, Outcome: window.Cracked}, {Cool: 5, Hot: 5, Outcome: window.Supple},
	}
	for _, one := range bends {
		b.TestBends = append(b.TestBends, steambox.TestBend{Bend: one})
	}
	s := statusOf(t, b)
	day := planned(t, b, s)
	assumed := soak.Default(wood.Section{WidthM: b.Common.WidthM, ThicknessM: b.Common.ThicknessM})
	assumed.Material, assumed.FilmWPerM2K, assumed.FilmFactor = b.Wood.Material, b.Wood.FilmWPerM2, b.Wood.FilmFactor
	want, err := plan.Soaks([]ribs.Rib{{Label: "1", LengthM: 1}}, []plan.Stick{{Bends: bends}}, plan.Steaming{
		Assumed: assumed, Dryness: b.Dryness, WoodC: b.WoodC, SteamC: s.BoilingC, EndRatio: 1,
	})
	if err != nil {
		t.Fatal(err)
	}
	if got := day.Plan.Soak; got.From != plan.Learnt || math.Abs(float64(got.Heat/want[0].Heat)-1) > 0.01 || math.Abs(got.S/want[0].S-1) > 0.05 {
		t.Errorf("%+v, want %+v", got, want[0])
	}
}

// The target is the cooler end's, whichever that is: 3.2 min there and a ratio of 0.8
// are 4 min at the other, which lies in the hotter steam and so decides how long.
func TestSoakAtTheHotterEnd(t *testing.T) {
	b := boxOf(24)
	s := statusOf(t, b)
	for ratio, steam := range map[float64]soak.Exposure{0.8: 4, 1.25: 3.2} {
		s.Sticks[0].Target, s.Sticks[0].Ratio = 3.2, ratio
		got := planned(t, b, s).Plan.Soak
		assumed := soak.Default(wood.Section{WidthM: b.Common.WidthM, ThicknessM: b.Common.ThicknessM})
		assumed.Material, assumed.FilmWPerM2K, assumed.BoilingC = b.Wood.Material, b.Wood.FilmWPerM2, s.BoilingC
		want, err := plan.TimeFor(assumed, 4, b.WoodC, s.BoilingC)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(float64(got.Heat-steam)) > 1e-9 || math.Abs(got.S-want) > 1 {
			t.Errorf("ratio %g: %+v, want %g min at the steam end and %g s", ratio, got, float64(steam), want)
		}
	}
}

// A window that was set, and not learnt, is as somebody told it.
func TestSoakAsSet(t *testing.T) {
	b := boxOf(24)
	b.Learn = false
	if got := planned(t, b, statusOf(t, b)).Plan.Soak; got.From != plan.Told || got.Heat != b.Window.Target {
		t.Errorf("%+v, want the heat %g as told", got, float64(b.Window.Target))
	}
}

func TestPlanFollowsTheBox(t *testing.T) {
	b := boxOf(24)
	b.Slots = []string{"P", "Q", "R"}
	s := statusOf(t, b)
	day := planned(t, b, s)
	if order := day.Document().Order; order[0].Slot != "P" || order[1].Slot != "Q" {
		t.Errorf("slots of %+v", order[:2])
	}

	full := day.Plan.HeatOnS
	left := b.Boiler.FullL - 1
	s.Water.Told, s.Water.LeftL = true, &left
	if got := planned(t, b, s).Plan.HeatOnS; got <= full {
		t.Errorf("a litre less to boil: heat on at %g s, at %g when full", got, full)
	}
	steamS := 900.0
	s.Warm.FirstSteamS = &steamS
	if got := planned(t, b, s).Plan.HeatOnS; got != full {
		t.Errorf("with steam: heat on at %g s, want %g as from a full boiler", got, full)
	}

	dry := 40.0 // faster than what is set: it was seen
	s.Dry = &steambox.DryNow{Rounds: 4, PaceS: &dry}
	if got := planned(t, b, s).Asked.PaceS; got != dry || got >= b.CrewS {
		t.Errorf("a pace of %g s, in the dry run it was %g", got, dry)
	}
	own := 200.0
	s.Rhythm.CrewS = &own
	if got := planned(t, b, s).Asked.PaceS; got != own {
		t.Errorf("a pace of %g s, the crew's own is %g", got, own)
	}

	b.Way = pace.Single
	if got := planned(t, b, s).Plan.Rhythm.Slots; got != 1 {
		t.Errorf("%d slots, one at a time", got)
	}
	b.Way = pace.Batch
	if p := planned(t, b, s).Plan; !has(p, plan.OtherWay) {
		t.Errorf("nothing says that batches aren't planned: %+v", p.Limits)
	}
}

// What can't be planned is said, all of it.
func TestCannotPlan(t *testing.T) {
	b := boxOf(plan.MaxRibs + 1)
	s := statusOf(t, boxOf(1)) // no box has so many
	b.Boiler.BareL = b.Boiler.FullL
	_, err := sheet.Plan(b, s, ribs.UsualShare)
	for _, want := range []string{"ribs: 501", "it must hold more"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("no %q in: %v", want, err)
		}
	}
}

// The curve runs from bow to stern, and the kink stands 8 mm off it, as it was made.
func TestCurve(t *testing.T) {
	b := boxOf(24)
	b.Ribs[20].LengthM, b.Ribs[20].Meant = b.Ribs[20].LengthM-0.1, true
	curve := planned(t, b, statusOf(t, b)).Drawn().Curve
	if len(curve) != 24 || curve[0].Rib != "24" || curve[23].Rib != "1" {
		t.Fatalf("%+v: not from bow to stern", curve)
	}
	for _, c := range curve {
		want := 0.0
		switch c.Rib {
		case fmt.Sprint(kink):
			want = 8
		case "21":
			want = -100
		}
		if c.StationMM == nil || c.FairMM == nil || math.Abs(*c.OffMM-want) > 1.5 || math.Abs(c.LengthMM-*c.FairMM-*c.OffMM) > 0.02 {
			t.Errorf("%+v, want %g mm off", c, want)
		}
		if c.Unfair != (want == 8) || c.Meant != (want == -100) {
			t.Errorf("%+v: unfair %t, meant %t", c, c.Unfair, c.Meant)
		}
	}
}

// What isn't known is absent: no station where all stand at one, no curve of too few.
func TestCurveUnknown(t *testing.T) {
	b := boxOf(5)
	for i := range b.Ribs {
		b.Ribs[i].StationM = 0
	}
	for _, c := range planned(t, b, statusOf(t, b)).Drawn().Curve {
		if c.StationMM != nil || c.FairMM != nil || c.OffMM != nil {
			t.Errorf("%+v", c)
		}
	}
}

// Each boat has her own curve and is named; the only one is not.
func TestBoats(t *testing.T) {
	b := boxOf(24)
	b.Boat = "one"
	for i := range 12 {
		b.Ribs[i].Boat = "other"
	}
	names := map[string]int{}
	for _, c := range planned(t, b, statusOf(t, b)).Drawn().Curve {
		names[c.Boat]++
	}
	if len(names) != 2 || names["one"] != 12 || names["other"] != 12 {
		t.Errorf("%v", names)
	}
}

// All blanks are in the cut list: the ribs and their spares.
func TestCut(t *testing.T) {
	b := boxOf(24)
	doc := planned(t, b, statusOf(t, b)).Drawn()
	of, spares := 0, 0
	for _, c := range doc.Cut {
		of, spares = of+len(c.Ribs), spares+c.Spares
	}
	if of != 24 || spares != len(doc.Spares) || spares != 8 {
		t.Errorf("%d ribs and %d spares of %d", of, spares, len(doc.Spares))
	}
}

// Without a table there is no plan, and both faces say what is missing.
func TestNoTable(t *testing.T) {
	b := boxOf(0)
	day := planned(t, b, statusOf(t, b))
	text, err := json.Marshal(day.Drawn())
	if err != nil {
		t.Fatal(err)
	}
	var page bytes.Buffer
	if err := day.Sheet().WriteHTML(&page); err != nil {
		t.Fatal(err)
	}
	for _, face := range []string{string(text), page.String()} {
		if !strings.Contains(face, "no rib table") || strings.Contains(face, "null") || strings.Contains(face, "To saw") {
			t.Errorf("%s", face)
		}
	}
	if !strings.Contains(string(text), `"ribs":0`) {
		t.Errorf("%s", text)
	}
}

// BenchmarkPlan is the plan of a box with 200 ribs of one boat, as its JSON.
func BenchmarkPlan(b *testing.B) {
	box := boxOf(200)
	session, err := steambox.NewSession(*box)
	if err != nil {
		b.Fatal(err)
	}
	s := session.Status()
	for b.Loop() {
		day, err := sheet.Plan(box, &s, ribs.UsualShare)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := json.Marshal(day.Drawn()); err != nil {
			b.Fatal(err)
		}
	}
}
