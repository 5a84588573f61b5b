package history

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"
	"time"
)

// Column is one column of the table of ribs.
type Column struct {
	Name, Means string
	cell        func(*Day, *Rib) string
}

// Columns are those of the table, one line a rib that was pulled.
var Columns = []Column{
	{"session", "name of the session", func(d *Day, _ *Rib) string { return d.Session }},
	{"began", "when it began by the board's clock, RFC 3339, UTC", func(d *Day, _ *Rib) string { return d.Began.UTC().Format(time.RFC3339) }},
	{"rehearsal", "yes, or empty", func(d *Day, _ *Rib) string { return yes(d.Rehearsal) }},
	{"box", "the box" + asTyped, func(d *Day, _ *Rib) string { return typed(d.Box) }},
	{"boat", "the boat that the rib is for" + asTyped, func(_ *Day, r *Rib) string { return typed(r.Boat) }},
	{"rib", "the rib's number" + asTyped, func(_ *Day, r *Rib) string { return typed(r.Rib) }},
	{"test", "yes for a test piece, or empty", func(_ *Day, r *Rib) string { return yes(r.Test) }},
	{"stick", "the stick that it was cut from" + asTyped, func(_ *Day, r *Rib) string { return typed(r.Stick) }},
	{"bend", "how hard it bends: easy, middling or hard", func(_ *Day, r *Rib) string { return r.Bend }},
	{"thickness_mm", "its thickness in millimetres", func(_ *Day, r *Rib) string { return decimal(r.ThicknessMM, 2) }},
	{"pulled_s", "when it was pulled, in seconds since the session began", func(_ *Day, r *Rib) string { return decimal(r.PulledS, 0) }},
	{"soak_s", "how long it was in the box, in seconds", func(_ *Day, r *Rib) string { return decimal(r.SoakS, 0) }},
	{"steam_min", "heat that its end at the steam took until the pull, in minutes at 100 °C", func(_ *Day, r *Rib) string { return decimal(r.SteamMin, 3) }},
	{"door_min", "heat that its end at the door took until the pull, in minutes at 100 °C", func(_ *Day, r *Rib) string { return decimal(r.DoorMin, 3) }},
	{"outcome", "supple, stiff or cracked; empty where nobody told", func(_ *Day, r *Rib) string { return string(r.Outcome) }},
	{"where", "of a crack: where it was; empty where nobody told" + asTyped, func(_ *Day, r *Rib) string { return typed(r.Where) }},
	{"mark", "where its mark went: port or starboard", func(_ *Day, r *Rib) string { return r.Mark }},
}

const asTyped = "; with ' before it where it begins with = + - @, a tab or a return"

// typed keeps spreadsheets from reckoning what somebody typed as a formula (OWASP, CSV
// Injection).
func typed(text string) string {
	if text != "" && strings.Contains("=+-@\t\r", text[:1]) {
		return "'" + text
	}
	return text
}

func yes(on bool) string {
	if on {
		return "yes"
	}
	return ""
}

func decimal(x float64, decimals int) string { return strconv.FormatFloat(x, 'f', decimals, 64) }

// WriteCSV writes a line for each rib that was pulled, below the names of the columns.
func (h *History) WriteCSV(out io.Writer) error {
	w := csv.NewWriter(out)
	line := make([]string, len(Columns))
	for i, c := range Columns {
		line[i] = c.Name
	}
	_ = w.Write(line) // Flush and Error say it
	for i := range h.Days {
		for j := range h.Days[i].Ribs {
			for k, c := range Columns {
				line[k] = c.cell(&h.Days[i], &h.Days[i].Ribs[j])
			}
			_ = w.Write(line)
		}
	}
	w.Flush()
	return w.Error()
}
