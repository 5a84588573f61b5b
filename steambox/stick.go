package steambox

import (
	"cmp"
	"math"
	"slices"
	"time"

	"withy/steambox/median"
	"withy/steambox/soak"
	"withy/steambox/unit"
	"withy/steambox/window"
	"withy/steambox/wood"
)

// TestBend is a bend of a stick that was made before the session.
type TestBend struct {
	Stick      string      `json:"stick,omitempty" means:"The stick that the offcut is of."`
	ThicknessM float64     `json:"thickness_m,omitempty" means:"Thickness of the offcut, in metres; absent for any."`
	Bend       window.Bend `json:"bend" means:"How it went."`
}

// Earlier is what an earlier session learnt of a stick: a stick is a tree of its own,
// so it only moves where the search for the next one of its kind begins.
type Earlier struct {
	ThicknessM float64         `json:"thickness_m" means:"Thickness of its ribs, in metres."`
	Bend       string          `json:"bend" means:"How hard they bent: easy, middling or hard."`
	Soft       window.Interval `json:"soft_min" means:"Heat from which half of its pieces were soft enough, in minutes at 100 °C."`
	Bends      int             `json:"bends" means:"Number of bends that taught it."`
}

// EarlierOf returns what the next session may take over from this one: sticks of
// which at least three bends were told.
func (s *Session) EarlierOf() []Earlier {
	var out []Earlier
	for _, k := range s.sticksNow() {
		if k.Bends >= 3 {
			out = append(out, Earlier{k.ThicknessM, k.Bend, k.Soft, k.Bends})
		}
	}
	return out
}

// prior is what is believed of a rib's stick before any of it was bent.
func (s *Session) prior(r Rib) (window.Prior, error) {
	p, err := window.Start(s.assumed(r), s.box.Dryness)
	for _, e := range s.box.Earlier {
		if err == nil && nominal(e.ThicknessM) == nominal(r.ThicknessM) && e.Bend == string(keyOf(r).bend) {
			return p.After(e.Soft), nil
		}
	}
	return p, err
}

// bent is one pull and what came of it. A rib that went back has several.
type bent struct {
	Rib            int
	Steam, Door    soak.Exposure // best guess at the pull
	Unseen         bool          // too much of its soak was not seen to learn from
	Late           bool          // it had had too much, by what was known then
	Outcome, Where string
}

// unseenShare is how much of a rib's heat may have been taken unseen for its bend to
// teach anything about the stick.
const unseenShare = 0.15

// bentNow describes the pull of a rib.
func (s *Session) bentNow(i int) bent {
	h := &s.Ribs[i].Heat
	b := bent{Rib: i, Steam: h.End(unit.SteamEnd).Track[soak.Best].Exposure, Door: h.End(unit.DoorEnd).Track[soak.Best].Exposure}
	for _, e := range unit.Ends {
		p := h.End(e)
		b.Unseen = b.Unseen || p.Less+p.More > unseenShare*p.Track[soak.Best].Exposure
	}
	b.Late = max(b.Steam, b.Door) > s.windowOf(s.Ribs[i].Rib).Over
	return b
}

// stickKey is what shares a window: one stick of one thickness, bent so hard.
type stickKey struct {
	stick      string
	thicknessM float64 // in steps that callipers don't argue about
	bend       window.Difficulty
}

func keyOf(r Rib) stickKey {
	return stickKey{r.Stick, nominal(r.ThicknessM), cmp.Or(window.Difficulty(r.Bend), window.Middling)}
}

// nominal is a thickness in metres to the half millimetre: a plank is one stick
// though no two ribs of it measure quite the same.
func nominal(m float64) float64 { return max(0.0005, math.Round(m*2000)/2000) }

// rib is the rib that stands for all with this key, so that what is believed of them
// does not hang on which is asked about first.
func (k stickKey) rib(common Rib) Rib {
	common.Stick, common.ThicknessM, common.Bend = k.stick, max(k.thicknessM, wood.MinSideM), string(k.bend)
	return common
}

// stick is what a stick's bends have taught. It follows from the session's state and
// is only kept so as not to be reckoned again.
type stick struct {
	learnt *window.Window
	bends  []window.Bend // that are in it
	epoch  int           // of the session by then
	ratio  float64
	window Window
	chance float64
	firing []soak.Exposure // of the test pieces in the box; nil: not yet reckoned

	weighed []soak.Exposure // candidates for the next bend; nil: not yet reckoned
	best    window.Test     // of them
}

// windowOf is the window of a rib's stick as it is known now: the target makes it
// likeliest that both ends come out supple in the box as it is.
func (s *Session) windowOf(r Rib) Window {
	if !s.box.Learn {
		return s.box.Window
	}
	return s.stickOf(r).window
}

func (s *Session) stickOf(r Rib) *stick {
	key := keyOf(r)
	k, ok := s.sticks[key]
	if !ok {
		k = &stick{epoch: -1}
		s.sticks[key] = k
	}
	if ratio := s.endRatio(); k.epoch != s.epoch || k.ratio != ratio {
		s.learn(k, key)
		k.ratio, k.epoch = ratio, s.epoch
		k.aim()
		k.firing, k.weighed = nil, nil
	}
	return k
}

// testTarget is the heat at which a test piece in the box is to be pulled: together
// with the others of its stick there it makes one firing, and the one loaded first
// comes out first.
func (s *Session) testTarget(r *RibState) soak.Exposure {
	k := s.stickOf(r.Rib)
	var tests []*RibState
	for _, i := range s.InSlot {
		if i != empty && s.Ribs[i].Test && keyOf(s.Ribs[i].Rib) == keyOf(r.Rib) {
			tests = append(tests, &s.Ribs[i])
		}
	}
	slices.SortStableFunc(tests, func(a, b *RibState) int { return cmp.Compare(a.In, b.In) })
	if k.firing == nil {
		k.firing = k.learnt.Firing(k.ratio, min(len(tests), window.MaxFiring))
	}
	return k.firing[min(slices.Index(tests, r), len(k.firing)-1)]
}

// learn takes in what was bent of a stick since. What was learnt before is learnt
// again only if it has been told otherwise.
func (s *Session) learn(k *stick, key stickKey) {
	bends := s.bendsOf(key)
	known := len(k.bends)
	if k.learnt == nil || known > len(bends) || !slices.Equal(k.bends, bends[:known]) {
		prior, err := s.prior(key.rib(s.box.Common))
		if err != nil {
			panic("steambox: stick " + key.stick + " without a window: " + err.Error()) // Check has seen to dryness and sizes
		}
		k.learnt, known = window.Learn(prior, nil, key.bend), 0
	}
	for _, b := range bends[known:] {
		k.learnt.Add(b)
	}
	k.bends = bends
}

// bendsOf lists all bends of a stick that can be learnt from, test bends first. The
// rib that was pulled last is left out until its outcome is told or the next is out, and
// one that came out late until it is told: silence speaks for a rib that was pulled when
// it was called, but late ribs that nobody had a hand free for would teach ever longer soaks.
func (s *Session) bendsOf(key stickKey) []window.Bend {
	var out []window.Bend
	for _, t := range s.box.TestBends {
		if (t.Stick == "" || t.Stick == key.stick) && (t.ThicknessM == 0 || nominal(t.ThicknessM) == key.thicknessM) {
			out = append(out, t.Bend)
		}
	}
	for n, b := range s.Bent {
		r := &s.Ribs[b.Rib]
		unsure := b.Outcome == "" && (b.Late || n == len(s.Bent)-1)
		if of := keyOf(r.Rib); unsure || b.Unseen || of.stick != key.stick || of.thicknessM != key.thicknessM {
			continue
		}
		one := window.Bend{Cool: min(b.Steam, b.Door), Hot: max(b.Steam, b.Door), Outcome: window.Outcome(b.Outcome),
			Where: window.Where(b.Where), Difficulty: keyOf(r.Rib).bend, InRun: !r.Test}
		if len(one.Check()) == 0 {
			out = append(out, one)
		}
	}
	return out
}

// goodShare is how much of the best chance of both ends supple is left when a rib is
// called overdone.
const goodShare = 0.75

// How finely, and how far beyond the target, what is too much is looked for.
const aimStep, farAim = 1.03, 20

// aim sets the target for the cooler end and what is too much for the hotter one.
func (k *stick) aim() {
	t := k.learnt.Target(k.ratio)
	cool, hot := min(1, k.ratio), max(1, k.ratio)
	// Step by step: where stiff ribs may be under- or overdone the chance has a trough
	// and rises again, and nothing may be called good beyond it.
	over := t.Steam * aimStep
	for over < farAim*t.Steam && k.learnt.Chance(over, k.ratio) >= goodShare*t.Chance {
		over *= aimStep
	}
	k.window = Window{
		Soft:   min(k.learnt.Soft().Median, t.Steam*soak.Exposure(cool)),
		Target: t.Steam * soak.Exposure(cool),
		Over:   over * soak.Exposure(hot),
	}
	k.chance = t.Chance
}

// ratioFresh is for how long the last ribs tell how the box is.
const ratioFresh = 10 * time.Minute

// ratioMoments is how many moments of the ends' history are looked at before.
const ratioMoments = 6

// ratioStep is how finely the ratio of the ends is told apart, in its logarithm.
const ratioStep = 0.02

// endRatio is the heat that the door end of a rib takes over that of its steam end.
func (s *Session) endRatio() float64 { return math.Exp(s.LnRatio) }

// followRatio brings the ratio of the ends up to the last sample, in steps, and only
// once it has plainly left the last: each step is a new target for every stick.
func (s *Session) followRatio() {
	if !s.box.Learn {
		return // nothing asks for it
	}
	if ln := s.lnRatio(); math.Abs(ln-s.LnRatio) > 0.75*ratioStep {
		s.LnRatio = ratioStep * math.Round(ln/ratioStep)
	}
}

// lnRatio is the logarithm of the ratio as the last ribs had it, before them as the
// air is.
func (s *Session) lnRatio() float64 {
	var ln float64
	if n := len(s.Bent); n > 0 && s.At-s.LastOut <= ratioFresh {
		var last [judged]float64
		m := min(n, judged)
		for i, b := range s.Bent[n-m:] {
			last[i] = math.Log(float64(max(b.Door, window.MinExposure) / max(b.Steam, window.MinExposure)))
		}
		ln = median.Of(last[:m])
	} else if s.Began {
		// Whole moments of the history only: the last sample's noise would stir the calls.
		var behind [ratioMoments]float64
		n := 0
		for k := max(0, s.Warmth.N-1-ratioMoments); k < s.Warmth.N-1; k++ {
			behind[n] = s.behindIn(k)
			n++
		}
		if n > 0 {
			ln = math.Log(soak.Factor(-median.Of(behind[:n])))
		}
	}
	return min(max(ln, -1.5), 1.5)
}

// StickNow is what is known of one stick at one difficulty.
type StickNow struct {
	Stick      string          `json:"stick,omitempty"`
	ThicknessM float64         `json:"thickness_m"`
	Bend       string          `json:"bend"`
	Soft       window.Interval `json:"soft_min"`
	Over       window.Interval `json:"over_min"`
	Target     soak.Exposure   `json:"target_min"` // of the cooler end
	Ratio      float64         `json:"end_ratio"`  // door end over steam end
	Chance     float64         `json:"p_supple_both_ends"`
	Bends      int             `json:"bends"`
	Guess      bool            `json:"guess"` // nothing was bent yet: the handbook's
}

// sticksNow lists the sticks of the table, each at the difficulties it has, in the
// order of the ribs.
func (s *Session) sticksNow() []StickNow {
	out := []StickNow{}
	if !s.box.Learn {
		return out
	}
	ribs := s.Ribs
	if len(ribs) == 0 {
		ribs = []RibState{{Rib: s.box.Common}}
	}
	var seen []stickKey
	for i := range ribs {
		r := ribs[i].Rib
		key := keyOf(r)
		if slices.Contains(seen, key) {
			continue
		}
		seen = append(seen, key)
		k := s.stickOf(r)
		out = append(out, StickNow{
			Stick: key.stick, ThicknessM: key.thicknessM, Bend: string(key.bend),
			Soft: k.learnt.Soft(), Over: k.learnt.Over(), Target: k.window.Target, Ratio: k.ratio,
			Chance: k.chance, Bends: len(k.learnt.Told()), Guess: k.learnt.Guess(),
		})
	}
	return out
}

// Try is a bend worth making out of turn.
type Try struct {
	Rib    string        `json:"rib"`
	Slot   string        `json:"slot"`
	Reason window.Reason `json:"reason"`
}

// try returns the rib to pull early and bend, where the last rib that was told of
// failed and may have had too little or too much: nil where it is clear which, or
// where a shorter soak would not tell.
func (s *Session) try() *Try {
	last := len(s.Bent) - 1
	for last >= 0 && s.Bent[last].Outcome == "" {
		last--
	}
	if !s.box.Learn || last < 0 || s.Bent[last].Outcome == string(window.Supple) {
		return nil
	}
	k := s.stickOf(s.Ribs[s.Bent[last].Rib].Rib)
	var ribs []int
	var candidates []soak.Exposure
	for _, i := range s.InSlot {
		if i == empty || keyOf(s.Ribs[i].Rib) != keyOf(s.Ribs[s.Bent[last].Rib].Rib) {
			continue
		}
		// One that is surely still stiff tells nothing.
		if e := s.Ribs[i].Heat.End(unit.SteamEnd).Track[soak.Best].Exposure; e >= k.learnt.Soft().Lo {
			ribs, candidates = append(ribs, i), append(candidates, coarse(e))
		}
	}
	if len(ribs) == 0 {
		return nil
	}
	next := k.next(candidates)
	if next.Reason != window.Earlier {
		return nil
	}
	r := &s.Ribs[ribs[slices.Index(candidates, next.Steam)]]
	return &Try{Rib: r.Label, Slot: s.box.Slots[r.Slot], Reason: next.Reason}
}

// coarse rounds an exposure to steps of a twentieth: which bend is worth making need
// not be weighed anew every second.
func coarse(e soak.Exposure) soak.Exposure {
	const step = 0.05
	return soak.Exposure(math.Exp(step * math.Round(math.Log(float64(e))/step)))
}

// next is the bend worth making among candidates, kept until they are others.
func (k *stick) next(candidates []soak.Exposure) window.Test {
	if !slices.Equal(k.weighed, candidates) {
		k.weighed, k.best = candidates, k.learnt.Next(k.ratio, candidates)
	}
	return k.best
}
