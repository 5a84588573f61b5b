package steambox

import (
	"withy/steambox/boiler"
)

// RefillNow is what the last refill cost, where it was not boiling.
type RefillNow struct {
	AgoS        float64 `json:"ago_s"`
	Litres      float64 `json:"litres"`
	MixedC      float64 `json:"mixed_c"` // what the water came to
	BoilsS      float64 `json:"boils_again_s"`
	BoilsLoS    float64 `json:"boils_again_lo_s"` // after the pour, not from now
	BoilsHiS    float64 `json:"boils_again_hi_s"`
	SteamLostKg float64 `json:"steam_lost_kg"`
	RibsIn      int     `json:"ribs_in"` // that were in the box then
}

// BreakNow is the break that a boiler which can't be filled hot needs.
type BreakNow struct {
	Loads    int     `json:"loads"` // ribs that may still go in
	LastOutS float64 `json:"last_out_s"`
	HeatOffS float64 `json:"heat_off_s"`
	InTime   bool    `json:"in_time"` // the last rib is ready by then
}

// refill enters that water was poured in. What was not boiling stops the steam.
func (s *Session) refill(e Event) {
	litres := e.Litres
	if litres == 0 {
		litres = s.box.Kettle.Litres
	}
	left, known := s.Water.Now()
	s.Water.Add(s.box.Boiler, litres)
	s.Kettle, s.Door.Poured = 0, s.At
	if e.TempC == 0 || e.TempC >= s.around.BoilingC-1 {
		return
	}
	if !known {
		left.Best = s.box.Boiler.FullL / 2
	}
	cost := boiler.ColdRefill(left.Best, litres, e.TempC, s.around.BoilingC, s.steamW(), s.latent)
	s.Water.Chill(cost.BoilsAgainS.Hi)
	s.Refill = &refilled{s.At.Seconds(), litres, s.count(InBox), cost}
}

// refilled is a refill that was not boiling.
type refilled struct {
	AtS, Litres float64
	RibsIn      int
	Cost        boiler.Refill
}

// forgetRefillS is how long what a refill cost is told.
const forgetRefillS = 1200

func (s *Session) refillNow() *RefillNow {
	if s.Refill == nil || s.At.Seconds()-s.Refill.AtS > forgetRefillS {
		return nil
	}
	c := &s.Refill.Cost
	return &RefillNow{
		AgoS: s.At.Seconds() - s.Refill.AtS, Litres: s.Refill.Litres, MixedC: c.MixedC, BoilsS: c.BoilsAgainS.Best,
		BoilsLoS: c.BoilsAgainS.Lo, BoilsHiS: c.BoilsAgainS.Hi, SteamLostKg: c.SteamLostKg, RibsIn: s.Refill.RibsIn,
	}
}

// foreseeS is how long before the kettle's call it is reckoned which pulls it must
// not fall on.
const foreseeS = 600

// kettleAt is in how many seconds the kettle is called for, at the latest moment
// that leaves twice its lead and falls on no pull; nil while that is far off.
func (s *Session) kettleAt(w *WaterNow) *float64 {
	if w.DryLoS == nil || !w.Boiling || *w.DryLoS > 2*w.LeadS+foreseeS || *w.DryLoS <= 2*w.LeadS {
		return nil
	}
	at := boiler.KettleAt(*w.DryLoS, 2*w.LeadS, s.pulls(s.dues()), s.box.CrewS)
	return &at
}

// pulls are the seconds to each expected pull, the last one with its negative.
func (s *Session) pulls(dues []Due) []float64 {
	var out []float64
	for slot, i := range s.InSlot {
		if i != empty && dues[slot].ReadyOK {
			out = append(out, dues[slot].Ready.Seconds())
		}
	}
	if s.LastOut > 0 {
		out = append(out, (s.LastOut - s.At).Seconds())
	}
	return out
}

// heatOffMarginS is how long before its water may be gone a closed tank's heat is to
// be off.
const heatOffMarginS = 120

// breakNow plans the break of a boiler that can't be filled while it boils; nil for
// those that can, and while nothing is known of the water.
func (s *Session) breakNow(w *WaterNow, dues []Due) *BreakNow {
	if k := s.box.Boiler.Kind; k == boiler.OpenPot || k == boiler.SecondBoiler || w.DryLoS == nil || !s.Warmth.Ready {
		return nil
	}
	rhythm, known := s.rhythm()
	if !known {
		return nil
	}
	g := boiler.Going{IntervalS: rhythm.Interval.Seconds(), SoakS: rhythm.Soak.Seconds(), BusyS: s.box.CrewS, PullsS: s.pulls(dues)}
	if s.LastIn > 0 {
		g.NextInS = max(0, (s.LastIn + rhythm.Interval - s.At).Seconds())
	}
	b := boiler.PlannedBreak(*w.DryLoS, heatOffMarginS, g)
	if len(s.box.Ribs) > 0 {
		b.Loads = min(b.Loads, s.count(Waiting))
	}
	return &BreakNow{Loads: b.Loads, LastOutS: b.LastOutS, HeatOffS: b.HeatOffS, InTime: b.InTime}
}
