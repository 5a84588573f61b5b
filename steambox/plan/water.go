package plan

import (
	"cmp"
	"slices"

	"withy/steambox/boiler"
	"withy/steambox/pace"
)

// Call is a refill, all times in seconds from the first rib in.
type Call struct {
	AtS    float64 // the kettle goes on, or the second boiler is lit
	PourS  float64 // it is in the boiler, or the second boiler steams
	Litres float64 // cold, as it goes into the kettle
}

// Break is the refill of a boiler that can't be filled hot, in seconds from the first
// rib in.
type Break struct {
	After    int     // ribs that are out by then
	HeatOffS float64 // last rib out
	FillS    float64 // it no longer blows: cap off, fill, heat on
	Litres   float64 // to fill it, best guess
	AgainS   float64 // the next rib goes in
}

// water is the boil-off before anything of it was seen.
type water struct {
	bestLPerS, fastLPerS float64
	netW                 boiler.Span
	fillingS             float64 // that a filling lasts at the fast rate; 0: not known
	firstS               float64 // the same of what is in the boiler at first
}

// fastFrom is the rate that water is planned by: one boiler in twenty is faster. On
// the day the rate is learnt, and then there is no need to guess.
const fastFrom = 0.95

func newWater(a *Asked) water {
	rate := a.Boiler.FirstRate(a.LatentJPerKg)
	w := water{bestLPerS: rate.Quantile(0.5), fastLPerS: rate.Quantile(fastFrom), netW: rate.SteamW(a.LatentJPerKg)}
	if a.Boiler.FullL > 0 {
		w.fillingS = (a.Boiler.FullL - a.Boiler.BareL) / w.fastLPerS
		w.firstS = (a.startL() - a.Boiler.BareL) / w.fastLPerS
	}
	return w
}

// startL is what is in the boiler before the heat goes on.
func (a *Asked) startL() float64 { return cmp.Or(a.StartL, a.Boiler.FullL) }

// boilUpS is how long litres from the tap take to boil in the boiler.
func (w water) boilUpS(a *Asked, litres float64) float64 {
	return boiler.ColdRefill(0, litres, a.Kettle.TapC, a.BoilingC, w.netW, a.LatentJPerKg).BoilsAgainS.Best
}

// busyS is how long a pull keeps the crew: until the rib has its shape.
var busyS = pace.OutOf(1).Shape.Seconds()

// refill returns what comes with each call and how long before it is needed.
func (w water) refill(a *Asked) (litres, leadS float64) {
	if a.Boiler.Kind == boiler.SecondBoiler {
		return a.Boiler.FullL, w.boilUpS(a, a.Boiler.FullL) + a.Kettle.CarryS
	}
	return a.Kettle.Litres, a.Kettle.Lead(a.BoilingC).Seconds()
}

// kettleAt returns when the kettle is to be called for, so that neither the call nor
// the pour falls on a pull: a pour falls on one when the call comes leadS before it.
// Where that would take more than two ribs' time only the call keeps clear.
func (p *Plan) kettleAt(dryS, leadS float64, pulls []float64) float64 {
	both := slices.Clone(pulls)
	for _, s := range pulls {
		both = append(both, s-leadS)
	}
	at := boiler.KettleAt(dryS, leadS, both, busyS)
	if at < dryS-leadS-2*p.Rhythm.Interval.Seconds() {
		return boiler.KettleAt(dryS, leadS, pulls, busyS)
	}
	return at
}

// call plans the calls for water, each at the last moment that is early enough in a
// fast boiler and doesn't fall on a pull.
func (p *Plan) call(a *Asked, w water) {
	litres, leadS := w.refill(a)
	nowS, level := p.SteamOnS, a.startL()
	for {
		dryS := nowS + (level-a.Boiler.BareL)/w.fastLPerS
		if dryS >= p.RunS {
			return
		}
		c := Call{AtS: nowS + p.kettleAt(dryS-nowS, leadS, p.pullsFrom(nowS))}
		c.PourS = c.AtS + leadS
		if c.PourS > dryS+1e-6 {
			p.limit(Limit{Kind: KettleTooSlow, Is: dryS, May: c.PourS})
			return
		}
		level -= w.fastLPerS * (c.PourS - nowS)
		c.Litres = min(litres, a.Boiler.FullL-level)
		if a.Boiler.Kind == boiler.SecondBoiler { // it starts full beside the first
			c.Litres, level = litres, 0
		}
		level, nowS = level+c.Litres, c.PourS
		p.Calls = append(p.Calls, c)
	}
}

// pullsFrom returns the seconds from a moment to each pull.
func (p *Plan) pullsFrom(nowS float64) []float64 {
	s := make([]float64, len(p.Turns))
	for i, t := range p.Turns {
		s[i] = t.OutS - nowS
	}
	return s
}

// inLegs loads a boiler that is filled only when it is off: as many ribs as one
// filling is sure to last for, a break, and so on. It returns for how long it boils.
func (p *Plan) inLegs(a *Asked, w water, order []int) (boilsS float64) {
	startS, steamS := 0.0, p.SteamOnS
	lastsS, missing := w.firstS, a.Boiler.FullL-a.startL()
	going := boiler.Going{IntervalS: p.Rhythm.Interval.Seconds(), SoakS: p.Soak.S, BusyS: busyS}
	for {
		b := boiler.PlannedBreak(steamS+lastsS-startS, marginS, going)
		loads := min(b.Loads, len(order))
		if loads == 0 {
			p.limit(Limit{Kind: TankTooSmall, Is: lastsS, May: startS - steamS + going.SoakS + busyS + marginS})
			return boilsS
		}
		p.load(order[:loads], startS)
		offS := p.RunS + busyS
		boilsS += offS - steamS
		order = order[loads:]
		switch {
		case len(order) == 0:
			return boilsS
		case a.Boiler.Kind == boiler.NoRefill:
			p.limit(Limit{Kind: RunsOut, N: len(p.Turns)})
			return boilsS
		}
		missing += w.bestLPerS * (offS - steamS)
		next := Break{After: len(p.Turns), HeatOffS: offS, FillS: offS + coolS, Litres: missing}
		steamS = next.FillS + w.boilUpS(a, missing)
		lastsS, missing = w.fillingS, 0
		startS = steamS + rewarmS
		next.AgainS = startS
		p.Breaks = append(p.Breaks, next)
	}
}
