package report

import (
	"cmp"
	_ "embed" // of the style
	"fmt"
	"io"
	"time"

	. "maragu.dev/gomponents"
	. "maragu.dev/gomponents/html"

	"withy/steambox/measure"
	"withy/steambox/unit"
	"withy/steambox/words"
)

//go:embed beside.css
var besideStyle string

// besidePage is two sessions as people compare them.
type besidePage struct {
	Names  [2]string
	Course *drawing
	Key    string
	Rows   []besideRow
}

type besideRow struct {
	What   string
	Values [2]string
}

// WriteBeside writes one page on which two sessions stand beside each other: on one
// graph, from when each box was ready, and in a table. Dates are those of a place, units
// those of who reads it.
func WriteBeside(w io.Writer, a, b *Report, at *time.Location, u measure.Units) error {
	two := [2]*Report{a, b}
	p := besidePage{Key: words.BesideKey(bendC, u)}
	for i, r := range two {
		local := *r
		local.Began, local.units = r.Began.In(at), u
		two[i] = &local
		p.Names[i] = local.Began.Format("2 January 2006, 15:04") + ", " + cmp.Or(r.Boat, r.Box)
	}
	p.Course = drawBeside(two)
	for _, row := range words.BesideRows {
		p.Rows = append(p.Rows, besideRow{row, [2]string{}})
	}
	for i, r := range two {
		for j, says := range r.besides() {
			p.Rows[j].Values[i] = says
		}
	}
	return p.html().Render(w)
}

func (p *besidePage) html() Node {
	return Doctype(HTML(Lang("en"),
		Head(Meta(Charset("utf-8")), Meta(Name("viewport"), Content("width=device-width, initial-scale=1")),
			TitleEl(Text("Two sessions")), StyleEl(Raw(besideStyle))),
		Body(Main(
			H1(Text("Two sessions")),
			If(p.Course != nil, Group{wide("Both sessions over time", Raw(p.Course.svg())), P(Class("key"), Text(p.Key))}),
			If(p.Course == nil, P(Text("One of them has nothing to draw."))),
			Table(
				THead(Tr(Td(), Th(Text("1: "+p.Names[0])), Th(Text("2: "+p.Names[1])))),
				TBody(Map(p.Rows, func(r besideRow) Node {
					return Tr(Th(Attr("scope", "row"), Text(r.What)), Td(Text(r.Values[0])), Td(Text(r.Values[1])))
				})),
			),
		)),
	))
}

// besides are a session's values in the order of words.BesideRows.
func (r *Report) besides() []string {
	or := func(known bool, says string) string {
		if !known {
			return words.NotKnown
		}
		return says
	}
	warm, ratio := 0.0, Range{}
	if r.WarmUp.ReadyS != nil {
		warm = *r.WarmUp.ReadyS
	}
	if r.Ratio != nil {
		ratio = *r.Ratio
	}
	boiled := r.Water.BoiledS > 0
	return []string{
		words.Outcomes(r.Bent),
		or(r.WarmUp.ReadyS != nil, words.Clock(warm)),
		or(r.Ratio != nil, fmt.Sprintf("%.2f (%.2f to %.2f)", ratio.Median, ratio.Lo, ratio.Hi)),
		or(r.Pace.SoakS > 0, words.Clock(r.Pace.SoakS)),
		or(r.Pace.IntervalS > 0, words.Clock(r.Pace.IntervalS)),
		or(boiled, r.units.Volume(r.Water.RateLH[0])+"/h"),
		fmt.Sprint(len(r.Alarms)),
		r.units.Temperature(r.BoilingC, 1),
	}
}

// The rows of pulls below the air: one a session.
const pullsHigh = 26.0

// drawBeside draws the air of two sessions on one graph; nil where one has nothing to show.
func drawBeside(two [2]*Report) *drawing {
	var c [2]*course
	var before, after float64
	for i, r := range two {
		c[i] = &course{r: r, clock: r.clock}
		if !c[i].crop() {
			return nil
		}
		before, after = max(before, r.zeroS()-c[i].fromS), max(after, c[i].toS-r.zeroS())
	}
	for i, r := range two {
		c[i].fromS, c[i].toS = r.zeroS()-before, r.zeroS()+after
	}
	var s drawing
	for _, celsius := range []float64{0, 40, 80, 85, 90, 95, 100} {
		y := airY(0, celsius)
		s.line("grid", courseLeft, y, courseRight, y)
		s.text("end", courseLeft-6, y+5, two[0].units.Temperature(celsius, 0))
	}
	for i := range two {
		for _, e := range unit.Ends {
			value := func(m moment) (float64, bool) { return float64(m.endC[e]), m.seen[e] }
			s.trail([2][2]string{{"first-steam", "first-door"}, {"second-steam", "second-door"}}[i][e], c[i].trace(value, func(v float64) float64 { return airY(0, v) })...)
		}
	}
	for i, r := range two {
		y := airHigh + stripGap + pullsHigh*(float64(i)+.5)
		s.line("grid", courseLeft, y, courseRight, y)
		s.text("end", courseLeft-6, y+5, [2]string{"1", "2"}[i])
		for _, o := range r.pulled() {
			if x := c[i].x(o.PulledS); o.Outcome == "cracked" {
				s.cross(x, y, 7)
			} else {
				s.dot("pull", x, y, 5)
			}
		}
	}
	foot := airHigh + stripGap + 2*pullsHigh
	for minute, step := 0.0, c[0].step()/60; minute*60 <= after; minute += step {
		x := c[0].x(two[0].zeroS() + minute*60)
		s.line("grid", x, 0, x, foot)
		s.text("middle", x, foot+18, fmt.Sprintf("%.0f min", minute))
	}
	s.high, s.says = foot+26, "Both ends of the box in two sessions over time, from when the box was ready; below, when ribs were pulled"
	return &s
}

// zeroS is from when two sessions are compared: when the box was ready, or the first rib
// went in.
func (r *Report) zeroS() float64 {
	if r.Hot {
		return 0
	}
	if r.WarmUp.ReadyS != nil {
		return *r.WarmUp.ReadyS
	}
	if len(r.soaks) > 0 {
		return r.soaks[0].inS
	}
	return 0
}
