package report

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"slices"

	"golang.org/x/image/vector"
)

// painter paints shapes on pixels as a browser does: smooth edges, lines cut off square
// where they end, round at their corners.
type painter struct {
	on     *image.RGBA
	scale  float64 // pixels to a unit of the drawing
	margin float64 // units
	area   vector.Rasterizer
}

func newPainter(wide, high int, scale, margin float64) *painter {
	p := &painter{on: image.NewRGBA(image.Rect(0, 0, wide, high)), scale: scale, margin: margin}
	for i := range p.on.Pix {
		p.on.Pix[i] = 0xff // white
	}
	return p
}

func (p *painter) shape(s shape) {
	lines, closed := s.lines, s.closed
	switch {
	case s.label != nil:
		p.label(s.label)
		return
	case s.dot != nil:
		lines, closed = [][]point{around(s.dot.at, s.dot.radius)}, true
	}
	pen := pens[s.pen]
	if pen.fill != "" {
		p.fill(lines, pen.fill, pen.opacity)
	}
	if pen.stroke == "" {
		return
	}
	var outline [][]point
	for _, line := range lines {
		if closed {
			line = append(slices.Clip(line), line[0])
		}
		for _, dash := range dashes(line, pen.dash) {
			outline = append(outline, stroke(dash, pen.wide, closed && pen.dash == nil)...)
		}
	}
	p.fill(outline, pen.stroke, 1)
}

// fill paints what lies within any of outlines that all go round the same way.
func (p *painter) fill(outlines [][]point, colour string, opacity float64) {
	if len(outlines) == 0 {
		return
	}
	least, most := point{math.Inf(1), math.Inf(1)}, point{math.Inf(-1), math.Inf(-1)}
	pixels := make([][]point, len(outlines))
	for i, outline := range outlines {
		for _, at := range outline {
			at = point{(at.x + p.margin) * p.scale, (at.y + p.margin) * p.scale}
			least, most = point{min(least.x, at.x), min(least.y, at.y)}, point{max(most.x, at.x), max(most.y, at.y)}
			pixels[i] = append(pixels[i], at)
		}
	}
	box := image.Rect(int(math.Floor(least.x)), int(math.Floor(least.y)), int(math.Ceil(most.x)), int(math.Ceil(most.y)))
	if box = box.Intersect(p.on.Bounds()); box.Empty() {
		return
	}
	p.area.Reset(box.Dx(), box.Dy())
	for _, outline := range pixels {
		for i, at := range outline {
			x, y := float32(at.x-float64(box.Min.X)), float32(at.y-float64(box.Min.Y))
			if i == 0 {
				p.area.MoveTo(x, y)
			} else {
				p.area.LineTo(x, y)
			}
		}
		p.area.ClosePath()
	}
	ink := color.NRGBA{A: uint8(math.Round(opacity * 255))}
	if _, err := fmt.Sscanf(colour, "#%02x%02x%02x", &ink.R, &ink.G, &ink.B); err != nil {
		panic("report: colour " + colour + " of a pen: " + err.Error())
	}
	p.area.Draw(p.on, box, image.NewUniform(ink), image.Point{})
}

// corners is how many a circle is painted with.
const corners = 48

// around is the circle around a point.
func around(at point, radius float64) []point {
	out := make([]point, corners)
	for i := range out {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / corners)
		out[i] = point{at.x + radius*cos, at.y + radius*sin}
	}
	return out
}

// dashes cuts a line into what is drawn of it: lengths drawn and left out in turn. With
// none it is all drawn.
func dashes(line []point, lengths []float64) [][]point {
	if lengths == nil {
		return [][]point{line}
	}
	var out [][]point
	turn, left := 0, lengths[0]
	current := []point{line[0]}
	for i := 1; i < len(line); i++ {
		from, to := line[i-1], line[i]
		long := math.Hypot(to.x-from.x, to.y-from.y)
		for gone := 0.0; gone < long; {
			step := min(left, long-gone)
			gone, left = gone+step, left-step
			at := point{from.x + (to.x-from.x)*gone/long, from.y + (to.y-from.y)*gone/long}
			current = append(current, at)
			if left > 0 {
				continue
			}
			if turn%2 == 0 {
				out = append(out, current)
			}
			turn++
			left, current = lengths[turn%len(lengths)], []point{at}
		}
	}
	if turn%2 == 0 && len(current) > 1 {
		out = append(out, current)
	}
	return out
}

// stroke is the outline of a line so wide: a bar along each of its parts and a circle at
// each corner, all going round the same way.
func stroke(line []point, wide float64, closed bool) [][]point {
	var out [][]point
	for i := 1; i < len(line); i++ {
		from, to := line[i-1], line[i]
		long := math.Hypot(to.x-from.x, to.y-from.y)
		if long == 0 {
			continue
		}
		x, y := (from.y-to.y)/long*wide/2, (to.x-from.x)/long*wide/2
		out = append(out, []point{{from.x - x, from.y - y}, {to.x - x, to.y - y}, {to.x + x, to.y + y}, {from.x + x, from.y + y}})
		if i > 1 || closed {
			out = append(out, around(from, wide/2))
		}
	}
	return out
}

func (p *painter) label(l *label) {
	outlines, wide := outlinesOf(l.text, l.size)
	begin := map[string]float64{"middle": -wide / 2, "end": -wide}[l.anchor]
	var placed [][]point
	copies := 1
	if l.bold {
		copies = 2 // one a little beside the other
	}
	for i := range copies {
		beside := begin + float64(i)*l.size/22
		for _, outline := range outlines {
			to := make([]point, len(outline))
			for j, at := range outline {
				at.x += beside
				if l.turned {
					at = point{-at.y, at.x}
				}
				to[j] = point{l.at.x + at.x, l.at.y + at.y}
			}
			placed = append(placed, to)
		}
	}
	p.fill(placed, black, 1)
}
