package steam_test

import (
	"errors"
	"math"
	"testing"

	"withy/steambox/steam"
	"withy/steambox/unit"
)

// IAPWS R7-97(2012), table 35 (basic equation) and table 36 (backward).
func TestSaturationLineVerificationTables(t *testing.T) {
	for _, row := range []struct{ kelvin, mpa float64 }{
		{300, 0.353658941e-2}, {500, 0.263889776e1}, {600, 0.123443146e2},
	} {
		pa, err := steam.SaturationPressure(unit.Celsius(row.kelvin - steam.ZeroCelsiusK))
		if err != nil || math.Abs(pa/1e6/row.mpa-1) > 1e-8 {
			t.Errorf("psat(%g K) = %.9g MPa, %v; table 35 has %.9g", row.kelvin, pa/1e6, err, row.mpa)
		}
	}
	for _, row := range []struct{ mpa, kelvin float64 }{
		{0.1, 0.372755919e3}, {1, 0.453035632e3}, {10, 0.584149488e3},
	} {
		c, err := steam.BoilingPoint(row.mpa * 1e6)
		kelvin := float64(c) + steam.ZeroCelsiusK
		if err != nil || math.Abs(kelvin/row.kelvin-1) > 1e-8 {
			t.Errorf("tsat(%g MPa) = %.9g K, %v; table 36 has %.9g", row.mpa, kelvin, err, row.kelvin)
		}
	}
}

// Boiling points and latent heats of IAPWS-IF97 regions 1, 2 and 4 as computed
// by the Debian package python3-iapws 1.5.3.
var saturation = []struct{ kPa, c, latentKJ float64 }{
	{60, 85.9258, 2293.02}, {65, 87.9930, 2287.72}, {70, 89.9315, 2282.74}, {75, 91.7578, 2278.02},
	{80, 93.4854, 2273.54}, {85, 95.1253, 2269.27}, {90, 96.6870, 2265.19}, {95, 98.1783, 2261.27},
	{100, 99.6059, 2257.51}, {101.325, 99.9743, 2256.54}, {105, 100.9756, 2253.89}, {110, 102.2923, 2250.40},
}

func TestBoilingPointTable(t *testing.T) {
	for _, row := range saturation {
		c, err := steam.BoilingPoint(row.kPa * 1e3)
		if err != nil || math.Abs(float64(c)-row.c) > 5.1e-5 {
			t.Errorf("boiling point at %g kPa = %.4f, %v; want %.4f", row.kPa, float64(c), err, row.c)
		}
	}
}

func TestLatentHeat(t *testing.T) {
	for _, row := range saturation {
		j, err := steam.LatentHeat(row.kPa * 1e3)
		if err != nil || math.Abs(j/1e3-row.latentKJ) > 0.1 {
			t.Errorf("latent heat at %g kPa = %.2f kJ/kg, %v; want %.2f", row.kPa, j/1e3, err, row.latentKJ)
		}
	}
}

// Rows of a public engineering table, 0.01 to 18 °C, and a laboratory supplier's
// 2256 kJ/kg at 100 °C (970.3 Btu/lb in a thermodynamics text).
func TestLatentHeatOfColdWater(t *testing.T) {
	for _, row := range []struct{ c, kJ, tol float64 }{
		{0.01, 2500.9, 0.1}, {2, 2496.2, 0.1}, {4, 2491.4, 0.1}, {10, 2477.2, 0.1}, {14, 2467.7, 0.1}, {18, 2458.3, 0.1}, {100, 2256.5, 1},
	} {
		if got := steam.LatentHeatAt(unit.Celsius(row.c)) / 1e3; math.Abs(got-row.kJ) > row.tol {
			t.Errorf("latent heat at %g °C = %.2f kJ/kg, want %.1f", row.c, got, row.kJ)
		}
	}
}

// U.S. Standard Atmosphere 1976, rows computed by the Debian package
// python3-fluids 1.0.22.
func TestStandardAtmosphere(t *testing.T) {
	for _, row := range []struct{ m, pa, boilC float64 }{
		{0, 101325.00, 99.974}, {100, 100129.46, 99.642}, {500, 95461.29, 98.313}, {1000, 89876.29, 96.649},
		{1500, 84559.68, 94.984}, {1750, 81998.87, 94.151}, {2000, 79501.42, 93.317}, {2500, 74691.76, 91.648},
		{3000, 70121.16, 89.977}, {4000, 61660.44, 86.628},
	} {
		pa, err := steam.PressureAt(row.m)
		if err != nil || math.Abs(pa-row.pa) > 0.02 {
			t.Errorf("pressure at %g m = %.2f, %v; want %.2f", row.m, pa, err, row.pa)
		}
		c, err := steam.BoilingPoint(pa)
		if err != nil || math.Abs(float64(c)-row.boilC) > 6e-4 {
			t.Errorf("boiling point at %g m = %.4f, %v; want %.3f", row.m, float64(c), err, row.boilC)
		}
	}
}

func TestRoundTrip(t *testing.T) {
	for c := 1.0; c < 370; c += 0.37 {
		pa, err := steam.SaturationPressure(unit.Celsius(c))
		if err != nil {
			t.Fatal(err)
		}
		back, err := steam.BoilingPoint(pa)
		if err != nil || math.Abs(float64(back)-c) > 1e-9*(c+steam.ZeroCelsiusK)*10 {
			t.Fatalf("tsat(psat(%g)) = %.10f, %v", c, float64(back), err)
		}
	}
}

func TestOutOfRange(t *testing.T) {
	for _, pa := range []float64{0, -1, 600, 3e7, math.NaN(), math.Inf(1)} {
		if _, err := steam.BoilingPoint(pa); !errors.Is(err, steam.ErrRange) {
			t.Errorf("BoilingPoint(%g): %v", pa, err)
		}
		if _, err := steam.LatentHeat(pa); !errors.Is(err, steam.ErrRange) {
			t.Errorf("LatentHeat(%g): %v", pa, err)
		}
	}
	for _, m := range []float64{-501, 90000, math.NaN()} {
		if _, err := steam.PressureAt(m); !errors.Is(err, steam.ErrRange) {
			t.Errorf("PressureAt(%g): %v", m, err)
		}
	}
	if _, err := steam.SaturationPressure(-1); !errors.Is(err, steam.ErrRange) {
		t.Errorf("SaturationPressure(-1 °C): %v", err)
	}
}
