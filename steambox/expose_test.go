package steambox_test

import (
	"math"
	"testing"
	"time"

	"withy/steambox"
	"withy/steambox/profile"
	"withy/steambox/soak"
	"withy/steambox/unit"
	"withy/steambox/wood"
)

// steady is a trace of two steady ends, a row every stepS seconds.
func steady(seconds, stepS, steam, door float64) []steambox.TraceRow {
	var rows []steambox.TraceRow
	for s := 0.0; s <= seconds; s += stepS {
		rows = append(rows, steambox.TraceRow{ElapsedS: s, End: [2]profile.Reading{{C: steam, OK: true}, {C: door, OK: true}}})
	}
	return rows
}

func exposing(outS float64) steambox.Exposing {
	return steambox.Exposing{
		Assumed:      soak.Default(wood.Section{WidthM: 0.028, ThicknessM: 0.0065}),
		Surroundings: steambox.Surroundings{BoilingC: 99.97, BoilingDoubtK: 1, ShopC: 15},
		BoxM:         1.5, OuterM: 1.5, Points: 9, WoodC: 15, OutS: outS, UncertaintyK: 0.2,
	}
}

func expose(t *testing.T, rows []steambox.TraceRow, e steambox.Exposing) steambox.Exposed {
	t.Helper()
	x, err := steambox.Expose(rows, e)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func best(x steambox.Exposed, e unit.End) float64 {
	return float64(x.Heat.End(e).Track[soak.Best].Exposure)
}

// 45 min with the hot end at 98 and the cold end at 92 °C are 39.3 and 26.2
// minutes at 100 °C once the core follows the air (the severity factor's own
// arithmetic); what the warm-up of the wood costs is less than three minutes.
func TestEndToEndExample(t *testing.T) {
	x := expose(t, steady(2700, 1, 98, 92), exposing(2700))
	if s := best(x, unit.SteamEnd); s > 39.3 || s < 39.3-3 {
		t.Errorf("steam end %.2f, want a little under 39.3", s)
	}
	if d := best(x, unit.DoorEnd); d > 26.2 || d < 26.2-2 {
		t.Errorf("door end %.2f, want a little under 26.2", d)
	}
	if x.Quality != profile.Good || math.Abs(x.Heat.Ratio()-2./3) > 0.02 {
		t.Errorf("ratio %.3f, %v; want two thirds, good", x.Heat.Ratio(), x.Quality)
	}
}

// At 1,600 m the same minutes do about two thirds of the work (model of the
// Standard Atmosphere: water boils near 94.6 °C).
func TestAltitude(t *testing.T) {
	low, high := expose(t, steady(3600, 1, 99.97, 99.97), exposing(3600)), expose(t, steady(3600, 1, 94.6, 94.6), exposing(3600))
	if r := best(high, unit.SteamEnd) / best(low, unit.SteamEnd); math.Abs(r-2./3) > 0.04 {
		t.Errorf("share of the work at 1,600 m: %.3f, want about two thirds", r)
	}
}

// A trace taken every ten seconds says what one taken each second says.
func TestSlowLogger(t *testing.T) {
	fast, slow := expose(t, steady(420, 1, 98, 95), exposing(420)), expose(t, steady(420, 10, 98, 95), exposing(420))
	if a, b := best(fast, unit.DoorEnd), best(slow, unit.DoorEnd); math.Abs(a/b-1) > 2e-3 {
		t.Errorf("%.4f each second, %.4f every ten", a, b)
	}
}

func TestCutBetweenRows(t *testing.T) {
	e := exposing(395)
	e.InS = 5
	whole := expose(t, steady(390, 1, 98, 95), exposing(390))
	cut := expose(t, steady(420, 10, 98, 95), e)
	if a, b := best(whole, unit.SteamEnd), best(cut, unit.SteamEnd); math.Abs(a/b-1) > 2e-3 || cut.SoakS != 390 {
		t.Errorf("%.4f whole, %.4f cut out, soak %g s", a, b, cut.SoakS)
	}
}

func TestBlindTrace(t *testing.T) {
	rows := steady(420, 1, 98, 95)
	for i := 200; i < 320; i++ {
		rows[i].End = [2]profile.Reading{}
	}
	x := expose(t, rows, exposing(420))
	p := x.Heat.End(unit.SteamEnd)
	if x.Quality != profile.Bad || math.Abs(x.Heat.BlindS-120) > 1 {
		t.Errorf("%v, blind %g s; want bad, 120 s", x.Quality, x.Heat.BlindS)
	}
	if p.Track[soak.High].Exposure-p.Track[soak.Low].Exposure < 1.5 {
		t.Errorf("bounds %v to %v do not come apart", p.Track[soak.Low].Exposure, p.Track[soak.High].Exposure)
	}
	for i := range rows {
		rows[i].End[unit.SteamEnd] = profile.Reading{C: 98, OK: true}
	}
	if x := expose(t, rows, exposing(420)); x.Quality != profile.Uncertain {
		t.Errorf("door end lost for a while: %v, want uncertain", x.Quality)
	}
}

// Turned end for end, the box gives the rib's points in mirror order.
func TestTurningMirrorsThePoints(t *testing.T) {
	a, b := expose(t, steady(420, 1, 98, 94), exposing(420)), expose(t, steady(420, 1, 94, 98), exposing(420))
	for i := range a.Heat.Points {
		p, q := a.Heat.Points[i].Track[soak.Best].Exposure, b.Heat.Points[8-i].Track[soak.Best].Exposure
		if math.Abs(float64(p-q)) > 1e-9 {
			t.Errorf("point %d: %v and %v", i, p, q)
		}
	}
}

// A witness at the rib's middle gives the film of the box, and the rib's ends theirs
// by the air that stands there: the cooler end falls behind what one film for both
// would give it. The witness is made with a film of 430 W/m²K.
func TestExposeWithAWitness(t *testing.T) {
	e := exposing(420)
	a := e.Assumed
	a.FilmWPerM2K, a.BoilingC = 430, e.Surroundings.BoilingC
	m, err := soak.NewModel(a)
	if err != nil {
		t.Fatal(err)
	}
	air := make([]soak.Air, 2)
	for i := range air {
		air[i].C = [soak.Bounds]float64{96, 96, 96}
	}
	rows := steady(420, 1, 98.5, 93.5)
	h := soak.NewHeat(m, 0, 1, 2, 15, air)
	for i := range rows {
		rows[i].Witness = profile.Reading{C: h.Points[0].Track[soak.Best].CoreC, OK: true}
		h.Advance(m, time.Second, air, soak.Whole)
	}
	x := expose(t, rows, e)
	if math.Abs(x.FilmWPerM2K/430-1) > 0.03 || x.WitnessLeftK > 0.3 {
		t.Errorf("film %.0f W/m²K, %.2f K left; want 430", x.FilmWPerM2K, x.WitnessLeftK)
	}
	e.Assumed.FilmWPerM2K = 430
	if same := expose(t, steady(420, 1, 98.5, 93.5), e); x.Heat.Ratio() > same.Heat.Ratio()-0.01 {
		t.Errorf("ratio %.3f with the film after the air, %.3f with one film", x.Heat.Ratio(), same.Heat.Ratio())
	}
}

func TestExposeRefuses(t *testing.T) {
	e := exposing(500)
	e.Points, e.OuterM = 1, -1
	if _, err := steambox.Expose(steady(420, 1, 98, 94), e); err == nil {
		t.Error("accepted")
	}
}
