package steambox

import (
	"math"
	"slices"
	"time"

	"withy/steambox/boiler"
	"withy/steambox/median"
	"withy/steambox/unit"
)

// HeatNow is where the boiler's heat goes, best guesses in W.
type HeatNow struct {
	BoilerW   float64 `json:"boiler_w"` // what makes steam
	WallsW    float64 `json:"walls_w"`
	VentW     float64 `json:"vent_w"` // what must blow through vent and drain
	RibsW     float64 `json:"ribs_w"` // at the rhythm as it is
	SpareW    float64 `json:"spare_w"`
	ShortestS float64 `json:"shortest_interval_s"` // from one rib to the next that the boiler can hold; 0: it is too weak
	MissingW  float64 `json:"missing_w"`           // for the box alone, without any rib
	Fitted    bool    `json:"fitted"`              // the walls by this warm-up, not by the box's size
}

// rowEvery is how far apart the moments are that the walls are fitted to.
const rowEvery = time.Minute

// most moments of a warm-up that are kept: three hours.
const mostRows = 180

// fitWalls follows the warm-up from first steam to level, and takes the walls from
// it once.
func (s *Session) fitWalls(now time.Duration, c [2]float64) {
	h := &s.Warmth
	if s.WallsTried || h.FirstSteam == 0 || s.LastIn > 0 || len(s.Warming) == mostRows {
		return
	}
	elapsed := now.Seconds()
	if n := len(s.Warming); n > 0 && elapsed < s.Warming[n-1].ElapsedS+rowEvery.Seconds() && h.LevelAt != now {
		return
	}
	s.Warming = append(s.Warming, boiler.WarmRow{ElapsedS: elapsed, SteamC: c[unit.SteamEnd], DoorC: c[unit.DoorEnd]})
	if h.LevelAt == 0 {
		return
	}
	if w, err := boiler.FitWalls(s.box.size(), s.box.ShopC, s.Warming, s.steamW()); err == nil {
		s.Walls = w
	}
	s.Warming, s.WallsTried = nil, true // once, whatever came of it
}

// steamW is what the boiler turns into steam.
func (s *Session) steamW() boiler.Span { return s.Water.Rate.SteamW(s.latent) }

// size is the box as its walls are reckoned from.
func (b *Box) size() boiler.BoxSize {
	return boiler.BoxSize{LengthM: b.LengthM, InsideM: b.InsideM, BoardM: b.BoardM}
}

// heatNow is the budget when ribs follow one another every interval; 0: none do.
func (s *Session) heatNow(interval time.Duration) HeatNow {
	c, _ := s.ends()
	over := max(0, (c[0]+c[1])/2-s.box.ShopC)
	if !s.Warmth.Ready { // as it will be
		over = s.around.BoilingC - s.box.ShopC
	}
	since := 0.0
	if s.Warmth.LevelAt > 0 {
		since = (s.At - s.Warmth.LevelAt).Seconds()
	}
	walls := s.Walls.At(since, over)
	r := s.nextRib()
	ribJ := boiler.RibJ(s.box.Wood.Material, r.LengthM*r.WidthM*r.ThicknessM, s.around.BoilingC-s.box.WoodC)
	b := boiler.Balance(s.steamW().Best, walls.Best, ribJ, interval.Seconds())
	return HeatNow{
		BoilerW: b.BoilerW, WallsW: b.WallsW, VentW: b.VentW, RibsW: b.RibsW, SpareW: b.SpareW,
		ShortestS: b.ShortestIntervalS, MissingW: b.MissingW, Fitted: s.Walls.Fitted,
	}
}

// rememberedLoads is how many loads are looked back on.
const rememberedLoads = 6

// coldEnd says why the door end is colder than it should be, the likeliest cause
// first; nothing while it is not.
func (s *Session) coldEnd() []boiler.Suspect {
	c, ok := s.ends()
	if !ok || !s.Warmth.Ready || s.HeatOff || c[unit.SteamEnd]-c[unit.DoorEnd] < s.box.ColdEndK {
		return nil
	}
	found := s.behind()
	found.SteamLowK = s.around.BoilingC - c[unit.SteamEnd]
	found.Boiling = s.boiling()
	if s.Warmth.FirstSteam > 0 {
		found.SteamS = (s.At - s.Warmth.FirstSteam).Seconds()
	}
	if rest := s.At - s.Moved; rest >= 5*time.Minute {
		found.Steady = true
		found.SteadyK, found.SwingK = s.atRest()
		found.SteamFallK = s.fellK(5 * time.Minute)[unit.SteamEnd]
	}
	out := found.Diagnose()
	return out[:]
}

// behind returns how the door end fell behind the steam end after the last loads.
func (s *Session) behind() boiler.ColdEnd {
	out := boiler.ColdEnd{}
	var intervals, recovers []float64
	for i, at := range s.Loads {
		if i > 0 {
			intervals = append(intervals, (at - s.Loads[i-1]).Seconds())
		}
		first := s.bucketAt(at)
		if first < 1 || first >= s.Warmth.N { // too long ago, or since the last sample
			continue
		}
		base, worst, back := s.behindIn(first-1), 0.0, -1
		for k := first; k < s.Warmth.N && (i+1 == len(s.Loads) || k < s.bucketAt(s.Loads[i+1])); k++ {
			d := s.behindIn(k) - base
			worst = max(worst, d)
			if d > 1 {
				back = -1
			} else if back < 0 && worst > 1 {
				back = k
			}
		}
		out.Loads++
		out.AfterLoadK = max(out.AfterLoadK, worst)
		if back >= 0 {
			recovers = append(recovers, float64(back-first)*bucket.Seconds())
		}
	}
	out.IntervalS, out.RecoverS = median.Of(intervals), median.Of(recovers)
	if len(recovers) == 0 {
		out.RecoverS = out.IntervalS // never, between two loads
	}
	return out
}

// bucketAt is the bucket of the ends' history that a moment fell into; below 0
// where it is forgotten.
func (s *Session) bucketAt(at time.Duration) int {
	return s.Warmth.N - 1 - int(math.Round(float64(s.Warmth.Opened-at)/float64(bucket)))
}

// behindIn is how far the door end was behind the steam end in a bucket.
func (s *Session) behindIn(k int) float64 {
	h := &s.Warmth
	return (h.Lo[0][k]+h.Hi[0][k])/2 - (h.Lo[1][k]+h.Hi[1][k])/2
}

// atRest is how far the door end is behind the steam end, and how far it wanders, in
// the last minute.
func (s *Session) atRest() (behindK, swingK float64) {
	h := &s.Warmth
	var behind []float64
	lo, hi := math.Inf(1), math.Inf(-1)
	for k := max(0, h.N-int(time.Minute/bucket)); k < h.N; k++ {
		behind = append(behind, s.behindIn(k))
		lo, hi = min(lo, h.Lo[unit.DoorEnd][k]), max(hi, h.Hi[unit.DoorEnd][k])
	}
	if len(behind) == 0 {
		return 0, 0
	}
	return median.Of(behind), hi - lo
}

// noteLoad remembers when a rib went in.
func (s *Session) noteLoad() {
	s.Loads = append(s.Loads, s.At)
	if len(s.Loads) > rememberedLoads {
		s.Loads = slices.Delete(s.Loads, 0, 1)
	}
}
