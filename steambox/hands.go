package steambox

import (
	"cmp"
	"slices"
	"time"

	"withy/steambox/median"
	"withy/steambox/pace"
	"withy/steambox/unit"
	"withy/steambox/wood"
)

// OutOfBox is how long a rib can be worked, counted from its pull.
type OutOfBox struct {
	BendS   float64 `json:"bend_s"`
	ShapeS  float64 `json:"shape_s"`
	GiveS   float64 `json:"give_s"`
	AdjustS float64 `json:"adjust_s"`
}

// softC is what the core of wet oak must keep to be worked (common practice: it
// softens near 80 °C).
const softC = 80

// outOfBox returns the times of a rib in this shop. Common practice knows them for
// one thickness; others keep their heat as long as conduction says.
func (s *Session) outOfBox(r Rib) OutOfBox {
	key := wood.Section{WidthM: r.WidthM, ThicknessM: r.ThicknessM}
	out, ok := s.works[key]
	if !ok {
		usual := r
		usual.ThicknessM = pace.UsualThicknessM
		out = pace.OutOf(s.softFor(r, s.box.ShopC).Seconds() / s.softFor(usual, pace.UsualShopC).Seconds())
		s.works[key] = out
	}
	return OutOfBox{out.Bend.Seconds(), out.Shape.Seconds(), out.Give.Seconds(), out.Adjust.Seconds()}
}

// nextOut is the rib that comes out of the box next, or the next to go in.
func (s *Session) nextOut(dues []Due) Rib {
	if c, ok := s.nextPull(dues); ok {
		return s.Ribs[s.rib(c.Rib)].Rib
	}
	return s.nextRib()
}

// softFor is how long a rib pulled at boiling stays soft in a shop of shopC °C.
func (s *Session) softFor(r Rib, shopC float64) time.Duration {
	return s.modelOf(&RibState{Rib: r}).Cools(s.around.BoilingC, softC, shopC)
}

// hotThroughK is how near to the air of the box a core is that counts as hot
// through.
const hotThroughK unit.Kelvin = 2

// resteam is how long a pulled rib needs if it goes back now, whole or one end of
// it, until it is hot through again; nil for one that has gone cold or that would
// not be within half an hour.
func (s *Session) resteam(r *RibState) *float64 {
	if r.Place != Out || r.Heat.Cold {
		return nil
	}
	c, _ := s.ends()
	back, ok := r.Heat.Reheats(s.modelOf(r), min(c[0], c[1]), hotThroughK)
	if !ok {
		return nil
	}
	return inSeconds(back)
}

// PaceNow says whether ribs go through too fast or too slowly, and what to do.
type PaceNow struct {
	Verdict string  `json:"verdict"` // steady, too-fast, too-slow; "" before there is anything to judge
	ByS     float64 `json:"by_s,omitempty"`
	Do      string  `json:"do,omitempty"` // wait: leave each rib in longer; hold: load the next blank later; drop: use a slot less
}

// How far from the target heat the cooler end of the last ribs may be, as a share
// of it, and how many ribs are looked at (common practice, no source: a quarter of
// a soak is about what a window is wide).
const (
	fastShare, slowShare = 0.85, 1.3
	judged               = 3
	leastByS             = 15 // seconds that nobody need be told of
)

// paceNow judges the last ribs that were pulled.
func (s *Session) paceNow() PaceNow {
	last := s.lastPulled(judged)
	if len(last) < judged {
		return PaceNow{}
	}
	var shares, soaks []float64
	for _, r := range last {
		shares = append(shares, float64(min(r.AtPull[0], r.AtPull[1])/r.Wanted.Target))
		soaks = append(soaks, (r.Out - r.In).Seconds())
	}
	wanted, ok := s.soakNow()
	by := median.Of(soaks) - wanted.Seconds()
	switch share := median.Of(shares); {
	case !ok:
		return PaceNow{}
	case share < fastShare && by < -leastByS:
		return PaceNow{Verdict: "too-fast", ByS: -by, Do: "wait"}
	case share > slowShare && by > leastByS:
		return PaceNow{Verdict: "too-slow", ByS: by, Do: s.slower(wanted)}
	}
	return PaceNow{Verdict: "steady"}
}

// slower says how a crew that can't keep up puts less into the box: fewer slots
// when its own pace asks for it, else a blank held back.
func (s *Session) slower(wanted time.Duration) string {
	if own, known := s.Crew.Pace(); known && pace.Offer(s.box.Way, wanted, len(s.box.Slots), own).Slots < s.count(InBox) {
		return "drop"
	}
	return "hold"
}

// lastPulled returns the ribs pulled last, at most n.
func (s *Session) lastPulled(n int) []*RibState {
	var out []*RibState
	for i := range s.Ribs {
		if s.Ribs[i].Place == Out && s.Ribs[i].Soaks == 1 && !s.Ribs[i].Test {
			out = append(out, &s.Ribs[i])
		}
	}
	slices.SortFunc(out, func(a, b *RibState) int { return cmp.Compare(b.Out, a.Out) })
	return out[:min(n, len(out))]
}
