package soak

import (
	"math"
	"time"

	"withy/steambox/unit"
	"withy/steambox/wood"
)

// DefaultPoints is how many points a rib is followed at, ends included.
const DefaultPoints = 9

// coolC is the core temperature below which a rib out of the box gathers no more.
const coolC = 60

// Track is one account at one point.
type Track struct {
	Field    wood.Field
	AirC     float64  // of the air there, °C
	CoreC    float64  // of the wood's core, °C
	LowC     float64  // coldest and hottest that anything here has been: the core
	HighC    float64  // stays between, whatever the cut-off series says at entry
	Exposure Exposure // gathered so far
	SteamC   float64  // the air as the film goes by it, smoothed, °C
	Rung     int      // which of its model's films it has in the box
}

// Point is one place along a rib.
type Point struct {
	X     unit.Metre // from the steam end's probe
	Track [Bounds]Track
	// Of the best guess, what was gathered unseen: it may be Less by so much, or
	// More. Unlike the bounds these leave out what test bends in the same box have
	// in common with the run: film, wood and probes.
	Less, More Exposure
}

// Surely returns the exposure that the point has on the scale of test bends even
// if nothing was gained unseen.
func (p *Point) Surely() Exposure { return p.Track[Best].Exposure - p.Less }

// AtMost returns the exposure that the point has on the scale of test bends if
// the air was as hot as it can be whenever nobody saw.
func (p *Point) AtMost() Exposure { return p.Track[Best].Exposure + p.More }

// Heat is the heat that one rib has taken. Its fields are its whole state.
type Heat struct {
	Place  Place
	Points []Point // steam end first, both ends included
	BlindS float64 // how long it was in the box with nothing to go by, s
	DoubtS float64 // how long with one place inferred, or perhaps out of the box, s
	Cold   bool    // out of the box and cooled below 60 °C: it gathers no more
}

// NewHeat returns a rib of woodC °C that goes into air of airC °C, lying from
// inner to outer, measured from the steam end's probe, followed at n points, 2
// or more.
func NewHeat(m *Model, inner, outer unit.Metre, n int, woodC float64, air []Air) Heat {
	h := Heat{Points: make([]Point, n)}
	for i := range h.Points {
		p := &h.Points[i]
		p.X = inner + (outer-inner)*unit.Metre(i)/unit.Metre(n-1)
		for b := range p.Track {
			p.Track[b] = enter(m, Bound(b), woodC, air[i].C[b])
		}
	}
	return h
}

// enter returns the account of wood of woodC °C that goes into air of airC °C.
func enter(m *Model, b Bound, woodC, airC float64) Track {
	t := Track{AirC: airC, CoreC: woodC, LowC: woodC, HighC: woodC, SteamC: airC, Rung: m.films[b].nearest(airC)}
	t.Field.Jump(m.at(InBox, b, t.Rung).bar, airC-woodC)
	return t
}

// Air is the air at one point: its temperature under each bound, in °C, rising.
type Air struct {
	C [Bounds]float64
}

// Seen says how much of the air could be seen during a step.
type Seen int

// Whole: every probe counted. Partly: some place was inferred. Blind: nothing to
// go by; the lower account gains nothing and the upper one is as hot as can be.
// Perhaps: the air was seen, but the rib may have been out of the box; the lower
// account gains nothing, and calls go on as if it were in.
const (
	Whole Seen = iota
	Partly
	Blind
	Perhaps
)

// Advance lets d pass while the air at each point goes in a straight line from
// what it was to air, one per point; blind, the bounds' air is that from the start.
// The integral of the exposure is exact to 0.1 % over any d. The film follows the
// air from step to step.
func (h *Heat) Advance(m *Model, d time.Duration, air []Air, seen Seen) {
	if h.Cold || d <= 0 {
		return
	}
	h.note(d, seen)
	share := d.Seconds() / (d.Seconds() + filmFollowsS)
	warm := false
	for i := range h.Points {
		p := &h.Points[i]
		before := [Bounds]Exposure{p.Track[Low].Exposure, p.Track[Best].Exposure, p.Track[High].Exposure}
		for b := range p.Track {
			t, c := &p.Track[b], m.at(h.Place, Bound(b), p.Track[b].Rung)
			if seen == Blind && Bound(b) != Best {
				t.jump(c.bar, air[i].C[b])
			}
			if d > longStep {
				t.advanceLong(c.bar, d.Seconds(), air[i].C[b])
			} else {
				t.advance(c.stepOf(d), air[i].C[b])
			}
			if h.Place == InBox {
				t.follow(m, Bound(b), share)
			}
		}
		if seen != Whole {
			h.doubt(p, before, seen)
		}
		warm = warm || p.Track[High].CoreC >= coolC
	}
	h.Cold = h.Place == OutOfBox && !warm
}

func (h *Heat) note(d time.Duration, seen Seen) {
	switch {
	case h.Place == OutOfBox:
	case seen == Blind:
		h.BlindS += d.Seconds()
	case seen == Partly || seen == Perhaps:
		h.DoubtS += d.Seconds()
	}
}

// doubt enters what the step did unseen.
func (h *Heat) doubt(p *Point, before [Bounds]Exposure, seen Seen) {
	if h.Place == OutOfBox {
		return
	}
	if seen == Perhaps {
		p.Track[Low].Exposure = before[Low]
		return
	}
	var gain [Bounds]Exposure
	for b := range gain {
		gain[b] = p.Track[b].Exposure - before[b]
	}
	if seen == Blind {
		p.Track[Low].Exposure = before[Low]
		gain[Low] = 0
	}
	p.Less += max(0, gain[Best]-gain[Low])
	p.More += max(0, gain[High]-gain[Best])
}

// advance moves one account on by one step.
func (t *Track) advance(s *wood.Step, airC float64) {
	deficit := t.Field.Advance(s, airC-t.AirC)
	from := t.CoreC
	t.settle(airC, deficit)
	t.Exposure += Exposure(over(s.Seconds, from, t.CoreC, Rate(from), Rate(t.CoreC)))
}

// filmFollowsS is the time over which the air is smoothed before the film goes by
// it, in seconds: long enough that a probe's noise does not stir it.
const filmFollowsS = 60.0

// follow brings the smoothed air a share nearer to the air, and the film after it.
func (t *Track) follow(m *Model, b Bound, share float64) {
	t.SteamC += (t.AirC - t.SteamC) * share
	if f := &m.films[b]; f.left(t.Rung, t.SteamC) {
		from := m.at(InBox, b, t.Rung)
		t.Rung = f.nearest(t.SteamC)
		t.carry(from, m.at(InBox, b, t.Rung))
	}
}

// carry takes the account from behind one film to behind another.
func (t *Track) carry(from, to *conduction) {
	move := wood.NewMove(from.bar, to.bar)
	move.Apply(&t.Field)
}

// jump lets the air be airC °C at once.
func (t *Track) jump(b *wood.Bar, airC float64) {
	t.Field.Jump(b, airC-t.AirC)
	t.AirC = airC
	t.LowC, t.HighC = min(t.LowC, airC), max(t.HighC, airC)
}

// settle enters the air and the core that it leaves.
func (t *Track) settle(airC, deficit float64) {
	t.AirC = airC
	t.LowC, t.HighC = min(t.LowC, airC), max(t.HighC, airC)
	t.CoreC = min(t.HighC, max(t.LowC, airC-deficit))
}

// longStep is the longest step whose exposure is taken in one piece.
const longStep = 1500 * time.Millisecond

// tolerance is how closely two ways of cutting up a long step must agree.
const tolerance = 1e-3

// advanceLong cuts a long step in halves until the exposure stands.
func (t *Track) advanceLong(b *wood.Bar, seconds, airC float64) {
	start, last := *t, Exposure(math.NaN())
	for n := max(2, int(seconds/16)); ; n *= 2 {
		*t = start
		s := b.Step(time.Duration(seconds / float64(n) * float64(time.Second)))
		for i := range n {
			t.advance(&s, start.AirC+(airC-start.AirC)*float64(i+1)/float64(n))
		}
		gained := t.Exposure - start.Exposure
		if math.Abs(float64(gained-last)) <= tolerance*float64(gained)+1e-9 || seconds/float64(n) < 0.25 {
			return
		}
		last = gained
	}
}

// Pull takes the rib out of the box into air of shopC °C.
func (h *Heat) Pull(m *Model, shopC float64) {
	h.move(m, OutOfBox, func(int, Bound) float64 { return shopC })
}

// Rest lets d pass for a rib out of the box that has gone cold and was not followed
// any more, in air of shopC °C. It gathers nothing.
func (h *Heat) Rest(m *Model, d time.Duration, shopC float64) {
	was := append([]Point{}, h.Points...)
	h.Cold = false
	h.Advance(m, d, evenly(len(h.Points), shopC), Whole)
	h.Cold = true
	for i := range h.Points {
		for b := range Bounds {
			h.Points[i].Track[b].Exposure = was[i].Track[b].Exposure
		}
	}
}

// PutBack lays the rib into the box again: it goes on from the temperature it has
// left and the exposure it has.
func (h *Heat) PutBack(m *Model, air []Air) {
	h.Cold = false
	h.move(m, InBox, func(i int, b Bound) float64 { return air[i].C[b] })
}

func (h *Heat) move(m *Model, to Place, airC func(point int, b Bound) float64) {
	if h.Place == to {
		return
	}
	from := h.Place
	h.Place = to
	for i := range h.Points {
		for b := range Bounds {
			t, c := &h.Points[i].Track[b], airC(i, Bound(b))
			was := m.at(from, Bound(b), t.Rung)
			if to == InBox {
				t.SteamC, t.Rung = c, m.films[b].nearest(c)
			}
			now := m.at(to, Bound(b), t.Rung)
			t.carry(was, now)
			t.jump(now.bar, c)
		}
	}
}

// Remodel takes the rib from one model of its section to another, as when its wood or
// the boiling point turns out to be otherwise: it goes on from the temperature that it
// has and the exposure that it has gathered.
func (h *Heat) Remodel(from, to *Model) {
	for i := range h.Points {
		for b := range Bounds {
			t := &h.Points[i].Track[b]
			was := from.at(h.Place, Bound(b), t.Rung)
			t.Rung = to.films[b].nearest(t.SteamC)
			t.carry(was, to.at(h.Place, Bound(b), t.Rung))
		}
	}
}

// End returns the point at one end of the rib.
func (h *Heat) End(e unit.End) *Point {
	if e == unit.SteamEnd {
		return &h.Points[0]
	}
	return &h.Points[len(h.Points)-1]
}

// Ratio returns the door end's exposure over the steam end's, best guess; 1 while
// the steam end has none to speak of.
func (h *Heat) Ratio() float64 {
	steam, door := h.End(unit.SteamEnd).Track[Best].Exposure, h.End(unit.DoorEnd).Track[Best].Exposure
	if steam < 1e-6 {
		return 1
	}
	return float64(door / steam)
}
