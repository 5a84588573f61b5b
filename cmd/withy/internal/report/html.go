package report

import (
	_ "embed" // of the style
	"strconv"

	. "maragu.dev/gomponents"
	. "maragu.dev/gomponents/html"
)

//go:embed page.css
var style string

// html is the page: nothing from elsewhere, no script.
func (p *page) html() Node {
	return Doctype(HTML(Lang("en"),
		Head(Meta(Charset("utf-8")), Meta(Name("viewport"), Content("width=device-width, initial-scale=1")),
			TitleEl(Text(p.Title+", "+p.When)), StyleEl(Raw(style))),
		Body(Main(
			H1(Text(p.Title)), P(Text(p.When)), note(p.Undated), note(p.Rehearsal), note(p.Unfinished),
			P(B(Text(p.Counts)), Text(" "+p.Pace)),
			Section(Class("next"), H2(Text("Next time")), Ol(items(p.Next[:]...))),
			p.drawings(),
			H2(Text("What was bent")), p.bent(),
			H2(Text("The window")), Ul(items(p.Window...)),
			H2(Text("Water")), Ul(items(p.Water...)),
			H2(Text("Alarms")), p.alarms(),
			H2(Text("Broken")), listOr("Nothing broke.", p.Broke),
			p.hull(),
			H2(Text("How far this can be trusted")),
			H3(Text("Measured")), Ul(items(p.Measured...)),
			H3(Text("Reckoned")), Ul(items(p.Inferred...)),
			H3(Text("Not seen, not told")), Ul(items(p.NotSeen...)),
			If(len(p.Notes) > 0, Group{H2(Text("Notes")), Ul(items(p.Notes...))}),
			Map(p.Sheets, boatSheet.html),
		)),
	))
}

// note is a word about the whole report, where there is one.
func note(says string) Node { return If(says != "", P(Class("note"), Text(says))) }

func items(says ...string) Node {
	return Map(says, func(s string) Node { return Li(Text(s)) })
}

// listOr is a list, or what is said where it is empty.
func listOr(empty string, says []string) Node {
	if len(says) == 0 {
		return P(Text(empty))
	}
	return Ul(items(says...))
}

// wide is something that is scrolled sideways on a narrow screen, and by keys too.
func wide(what string, inside Node) Node {
	return Div(Class("wide"), TabIndex("0"), Role("group"), Aria("label", what), inside)
}

// drawings are how it went and the heat at both ends, where there is anything to draw.
func (p *page) drawings() Node {
	return Group{
		If(p.Course != nil, Section(Class("whole"), H2(Text("How it went")),
			wide("The session over time", Raw(p.Course.svg())), P(Class("key"), Text(p.CourseKey)))),
		If(p.Heat != nil, Section(Class("whole"), H2(Text("Heat at both ends")), P(Text(p.Ends)),
			wide("Heat taken by each rib", Raw(p.Heat.svg())), P(Class("key"), Text(p.HeatKey)))),
	}
}

// bent is the table of the ribs.
func (p *page) bent() Node {
	if len(p.Ribs) == 0 {
		return P(Text("Nothing."))
	}
	return Group{
		wide("Table of the ribs", Table(
			THead(Tr(Th(Text("rib")), Th(Text("out at")), number(Th, "soak"), number(Th, "steam end"), number(Th, "door end"),
				number(Th, "door to steam end"), Th(Text("bent")), Th(Text("mark to")))),
			TBody(Map(p.Ribs, func(r ribRow) Node {
				return Tr(Td(Class("rib"), Text(r.Rib)), Td(Text(r.At)), number(Td, r.Soak), number(Td, r.Steam+r.doubt()),
					number(Td, r.Door+r.doubt()), number(Td, r.Ratio), r.how(), Td(Text(r.Mark)))
			})),
		)),
		P(Class("key"), Text(p.HeatColumns)),
	}
}

// number is a cell of a column of numbers.
func number(cell func(...Node) Node, says string) Node { return cell(Class("num"), Text(says)) }

// doubt follows the heat of a rib of which not all was seen.
func (r ribRow) doubt() string {
	if r.Sure {
		return ""
	}
	return " ?"
}

// how is the cell that says how a rib bent.
func (r ribRow) how() Node { return Td(If(r.Bad, Class("bad")), Text(r.How)) }

func (p *page) alarms() Node {
	if len(p.Alarms) == 0 {
		return P(Text("None."))
	}
	return Table(TBody(Map(p.Alarms, func(a alarmRow) Node {
		return Tr(Td(Span(Class("sign"), Text(strconv.Itoa(a.Number)))), Td(Text(a.At)), Td(Text(a.What)), Td(Text(a.Lasts)))
	})))
}

func (p *page) hull() Node {
	if len(p.Hulls) == 0 && p.Keel == "" {
		return nil
	}
	return Group{H2(Text("The hull")), Ul(items(p.Hulls...), If(p.Keel != "", Li(Text(p.Keel+" "+p.Lifted))))}
}

// html is the sheet on a page of its own when it is printed.
func (s boatSheet) html() Node {
	due := func(says string) Node { return Li(Span(Class("done")), Text(says)) }
	return Section(Class("sheet"), H2(Text(s.Name)), note(s.Rehearsal),
		P(Text("Ribs bent on "+s.When+". "+s.Bent+" "+s.Hull+" "+s.Keel)),
		Table(
			THead(Tr(Th(Text("rib, from the bow")), Th(Text("mark to")), number(Th, "in the steam"), Th(Text("bent")), Th(Text("to do")))),
			TBody(Map(s.Ribs, func(r ribRow) Node {
				return Tr(Td(Class("rib"), Text(r.Rib)), Td(Text(r.Mark)), number(Td, r.Soak), r.how(), Td(Text(r.Mend)))
			})),
		),
		Ul(Class("dues"), Map(s.Broke, due), Map(s.After, due)),
	)
}
