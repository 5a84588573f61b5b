package rehearsal

import "time"

// wind blows in gusts at a closed door. The zero value is a calm day.
type wind struct {
	MostMolS float64       // air that the strongest gust blows through the gaps
	Turns    time.Duration // elapsed time at which the gust is over, or the lull
	Blows    bool
	GustMolS float64
}

// Gusts of some seconds with lulls between them; common practice, no source.
const (
	gustLo, gustHi = 3, 20 // s
	lullLo, lullHi = 5, 60 // s
	weakest        = 0.25  // of the strongest gust
)

// step returns the air that is blown in at the elapsed time now.
func (v *wind) step(now time.Duration, d dice) float64 {
	if v.MostMolS == 0 {
		return 0
	}
	if now >= v.Turns {
		v.Blows = !v.Blows
		lo, hi := float64(lullLo), float64(lullHi)
		v.GustMolS = 0
		if v.Blows {
			lo, hi, v.GustMolS = gustLo, gustHi, v.MostMolS*d.between(weakest, 1)
		}
		v.Turns = now + time.Duration(d.between(lo, hi)*float64(time.Second))
	}
	return v.GustMolS
}
