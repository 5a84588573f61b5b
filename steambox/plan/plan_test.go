package plan_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"withy/steambox/boiler"
	"withy/steambox/plan"
	"withy/steambox/ribs"
	"withy/steambox/steam"
	"withy/steambox/wood"
)

// table is n ribs of no boat that was ever built: a parabola, to the millimetre.
func table(n int) []ribs.Rib {
	all := make([]ribs.Rib, n)
	for i := range all {
		x := 2*(float64(i)+0.5)/float64(n) - 1
		all[i] = ribs.Rib{
			Label: fmt.Sprint(i + 1), LengthM: math.Round(1090-520*x*x) / 1000, ThicknessM: 0.0065, WidthM: 0.025,
			StationM: 0.5 + 0.15*float64(i), HasStation: true,
		}
	}
	return all
}

// asked is a day at sea level: an electric open pot of 5 L, six minutes of soak.
func asked(n int) plan.Asked {
	return plan.Asked{
		Ribs: table(n), Fair: ribs.DefaultOptions(), SpareShare: ribs.UsualShare,
		Soaks: plan.Same(360, n), PaceS: 60, Slots: 4, Box: boiler.BoxSize{LengthM: 1.5},
		Boiler:   boiler.Boiler{Kind: boiler.OpenPot, PowerW: 2200, FullL: 5, BareL: 0.4},
		Kettle:   boiler.Kettle{Litres: 1.5, PowerW: 2200, TapC: 12, CarryS: 90},
		Material: wood.WhiteOak, Usual: wood.Section{WidthM: 0.025, ThicknessM: 0.0065},
		ShopC: 15, BoilingC: 100, LatentJPerKg: steam.LatentHeatAt(100),
	}
}

func mustMake(t testing.TB, a plan.Asked) *plan.Plan {
	t.Helper()
	p, err := plan.Make(a)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %g, want %g give or take %g", what, got, want, within)
	}
}

// Four slots at a minute and a half give six minutes: common practice, no source. So
// 24 ribs take 23 intervals and a soak, 23 × 90 + 360 = 2430 s.
func TestCommonPractice(t *testing.T) {
	p := mustMake(t, asked(24))
	if p.Rhythm.Slots != 4 || p.Rhythm.Interval.Seconds() != 90 {
		t.Errorf("rhythm %+v", p.Rhythm)
	}
	near(t, "run, s", p.RunS, 2430, 1e-6)
	near(t, "warm-up, s (half an hour, common practice)", p.WarmUpS, 1800, 0)
	if last := p.Turns[23]; last.InS != 23*90 || last.Slot != 3 || last.Rib != 23 {
		t.Errorf("last turn %+v", last)
	}
	if len(p.Limits) != 0 || p.Unfair() || p.Boats[0].Verdict != ribs.Fair {
		t.Errorf("limits %+v, verdict %s", p.Limits, p.Boats[0].Verdict)
	}
}

// Worked by hand: all heat into steam boils off 1.6 L/h per kW (3600/2257, the latent
// heat of IAPWS-IF97 at 100 °C). At 2.2 kW, 88 % of it in the steam, for 1800 + 2430 s
// that is 1.595 × 2.2 × 0.88 × 1.175 = 3.63 L. No boiler boils off more than all.
func TestBoiledOff(t *testing.T) {
	p := mustMake(t, asked(24))
	near(t, "boiled off, L", p.BoiledL, 3.63, 0.02*3.63)
	if all := 1.595 * 2.2 * 1.175; p.MostL <= p.BoiledL || p.MostL > all {
		t.Errorf("a fast boiler boils off %g L; %g at most is possible", p.MostL, all)
	}
}

// Worked by hand: 5 L from 12 to 100 °C take 5 × 4.19 × 88 = 1844 kJ, at 2.2 kW less
// 12 % 952 s, then half an hour of steam and the run of 2430 s.
func TestSession(t *testing.T) {
	p := mustMake(t, asked(24))
	near(t, "session, s", p.SessionS(), 952+1800+2430, 20)
}

// Worked by hand: 1.5 L from 12 to 100 °C take 553 kJ, a kettle of 2.2 kW less 12 %
// 286 s, and 90 s to carry: 376 s. The boiler of 3 L has 2.6 L over its element; after
// 1800 s of steam at 3.44 L/h (the fast one at 1.595 × 2.2 × 0.98) it is 0.88 L, good
// for 920 s more: the call comes 544 s into the run, or a little before on account of
// a pull.
func TestKettle(t *testing.T) {
	a := asked(24)
	a.Boiler.FullL = 3
	p := mustMake(t, a)
	if len(p.Calls) == 0 {
		t.Fatal("no call")
	}
	c := p.Calls[0]
	near(t, "lead, s", c.PourS-c.AtS, 376, 2)
	near(t, "call, s", c.AtS, 530, 30)
	near(t, "litres", c.Litres, 1.5, 0)
}

// A boiler that wastes next to nothing, 97 % of its power in the steam, never falls
// to its element by this plan; and neither call nor pour falls within 20 s before a
// pull or 14 s after (common practice, no source): two such spans in 90 s leave room.
func TestCallsInTimeAndBetweenPulls(t *testing.T) {
	for _, full := range []float64{2, 3, 4, 6} {
		a := asked(60)
		a.Boiler.FullL = full
		p := mustMake(t, a)
		level, now := full, p.SteamOnS
		for _, c := range p.Calls {
			level -= 0.97 * 2200 / 2.2565e6 * (c.PourS - now)
			if level < a.Boiler.BareL {
				t.Errorf("boiler of %g L: %g L at the pour at %g s", full, level, c.PourS)
			}
			level, now = level+c.Litres, c.PourS
			for _, turn := range p.Turns {
				for _, atS := range []float64{c.AtS, c.PourS} {
					if d := atS - turn.OutS; d > -20+1e-6 && d < 14-1e-6 {
						t.Errorf("boiler of %g L: %+v, %g s after a pull", full, c, d)
					}
				}
			}
		}
		if left := level - 0.97*2200/2.2565e6*(p.RunS-now); left < a.Boiler.BareL {
			t.Errorf("boiler of %g L: %g L when the last rib is out", full, left)
		}
	}
}

// A closed tank is never filled hot: each break begins when the last rib is out, two
// minutes and more before a boiler that wastes 3 % is dry, and fills a quarter of an
// hour later. No rib is in the box then, and every rib has its turn.
func TestClosedTank(t *testing.T) {
	a := asked(60)
	a.Boiler.Kind, a.Boiler.FullL = boiler.ClosedTank, 4
	p := mustMake(t, a)
	if len(p.Breaks) != 2 || len(p.Calls) != 0 || len(p.Turns) != 60 {
		t.Fatalf("%d breaks, %d calls, %d turns", len(p.Breaks), len(p.Calls), len(p.Turns))
	}
	steamS := p.SteamOnS
	for _, b := range p.Breaks {
		if used := 0.97 * 2200 / 2.2565e6 * (b.HeatOffS + 120 - steamS); used > 3.6 {
			t.Errorf("break %+v: %g of 3.6 L gone", b, used)
		}
		for i, turn := range p.Turns {
			if out := i < b.After; out && turn.OutS > b.HeatOffS || !out && turn.InS < b.AgainS {
				t.Errorf("turn %+v over the break %+v", turn, b)
			}
		}
		near(t, "wait, s", b.FillS-b.HeatOffS, 900, 0)
		steamS = b.AgainS - 600
	}
	near(t, "first filling, L", p.Breaks[0].Litres, 1.595*2.2*0.88*(p.Breaks[0].HeatOffS+1800)/3600, 0.1)
}

// A boiler that isn't full at first boils sooner, by the 190 s that a litre from the tap
// takes at 2.2 kW of which 88 % heat it, and is dry sooner. It is then filled up.
func TestNotFull(t *testing.T) {
	a := asked(60)
	full := mustMake(t, a)
	a.StartL = 4
	p := mustMake(t, a)
	near(t, "heat on later, s", p.HeatOnS-full.HeatOnS, 1*4.188*88/1.936, 5)
	if p.Calls[0].AtS >= full.Calls[0].AtS {
		t.Errorf("kettle at %g s, at %g with a full boiler", p.Calls[0].AtS, full.Calls[0].AtS)
	}
	a.Boiler.Kind, a.Boiler.FullL, a.StartL = boiler.ClosedTank, 4, 3.5
	p = mustMake(t, a)
	if first := p.Breaks[0]; first.HeatOffS-p.SteamOnS > (3.5-0.4)*2.2565e6/1936 {
		t.Errorf("the first break, %+v, comes when a tank with 3.5 L is dry", first)
	}
	gone := (p.Breaks[0].HeatOffS - p.SteamOnS) * 1936 / 2.2565e6
	near(t, "first filling, L", p.Breaks[0].Litres, 0.5+gone, 0.1)
}

// Without a refill only those go in for which there is water, and the others are
// counted; a second boiler is lit in time to boil: 4 L take 762 s as above, and 90.
func TestOtherBoilers(t *testing.T) {
	a := asked(60)
	a.Boiler.Kind, a.Boiler.FullL = boiler.NoRefill, 4
	p := mustMake(t, a)
	if l := find(p, plan.RunsOut); l == nil || l.N != len(p.Turns) || l.N == 0 || l.N >= 60 {
		t.Errorf("no refill: %+v for %d turns", l, len(p.Turns))
	}
	a.Boiler.Kind = boiler.SecondBoiler
	p = mustMake(t, a)
	if len(p.Calls) != 1 || p.Calls[0].Litres != 4 {
		t.Fatalf("second boiler: %+v", p.Calls)
	}
	near(t, "lit before, s", p.Calls[0].PourS-p.Calls[0].AtS, 762+90, 20)
}

func find(p *plan.Plan, k plan.Kind) *plan.Limit {
	if i := slices.IndexFunc(p.Limits, func(l plan.Limit) bool { return l.Kind == k }); i >= 0 {
		return &p.Limits[i]
	}
	return nil
}

// Middle first, boat by boat: of five ribs the third, then the nearer to the bow of
// each pair.
func TestMiddleFirst(t *testing.T) {
	a := asked(10)
	a.MiddleFirst = true
	for i := range a.Ribs {
		a.Ribs[i].Boat = []string{"left", "right"}[i%2]
	}
	p := mustMake(t, a)
	var order []string
	for _, turn := range p.Turns {
		order = append(order, a.Ribs[turn.Rib].Label)
	}
	if got, want := strings.Join(order, " "), "5 3 7 1 9 6 4 8 2 10"; got != want {
		t.Errorf("order %s, want %s", got, want)
	}
}

// A rib 8 mm too long is named by its place in the whole table, not in its boat.
func TestOddOfSecondBoat(t *testing.T) {
	a := asked(40)
	one := table(20)
	for i := range a.Ribs {
		a.Ribs[i].LengthM, a.Ribs[i].StationM = one[i/2].LengthM, one[i/2].StationM
		a.Ribs[i].Boat = []string{"left", "right"}[i%2]
	}
	a.Ribs[17].LengthM += 0.008
	p := mustMake(t, a)
	if len(p.Boats) != 2 || len(p.Boats[0].Odd) != 0 || len(p.Boats[1].Odd) != 1 {
		t.Fatalf("boats %+v", p.Boats)
	}
	if o := p.Boats[1].Odd[0]; o.Rib != 17 || o.Label != "18" || math.Abs(o.OffM-0.008) > 0.002 || !p.Unfair() || !p.Odd("18") || p.Odd("17") {
		t.Errorf("odd %+v", o)
	}
}

func TestMistakes(t *testing.T) {
	a := asked(24)
	a.Ribs[1].Label, a.Ribs[2].LengthM = "1", -1
	a.PaceS, a.Slots, a.SpareShare, a.AllowM, a.StartL = math.NaN(), 0, 2.1, 1, 6
	a.Boiler.BareL, a.Soaks, a.Fair.SawM, a.Box.LengthM = 5, nil, 0, 0
	_, err := plan.Make(a)
	for _, want := range []string{
		"stands in row 1 already", "row 3: length_mm -1000", "pace, s", "slots", "spares for each rib",
		"left on a blank's ends", "it must hold more", "in the boiler, L: 6", "0 soaks for 24 ribs", "saw error", "box length",
	} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("no %q in: %v", want, err)
		}
	}
	if _, err := plan.Make(asked(0)); err == nil {
		t.Error("a plan for no ribs")
	}
}
