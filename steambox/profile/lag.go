package profile

import "math"

// window is how many samples the slope is taken over.
const window = 7

// Limits of the correction, in kelvin and kelvin per second: no probe in a steam
// box is further behind than this, and a window spread over more than maxWindowS
// says nothing of the present slope.
const (
	maxLagK    = 20
	maxWindowS = 30
)

// Lag undoes the delay of one probe: it returns T + τ·dT/dt with the slope taken
// as the median of all slopes between pairs of the last seven samples (Theil–Sen),
// which one bad sample can't turn. White noise of 0.1 K at one sample a second
// comes out below 1 K with τ = 10 s (TestLagNoise). The zero value is ready.
type Lag struct {
	At, T [window]float64 // s, °C
	N     int             // samples held
}

// tauShare is how well a time constant is known: the share of a correction that
// is doubtful.
const tauShare = 0.3

// Correct takes the reading c at elapsed time atS and returns what the air is,
// for a time constant of tauS seconds; 0 leaves it as it is. limit is the hottest
// that the air can be.
func (l *Lag) Correct(atS, c, tauS, limit float64) Reading {
	if tauS <= 0 {
		return Reading{C: c, OK: true}
	}
	if l.N > 0 && atS-l.At[l.N-1] > maxWindowS {
		l.N = 0
	}
	if l.N == window {
		copy(l.At[:], l.At[1:])
		copy(l.T[:], l.T[1:])
		l.N--
	}
	l.At[l.N], l.T[l.N] = atS, c
	l.N++
	fix := max(-maxLagK, min(maxLagK, tauS*l.slope()))
	return Reading{C: min(c+fix, max(c, limit)), DoubtK: tauShare * math.Abs(fix), OK: true}
}

// slope is the median of the pairwise slopes, K/s; 0 for fewer than three samples.
func (l *Lag) slope() float64 {
	if l.N < 3 {
		return 0
	}
	var s [window * (window - 1) / 2]float64
	n := 0
	for i := range l.N {
		for j := range i {
			if dt := l.At[i] - l.At[j]; dt > 0 {
				s[n] = (l.T[i] - l.T[j]) / dt
				n++
			}
		}
	}
	if n == 0 {
		return 0
	}
	return median(s[:n])
}

// median sorts s in place by insertion, which for so few is the fastest and
// allocates nothing.
func median(s []float64) float64 {
	for i := 1; i < len(s); i++ {
		for j := i; j > 0 && s[j] < s[j-1]; j-- {
			s[j], s[j-1] = s[j-1], s[j]
		}
	}
	m := len(s) / 2
	if len(s)%2 == 1 {
		return s[m]
	}
	return (s[m-1] + s[m]) / 2
}
