package report

import (
	"fmt"
	"html"
	"strings"
)

// drawing is a picture as the list of what is drawn, from below to above, in units of
// which it is drawingWide wide. The page has it as SVG, WritePNG paints it: both by the
// same pens.
type drawing struct {
	shapes []shape
	high   float64
	says   string // to those who can't see it
}

const drawingWide = 1000.0

// shape is one of lines, a dot or a label.
type shape struct {
	pen    string // its name in pens
	lines  [][]point
	closed bool // the lines go back to where they began
	dot    *dot
	label  *label
}

type point struct{ x, y float64 }

type dot struct {
	at     point
	radius float64
}

// label is text on a line through at.
type label struct {
	at     point
	anchor string // which part of the text at is: start, middle or end
	turned bool   // reads downwards
	size   float64
	bold   bool
	text   string
}

const (
	labelSize  = 15.0
	numberSize = 11.0 // in a warning
)

func (d *drawing) line(pen string, x1, y1, x2, y2 float64) {
	d.trail(pen, []point{{x1, y1}, {x2, y2}})
}

// trail draws lines that may each have many corners.
func (d *drawing) trail(pen string, lines ...[]point) {
	if len(lines) > 0 {
		d.shapes = append(d.shapes, shape{pen: pen, lines: lines})
	}
}

// area draws what lies within corners.
func (d *drawing) area(pen string, corners ...point) {
	d.shapes = append(d.shapes, shape{pen: pen, lines: [][]point{corners}, closed: true})
}

func (d *drawing) rect(pen string, x, y, wide, high float64) {
	d.area(pen, point{x, y}, point{x + wide, y}, point{x + wide, y + high}, point{x, y + high})
}

func (d *drawing) dot(pen string, x, y, r float64) {
	d.shapes = append(d.shapes, shape{pen: pen, dot: &dot{point{x, y}, r}})
}

func (d *drawing) write(l label) { d.shapes = append(d.shapes, shape{label: &l}) }

// text writes a label; anchor is start, middle or end.
func (d *drawing) text(anchor string, x, y float64, text string) {
	d.write(label{at: point{x, y}, anchor: anchor, size: labelSize, text: text})
}

// turned writes a label that reads downwards.
func (d *drawing) turned(x, y float64, text string) {
	d.write(label{at: point{x, y}, anchor: "start", turned: true, size: labelSize, text: text})
}

// cross marks a rib that cracked, half a bar one that was stiff.
func (d *drawing) cross(x, y, r float64) {
	d.trail("mark", []point{{x - r, y - r}, {x + r, y + r}}, []point{{x - r, y + r}, {x + r, y - r}})
}

// warning draws a warning's triangle with its number, standing on y.
func (d *drawing) warning(x, y float64, number int) {
	d.area("warn", point{x, y - 20}, point{x + 12, y}, point{x - 12, y})
	d.write(label{at: point{x, y - 4}, anchor: "middle", size: numberSize, bold: true, text: fmt.Sprint(number)})
}

// pen is how a shape is drawn. Colours are #rrggbb, "" for none; widths and dashes, drawn
// and left out in turn, are in the drawing's units.
type pen struct {
	stroke  string
	wide    float64
	dash    []float64
	fill    string
	opacity float64 // of the fill
}

const (
	black, white, grey  = "#000000", "#ffffff", "#bbbbbb"
	brown, teal, yellow = "#8a5a1e", "#007a80", "#ffd800"
	wood, pale          = "#d9b27c", "#f1e3cb"
)

// pens are those there are by name; colour alone never says anything.
var pens = map[string]pen{
	"grid":         {stroke: grey, wide: .8},
	"boils":        {stroke: black, wide: 1.2, dash: []float64{7, 5}},
	"steam":        {stroke: black, wide: 2.4},
	"door":         {stroke: brown, wide: 2.4, dash: []float64{9, 3}},
	"first-steam":  {stroke: black, wide: 3.2},
	"first-door":   {stroke: brown, wide: 3.2, dash: []float64{9, 3}},
	"second-steam": {stroke: black, wide: 1.3},
	"second-door":  {stroke: brown, wide: 1.3, dash: []float64{9, 3}},
	"pull":         {stroke: black, wide: 1, fill: brown, opacity: 1},
	"rib":          {stroke: black, wide: 1, fill: wood, opacity: 1},
	"water":        {stroke: teal, wide: 2.6},
	"maybe":        {stroke: teal, wide: 1, dash: []float64{3, 3}},
	"pour":         {stroke: teal, wide: 1, fill: teal, opacity: 1},
	"warn":         {stroke: black, wide: 1.8, fill: yellow, opacity: 1},
	"unseen":       {stroke: black, wide: 1.4, dash: []float64{5, 4}, fill: white, opacity: .75},
	"good":         {fill: pale, opacity: 1},
	"target":       {stroke: brown, wide: 2},
	"over":         {stroke: brown, wide: 1.2, dash: []float64{4, 3}},
	"bound":        {stroke: black, wide: 1.2},
	"unsure":       {stroke: black, wide: 1.2, dash: []float64{3, 3}},
	"wood":         {stroke: brown, wide: 2.5},
	"hot":          {stroke: black, wide: 1, fill: black, opacity: 1},
	"cool":         {stroke: black, wide: 2, fill: white, opacity: 1},
	"mark":         {stroke: black, wide: 2.8},
}

// svg returns the picture as a page has it; "" of none.
func (d *drawing) svg() string {
	if d == nil {
		return ""
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg viewBox="0 0 %.0f %.0f" stroke-linejoin="round" role="img" aria-label="%s">`, drawingWide, d.high, html.EscapeString(d.says))
	for _, s := range d.shapes {
		switch {
		case s.dot != nil:
			fmt.Fprintf(&b, `<circle %s cx="%.1f" cy="%.1f" r="%.1f"/>`, pens[s.pen].svg(), s.dot.at.x, s.dot.at.y, s.dot.radius)
		case s.label != nil:
			s.label.svg(&b)
		default:
			fmt.Fprintf(&b, `<path %s d="%s"/>`, pens[s.pen].svg(), s.path())
		}
	}
	b.WriteString("</svg>")
	return b.String()
}

// path is where the lines of a shape go, as SVG says it.
func (s *shape) path() string {
	var b strings.Builder
	for _, line := range s.lines {
		for i, p := range line {
			b.WriteByte("ML"[min(i, 1)])
			fmt.Fprintf(&b, "%.1f %.1f", p.x, p.y)
		}
		if s.closed {
			b.WriteByte('Z')
		}
	}
	return b.String()
}

// svg is the pen as SVG's attributes.
func (p pen) svg() string {
	var b strings.Builder
	fmt.Fprintf(&b, `fill="%s"`, colour(p.fill))
	if p.opacity > 0 && p.opacity < 1 {
		fmt.Fprintf(&b, ` fill-opacity="%g"`, p.opacity)
	}
	if p.stroke != "" {
		fmt.Fprintf(&b, ` stroke="%s" stroke-width="%g"`, p.stroke, p.wide)
	}
	if p.dash != nil {
		fmt.Fprintf(&b, ` stroke-dasharray="%s"`, strings.Trim(fmt.Sprint(p.dash), "[]"))
	}
	return b.String()
}

func colour(c string) string {
	if c == "" {
		return "none"
	}
	return c
}

func (l *label) svg(b *strings.Builder) {
	place := fmt.Sprintf(`x="%.1f" y="%.1f"`, l.at.x, l.at.y)
	if l.turned {
		place = fmt.Sprintf(`transform="translate(%.1f %.1f) rotate(90)"`, l.at.x, l.at.y)
	}
	weight := ""
	if l.bold {
		weight = ` font-weight="700"`
	}
	fmt.Fprintf(b, `<text text-anchor="%s" font-size="%g"%s %s>%s</text>`, l.anchor, l.size, weight, place, html.EscapeString(l.text))
}
