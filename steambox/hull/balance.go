package hull

import "math"

// Balance is how far the two sides of a hull differ. All but Ribs are in the unit
// of Fitted.Difference, the natural logarithm of a ratio of exposures.
type Balance struct {
	Lean  float64 // above 0: softer and so rounder to starboard, the whole length
	Twist float64 // above 0: rounder to starboard aft and to port forward

	// The standard errors of the two from what is not known of each rib, taken as
	// independent from rib to rib.
	LeanSD, TwistSD float64

	// PerRib is how far one average rib the wrong way round moves the lean.
	PerRib float64
	Ribs   int // how many are fitted; 0: the rest is 0
}

// Balance returns the lean and the twist as ribbed so far: the mean over all ribs
// of ±d, weighted, and that of ±d·ξ, where d is a rib's difference, + counts for
// a mark to port and ξ is the station's place between the outermost two, −1 to +1.
func (h *Hull) Balance() Balance {
	s := h.sums()
	if s.ribs == 0 {
		return Balance{}
	}
	return Balance{
		Lean: s.lean / s.weight, Twist: s.twist / s.weight,
		LeanSD: math.Sqrt(s.leanVar) / s.weight, TwistSD: math.Sqrt(s.twistVar) / s.weight,
		PerRib: 2 * s.size / float64(s.ribs) / s.weight, Ribs: s.ribs,
	}
}

// sums are what the ribs fitted add up to, before dividing by their weight.
type sums struct {
	lean, twist, weight float64
	leanVar, twistVar   float64
	size                float64 // of weighted differences without their sign
	ribs                int
}

func (h *Hull) sums() sums {
	var s sums
	for i := range h.places {
		p := &h.places[i]
		if p.rib == nil {
			continue
		}
		w := p.rib.weight()
		wd, sd := w*p.rib.Difference(), w*p.rib.sd()
		s.lean += p.rib.Mark.sign() * wd
		s.twist += p.rib.Mark.sign() * wd * p.xi
		s.leanVar += sd * sd
		s.twistVar += sd * sd * p.xi * p.xi
		s.size += math.Abs(wd)
		s.weight += w
		s.ribs++
	}
	return s
}
