package rehearsal

import (
	"math"

	"withy/steambox/unit"
)

// Truth is what no probe in the box can see: the rib's core at one place.
type Truth struct {
	Core        unit.Celsius
	ExposureMin float64 // ∫ exp((core−100)/14.75) dt in minutes at 100 °C
}

// The severity factor's scale (Overend & Chornet 1987), and the core temperature
// below which, out of the box, exposure no longer counts.
const (
	severityK = 14.75
	countsToC = 60.0
)

// piece is a rib as wood: what it holds and what it has taken.
type piece struct {
	Rib     Rib
	Slot    int  // where it lies; outside when it does not
	Spent   bool // bent supple or cracked: it goes in no more
	Resting bool // cold, outside: nothing happens to it any more
	Bar     *bar
	Minutes []float64 // exposure at the core, one per cell along

	centre          []float64 // of each cell along, in m from the steam end
	cell            []int     // box cell left of it
	part            []float64 // how far towards the next one
	gas, film, took []float64 // scratch, one per cell along
}

const outside = -1

func newPiece(r Rib, t timber, startC float64) *piece {
	p := &piece{Rib: r, Slot: outside}
	p.Bar = newBar(t, float64(r.Thickness), float64(r.Width), float64(r.Length), cellsThrough, cellsAcross, startC)
	p.Minutes = make([]float64, len(p.Bar.along))
	p.prepare()
	return p
}

// prepare makes everything that follows from the exported fields.
func (p *piece) prepare() {
	p.Bar.prepare()
	n := len(p.Bar.along)
	p.centre, p.part, p.cell = make([]float64, n), make([]float64, n), make([]int, n)
	p.gas, p.film, p.took = make([]float64, n), make([]float64, n), make([]float64, n)
	x := 0.0
	for l, d := range p.Bar.along {
		p.centre[l] = x + d/2
		p.cell[l], p.part[l] = place(p.centre[l])
		x += d
	}
}

// steam heats the rib in the box for dt seconds and books what it took to the
// box's cells, in J.
func (p *piece) steam(dt float64, b *box, ribJ []float64) {
	for l, i := range p.cell {
		p.gas[l] = blend(b.temp[:], i, p.part[l])
		p.film[l] = blend(b.film[:], i, p.part[l])
		p.took[l] = 0
	}
	p.Bar.step(dt, p.gas, p.film, p.took)
	for l, i := range p.cell {
		ribJ[i] += (1 - p.part[l]) * p.took[l]
		ribJ[i+1] += p.part[l] * p.took[l]
	}
	p.count(dt)
}

// cool lets the rib stand in the shop for dt seconds. It rests once it has come
// within half a kelvin of the shop, or when it is done with and counts no more.
func (p *piece) cool(dt, shopC, film float64) {
	if p.Resting {
		return
	}
	for l := range p.gas {
		p.gas[l], p.film[l] = shopC, film
	}
	p.Bar.step(dt, p.gas, p.film, p.took)
	p.count(dt)
	hot := p.hottest()
	p.Resting = hot < shopC+0.5 || p.Spent && hot < countsToC
}

// hottest returns the hottest core along the rib.
func (p *piece) hottest() float64 {
	c := p.Bar.core(0)
	for l := range p.centre {
		c = max(c, p.Bar.core(l))
	}
	return c
}

func (p *piece) count(dt float64) {
	for l := range p.Minutes {
		c := p.Bar.core(l)
		if p.Slot != outside || c >= countsToC {
			p.Minutes[l] += dt / 60 * math.Exp((c-100)/severityK)
		}
	}
}

// truth is the core at x metres from the rib's steam end; ok is false off the rib.
func (p *piece) truth(x float64) (t Truth, ok bool) {
	if !(x >= 0 && x <= float64(p.Rib.Length)) {
		return Truth{}, false
	}
	i, part := p.spot(x)
	core := p.Bar.core(i) + part*(p.Bar.core(i+1)-p.Bar.core(i))
	return Truth{unit.Celsius(core), blend(p.Minutes, i, part)}, true
}

// spot says between which two cells along x lies; beyond the outermost centres
// it stays with the outermost cell.
func (p *piece) spot(x float64) (i int, part float64) {
	n := len(p.centre)
	for i < n-2 && p.centre[i+1] <= x {
		i++
	}
	part = (x - p.centre[i]) / (p.centre[i+1] - p.centre[i])
	return i, max(0, min(1, part))
}

// EndInset is how far from a rib's ends its two end exposures are taken when it
// is bent: the last few centimetres warm through the end face and are not bent.
const EndInset unit.Metre = 0.03

// ends returns the exposures near both ends, steam end first, and the coldest
// core between them.
func (p *piece) ends() (minutes [2]float64, coldest float64) {
	inset := min(float64(EndInset), float64(p.Rib.Length)/4)
	a, _ := p.truth(inset)
	b, _ := p.truth(float64(p.Rib.Length) - inset)
	coldest = math.Inf(1)
	for l, x := range p.centre {
		if x >= inset && x <= float64(p.Rib.Length)-inset {
			coldest = min(coldest, p.Bar.core(l))
		}
	}
	return [2]float64{a.ExposureMin, b.ExposureMin}, coldest
}
