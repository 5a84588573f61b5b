package rehearsal

import "math"

// bar is a rectangular stick of wood followed by finite volumes. Thickness and
// width are each symmetrical about the core, so a quarter of the section is
// enough. Cells are numbered along, then across the width, then through the
// thickness; across and through they start at the core.
//
// Heat is kept, not temperature, and every flow is taken from one cell and given
// to another: nothing is lost but by rounding.
type bar struct {
	Timber     timber
	ThicknessM float64
	WidthM     float64
	LengthM    float64
	Through    int       // cells in half the thickness
	Across     int       // cells in half the width
	Heat       []float64 // J/m³ above 0 °C

	through, across, along []float64 // cell sizes in m
	limitS                 float64   // longest stable step
	perM3                  []float64 // 1/m³, one per cell
	temp, pot, gain        []float64 // scratch: °C, W/m, W
}

// Cells in half the thickness and half the width of a rib.
// TestPlaneWallSeries and TestAboutTwoMinutes show what they are good for.
const (
	cellsThrough = 4
	cellsAcross  = 5
)

func newBar(t timber, thicknessM, widthM, lengthM float64, through, across int, startC float64) *bar {
	b := &bar{Timber: t, ThicknessM: thicknessM, WidthM: widthM, LengthM: lengthM, Through: through, Across: across}
	b.prepare()
	b.Heat = make([]float64, len(b.temp))
	for i := range b.Heat {
		b.Heat[i] = t.heat(startC)
	}
	return b
}

// prepare makes everything that follows from the exported fields.
func (b *bar) prepare() {
	b.through = shrinking(b.ThicknessM/2, b.Through, 1)
	b.across = shrinking(b.WidthM/2, b.Across, math.Pow(1.0/3, 1/float64(b.Across-1))) // outermost a third of the innermost
	b.along = lengthwise(b.LengthM)
	n := len(b.along) * b.Across * b.Through
	b.temp, b.pot, b.gain = make([]float64, n), make([]float64, n), make([]float64, n)
	b.perM3 = make([]float64, 0, n)
	for _, dl := range b.along {
		for _, dw := range b.across {
			for _, dh := range b.through {
				b.perM3 = append(b.perM3, 1/(dl*dw*dh))
			}
		}
	}
	b.limitS = b.limit()
}

// shrinking divides length into n cells, each ratio times the one before.
func shrinking(length float64, n int, ratio float64) []float64 {
	sizes, sum := make([]float64, n), 0.0
	for i := range sizes {
		sizes[i] = math.Pow(ratio, float64(i))
		sum += sizes[i]
	}
	for i := range sizes {
		sizes[i] *= length / sum
	}
	return sizes
}

// endCells are the first cells from either end, in m: the end faces warm the
// wood for a few thicknesses only, and beyond that the box's own gradient is all
// there is to follow, in cells of about a hand's breadth.
var endCells = [...]float64{0.004, 0.007, 0.013, 0.025}

// lengthwise divides a rib's length into cells, finer at both ends.
func lengthwise(length float64) []float64 {
	inner := length
	for _, c := range endCells {
		inner -= 2 * c
	}
	if inner < length/2 { // an offcut
		return shrinking(length, 12, 1)
	}
	middle := shrinking(inner, int(math.Ceil(inner/0.13)), 1)
	sizes := append([]float64{}, endCells[:]...)
	sizes = append(sizes, middle...)
	for i := len(endCells) - 1; i >= 0; i-- {
		sizes = append(sizes, endCells[i])
	}
	return sizes
}

// limit returns the longest step at which the explicit scheme stays smooth
// whatever the film: each cell gives away less than it has.
func (b *bar) limit() float64 {
	across := func(sizes []float64) float64 { // a face layer meets half a cell on one side
		d := smallest(sizes)
		return 3 / (d * d)
	}
	rate := b.Timber.quickest() * (across(b.through) + across(b.across) + alongGrain*across(b.along))
	return 0.9 / rate
}

func smallest(sizes []float64) float64 {
	d := math.Inf(1)
	for _, s := range sizes {
		d = min(d, s)
	}
	return d
}

// step moves the bar on by dt seconds in a gas of the given temperatures (°C)
// through the given films (W/m²K), one per cell along. It adds the heat that the
// whole bar took there, in J, to taken.
func (b *bar) step(dt float64, gas, film, taken []float64) {
	n := max(1, int(math.Ceil(dt/b.limitS)))
	for range n {
		b.substep(dt/float64(n), gas, film, taken)
	}
}

func (b *bar) substep(dt float64, gas, film, taken []float64) {
	for i, h := range b.Heat {
		c := b.Timber.temperature(h)
		b.temp[i], b.pot[i] = c, b.Timber.potential(c)
	}
	clear(b.gain)
	b.flowThrough()
	b.flowAcross()
	b.flowAlong()
	b.flowFaces(dt, gas, film, taken)
	b.flowEnds(dt, gas, film, taken)
	for i, g := range b.gain {
		b.Heat[i] += dt * g * b.perM3[i]
	}
}

// exchange lets heat flow between two rows of neighbours; widths are the cells'
// sizes along the row, and depth over gap times one of them is area over distance.
func exchange(potA, potB, gainA, gainB, widths []float64, depth, gap float64) {
	potA, potB, gainA, gainB = potA[:len(widths)], potB[:len(widths)], gainA[:len(widths)], gainB[:len(widths)]
	for i, w := range widths {
		f := (potB[i] - potA[i]) * w * (depth / gap)
		gainA[i] += f
		gainB[i] -= f
	}
}

func (b *bar) flowThrough() {
	i := 0
	for _, dl := range b.along {
		for _, dw := range b.across {
			pot, gain := b.pot[i:i+b.Through], b.gain[i:i+b.Through]
			for h := 1; h < len(pot); h++ {
				f := (pot[h] - pot[h-1]) * dl * dw * 2 / (b.through[h-1] + b.through[h])
				gain[h-1] += f
				gain[h] -= f
			}
			i += b.Through
		}
	}
}

func (b *bar) flowAcross() {
	for l, dl := range b.along {
		for w := 1; w < b.Across; w++ {
			i := (l*b.Across + w) * b.Through
			j := i - b.Through
			gap := (b.across[w-1] + b.across[w]) / 2
			exchange(b.pot[j:i], b.pot[i:], b.gain[j:i], b.gain[i:], b.through, dl, gap)
		}
	}
}

func (b *bar) flowAlong() {
	layer := b.Across * b.Through
	for l := 1; l < len(b.along); l++ {
		gap := (b.along[l-1] + b.along[l]) / 2 / alongGrain
		for w, dw := range b.across {
			i := l*layer + w*b.Through
			j := i - layer
			exchange(b.pot[j:], b.pot[i:], b.gain[j:], b.gain[i:], b.through, dw, gap)
		}
	}
}

// face lets heat in through film and half a cell, and returns what the quarter
// took, in W. The wood under the face is taken at its cell's conductivity.
func (b *bar) face(i int, area, half, gas, film float64) float64 {
	f := area * (gas - b.temp[i]) / (1/film + half/b.Timber.conductivity(b.temp[i]))
	b.gain[i] += f
	return f
}

func (b *bar) flowFaces(dt float64, gas, film, taken []float64) {
	outerH, outerW := b.through[b.Through-1]/2, b.across[b.Across-1]/2
	for l, dl := range b.along {
		watts := 0.0
		for w, dw := range b.across {
			i := (l*b.Across+w)*b.Through + b.Through - 1
			watts += b.face(i, dl*dw, outerH, gas[l], film[l])
		}
		for h, dh := range b.through {
			i := (l*b.Across+b.Across-1)*b.Through + h
			watts += b.face(i, dl*dh, outerW, gas[l], film[l])
		}
		taken[l] += 4 * watts * dt
	}
}

func (b *bar) flowEnds(dt float64, gas, film, taken []float64) {
	for _, l := range []int{0, len(b.along) - 1} {
		watts := 0.0
		for w, dw := range b.across {
			for h, dh := range b.through {
				i := (l*b.Across+w)*b.Through + h
				watts += b.face(i, dw*dh, b.along[l]/2/alongGrain, gas[l], film[l])
			}
		}
		taken[l] += 4 * watts * dt
	}
}

// core returns the temperature on the axis at cell l along, in °C. A cell holds
// its mean, so the axis is found from the two innermost cells each way by the
// parabola that is level there.
func (b *bar) core(l int) float64 {
	h0, h1 := axis(b.through)
	w0, w1 := axis(b.across)
	at := func(w, h int) float64 { return b.Timber.temperature(b.Heat[(l*b.Across+w)*b.Through+h]) }
	if b.Through < 2 || b.Across < 2 {
		return at(0, 0)
	}
	return w0*(h0*at(0, 0)+h1*at(0, 1)) + w1*(h0*at(1, 0)+h1*at(1, 1))
}

// axis returns the weights of the two innermost cells: the means of s² over them
// are a²/3 and (a² + a·c + c²)/3 for the cell from a to c.
func axis(sizes []float64) (first, second float64) {
	if len(sizes) < 2 {
		return 1, 0
	}
	a, c := sizes[0], sizes[0]+sizes[1]
	m0, m1 := a*a/3, (a*a+a*c+c*c)/3
	return m1 / (m1 - m0), -m0 / (m1 - m0)
}

// heatJ returns the heat in the whole bar above 0 °C, in J.
func (b *bar) heatJ() float64 {
	sum, i := 0.0, 0
	for _, dl := range b.along {
		for _, dw := range b.across {
			for _, dh := range b.through {
				sum += b.Heat[i] * dl * dw * dh
				i++
			}
		}
	}
	return 4 * sum
}
