// Package unit holds the few quantities that cross package borders here and
// that are easily mistaken for one another: a level of temperature and a
// difference of two, the two ends of the box.
//
// Everything else is a float64 with its unit in the name, in SI.
package unit

import (
	"fmt"
	"math"
)

// Celsius is a level of temperature, in degrees Celsius.
type Celsius float64

// Sub returns how much hotter c is than d.
func (c Celsius) Sub(d Celsius) Kelvin { return Kelvin(c - d) }

// Add returns the level k above c.
func (c Celsius) Add(k Kelvin) Celsius { return c + Celsius(k) }

// String returns the level with one decimal and its unit.
func (c Celsius) String() string { return fmt.Sprintf("%.1f °C", float64(c)) }

// Kelvin is a difference between two levels of temperature, in kelvin.
type Kelvin float64

// String returns the difference with one decimal and its unit.
func (k Kelvin) String() string { return fmt.Sprintf("%.1f K", float64(k)) }

// Metre is a length, or a place measured from the steam end's probe.
type Metre float64

// String returns the length in whole millimetres.
func (m Metre) String() string { return fmt.Sprintf("%.0f mm", float64(m)*1000) }

// End is one end of the box, and so of every rib that lies in it.
type End int

// The two ends of the box. Steam enters at the one, ribs go in and out at the
// other; which of them is hotter is read, never assumed.
const (
	SteamEnd End = iota
	DoorEnd
)

// Ends lists both ends, steam end first.
var Ends = [2]End{SteamEnd, DoorEnd}

// String returns "steam" or "door".
func (e End) String() string {
	if e == SteamEnd {
		return "steam"
	}
	return "door"
}

// Other returns the opposite end.
func (e End) Other() End { return 1 - e }

// Finite reports whether x is a number that can be reckoned with: not NaN and
// not infinite.
func Finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
