package boiler

import (
	"errors"
	"fmt"
	"math"

	"withy/steambox/unit"
	"withy/steambox/wood"
)

// BoxSize is what the walls of a box are reckoned from.
type BoxSize struct {
	LengthM float64 // inside, 0.2 to 20
	InsideM float64 // side of the square inside section, 0.05 to 2; 0: 0.15, a small shop-made box
	BoardM  float64 // thickness of the walls, 0.003 to 0.1; 0: 0.025, a one-inch board
}

// full returns the size with the defaults in place of what was left out.
func (s BoxSize) full() BoxSize {
	if s.InsideM == 0 {
		s.InsideM = 0.15
	}
	if s.BoardM == 0 {
		s.BoardM = 0.025
	}
	return s
}

// Check returns all that is wrong with the size at once, each mistake with the
// allowed range.
func (s BoxSize) Check() error {
	f := s.full()
	return errors.Join(
		within("box length, m", f.LengthM, 0.2, 20),
		within("inside of the box, m", f.InsideM, 0.05, 2),
		within("boards of the box, m", f.BoardM, 0.003, 0.1),
	)
}

func within(what string, x, lo, hi float64) error {
	if !unit.Finite(x) || x < lo || x > hi {
		return fmt.Errorf("%s: %g is outside %g to %g", what, x, lo, hi)
	}
	return nil
}

// areaM2 is the inside area of the walls and both ends.
func (s BoxSize) areaM2() float64 { return 4*s.InsideM*s.LengthM + 2*s.InsideM*s.InsideM }

// Walls is what the walls of a box take, per kelvin of the box over the shop.
type Walls struct {
	LossWPerK Span    // what goes through for good; the bounds are two standard deviations
	SoakWPerK float64 // what the boards still take beyond that when both ends come level
	FadeS     float64 // in which that falls to 1/e
	Fitted    bool    // from a warm-up, not from the size alone
}

// At returns the heat in W that the walls take sinceS seconds after both ends came
// level, the box overK over the shop.
func (w Walls) At(sinceS, overK float64) Span {
	soak := w.SoakWPerK * math.Exp(-max(0, sinceS)/w.FadeS)
	return Span{(w.LossWPerK.Lo + soak) * overK, (w.LossWPerK.Best + soak) * overK, (w.LossWPerK.Hi + soak) * overK}
}

// What boards and lagging are like before anything was seen (common practice, no
// source, but for the wood handbook's equations behind them): damp softwood of basic
// gravity 0.40 at 40 % moisture; outside it anything from bare boards in still air,
// 0.1 m²K/W, to a thick blanket, 0.9, taken as a factor of 2 either way.
const (
	boardGravity, boardPct = 0.40, 40
	boardLogSd             = 0.30 // of the conductivity
	lagM2KPW, lagLogSd     = 0.30, 0.70
)

// How much of the steam warms the walls while the box comes up, the rest leaving by
// joints and drain or warming air; and how well that and the air along the box are
// known, as a logarithm (common practice, no source).
const (
	wallShare   = 0.85
	wallShareSd = 0.15
)

// WarmRow is one moment of a warm-up.
type WarmRow struct {
	ElapsedS      float64 // rising
	SteamC, DoorC float64 // at the two ends
}

// FirstWalls returns what the size alone says of the walls, for a box that comes up
// in twenty minutes. The error is that of Check.
func (s BoxSize) FirstWalls() (Walls, error) {
	const usualS, usualK = 1200.0, 85.0
	if err := s.Check(); err != nil {
		return Walls{}, err
	}
	rows := []WarmRow{{}, {usualS / 2, usualK, 0}, {usualS, usualK, usualK}}
	return s.full().weigh(rows, 0, nil), nil
}

// FitWalls returns what a warm-up says of the walls: the boiler made boilerW of steam
// from the first row, when steam reached the steam end, to the last, when both ends
// were level, and what did not leave the box has gone into its walls. The shop is at
// shopC.
//
// Most of that heat is still in the boards, so the boards' own conduction is what a
// warm-up shows; what lies outside them is known little better than before, and the
// bounds say so. Errors: those of Check, fewer than three rows, times that don't
// rise, ends that did not get warm, no boiler.
func FitWalls(s BoxSize, shopC float64, rows []WarmRow, boilerW Span) (Walls, error) {
	if err := errors.Join(s.Check(), checkWarmUp(rows, shopC), checkBoilerW(boilerW)); err != nil {
		return Walls{}, err
	}
	w := s.full().weigh(rows, shopC, &boilerW)
	w.Fitted = true
	return w, nil
}

func checkBoilerW(w Span) error {
	if !(w.Lo > 0 && w.Lo <= w.Best && w.Best <= w.Hi && unit.Finite(w.Hi)) {
		return fmt.Errorf("boiler of %g to %g W, best %g: must rise from above 0", w.Lo, w.Hi, w.Best)
	}
	return nil
}

func checkWarmUp(rows []WarmRow, shopC float64) error {
	if len(rows) < 3 {
		return fmt.Errorf("%d rows of a warm-up: at least 3", len(rows))
	}
	for i, r := range rows {
		if !unit.Finite(r.ElapsedS) || !unit.Finite(r.SteamC) || !unit.Finite(r.DoorC) {
			return fmt.Errorf("row %d of the warm-up is not a number", i+1)
		}
		if i > 0 && !(r.ElapsedS > rows[i-1].ElapsedS) {
			return fmt.Errorf("row %d of the warm-up does not come after the one before", i+1)
		}
	}
	if last := rows[len(rows)-1]; min(last.SteamC, last.DoorC) < shopC+30 {
		return errors.New("an end of the box is less than 30 K over the shop: that is no warm-up")
	}
	return nil
}

// weigh lets every wall that is possible go through the warm-up and returns them
// together, each weighted by how likely it was and, where the boiler is told, by how
// well the heat it took fits what the boiler gave.
func (s BoxSize) weigh(rows []WarmRow, shopC float64, boilerW *Span) Walls {
	const steps, reach = 8, 2.0 // standard deviations either way
	var sum, mean, square, soak, fade float64
	conductivity := wood.Conductivity(boardGravity, boardPct)
	heat := wood.Density(boardGravity, boardPct) * wood.SpecificHeat(60, boardPct)
	for i := range steps + 1 {
		for j := range steps + 1 {
			u, v := reach*(2*float64(i)/steps-1), reach*(2*float64(j)/steps-1)
			b := board{s.BoardM, conductivity * math.Exp(boardLogSd*u), heat, lagM2KPW * math.Exp(lagLogSd*v)}
			weight := math.Exp(-(u*u + v*v) / 2)
			took, now := b.through(rows, shopC)
			if boilerW != nil {
				weight *= fits(took*s.areaM2(), rows, *boilerW)
			}
			loss := b.lossWPerM2K() * s.areaM2()
			sum += weight
			mean += weight * math.Log(loss)
			square += weight * math.Log(loss) * math.Log(loss)
			soak += weight * max(0, now*s.areaM2()-loss)
			fade += weight * b.fadeS()
		}
	}
	mean /= sum
	sd := math.Sqrt(max(0, square/sum-mean*mean))
	return Walls{LossWPerK: Span{math.Exp(mean - 2*sd), math.Exp(mean), math.Exp(mean + 2*sd)}, SoakWPerK: soak / sum, FadeS: fade / sum}
}

// fits returns how well walls that took so many joule fit what the boiler gave.
func fits(tookJ float64, rows []WarmRow, boilerW Span) float64 {
	gave := boilerW.Best * wallShare * (rows[len(rows)-1].ElapsedS - rows[0].ElapsedS)
	sd := math.Hypot(wallShareSd, math.Log(boilerW.Hi/boilerW.Lo)/(2*sigmas))
	off := math.Log(tookJ/gave) / sd
	return math.Exp(-off * off / 2)
}

// layers is how many layers a board is followed in.
const layers = 4

// board is one wall that may be: SI, per m².
type board struct{ thicknessM, conductivity, heatJPerM3K, lagM2KPW float64 }

// lossWPerM2K is what goes through at last. The film of steam inside is nothing
// beside the rest.
func (b board) lossWPerM2K() float64 { return 1 / (b.thicknessM/b.conductivity + b.lagM2KPW) }

// fadeS is the time constant of the slowest part of a board's warming, warm on one
// side and lagged on the other: 4d²/π²α.
func (b board) fadeS() float64 {
	return 4 * b.thicknessM * b.thicknessM * b.heatJPerM3K / (math.Pi * math.Pi * b.conductivity)
}

// through returns the heat in J/m² that the board takes while the air inside it goes
// through a warm-up as the mean of both ends, straight from row to row, and the W/m²
// it takes at the last, per kelvin of the air there over the shop.
func (b board) through(rows []WarmRow, shopC float64) (tookJ, nowWPerK float64) {
	const stepS = 15.0 // the air is taken as constant for so long
	var over [layers]float64
	air := func(r WarmRow) float64 { return (r.SteamC+r.DoorC)/2 - shopC }
	flow := 0.0
	for i := 1; i < len(rows); i++ {
		span := rows[i].ElapsedS - rows[i-1].ElapsedS
		n := int(math.Ceil(span / min(stepS, b.steadyS())))
		for k := range n {
			part := (float64(k) + 0.5) / float64(n)
			flow = b.step(&over, span/float64(n), air(rows[i-1])*(1-part)+air(rows[i])*part)
			tookJ += flow * span / float64(n)
		}
	}
	return tookJ, flow / air(rows[len(rows)-1])
}

// steadyS is the longest step in which a layer does not overshoot.
func (b board) steadyS() float64 {
	d := b.thicknessM / layers
	return d * d * b.heatJPerM3K / (4 * b.conductivity)
}

// step moves the layers, in kelvin over the shop and the inner first, on by dt
// seconds and returns the W/m² that the board took from the air.
func (b board) step(over *[layers]float64, dt, airK float64) float64 {
	d := b.thicknessM / layers
	half := d / 2 / b.conductivity
	var gain [layers]float64
	in := (airK - over[0]) / half
	gain[0] += in
	gain[layers-1] -= over[layers-1] / (half + b.lagM2KPW)
	for i := 1; i < layers; i++ {
		q := b.conductivity / d * (over[i-1] - over[i])
		gain[i-1] -= q
		gain[i] += q
	}
	for i := range over {
		over[i] += gain[i] * dt / (d * b.heatJPerM3K)
	}
	return in
}
