package sheet

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"unicode/utf8"

	"withy/steambox/measure"
	"withy/steambox/plan"
	"withy/steambox/ribs"
)

// drawing is one boat's ribs as a picture, in units of which the page is drawWide
// wide: above, each rib as tall as it is long, over the keel from bow to stern, with
// the fair curve; below, how far each is off it, much enlarged.
type drawing struct {
	Wide, High   float64
	Above        float64 // where the picture begins: below nought where many ribs are named
	Drop         float64 // by how much long labels push down what is below them
	Keel, Middle float64 // heights of the keel's line and of the line "fair"
	Top, Foot    float64 // of the enlarged part
	Left, Right  float64
	Ribs         []drawnRib
	Spares       []drawnSpare
	Curve        []place
	Scale        string // what the enlarged part's edge stands for
	Tall         string // the longest rib
	TallY        float64
	Spread       bool // labels stand upright beside one another; else they are turned
}

// place is a point of the picture.
type place struct{ X, Y float64 }

// drawnRib is one rib in the picture.
type drawnRib struct {
	Label      string
	X, Y       float64 // its tip
	OffY       float64 // in the enlarged part, where there is a curve
	Odd, Meant bool
	FairY      float64 // where the others would have the tip
	Says       string  // of an odd one: the length that the others suggest
	SaysX      float64
	SaysY      float64
}

// drawnSpare is a spare in the picture, standing beyond the stern.
type drawnSpare struct{ X, Y float64 }

// Sizes of the picture.
const (
	drawWide, drawHigh = 1000.0, 470.0
	keelY, tallestY    = 270.0, 48.0
	fairY, fairHalf    = 388.0, 52.0
	leftX, rightX      = 74.0, 985.0
	spareWide          = 7.0
	letterWide         = 11.0       // of a label
	turnedWide         = 8.0        // of a label that is turned
	turnedRoom         = 30.0       // for it, before it pushes down what is below
	longestLabel       = 16         // letters of a label that are drawn
	shortHigh          = 325.0      // of the picture without the enlarged part
	sayY, sayHigh      = 26.0, 24.0 // the lowest row of suggested lengths, and from row to row
	sayWide            = 13.5       // of a letter there
)

// draw lays the picture out. The spares that can replace a rib of the boat are in it.
func draw(p *plan.Plan, b plan.Boat, u measure.Units) *drawing {
	d := &drawing{
		Wide: drawWide, High: drawHigh, Keel: keelY, Middle: fairY, Top: fairY - fairHalf, Foot: fairY + fairHalf,
		Left: leftX, Right: rightX, TallY: tallestY,
	}
	longest := 0.0
	for _, i := range b.Ribs {
		longest = math.Max(longest, p.Ribs[i].LengthM)
	}
	tip := func(m float64) float64 { return keelY - (keelY-tallestY)*m/longest }
	d.Tall = u.Length(longest, 0)
	d.addSpares(p, b, tip)
	across := d.across(p, b)
	offY := d.enlarge(p, b, u)
	for n, i := range b.Ribs {
		r := p.Ribs[i]
		one := drawnRib{Label: firstLetters(r.Label), X: across(n), Y: tip(r.LengthM), Meant: r.Meant}
		if b.CurveM != nil {
			one.FairY, one.OffY = tip(b.CurveM[n]), offY(r.LengthM-b.CurveM[n])
			d.Curve = append(d.Curve, place{one.X, one.FairY})
		}
		d.Ribs = append(d.Ribs, one)
	}
	d.turnLabels()
	d.name(b, u)
	if d.Curve == nil {
		d.High = shortHigh
	}
	d.High += d.Drop - d.Above
	slices.SortFunc(d.Curve, func(a, b place) int { return cmp.Compare(a.X, b.X) })
	return d
}

// firstLetters returns as much of a label as is drawn.
func firstLetters(label string) string {
	if r := []rune(label); len(r) > longestLabel {
		return string(r[:longestLabel-1]) + "…"
	}
	return label
}

// turnLabels turns the labels where they would not fit beside one another.
func (d *drawing) turnLabels() {
	letters := 0
	for _, r := range d.Ribs {
		letters = max(letters, utf8.RuneCountInString(r.Label))
	}
	each := (d.Right - d.Left) / float64(len(d.Ribs))
	if d.Spread = each >= letterWide*float64(letters)+5; !d.Spread {
		d.Drop = math.Max(0, turnedWide*float64(letters)-turnedRoom)
	}
}

// addSpares stands the spares in a row at the right and makes room for them.
func (d *drawing) addSpares(p *plan.Plan, b plan.Boat, tip func(float64) float64) {
	mine := map[string]bool{}
	for _, i := range b.Ribs {
		mine[p.Ribs[i].Label] = true
	}
	var spares []ribs.Spare
	for _, s := range p.Spares {
		if mine[s.Covers[0]] {
			spares = append(spares, s)
		}
	}
	room := math.Min(spareWide*float64(len(spares)), 150)
	d.Right -= math.Max(room, 50) + 30
	for n, s := range spares {
		x := d.Right + 30 + room*(float64(n)+0.5)/float64(len(spares))
		d.Spares = append(d.Spares, drawnSpare{x, math.Max(tip(s.LengthM), tallestY/2)})
	}
}

// across returns where the boat's n-th rib stands.
func (d *drawing) across(p *plan.Plan, b plan.Boat) func(n int) float64 {
	at := func(n int) float64 {
		if r := p.Ribs[b.Ribs[n]]; r.HasStation {
			return r.StationM
		}
		return float64(n)
	}
	bow, stern := at(0), at(0)
	for n := range b.Ribs {
		bow, stern = math.Min(bow, at(n)), math.Max(stern, at(n))
	}
	return func(n int) float64 {
		if bow == stern {
			return (d.Left + d.Right) / 2
		}
		return d.Left + 12 + (d.Right-d.Left-24)*(at(n)-bow)/(stern-bow)
	}
}

// enlarge returns the scale of the lower part: to the farthest rib that was judged,
// and at least 5 mm. What is meant to be off may lie beyond; it is drawn at the edge.
func (d *drawing) enlarge(p *plan.Plan, b plan.Boat, u measure.Units) func(offM float64) float64 {
	edge := 0.005
	for n, i := range b.Ribs {
		if r := p.Ribs[i]; b.CurveM != nil && !r.Meant {
			edge = math.Max(edge, math.Abs(r.LengthM-b.CurveM[n]))
		}
	}
	edge = math.Ceil(edge*1000) / 1000
	d.Scale = u.Length(edge, 0)
	return func(offM float64) float64 {
		return fairY - fairHalf*math.Max(-1, math.Min(1, offM/edge))
	}
}

// name marks the odd ribs and writes their suggested lengths above them, a row higher
// where a neighbour's would be covered.
func (d *drawing) name(b plan.Boat, u measure.Units) {
	odd := make([]*drawnRib, 0, len(b.Odd))
	for _, o := range b.Odd {
		r := &d.Ribs[slices.Index(b.Ribs, o.Rib)]
		r.Odd, r.Says = true, fmt.Sprintf("%s: %s", r.Label, u.Length(o.SuggestedM, 0))
		odd = append(odd, r)
	}
	slices.SortFunc(odd, func(a, b *drawnRib) int { return cmp.Compare(a.X, b.X) })
	var ends []float64 // of the last text in each row
	for _, r := range odd {
		half := sayWide / 2 * float64(len(r.Says))
		r.SaysX = math.Max(half, math.Min(r.X, drawWide-half))
		row := slices.IndexFunc(ends, func(end float64) bool { return end < r.SaysX-half })
		if row < 0 {
			row = len(ends)
			ends = append(ends, 0)
		}
		ends[row] = r.SaysX + half
		r.SaysY = sayY - sayHigh*float64(row)
		d.Above = math.Min(d.Above, r.SaysY-sayHigh)
	}
}
