package main

import (
	"errors"
	"fmt"
	"slices"
	"unicode/utf8"

	"withy/cmd/withy/internal/table"
	"withy/steambox/plan"
	"withy/steambox/ribs"
)

// readPlanned reads a rib table as the plan wants it. What the file leaves out stays
// unsaid.
func readPlanned(name string) ([]ribs.Rib, error) {
	f, err := table.Open(name, ribColumns)
	if err != nil {
		return nil, err
	}
	var all []ribs.Rib
	for i := range f.Rows {
		all = append(all, plannedRow(f, &f.Rows[i], all))
	}
	if n := len(f.Rows); n == 0 || n > plan.MaxRibs {
		f.Mistake(1, "rib", "%d ribs; 1 to %d rows belong under this line", n, plan.MaxRibs)
	}
	err = f.Err()
	if wrong := ribs.Check(all); wrong != nil {
		err = errors.Join(err, fmt.Errorf("%s: %w", name, wrong))
	}
	return all, err
}

// plannedRow reads one rib. Where a cell is wrong it says so and goes on with
// something that is right, so that the rest of the table can be looked at too.
func plannedRow(f *table.File, row *table.Row, before []ribs.Rib) ribs.Rib {
	r := ribs.Rib{
		Label: row.Text("rib"), Boat: row.Text("boat"), Stick: row.Text("stick"),
		LengthM: row.Required("length_mm", 10, 20000) / 1000, Bend: ribs.Bend(row.Text("bend")),
		HasStation: row.Text("station_mm") != "",
	}
	if r.LengthM == 0 {
		r.LengthM = 1
	}
	millimetres(row, "thickness_mm", 1, 100, &r.ThicknessM)
	millimetres(row, "width_mm", 1, 300, &r.WidthM)
	millimetres(row, "station_mm", -1e5, 1e5, &r.StationM)
	twice := slices.IndexFunc(before, func(b ribs.Rib) bool { return b.Label == r.Label })
	switch {
	case r.Label == "":
		f.Mistake(row.Line, "rib", "empty; each rib needs a label")
	case twice >= 0:
		standsTwice(f, row, before[twice].Boat)
	}
	if r.Label == "" || twice >= 0 {
		r.Label = fmt.Sprintf("line %d", row.Line)
	}
	if !slices.Contains([]ribs.Bend{"", ribs.Easy, ribs.Middling, ribs.Hard}, r.Bend) {
		f.Mistake(row.Line, "bend", "%q is not easy, middling or hard", r.Bend)
		r.Bend = ""
	}
	r.Meant = isMeant(f, row)
	return r
}

// standsTwice enters that a rib's label stands in the table already, for a boat.
func standsTwice(f *table.File, row *table.Row, boat string) {
	label, own := row.Text("rib"), row.Text("boat")
	if own == boat {
		f.Mistake(row.Line, "rib", "%q stands twice", label)
		return
	}
	letter, _ := utf8.DecodeRuneInString(own + boat)
	f.Mistake(row.Line, "rib", "%q stands twice, for two boats: in one table each rib wants a label of its own, such as %c%s", label, letter, label)
}

// isMeant reads whether a rib is off the curve on purpose.
func isMeant(f *table.File, row *table.Row) bool {
	meant := row.Text("meant")
	if meant != "" && meant != "yes" {
		f.Mistake(row.Line, "meant", "%q: yes, or empty", meant)
	}
	return meant == "yes"
}
