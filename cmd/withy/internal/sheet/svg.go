package sheet

import (
	"fmt"
	"strings"

	. "maragu.dev/gomponents"
)

// svg is the picture as the page has it.
func (d *drawing) svg() Node {
	return El("svg", Attr("viewBox", fmt.Sprint(0, d.Above, d.Wide, d.High)), Attr("role", "img"),
		Attr("aria-label", "Ribs along the keel, as tall as they are long, with the fair curve; below, how far each is off it"),
		El("g", Attr("fill", "none"), Attr("stroke", "#000"),
			path(fmt.Sprintf("M%v %vH%v", d.Left, d.Keel, d.Right), Attr("stroke-width", "2.5")),
			If(len(d.Curve) > 0, El("polyline", Attr("points", d.points()), Attr("stroke-width", "1.6"))),
		),
		Map(d.Ribs, d.rib),
		Map(d.Spares, func(s drawnSpare) Node {
			return path(upright(s.X, d.Keel, s.Y), Attr("stroke", "#000"), Attr("stroke-width", "2"), Attr("stroke-dasharray", "2 3"))
		}),
		small(990, 290, "spares", Attr("text-anchor", "end")),
		small(4, d.TallY, d.Tall, Attr("dy", "4")),
		El("g", Attr("transform", fmt.Sprintf("translate(0 %v)", d.Drop)),
			small(d.Left, 316, "bow"), small(d.Right, 316, "stern", Attr("text-anchor", "end")),
			If(len(d.Curve) > 0, d.enlarged()),
		),
	)
}

func path(line string, more ...Node) Node { return El("path", Attr("d", line), Group(more)) }

// upright is a line from one height to another.
func upright(x, from, to float64) string { return fmt.Sprintf("M%.1f %vV%.1f", x, from, to) }

func tenth(x float64) string { return fmt.Sprintf("%.1f", x) }

// small is a label.
func small(x, y float64, says string, more ...Node) Node {
	return El("text", Attr("class", "small"), Attr("x", fmt.Sprint(x)), Attr("y", fmt.Sprint(y)), Group(more), Text(says))
}

func (d *drawing) points() string {
	var b strings.Builder
	for _, p := range d.Curve {
		fmt.Fprintf(&b, "%.1f,%.1f ", p.X, p.Y)
	}
	return b.String()
}

// rib draws one rib over the keel with its label, and of an odd one what the others suggest.
func (d *drawing) rib(r drawnRib) Node {
	return Group{
		path(upright(r.X, d.Keel, r.Y), Attr("stroke", "#000"), r.thick(), If(r.Meant, Attr("stroke-dasharray", "5 4"))),
		If(r.Odd, Group{
			El("circle", Attr("cx", tenth(r.X)), Attr("cy", tenth(r.FairY)), Attr("r", "7"), Attr("fill", "#fff"), Attr("stroke", "#000"), Attr("stroke-width", "2.5")),
			El("text", Attr("class", "loud"), Attr("x", tenth(r.SaysX)), Attr("y", fmt.Sprint(r.SaysY)), Attr("text-anchor", "middle"), Text(r.Says)),
		}),
		d.label(r),
	}
}

func (r drawnRib) thick() Node {
	if r.Odd {
		return Attr("stroke-width", "6")
	}
	return Attr("stroke-width", "2")
}

func (d *drawing) label(r drawnRib) Node {
	if d.Spread {
		return El("text", Attr("x", tenth(r.X)), Attr("y", "291"), Attr("text-anchor", "middle"), Text(r.Label))
	}
	return El("text", Attr("class", "turned"), Attr("transform", fmt.Sprintf("translate(%.1f 276) rotate(90)", r.X)), Attr("dy", "4"), Text(r.Label))
}

// enlarged draws how far each rib is off the fair curve.
func (d *drawing) enlarged() Node {
	return Group{
		path(fmt.Sprintf("M%v %vH%v", d.Left, d.Middle, d.Right), Attr("stroke", "#000"), Attr("stroke-width", "1.2")),
		path(fmt.Sprintf("M%v %vH%vM%v %vH%v", d.Left, d.Top, d.Right, d.Left, d.Foot, d.Right),
			Attr("stroke", "#000"), Attr("stroke-width", ".7"), Attr("stroke-dasharray", "3 5")),
		Map(d.Ribs, func(r drawnRib) Node {
			radius, fill := "3", "#000"
			if r.Odd {
				radius = "7"
			}
			if r.Meant {
				fill = "#fff"
			}
			return Group{
				path(upright(r.X, d.Middle, r.OffY), Attr("stroke", "#000"), r.thick(), If(r.Meant, Attr("stroke-dasharray", "3 3"))),
				El("circle", Attr("cx", tenth(r.X)), Attr("cy", tenth(r.OffY)), Attr("r", radius), Attr("fill", fill), Attr("stroke", "#000")),
			}
		}),
		small(4, d.Top, "+"+d.Scale, Attr("dy", "4")), small(4, d.Middle, "fair", Attr("dy", "4")), small(4, d.Foot, "−"+d.Scale, Attr("dy", "4")),
		small(d.Left, 462, "Off the fair curve, enlarged. Ring: where the others would have the tip. Dashed: meant to be so, or a spare."),
	}
}
