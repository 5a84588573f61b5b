package report

import (
	"fmt"
	"image"
	"image/png"
	"io"
	"math"
	"strings"
	"time"

	"withy/steambox/measure"
)

// The picture of a report: so many pixels wide, which on A4 are 290 to the inch, and a
// margin in the drawing's units.
const (
	pictureWide   = 2400
	pictureMargin = 20.0
)

// WritePNG writes the report's drawings with their keys as one picture, with the times of
// day of a place and in the units of who looks at it. It is as legible as the page when
// it is printed across a sheet of A4.
func (r *Report) WritePNG(w io.Writer, at *time.Location, u measure.Units) error {
	local := *r
	local.Began, local.units = r.Began.In(at), u
	return png.Encode(w, local.page().picture().paint(pictureWide, pictureMargin))
}

// Sizes of what is written, and the space above a drawing and a heading.
const (
	titleSize, headingSize = 32.0, 18.0
	lineGap                = 1.35 // from one line to the next, as a part of their size
	gapAbove               = 14.0
)

// picture puts the drawings below one another, with what is said of them.
func (p *page) picture() *drawing {
	d := &drawing{says: p.Title}
	d.paragraph(titleSize, true, p.Title)
	d.paragraph(labelSize, false, p.When+". "+p.Counts)
	d.paragraph(headingSize, true, p.Undated)
	d.paragraph(headingSize, true, p.Rehearsal)
	d.paragraph(headingSize, true, p.Unfinished)
	if p.Course != nil {
		d.below(p.Course)
		d.paragraph(labelSize, false, p.CourseKey)
	}
	for _, a := range p.Alarms {
		d.paragraph(labelSize, false, fmt.Sprintf("%d: %s %s, %s.", a.Number, a.At, a.What, a.Lasts))
	}
	if p.Heat != nil {
		d.high += gapAbove
		d.paragraph(headingSize, true, "Heat at both ends")
		d.paragraph(labelSize, false, p.Ends)
		d.below(p.Heat)
		d.paragraph(labelSize, false, p.HeatKey)
	}
	return d
}

// below puts another drawing below all there is.
func (d *drawing) below(other *drawing) {
	d.high += gapAbove
	for _, s := range other.shapes {
		d.shapes = append(d.shapes, s.moved(d.high))
	}
	d.high += other.high
}

// moved is the shape so much further down.
func (s shape) moved(down float64) shape {
	lines := make([][]point, len(s.lines))
	for i, line := range s.lines {
		for _, p := range line {
			lines[i] = append(lines[i], point{p.x, p.y + down})
		}
	}
	s.lines = lines
	if s.dot != nil {
		s.dot = &dot{point{s.dot.at.x, s.dot.at.y + down}, s.dot.radius}
	}
	if s.label != nil {
		l := *s.label
		l.at.y += down
		s.label = &l
	}
	return s
}

// paragraph puts text below all there is, on as many lines as it takes.
func (d *drawing) paragraph(size float64, bold bool, text string) {
	line := ""
	flush := func() {
		if line != "" {
			d.high += size * lineGap
			d.write(label{at: point{0, d.high}, anchor: "start", size: size, bold: bold, text: line})
		}
		line = ""
	}
	for word := range strings.FieldsSeq(text) {
		if line != "" && textWide(line+" "+word, size) > drawingWide {
			flush()
		}
		line = strings.TrimPrefix(line+" "+word, " ")
	}
	flush()
}

// paint draws the picture so many pixels wide on white, within a margin in its own units.
func (d *drawing) paint(wide int, margin float64) *image.RGBA {
	scale := float64(wide) / (drawingWide + 2*margin)
	p := newPainter(wide, int(math.Ceil((d.high+2*margin)*scale)), scale, margin)
	for _, s := range d.shapes {
		p.shape(s)
	}
	return p.on
}
