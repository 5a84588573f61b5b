package sheet

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"withy/steambox/measure"
	"withy/steambox/plan"
	"withy/steambox/ribs"
)

// Whatever the table, nothing is drawn outside the picture and no suggested length
// covers another.
func TestDrawingKeepsWithin(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, boat := anyBoat(t)
		d := draw(p, boat, measure.Metric)
		within := func(what string, x, y float64) {
			if !(x >= 0 && x <= d.Wide && y >= d.Above && y <= d.Above+d.High) {
				t.Fatalf("%s at %g, %g in a picture %g wide, from %g down %g", what, x, y, d.Wide, d.Above, d.High)
			}
		}
		for i, r := range d.Ribs {
			within("tip", r.X, r.Y)
			if d.Curve != nil {
				within("offset", r.X, r.OffY+d.Drop)
				within("fair tip", r.X, r.FairY)
			}
			if !r.Odd {
				continue
			}
			half := sayWide / 2 * float64(len(r.Says))
			within("left of what is said", r.SaysX-half, r.SaysY-15)
			within("right of what is said", r.SaysX+half, r.SaysY)
			for _, o := range d.Ribs[:i] {
				if o.Odd && o.SaysY == r.SaysY && math.Abs(o.SaysX-r.SaysX) < half+sayWide/2*float64(len(o.Says))-1e-6 {
					t.Fatalf("%q covers %q", r.Says, o.Says)
				}
			}
		}
		for _, s := range d.Spares {
			within("spare", s.X, s.Y)
		}
	})
}

// anyBoat draws a boat of parabolic ribs with some that stand off, all of them named
// or none.
func anyBoat(t *rapid.T) (*plan.Plan, plan.Boat) {
	n := rapid.IntRange(1, 80).Draw(t, "ribs")
	letters := rapid.IntRange(1, 30).Draw(t, "letters")
	judged := rapid.Bool().Draw(t, "judged")
	p, b := &plan.Plan{}, plan.Boat{}
	for i := range n {
		x := (2*float64(i)+1)/float64(n) - 1
		fair := 1.09 - 0.5*x*x
		off := 0.0
		if rapid.IntRange(0, 5).Draw(t, "off") == 0 {
			off = rapid.Float64Range(-0.05, 0.05).Draw(t, "by")
		}
		r := ribs.Rib{Label: strings.Repeat("x", letters), LengthM: fair + off, StationM: x * x * x, HasStation: true, Meant: off > 0.04}
		p.Ribs, b.Ribs = append(p.Ribs, r), append(b.Ribs, i)
		if judged {
			b.CurveM = append(b.CurveM, fair)
			if off != 0 && !r.Meant {
				b.Odd = append(b.Odd, ribs.Odd{Rib: i, Label: r.Label, IsM: r.LengthM, SuggestedM: fair, OffM: off})
			}
		}
	}
	p.Spares = ribs.Spares(p.Ribs, 0.3)
	return p, b
}
