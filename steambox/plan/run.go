package plan

import (
	"math"
	"time"

	"withy/steambox/boiler"
	"withy/steambox/pace"
	"withy/steambox/ribs"
)

// Turn is one rib's passage through the box.
type Turn struct {
	Rib       int // index in the table
	Slot      int // from 0
	InS, OutS float64
}

// pace finds the warm-up and the rhythm that soak, crew and boiler allow.
func (p *Plan) pace(a *Asked) error {
	walls, err := a.Box.FirstWalls()
	if err != nil {
		return err
	}
	overK := a.BoilingC - a.ShopC
	steamW, ribJ := a.Boiler.FirstRate(a.LatentJPerKg).SteamW(a.LatentJPerKg).Best, a.meanRibJ(overK)
	after := func(warmS, intervalS float64) boiler.Budget {
		return boiler.Balance(steamW, walls.At(warmS-levelS, overK).Best, ribJ, intervalS)
	}
	soak, least := toDuration(p.Soak.S), a.PaceS
	want := pace.Offer(pace.Run, soak, a.Slots, toDuration(least)).Interval.Seconds()
	p.WarmUpS = warmUp(func(s float64) bool { return after(s, want).SpareW >= 0 }, func(s float64) bool { return !after(s, 0).TooWeak })
	if h := after(p.WarmUpS, 0); h.TooWeak {
		p.limit(Limit{Kind: TooWeak, Is: h.BoilerW, May: h.MissingW})
	} else {
		least = max(least, h.ShortestIntervalS)
	}
	p.Rhythm = pace.Offer(pace.Run, soak, a.Slots, toDuration(least))
	p.Heat = after(p.WarmUpS, p.Rhythm.Interval.Seconds())
	p.limitPace(a, least)
	return nil
}

// warmUp returns for how long to steam before the first rib: until the walls have
// taken so much that the boiler keeps pace, at least half an hour. Where that never
// comes it is the longest, or the least when even then nothing is left for a rib.
func warmUp(keepsPace, holds func(warmS float64) bool) float64 {
	for s := leastWarmS; s <= longestWarmS; s += 60 {
		if keepsPace(s) {
			return s
		}
	}
	if holds(longestWarmS) {
		return longestWarmS
	}
	return leastWarmS
}

func toDuration(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// meanRibJ is the heat that a rib takes on average to rise by riseK.
func (a *Asked) meanRibJ(riseK float64) float64 {
	volume := 0.0
	for _, r := range a.Ribs {
		thick, wide := a.Usual.ThicknessM, a.Usual.WidthM
		if r.ThicknessM > 0 {
			thick = r.ThicknessM
		}
		if r.WidthM > 0 {
			wide = r.WidthM
		}
		volume += (r.LengthM + 2*a.AllowM) * thick * wide
	}
	return boiler.RibJ(a.Material, volume/float64(len(a.Ribs)), riseK)
}

// limitPace says what keeps ribs from following one another as they could.
func (p *Plan) limitPace(a *Asked, least float64) {
	if p.WarmUpS > leastWarmS {
		p.limit(Limit{Kind: LongWarmUp, Is: p.WarmUpS})
	}
	if least > a.PaceS {
		p.limit(Limit{Kind: BoilerSlower, Is: least, May: a.PaceS})
	}
	switch {
	case a.PaceS > p.Soak.S:
		p.limit(Limit{Kind: PaceSlower, Is: a.PaceS, May: p.Soak.S})
	case least > p.Soak.S:
		p.limit(Limit{Kind: SoakTooShort, Is: least, May: p.Soak.S})
	case p.Rhythm.Slots < a.Slots:
		p.limit(Limit{Kind: SlotsEmpty, Is: least, N: p.Rhythm.Slots})
	}
}

// order returns the ribs in the order in which they are bent.
func (p *Plan) order(a *Asked) []int {
	var order []int
	if !a.MiddleFirst {
		for i := range a.Ribs {
			order = append(order, i)
		}
		return order
	}
	for n, boat := range ribs.Boats(a.Ribs) {
		for _, i := range ribs.MiddleFirst(boat) {
			order = append(order, p.Boats[n].Ribs[i])
		}
	}
	return order
}

// How long steam blows before the first rib, in seconds: half an hour at least is
// common practice; that nobody waits longer than an hour and a half has no source.
// Both ends are taken to be level after twenty minutes, as boiler.FirstWalls has it.
const (
	leastWarmS   = 1800.0
	longestWarmS = 5400.0
	levelS       = 1200.0
)

// What is usual in a closed tank's break, in seconds (no source).
const (
	coolS   = 900 // from heat off until it no longer blows
	rewarmS = 600 // a box still warm, from steam to the next rib
	marginS = 120 // between heat off and a bare element
)

// run lays the ribs out in time, with the water that they need.
func (p *Plan) run(a *Asked) {
	order := p.order(a)
	w := newWater(a)
	p.SteamOnS = -p.WarmUpS
	p.HeatOnS = p.SteamOnS - w.boilUpS(a, a.startL())
	if a.Boiler.FullL == 0 {
		p.limit(Limit{Kind: NoVolume})
	}
	boilsS := 0.0
	switch kind := a.Boiler.Kind; {
	case a.Boiler.FullL > 0 && (kind == boiler.ClosedTank || kind == boiler.NoRefill):
		boilsS = p.inLegs(a, w, order)
	default:
		p.load(order, 0)
		boilsS = p.RunS + p.WarmUpS
		if a.Boiler.FullL > 0 {
			p.call(a, w)
		}
	}
	p.BoiledL, p.MostL = boilsS*w.bestLPerS, boilsS*w.fastLPerS
	if a.Boiler.Gas || a.Boiler.Ring != "" {
		p.limit(Limit{Kind: FlameGuessed, Is: p.SteamOnS + w.firstS/2})
	}
}

// load puts ribs into the box one after another, the first at startS.
func (p *Plan) load(ribs []int, startS float64) {
	interval := p.Rhythm.Interval.Seconds()
	for n, rib := range ribs {
		in := startS + float64(n)*interval
		p.Turns = append(p.Turns, Turn{Rib: rib, Slot: n % p.Rhythm.Slots, InS: in, OutS: in + p.Soak.S})
		p.RunS = math.Max(p.RunS, in+p.Soak.S)
	}
}
