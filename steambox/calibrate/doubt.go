package calibrate

import "math"

// Doubt is one reason not to believe a calibration.
type Doubt struct {
	Kind DoubtKind
	ID   string  // of the probe; empty: all of them
	K    float64 // how far off, or apart
}

// DoubtKind tells doubts apart as far as what to do about them differs.
type DoubtKind int

// The kinds of doubt.
const (
	// TooFar: a probe is farther from the truth than a sound one can be.
	TooFar DoubtKind = iota
	// WakesUp: it gives exactly 85 °C, what the chip holds from power-up until
	// its first conversion, far from the truth.
	WakesUp
	// TooWide: two probes in one place are farther apart than sound ones can be.
	TooWide
	// NotTogether: they hang apart in the box, since one warmed up well before the other.
	NotTogether
)

// What a sound probe stays within. The DS18B20 is good to ±2 K near boiling and
// ±0.5 K near freezing (data sheet); chips that only pass for it are worse, and a
// barometer typed wrong must be noticed.
const (
	MaxOffK    = 5.0 // from boiling, and between two probes there
	MaxIceOffK = 2.0 // from melting ice, and between two probes there
)

// wakeUpC is the DS18B20's register at power-up (data sheet, table 1).
const wakeUpC = 85

func doubts(t Truth, read []Reading) []Doubt {
	limit := MaxOffK
	if t.Place == Ice {
		limit = MaxIceOffK
	}
	var out []Doubt
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, r := range read {
		lo, hi = min(lo, r.C), max(hi, r.C)
		switch off := r.C - float64(t.C); {
		case math.Abs(off) <= limit:
		case r.C == wakeUpC:
			out = append(out, Doubt{Kind: WakesUp, ID: r.ID, K: off})
		default:
			out = append(out, Doubt{Kind: TooFar, ID: r.ID, K: off})
		}
	}
	if hi-lo > limit {
		out = append(out, Doubt{Kind: TooWide, K: hi - lo})
	}
	return out
}
