package sheet

import (
	_ "embed" // of the style
	"io"

	. "maragu.dev/gomponents"
	. "maragu.dev/gomponents/html"
)

//go:embed page.css
var style string

// WriteHTML writes the sheet as a page to print: black on white, nothing from elsewhere, no
// script. Its errors are the writer's.
func (s *Sheet) WriteHTML(w io.Writer) error {
	return Doctype(HTML(Lang("en"),
		Head(Meta(Charset("utf-8")), Meta(Name("viewport"), Content("width=device-width, initial-scale=1")),
			TitleEl(Text(s.Title)), StyleEl(Raw(style))),
		Body(H1(Text(s.Title)), s.body()),
	)).Render(w)
}

// body is the plan, or why there is none.
func (s *Sheet) body() Node {
	if len(s.Boats) == 0 {
		return Map(s.Limits, func(says string) Node { return P(Class("soak"), Text(says)) })
	}
	return Group{
		P(Class("soak"), Text(s.Soak)),
		Map(s.Boats, boatSheet.html),
		If(len(s.Thick) > 0, Group{H2(Text("Thickness")), oddTable(s.Thick, false)}),
		H2(Text("To saw")), Map(s.Lots, lotSheet.html),
		H2(Class("box"), Text("The run: minutes and seconds from the first rib in")),
		P(Class("again"), Text(s.Soak)),
		Div(Class("run"), Table(
			Tr(Th(), Th(Text("rib")), Th(Text("slot")), Th(Class("num"), Text("in")), Th(Class("num"), Text("out")), Th()),
			Map(s.Run, runRow.html),
		)),
		H2(Text("The day")), list("", s.Day),
		If(len(s.Limits) > 0, Group{H2(Text("What limits it")), list("", s.Limits)}),
		H2(Text("Mind")), list("mind", s.Caution),
	}
}

func list(class string, says []string) Node {
	return Ul(If(class != "", Class(class)), Map(says, func(s string) Node { return Li(Text(s)) }))
}

// tick is a box to be ticked off with a pencil.
func tick() Node { return Span(Class("tick")) }

func (b boatSheet) html() Node {
	title := "Lengths"
	if b.Name != "" {
		title += ": " + b.Name
	}
	return Group{
		H2(Text(title)), P(Text(b.Verdict)),
		If(len(b.Odd) > 0, oddTable(b.Odd, true)),
		b.Drawing.svg(),
	}
}

// oddTable lists ribs that are out of line; beside says that there is a column for the other
// tape.
func oddTable(odd []oddRow, beside bool) Node {
	return Table(
		Tr(Th(), Th(Text("rib")), Th(Text("is")), Th(Text("the others say")), If(beside, Th()), Th()),
		Map(odd, func(o oddRow) Node {
			return Tr(Td(tick()), big(o.Rib), Td(Text(o.Is)), big(o.Suggested), If(beside, Td(Text(o.Beside))), Td(Text(o.Off)))
		}),
	)
}

func big(says string) Node { return Td(Class("big"), Text(says)) }

func (l lotSheet) html() Node {
	return Group{H3(Text(l.Title)), Div(Class("saw"), Table(Map(l.Blanks, func(b blankRow) Node {
		return Tr(Td(Class("num big"), Text(b.Length)), Td(Class("num"), Text(b.Beside)),
			Td(Class("boxes"), Map(b.Boxes, func(struct{}) Node { return tick() })), Td(Text(b.For)))
	})))}
}

func (r runRow) html() Node {
	if r.Note == "" {
		return Tr(Td(tick()), big(r.Rib), Td(Text(r.Slot)), Td(Class("num"), Text(r.In)), Td(Class("num big"), Text(r.Out)), Td(Text(r.How)))
	}
	says := r.Note
	if r.In != "" {
		says = r.In + ": " + says
	}
	return Tr(Class("note"), Td(ColSpan("6"), Text(says)))
}
