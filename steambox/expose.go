package steambox

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"withy/steambox/median"
	"withy/steambox/profile"
	"withy/steambox/soak"
	"withy/steambox/unit"
)

// TraceRow is one row of any logger's temperatures.
type TraceRow struct {
	ElapsedS float64
	End      [2]profile.Reading // steam end, door end
	Witness  profile.Reading    // the core of an offcut at the rib's middle, if there is one
}

// Exposing says what lay where while a trace was taken.
type Exposing struct {
	Assumed        soak.Assumed
	Surroundings   Surroundings
	BoxM           unit.Metre // between the two probes
	InnerM, OuterM unit.Metre // the rib's ends, from the steam end's probe
	Points         int        // 2 to MaxPoints
	WoodC          float64    // of the rib when it went in
	InS, OutS      float64    // when it went in and came out, elapsed time of the trace
	LagS           float64    // of the probes; 0: the temperatures are taken as they stand
	UncertaintyK   unit.Kelvin
}

// MaxPoints is the most points that a rib can be followed at.
const MaxPoints = 101

// Exposed is what Expose found.
type Exposed struct {
	SoakS   float64
	Heat    soak.Heat
	Quality profile.Quality
	// By a witness, if there is one, which the film was then fitted to.
	FilmWPerM2K, WitnessLeftK float64
}

// gapS is the shortest time without a row that counts as not seen; a slow
// logger's own interval, five times over, counts as seen.
const gapS = 60

// Expose reckons the heat that one rib took between InS and OutS from a trace of
// rising times. It ends with the pull: what a rib gathers while it cools is not in
// a trace of the box.
func Expose(rows []TraceRow, e Exposing) (Exposed, error) {
	if err := e.check(rows); err != nil {
		return Exposed{}, err
	}
	gap := max(gapS, 5*typicalStep(rows))
	rows = between(corrected(rows, e), e.InS, e.OutS)
	film, leftK, err := e.fitWitness(rows)
	if err != nil {
		return Exposed{}, err
	}
	m, err := soak.NewModel(e.Assumed)
	if err != nil {
		return Exposed{}, err
	}
	a, err := profile.New(profile.Shape{X: []unit.Metre{0, e.BoxM}, UncertaintyK: e.UncertaintyK})
	if err != nil {
		return Exposed{}, err
	}
	x := exposer{Exposing: e, model: m, air: a}
	x.air.Update(rows[0].End[:], 0)
	x.heat = soak.NewHeat(m, e.InnerM, e.OuterM, e.Points, e.WoodC, x.airs(SeenIn(a.Quality)))
	for i := 1; i < len(rows); i++ {
		x.step(&rows[i], rows[i].ElapsedS-rows[i-1].ElapsedS, gap)
	}
	out := x.result()
	out.FilmWPerM2K, out.WitnessLeftK = film, leftK
	return out, nil
}

// witnessFactor is how well a film is known that was fitted to a witness.
const witnessFactor = 1.15

// fitWitness takes the film from the witness in the rows, if there is one: the one
// in steam with some air, from which the air in the box makes every other place's.
// A film that somebody gave instead holds as it was given.
func (e *Exposing) fitWitness(rows []TraceRow) (film, leftK float64, err error) {
	var seen []soak.WitnessRow
	share := float64((e.InnerM+e.OuterM)/2) / float64(e.BoxM)
	for _, r := range rows {
		if steam, door := r.End[unit.SteamEnd], r.End[unit.DoorEnd]; r.Witness.OK && steam.OK && door.OK {
			air := steam.C + max(0, min(1, share))*(door.C-steam.C)
			seen = append(seen, soak.WitnessRow{ElapsedS: r.ElapsedS, AirC: air, CoreC: r.Witness.C})
		}
	}
	if len(seen) == 0 {
		return 0, 0, nil
	}
	e.Assumed.BoilingC = e.Surroundings.BoilingC
	if film, leftK, err = soak.FitFilm(e.Assumed, seen); err != nil {
		return 0, 0, fmt.Errorf("witness: %w", err)
	}
	e.Assumed.FilmWPerM2K, e.Assumed.FilmFactor = film, witnessFactor
	return film, leftK, nil
}

func (e *Exposing) check(rows []TraceRow) error {
	var errs []error
	if len(rows) < 2 {
		errs = append(errs, fmt.Errorf("%d rows: at least 2", len(rows)))
	} else if first, last := rows[0].ElapsedS, rows[len(rows)-1].ElapsedS; !(e.InS >= first && e.OutS <= last && e.InS < e.OutS) {
		errs = append(errs, fmt.Errorf("in at %g s, out at %g s: in before out, both between %g and %g s", e.InS, e.OutS, first, last))
	}
	if e.Points < 2 || e.Points > MaxPoints {
		errs = append(errs, fmt.Errorf("%d points: 2 to %d", e.Points, MaxPoints))
	}
	if !(e.OuterM > e.InnerM) {
		errs = append(errs, fmt.Errorf("the rib runs from %v to %v: its outer end must be farther from the steam", e.InnerM, e.OuterM))
	}
	return errors.Join(errs...)
}

// typicalStep is the median time between rows, in seconds.
func typicalStep(rows []TraceRow) float64 {
	steps := make([]float64, 0, len(rows))
	for i := 1; i < len(rows); i++ {
		steps = append(steps, rows[i].ElapsedS-rows[i-1].ElapsedS)
	}
	return median.Of(steps)
}

// corrected returns the rows with the probes' lag undone.
func corrected(rows []TraceRow, e Exposing) []TraceRow {
	var lag [2]profile.Lag
	out := make([]TraceRow, len(rows))
	for i, r := range rows {
		for end := range r.End {
			if p := &r.End[end]; p.OK {
				*p = lag[end].Correct(r.ElapsedS, p.C, e.LagS, e.Surroundings.BoilingC)
			}
		}
		out[i] = r
	}
	return out
}

// between cuts the rows at from and to, where it puts rows of their own.
func between(rows []TraceRow, from, to float64) []TraceRow {
	out := []TraceRow{rowAt(rows, from)}
	for _, r := range rows {
		if r.ElapsedS > from && r.ElapsedS < to {
			out = append(out, r)
		}
	}
	return append(out, rowAt(rows, to))
}

// rowAt returns the row at a time within the trace, in a straight line between
// its neighbours; a probe that one of them lacks has no reading.
func rowAt(rows []TraceRow, at float64) TraceRow {
	i := max(1, slices.IndexFunc(rows, func(r TraceRow) bool { return r.ElapsedS >= at }))
	a, b := rows[i-1], rows[i]
	share := (at - a.ElapsedS) / (b.ElapsedS - a.ElapsedS)
	out := TraceRow{ElapsedS: at, Witness: readingAt(a.Witness, b.Witness, share)}
	for end := range out.End {
		out.End[end] = readingAt(a.End[end], b.End[end], share)
	}
	return out
}

// readingAt returns what a probe read a share of the way from p to q.
func readingAt(p, q profile.Reading, share float64) profile.Reading {
	switch {
	case share == 0:
		return p
	case share == 1:
		return q
	case p.OK && q.OK:
		return profile.Reading{C: p.C + share*(q.C-p.C), DoubtK: max(p.DoubtK, q.DoubtK), OK: true}
	}
	return profile.Reading{}
}

// exposer walks along a trace.
type exposer struct {
	Exposing
	model *soak.Model
	air   *profile.Air
	heat  soak.Heat
}

// step takes the next row, stepS after the last one.
func (x *exposer) step(r *TraceRow, stepS, gap float64) {
	x.air.Update(r.End[:], stepS)
	seen := SeenIn(x.air.Quality)
	if stepS > gap {
		seen = soak.Blind
	}
	x.heat.Advance(x.model, time.Duration(stepS*float64(time.Second)), x.airs(seen), seen)
}

// airs is the air along the rib now.
func (x *exposer) airs(seen soak.Seen) []soak.Air {
	airs := make([]soak.Air, x.Points)
	for i := range airs {
		at := x.InnerM + (x.OuterM-x.InnerM)*unit.Metre(i)/unit.Metre(x.Points-1)
		airs[i] = AirAt(x.air, x.Surroundings, at, seen)
	}
	return airs
}

// badShare is the share of a soak that may be blind before nothing can be said.
const badShare = 0.2

func (x *exposer) result() Exposed {
	out := Exposed{SoakS: x.OutS - x.InS, Heat: x.heat}
	switch {
	case x.heat.BlindS > badShare*out.SoakS:
		out.Quality = profile.Bad
	case x.heat.BlindS > 0 || x.heat.DoubtS > 0:
		out.Quality = profile.Uncertain
	}
	return out
}
