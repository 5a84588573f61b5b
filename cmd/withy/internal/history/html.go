package history

import (
	_ "embed" // of the style

	. "maragu.dev/gomponents"
	. "maragu.dev/gomponents/html"
)

//go:embed page.css
var style string

// html is the page: nothing from elsewhere, no script.
func (p *page) html() Node {
	return Doctype(HTML(Lang("en"),
		Head(Meta(Charset("utf-8")), Meta(Name("viewport"), Content("width=device-width, initial-scale=1")),
			TitleEl(Text("All sessions")), StyleEl(Raw(style))),
		Body(Main(
			H1(Text("All sessions")),
			Form(Action("/history"), Method("get"), Role("search"),
				Label(Text("Stick, boat, rib or date"), Input(Name("find"), Type("search"), Value(p.Find))), Button(Text("Find"))),
			P(Text(p.Found)),
			H2(Text("What worked in each stick")), p.sticks(),
			If(p.Ratio != "" || p.Rate != "", H2(Text("This box"))),
			If(p.Ratio != "", Group{H3(Text("Heat at the door end over the steam end’s")), wide("Ends over the sessions", Raw(p.Ratio))}),
			If(p.Rate != "", Group{H3(Text("Boiled off in an hour")), wide("Boil-off over the sessions", Raw(p.Rate))}),
			H2(Text("The sessions")), p.days(),
		)),
	))
}

// wide is something that is scrolled sideways on a narrow screen, and by keys too.
func wide(what string, inside Node) Node {
	return Div(Class("wide"), TabIndex("0"), Role("group"), Aria("label", what), inside)
}

// number is a cell of a column of numbers.
func number(cell func(...Node) Node, says string) Node { return cell(Class("num"), Text(says)) }

func (p *page) sticks() Node {
	if len(p.Sticks) == 0 {
		return P(Text("No rib yet."))
	}
	return Group{
		wide("Table of the sticks", Table(
			THead(Tr(Th(Text("stick")), number(Th, "thick"), Th(Text("bends")), Th(Text("bent")), number(Th, "cracked"), Th(Text("soak that worked")),
				Th(Text("heat that worked, cooler end")))),
			TBody(Map(p.Sticks, func(s StickRow) Node {
				return Tr(Td(Class("stick"), Text(s.Stick)), number(Td, s.Thick), Td(Text(s.Bend)), Td(Text(s.Bent)), number(Td, s.Broke), Td(Text(s.Soak)), Td(Text(s.Heat)))
			})),
		)),
		P(Class("key"), Text("Heat is in minutes at 100 °C. Test pieces do not count as cracked. The soak holds for the box and the day that it was made in; the heat goes with the stick.")),
	}
}

func (p *page) days() Node {
	if len(p.Days) == 0 {
		return P(Text("None yet."))
	}
	return Group{
		wide("Table of the sessions", Table(
			THead(Tr(Th(Text("began")), Th(Text("boat")), Th(Text("bent")), number(Th, "warm after"), number(Th, "door to steam end"),
				number(Th, "boiled off"), Th(Text("more")))),
			TBody(Map(p.Days, DayRow.html)),
		)),
		If(len(p.Days) > 1, Form(Action("/compare"), Method("get"),
			Label(Text("Compare"), Select(Name("session"), p.options(1))), Label(Text("with"), Select(Name("with"), p.options(0))), Button(Text("Show both")))),
		P(Class("no-print"), A(Href("/history.csv"), Text("All ribs as a table (CSV)"))),
	}
}

func (d DayRow) html() Node {
	bent, report := d.Bent, A(Href(d.report()), Aria("label", "Report of "+d.When), Text("report"))
	if d.Why != "" {
		bent, report = d.Why, nil
	}
	return Tr(Td(Text(d.When)), Td(Text(d.Boat)), Td(Text(bent)), number(Td, d.Warm), number(Td, d.Ratio), number(Td, d.Rate), Td(report))
}

// options are the sessions to choose from, one of them chosen.
func (p *page) options(chosen int) Node {
	var out Group
	for i, d := range p.Days {
		out = append(out, Option(Value(d.Session), If(i == chosen, Selected()), Text(d.When+", "+d.Boat)))
	}
	return out
}
