package sheet

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"
	"unicode/utf8"

	"withy/steambox/measure"
	"withy/steambox/plan"
	"withy/steambox/ribs"
	"withy/steambox/words"
)

// Sheet is the plan as people read it: the same words on the terminal and on the page.
type Sheet struct {
	Title, Wood     string
	Boats           []boatSheet
	Thick           []oddRow
	Lots            []lotSheet
	Soak            string
	Run             []runRow
	Day             []string
	Limits, Caution []string
}

// Without returns a sheet that says why there is no plan.
func Without(title string, why ...string) *Sheet { return &Sheet{Title: title, Limits: why} }

// boatSheet is what is said of one boat's lengths.
type boatSheet struct {
	Name, Verdict string
	Odd           []oddRow
	Drawing       *drawing
}

// oddRow is one rib that is out of line.
type oddRow struct{ Rib, Is, Suggested, Beside, Off string }

// lotSheet is what is sawn from one stick to one section.
type lotSheet struct {
	Title  string
	Blanks []blankRow
}

// blankRow is the blanks of one length, to be crossed off one by one.
type blankRow struct {
	Length, Beside, For string     // Beside: as the other tape has it
	Boxes               []struct{} // one a blank
}

// runRow is one line of the run: a rib, or a note that comes between two.
type runRow struct {
	atS                     float64
	Rib, Slot, In, Out, How string
	Note                    string
}

// Sheet returns the day as people read it.
func (d Day) Sheet() *Sheet {
	p, a, u := d.Plan, d.Asked, d.Units
	if len(p.Ribs) == 0 {
		return Without("No plan yet", limitsOf(p, u)...)
	}
	s := &Sheet{
		Title: fmt.Sprintf("Plan for %d ribs", len(p.Ribs)), Limits: limitsOf(p, u), Caution: words.Cautions(a.Boiler),
		Soak: fmt.Sprintf("%s in the steam (%s): %s", words.Clock(p.Soak.S), words.SoakFrom(p.Soak), words.Rhythm(p)),
	}
	if len(p.Ribs) == 1 {
		s.Title = "Plan for 1 rib"
	}
	for _, b := range p.Boats {
		s.Boats = append(s.Boats, newBoatSheet(p, b, u))
	}
	for _, o := range p.Thick {
		s.Thick = append(s.Thick, oddRow{
			Rib: o.Label, Is: u.Length(o.IsM, 1), Suggested: u.Length(o.SuggestedM, 1),
			Off: words.OffBy(o.OffM, 1, "thick", "thin", u),
		})
	}
	for _, l := range p.Lots {
		s.Lots = append(s.Lots, newLotSheet(l, p, u))
	}
	s.addRun(d)
	s.addDay(p, a, u)
	return s
}

func newBoatSheet(p *plan.Plan, b plan.Boat, u measure.Units) boatSheet {
	s := boatSheet{Name: b.Name, Verdict: words.Lengths(b, u), Drawing: draw(p, b, u)}
	for _, o := range b.Odd {
		s.Odd = append(s.Odd, oddRow{
			o.Label, u.Length(o.IsM, 0), u.Length(o.SuggestedM, 0), u.Beside(o.SuggestedM),
			words.OffBy(o.OffM, 0, "long", "short", u),
		})
	}
	return s
}

func newLotSheet(l ribs.Lot, p *plan.Plan, u measure.Units) lotSheet {
	var title []string
	if l.Stick != "" {
		title = append(title, "Stick "+l.Stick)
	}
	switch {
	case l.WidthM > 0 && l.ThicknessM > 0:
		title = append(title, u.Section(l.WidthM, l.ThicknessM))
	case l.ThicknessM > 0:
		title = append(title, u.Side(l.ThicknessM)+" thick")
	case l.WidthM > 0:
		title = append(title, u.Side(l.WidthM)+" wide")
	}
	title = append(title, fmt.Sprintf("%d blanks, %s in all", l.Count, u.Stock(l.TotalM)))
	s := lotSheet{Title: strings.Join(title, ", ")}
	for _, b := range l.Blanks {
		s.Blanks = append(s.Blanks, blankRow{u.Length(b.LengthM, 0), u.Beside(b.LengthM), blanksFor(b, p), make([]struct{}, b.Count())})
	}
	return s
}

// blanksFor says what blanks of one length are for, and which rib's length is in doubt.
func blanksFor(b ribs.Blanks, p *plan.Plan) string {
	labels := slices.Clone(b.Ribs)
	for i, label := range labels {
		if p.Odd(label) {
			labels[i] += " (measure again)"
		}
	}
	var said []string
	switch {
	case len(labels) == 1:
		said = append(said, "rib "+labels[0])
	case len(labels) > 1:
		said = append(said, "ribs "+strings.Join(labels, ", "))
	}
	switch {
	case b.Spares == 1:
		said = append(said, "1 spare")
	case b.Spares > 1:
		said = append(said, fmt.Sprintf("%d spares", b.Spares))
	}
	return strings.Join(said, " + ")
}

// addRun lists the ribs in their order with the calls for water and the breaks
// between them.
func (s *Sheet) addRun(d Day) {
	p, a, u := d.Plan, d.Asked, d.Units
	for _, t := range p.Turns {
		r := p.Ribs[t.Rib]
		s.Run = append(s.Run, runRow{atS: t.InS, Rib: r.Label, Slot: d.slot(t.Slot), In: words.Clock(t.InS), Out: words.Clock(t.OutS), How: hard(r)})
	}
	for _, c := range p.Calls {
		s.Run = append(s.Run, runRow{atS: c.AtS, In: words.ByTheRun(c.AtS), Note: words.CallForWater(a.Boiler.Kind, c, u)})
	}
	for _, b := range p.Breaks {
		for _, step := range words.TankBreak(b, u) {
			s.Run = append(s.Run, runRow{atS: b.HeatOffS, Note: step})
		}
	}
	if len(p.Turns) == 0 {
		s.Run = append(s.Run, runRow{Note: words.NoRibs})
	}
	slices.SortStableFunc(s.Run, func(a, b runRow) int { return cmp.Compare(a.atS, b.atS) })
}

func hard(r ribs.Rib) string {
	var said []string
	if r.Boat != "" {
		said = append(said, r.Boat)
	}
	if r.Stick != "" {
		said = append(said, "stick "+r.Stick)
	}
	if r.Bend == ribs.Hard {
		said = append(said, "hard bend")
	}
	return strings.Join(said, ", ")
}

// addDay says how long the day is and what goes in. There may be water for no rib at
// all, and then only the heat can be told.
func (s *Sheet) addDay(p *plan.Plan, a *plan.Asked, u measure.Units) {
	if len(p.Turns) > 0 {
		s.Day = []string{
			fmt.Sprintf("%s from heat on to the last rib out.", words.Hours(p.SessionS())),
			fmt.Sprintf("Heat on %s before the first rib, %s of it steam to warm the box.", words.Hours(-p.HeatOnS), words.Hours(p.WarmUpS)),
			fmt.Sprintf("%s in the run, the last out at %s.", words.Hours(p.RunS), words.Clock(p.RunS)),
			fmt.Sprintf("The boiler boils off about %s, a fast one %s.", u.Volume(p.BoiledL), u.Volume(p.MostL)),
		}
	}
	s.Day = append(s.Day,
		fmt.Sprintf("Water boils at %s here.", u.Temperature(a.BoilingC, 1)),
		fmt.Sprintf("Of about %.0f W of steam the ribs take %.0f, the walls %.0f, and %.0f must leave by the vent.",
			p.Heat.BoilerW, p.Heat.RibsW, p.Heat.WallsW, p.Heat.VentW))
}

// Print writes the sheet for a terminal or a sheet of paper. Its errors are the
// writer's.
func (s *Sheet) Print(out io.Writer) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "%s\n\nLENGTHS\n", strings.ToUpper(s.Title))
	for _, b := range s.Boats {
		name := ""
		if b.Name != "" {
			name = b.Name + ": "
		}
		fmt.Fprintf(w, "  %s%s\n", name, b.Verdict)
		for _, o := range b.Odd {
			fmt.Fprintf(w, "  rib %s\tis %s\tthe others say %s, %s\t%s\n", o.Rib, o.Is, o.Suggested, o.Beside, o.Off)
		}
	}
	for _, o := range s.Thick {
		fmt.Fprintf(w, "  rib %s\tis %s thick\tthe others say %s\t%s\n", o.Rib, o.Is, o.Suggested, o.Off)
	}
	fmt.Fprintln(w, "\nTO SAW")
	for _, l := range s.Lots {
		fmt.Fprintf(w, "  %s\n", l.Title)
		for _, b := range l.Blanks {
			fmt.Fprintf(w, "    %d of\t%s\t%s\t%s\n", len(b.Boxes), b.Length, b.Beside, b.For)
		}
	}
	fmt.Fprintf(w, "\nSOAK\n  %s\n\nTHE RUN, minutes:seconds from the first rib in\n", s.Soak)
	s.printRun(w)
	printList(w, "THE DAY", s.Day)
	printList(w, "WHAT LIMITS IT", s.Limits)
	printList(w, "MIND", s.Caution)
	return w.Flush()
}

// printRun aligns by itself: a note between two ribs would end a table of tabwriter's.
func (s *Sheet) printRun(w io.Writer) {
	wide := 0
	for _, r := range s.Run {
		wide = max(wide, utf8.RuneCountInString(r.Rib))
	}
	for _, r := range s.Run {
		switch {
		case r.Note == "":
			line := fmt.Sprintf("  [ ] rib %-*s  %s  in %6s  out %6s  %s", wide, r.Rib, r.Slot, r.In, r.Out, r.How)
			fmt.Fprintln(w, strings.TrimRight(line, " "))
		case r.In == "":
			fmt.Fprintf(w, "  ** %s\n", r.Note)
		default:
			fmt.Fprintf(w, "  ** %s: %s\n", r.In, r.Note)
		}
	}
}

func printList(w io.Writer, title string, said []string) {
	if len(said) == 0 {
		return
	}
	fmt.Fprintf(w, "\n%s\n", title)
	for _, line := range said {
		fmt.Fprintf(w, "  - %s\n", line)
	}
}
