package resistance_test

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"withy/sensor/resistance"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %.5f, want %.5f within %g", what, got, want, tol)
	}
}

// Printed in the MAX31865 data sheet, table 9, as the resistance of a Pt100 by IEC 60751.
func TestPlatinumTable(t *testing.T) {
	for c, ohm := range map[float64]float64{
		-100: 60.26, -40: 84.27, 0: 100.00, 20: 107.79, 50: 119.40, 60: 123.24, 80: 130.90,
		90: 134.71, 100: 138.51, 110: 142.29, 120: 146.07, 150: 157.33,
	} {
		near(t, "Pt100", resistance.Platinum(100).Ohms(c), ohm, 0.005)
		near(t, "Pt1000", resistance.Platinum(1000).Ohms(c), 10*ohm, 0.05)
		got, err := resistance.Platinum(100).Celsius(ohm)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "back", got, c, 0.005/0.37) // what the table's last digit is worth
	}
}

func TestPlatinumThereAndBack(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		c := rapid.Float64Range(-199.999, 849.999).Draw(r, "c")
		back, err := resistance.Platinum(100).Celsius(resistance.Platinum(100).Ohms(c))
		if err != nil || math.Abs(back-c) > 1e-5 {
			r.Errorf("%g °C comes back as %g, %v", c, back, err)
		}
	})
}

// Rows of a maker's table of a 10 k glass bead, B25/50 = 3950 K, part AMF58B-103F3950:
// °C and ohms.
var bead = map[float64]float64{
	0: 32580.7, 25: 10000.0, 35: 6497.6, 80: 1242.9, 85: 1059.4, 90: 906.9, 95: 779.7, 100: 673.0,
	110: 507.1, 120: 387.4, 125: 340.2, 150: 185.1,
}

func TestThermistorByTable(t *testing.T) {
	th, err := resistance.FromTable([3]float64{25, 85, 125}, [3]float64{10000, 1059.4, 340.2})
	if err != nil {
		t.Fatal(err)
	}
	// Reckoned elsewhere from the same three rows.
	near(t, "a·1e3", 1e3*th.A, 1.095469454, 1e-6)
	near(t, "b·1e4", 1e4*th.B, 2.413941501, 1e-6)
	near(t, "c·1e8", 1e8*th.C, 4.508376756, 1e-5)
	for c, ohm := range bead {
		tol := 0.5
		if c >= 80 && c <= 125 {
			tol = 0.02
		}
		got, err := th.Celsius(ohm)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "bead", got, c, tol)
	}
}

// Beta alone: the formula's own ohms, and how far off it is on the bead at 100 °C.
func TestThermistorByBeta(t *testing.T) {
	th := resistance.FromBeta(10000, 3950)
	for ohm, c := range map[float64]float64{33620.6: 0, 10000: 25, 3588.2: 50, 697.5: 100, 673.0: 101.27, 779.7: 96.12} {
		got, err := th.Celsius(ohm)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "beta", got, c, 0.01)
	}
}

// The kernel's own table for the part ncpXXxh103 (drivers/hwmon/ntc_thermistor.c).
func TestThermistorOfKernel(t *testing.T) {
	th, err := resistance.FromTable([3]float64{25, 85, 125}, [3]float64{10000, 1452, 531})
	if err != nil {
		t.Fatal(err)
	}
	for c, ohm := range map[float64]float64{90: 1268, 95: 1110, 100: 974, 105: 858} {
		got, _ := th.Celsius(ohm)
		near(t, "ncp", got, c, 0.1)
	}
}

func TestRange(t *testing.T) {
	bead, _ := resistance.FromTable([3]float64{25, 85, 125}, [3]float64{10000, 1059.4, 340.2})
	for _, ohm := range []float64{-1, 0, 1e9, math.Inf(1), math.NaN()} {
		for _, e := range []resistance.Element{resistance.Platinum(100), bead} {
			if c, err := e.Celsius(ohm); !errors.Is(err, resistance.ErrRange) {
				t.Errorf("%T: %g ohm is %g °C, %v", e, ohm, c, err)
			}
		}
	}
	for _, ohm := range [][3]float64{{1, 2, 3}, {10000, 10000, 340}, {0, 0, 0}, {10000, math.NaN(), 340}, {10000, 340, -1}} {
		if th, err := resistance.FromTable([3]float64{25, 85, 125}, ohm); err == nil {
			t.Errorf("%v gives %+v", ohm, th)
		}
	}
}
