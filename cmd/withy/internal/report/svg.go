package report

import (
	"fmt"
	"html"
	"strings"
)

// svg is a picture that is being drawn, in units of which it is svgWide wide. Classes
// are those of the page's style sheet; colour alone never says anything.
type svg struct{ b strings.Builder }

const svgWide = 1000.0

func (s *svg) line(class string, x1, y1, x2, y2 float64) {
	fmt.Fprintf(&s.b, `<path class="%s" d="M%.1f %.1fL%.1f %.1f"/>`, class, x1, y1, x2, y2)
}

func (s *svg) path(class, d string) {
	if d != "" {
		fmt.Fprintf(&s.b, `<path class="%s" d="%s"/>`, class, d)
	}
}

func (s *svg) rect(class string, x, y, wide, high float64) {
	fmt.Fprintf(&s.b, `<rect class="%s" x="%.1f" y="%.1f" width="%.1f" height="%.1f"/>`, class, x, y, wide, high)
}

func (s *svg) dot(class string, x, y, r float64) {
	fmt.Fprintf(&s.b, `<circle class="%s" cx="%.1f" cy="%.1f" r="%.1f"/>`, class, x, y, r)
}

// text writes a label; anchor is start, middle or end.
func (s *svg) text(anchor string, x, y float64, label string) {
	fmt.Fprintf(&s.b, `<text text-anchor="%s" x="%.1f" y="%.1f">%s</text>`, anchor, x, y, html.EscapeString(label))
}

// turned writes a label that reads downwards.
func (s *svg) turned(x, y float64, label string) {
	fmt.Fprintf(&s.b, `<text transform="translate(%.1f %.1f) rotate(90)">%s</text>`, x, y, html.EscapeString(label))
}

// cross marks a rib that cracked, half a bar one that was stiff.
func (s *svg) cross(x, y, r float64) {
	s.path("mark", fmt.Sprintf("M%.1f %.1fL%.1f %.1fM%.1f %.1fL%.1f %.1f", x-r, y-r, x+r, y+r, x-r, y+r, x+r, y-r))
}

// warning draws a warning's triangle with its number, standing on y.
func (s *svg) warning(x, y float64, number int) {
	s.path("warn", fmt.Sprintf("M%.1f %.1fl12 20h-24z", x, y-20))
	fmt.Fprintf(&s.b, `<text class="number" text-anchor="middle" x="%.1f" y="%.1f">%d</text>`, x, y-4, number)
}

// done returns the picture as a page has it; says tells those who can't see it what is
// drawn.
func (s *svg) done(high float64, says string) string {
	return fmt.Sprintf(`<svg viewBox="0 0 %.0f %.0f" role="img" aria-label="%s">%s</svg>`,
		svgWide, high, html.EscapeString(says), s.b.String())
}
