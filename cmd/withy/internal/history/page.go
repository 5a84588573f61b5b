package history

import (
	"cmp"
	"fmt"
	"html"
	"io"
	"net/url"
	"slices"
	"strings"
	"time"

	"withy/steambox/measure"
	"withy/steambox/words"
)

// page is a history as people read it.
type page struct {
	Find   string
	Found  string
	Sticks []StickRow
	Days   []DayRow
	Ratio  string // drawings
	Rate   string
}

// StickRow is a stick in words.
type StickRow struct {
	Stick, Thick, Bend, Bent, Broke, Soak, Heat string
}

// DayRow is a session in words.
type DayRow struct {
	Session, When, Boat, Bent, Warm, Ratio, Rate, Why string
}

// WriteHTML writes the history as one page, the newest session first, with the dates of
// a place and in the units of who reads it. Find is what was looked for.
func (h *History) WriteHTML(w io.Writer, at *time.Location, u measure.Units, find string) error {
	p := page{Find: find, Found: words.FoundSessions(len(h.Days), find), Ratio: h.ratios(at), Rate: h.rates(at, u)}
	p.Sticks, p.Days = h.Rows(at, u)
	return p.html().Render(w)
}

// Rows returns the sticks, and the sessions with the newest first, in words.
func (h *History) Rows(at *time.Location, u measure.Units) (sticks []StickRow, days []DayRow) {
	for _, s := range h.Sticks {
		sticks = append(sticks, s.row(u))
	}
	for _, d := range slices.Backward(h.Days) {
		days = append(days, d.row(at, u))
	}
	return sticks, days
}

func (s *Stick) row(u measure.Units) StickRow {
	out := StickRow{
		Stick: cmp.Or(s.Stick, words.NoStick), Thick: u.Side(s.ThicknessMM / 1000), Bend: s.Bend, Bent: words.Outcomes(s.Bent),
		Broke: words.NotKnown, Soak: words.NotKnown, Heat: words.NotKnown,
	}
	if s.Broke != nil {
		out.Broke = fmt.Sprintf("%.0f %%", 100**s.Broke)
	}
	if s.Worked != nil {
		out.Soak = words.Spread(words.Clock, s.Worked.SoakS[1], s.Worked.SoakS[2])
		out.Heat = words.Spread(func(min float64) string { return fmt.Sprintf("%.1f", min) }, s.Worked.HeatMin[1], s.Worked.HeatMin[2]) + " min"
	}
	return out
}

func (d *Day) row(at *time.Location, u measure.Units) DayRow {
	out := DayRow{
		Session: d.Session, When: d.Began.In(at).Format(dayForm + ", 15:04"), Boat: cmp.Or(d.Boat, words.NotKnown),
		Bent: words.Outcomes(d.Bent),
		Warm: words.NotKnown, Ratio: words.NotKnown, Rate: words.NotKnown, Why: d.Why,
	}
	if d.WarmS != nil {
		out.Warm = words.Clock(*d.WarmS)
	}
	if d.Ratio != nil {
		out.Ratio = fmt.Sprintf("%.2f", *d.Ratio)
	}
	if d.RateLH != nil {
		out.Rate = u.Volume(d.RateLH[0]) + "/h"
	}
	return out
}

// report is where the report of a session is.
func (d DayRow) report() string { return "/report?" + url.Values{"session": {d.Session}}.Encode() }

// Sizes of the two graphs of the box over its sessions.
const (
	graphWide, graphHigh  = 1000.0, 170.0
	graphLeft, graphRight = 70.0, 980.0
	graphTop, graphFoot   = 14.0, 136.0
)

// graph is one value of each session from left to right; nil where it has none.
func (h *History) graph(at *time.Location, lo, hi float64, label func(float64) string, of func(*Day) *[3]float64, says string) string {
	type point struct {
		day *Day
		v   [3]float64
	}
	var all []point
	for i := range h.Days {
		if v := of(&h.Days[i]); v != nil {
			all = append(all, point{&h.Days[i], *v})
			lo, hi = min(lo, v[1]), max(hi, v[2])
		}
	}
	if len(all) < 2 {
		return ""
	}
	y := func(v float64) float64 { return graphFoot - (graphFoot-graphTop)*(v-lo)/(hi-lo) }
	x := func(i int) float64 {
		return graphLeft + 20 + (graphRight-graphLeft-40)*float64(i)/float64(len(all)-1)
	}
	var b strings.Builder
	for _, v := range []float64{lo, (lo + hi) / 2, hi} {
		fmt.Fprintf(&b, `<path class="grid" d="M%.1f %.1fH%.1f"/><text text-anchor="end" x="%.1f" y="%.1f">%s</text>`,
			graphLeft, y(v), graphRight, graphLeft-6, y(v)+5, html.EscapeString(label(v)))
	}
	for i, p := range all {
		if p.v[2] > p.v[1] {
			fmt.Fprintf(&b, `<path class="within" d="M%.1f %.1fV%.1f"/>`, x(i), y(p.v[1]), y(p.v[2]))
		}
		fmt.Fprintf(&b, `<circle cx="%.1f" cy="%.1f" r="5"><title>%s: %s</title></circle>`, x(i), y(p.v[0]),
			html.EscapeString(p.day.Session), html.EscapeString(label(p.v[0])))
	}
	for _, i := range []int{0, len(all) - 1} {
		anchor := [2]string{"start", "end"}[min(i, 1)]
		fmt.Fprintf(&b, `<text text-anchor="%s" x="%.1f" y="%.1f">%s</text>`, anchor, x(i), graphFoot+24, all[i].day.Began.In(at).Format("2 Jan 2006"))
	}
	return fmt.Sprintf(`<svg viewBox="0 0 %.0f %.0f" role="img" aria-label="%s">%s</svg>`, graphWide, graphHigh, html.EscapeString(says), b.String())
}

func (h *History) ratios(at *time.Location) string {
	return h.graph(at, 0.5, 1.1, func(v float64) string { return fmt.Sprintf("%.2f", v) }, func(d *Day) *[3]float64 {
		if d.Ratio == nil {
			return nil
		}
		return &[3]float64{*d.Ratio, *d.Ratio, *d.Ratio}
	}, "The door end's share of the heat over the sessions; the numbers are in the table below")
}

func (h *History) rates(at *time.Location, u measure.Units) string {
	return h.graph(at, 0, 1, u.Volume, func(d *Day) *[3]float64 { return d.RateLH },
		"What boiled off in an hour over the sessions; the numbers are in the table below")
}
