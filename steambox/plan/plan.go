// Package plan lays out a day at the steam box before anything is cut or heated:
// which ribs are off the curve, what to saw, how the ribs follow one another through
// the box, and when water is wanted.
//
// It puts together what packages ribs, window, pace and boiler reckon, each by
// itself, and says what limits the day. Only one way of working is planned: the run,
// one rib in and one out. It decides nothing on the day itself.
package plan

import (
	"errors"
	"fmt"
	"slices"

	"withy/steambox/boiler"
	"withy/steambox/pace"
	"withy/steambox/ribs"
	"withy/steambox/unit"
	"withy/steambox/wood"
)

// Asked is all that a plan is made from.
type Asked struct {
	Ribs        []ribs.Rib // 1 to MaxRibs, in the table's order
	Fair        ribs.Options
	SpareShare  float64 // spares for each rib, 0 to ribs.MostShare; at least one a lot is planned
	AllowM      float64 // left on either end of a blank, 0 to 0.5 m
	MiddleFirst bool    // bend outwards from midships; else in the table's order

	Soaks []Soak  // one a rib
	PaceS float64 // least time that the crew needs from one rib to the next, 5 to 3600 s
	Slots int     // in the box, 1 to 26

	Box    boiler.BoxSize
	Boiler boiler.Boiler // FullL 0: nobody knows what it holds
	StartL float64       // in it before the heat goes on, above BareL; 0: it is full
	Kettle boiler.Kettle // for an open pot and a second boiler; TapC for every kind

	Material     wood.Material
	Usual        wood.Section // of a rib whose thickness or width nobody said
	ShopC        float64      // of the air, and of a rib that goes in
	BoilingC     float64      // where the box stands
	LatentJPerKg float64      // there
}

// MaxRibs is the most ribs that are planned together: a dozen boats.
const MaxRibs = 500

// check returns every mistake, one a line, or nil.
func (a *Asked) check() error {
	var errs []error
	within := func(what string, x, lo, hi float64) {
		if !unit.Finite(x) || x < lo || x > hi {
			errs = append(errs, fmt.Errorf("%s: %g is outside %g to %g", what, x, lo, hi))
		}
	}
	within("ribs", float64(len(a.Ribs)), 1, MaxRibs)
	within("spares for each rib", a.SpareShare, 0, ribs.MostShare)
	within("left on a blank's ends, m", a.AllowM, 0, 0.5)
	within("pace, s", a.PaceS, 5, 3600)
	within("slots", float64(a.Slots), 1, 26)
	within("holds, L", a.Boiler.FullL, 0, 500)
	within("left when the element is bare, L", a.Boiler.BareL, 0, 500)
	if b := a.Boiler; b.FullL > 0 && b.BareL >= b.FullL {
		errs = append(errs, fmt.Errorf("the element is bare at %g L and the boiler holds %g L: it must hold more", b.BareL, b.FullL))
	}
	if a.StartL != 0 && !(a.StartL > a.Boiler.BareL && a.StartL <= a.Boiler.FullL) {
		errs = append(errs, fmt.Errorf("in the boiler, L: %g is not above %g, where the element is bare, and up to %g", a.StartL, a.Boiler.BareL, a.Boiler.FullL))
	}
	if len(a.Soaks) != len(a.Ribs) {
		errs = append(errs, fmt.Errorf("%d soaks for %d ribs: one each", len(a.Soaks), len(a.Ribs)))
	}
	return errors.Join(append(errs, ribs.Check(a.Ribs), a.Fair.Check(), a.Box.Check())...)
}

// Plan is the day. Times are in seconds from the first rib going in: what comes
// before is below nought.
type Plan struct {
	Ribs   []ribs.Rib
	Boats  []Boat
	Thick  []ribs.Odd // ribs whose thickness is out of line
	Spares []ribs.Spare
	Lots   []ribs.Lot

	Soak   Soak // of most ribs: the one that the run keeps to
	Rhythm pace.Rhythm
	Heat   boiler.Budget // as the run begins, when the walls take most
	Turns  []Turn        // in the order of the run; ribs for which there is no water are missing
	Calls  []Call        // for water, an open pot's or a second boiler's
	Breaks []Break       // of a closed tank

	HeatOnS  float64 // below nought: the water has to boil and the box to warm up
	SteamOnS float64 // first steam
	WarmUpS  float64 // from first steam to the first rib
	RunS     float64 // until the last rib is out
	BoiledL  float64 // boiled off from first steam to the last rib out, best guess
	MostL    float64 // the same where the boiler is a fast one
	Limits   []Limit // what limits the day, or can't be
}

// SessionS is the length of the day in seconds, from heat on to the last rib out.
func (p *Plan) SessionS() float64 { return p.RunS - p.HeatOnS }

// Unfair reports whether a length or a thickness is out of line.
func (p *Plan) Unfair() bool {
	for _, b := range p.Boats {
		if len(b.Odd) > 0 {
			return true
		}
	}
	return len(p.Thick) > 0
}

// Odd reports whether a rib's length is out of line.
func (p *Plan) Odd(label string) bool {
	for _, b := range p.Boats {
		if slices.ContainsFunc(b.Odd, func(o ribs.Odd) bool { return o.Label == label }) {
			return true
		}
	}
	return false
}

// Boat is one boat's ribs and what their lengths show.
type Boat struct {
	Name string // empty: the only one
	Ribs []int  // indices in the table, in its order
	ribs.Fairness
}

// Make plans the day. The error holds every mistake in what was asked, one a line;
// whatever can't be had on the day is in Limits.
func Make(a Asked) (*Plan, error) {
	if err := a.check(); err != nil {
		return nil, err
	}
	p := &Plan{Ribs: a.Ribs}
	p.judge(&a)
	p.Spares = ribs.Spares(a.Ribs, a.SpareShare)
	p.Lots = ribs.CutList(a.Ribs, p.Spares, a.AllowM)
	p.fits(&a)
	p.chooseSoak(&a)
	if err := p.pace(&a); err != nil {
		return nil, err
	}
	p.run(&a)
	return p, nil
}

// judge asks of each boat whether her lengths are fair.
func (p *Plan) judge(a *Asked) {
	for _, boat := range ribs.Boats(a.Ribs) {
		b := Boat{Name: boat[0].Boat, Fairness: ribs.Judge(boat, a.Fair)}
		for i, r := range a.Ribs {
			if r.Boat == b.Name {
				b.Ribs = append(b.Ribs, i)
			}
		}
		for i := range b.Odd {
			b.Odd[i].Rib = b.Ribs[b.Odd[i].Rib]
		}
		p.Boats = append(p.Boats, b)
		p.limitBoat(b)
	}
	p.Thick = ribs.OddThickness(a.Ribs)
}

func (p *Plan) limitBoat(b Boat) {
	equal, lengthM := true, p.Ribs[b.Ribs[0]].LengthM
	for _, i := range b.Ribs {
		equal = equal && p.Ribs[i].LengthM == lengthM
	}
	switch {
	case b.Verdict == ribs.TooShort:
		p.limit(Limit{Kind: TooFew, Boat: b.Name, N: len(b.Ribs)})
	case b.Verdict == ribs.TooRough:
		p.limit(Limit{Kind: TooRough, Boat: b.Name, Is: b.SeesM})
	}
	if equal && len(b.Ribs) > 1 {
		p.limit(Limit{Kind: EqualLengths, Boat: b.Name, N: len(b.Ribs), Is: lengthM})
	}
}

// fits looks for blanks longer than the box.
func (p *Plan) fits(a *Asked) {
	var long Limit
	for _, r := range a.Ribs {
		if m := r.LengthM + 2*a.AllowM; m > a.Box.LengthM {
			long.Ribs = append(long.Ribs, r.Label)
			long.Is = max(long.Is, m)
		}
	}
	if len(long.Ribs) > 0 {
		long.Kind, long.May = TooLong, a.Box.LengthM
		p.limit(long)
	}
}
