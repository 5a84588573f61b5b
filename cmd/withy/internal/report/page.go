package report

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"time"

	"withy/steambox"
	"withy/steambox/measure"
	"withy/steambox/words"
)

// page is a report as people read it.
type page struct {
	Title, When    string
	Undated        string
	Rehearsal      string
	Unfinished     string
	Counts         string
	CourseKey      string
	HeatKey        string
	HeatColumns    string
	Next           [3]string
	Course, Heat   *drawing
	Ribs           []ribRow
	Ends, Pace     string
	Window, Water  []string
	Alarms         []alarmRow
	Broke          []string
	Hulls          []string
	Keel, Lifted   string
	Measured       []string
	Inferred       []string
	NotSeen, Notes []string
	Sheets         []boatSheet
}

// ribRow is a rib in the table of what was bent.
type ribRow struct {
	Rib, At, Soak, Steam, Door, Ratio, How, Mark, Mend string
	Bad, Sure                                          bool
}

// alarmRow is an alarm in the list, with the number that it has in the course.
type alarmRow struct {
	Number          int
	At, What, Lasts string
}

// boatSheet is what goes home with a boat.
type boatSheet struct {
	Name, When string
	Rehearsal  string
	Bent       string
	Ribs       []ribRow
	Broke      []string
	Hull, Keel string
	After      []string
}

// WriteHTML writes the report as one page that needs nothing else, with the times of day
// of a place and in the units of who reads it.
func (r *Report) WriteHTML(w io.Writer, at *time.Location, u measure.Units) error {
	local := *r
	local.Began, local.units = r.Began.In(at), u
	return local.page().html().Render(w)
}

// clock is the time of day at a moment of the session.
func (r *Report) clock(s float64) string { return r.moment(s).Format("15:04") }

func (r *Report) moment(s float64) time.Time {
	return r.Began.Add(time.Duration(s * float64(time.Second))).Round(time.Second)
}

const day = "Monday 2 January 2006"

func (r *Report) page() *page {
	u := r.units
	p := &page{
		Title: cmp.Or(r.Boat, r.Box, "The box"), When: fmt.Sprintf("%s, from %s", r.Began.Format(day), r.clock(0)),
		Counts: words.BentCounts(r.Bent), Next: words.NextTime(r.learnt(), u), CourseKey: words.CourseKey(bendC, len(r.Alarms) > 0, u), HeatKey: words.HeatKey(u), HeatColumns: words.HeatColumns(u),
		Course: drawCourse(r, r.clock), Heat: drawHeat(r.pulled(), u),
		Pace: words.PaceWas(r.Pace.IntervalS, r.Pace.SoakS, r.Pace.Slots), Window: r.windowSays(), Water: r.waterSays(), Keel: words.Keel(r.Ledger, r.units), Lifted: words.KeelLifted(r.Keel, r.clock, u),
		Measured: words.Measured(r.box, u), Inferred: words.Inferred(r.box), Broke: words.Breakage(r.Ledger),
	}
	if r.Undated {
		p.Undated = words.Undated
	}
	if r.Rehearsal {
		p.Rehearsal = words.Rehearsed
	}
	if !r.Finished {
		p.Unfinished = words.NotFinished(r.clock(r.LastedS))
	}
	if r.Ratio != nil {
		p.Ends = words.EndsShared(r.Ratio.Median, r.Ratio.Lo, r.Ratio.Hi, len(r.pulled()))
	}
	for _, o := range r.Ribs {
		if o.Heat != nil || o.Place == steambox.InBox {
			p.Ribs = append(p.Ribs, r.row(o))
		}
	}
	for i, a := range r.Alarms {
		p.Alarms = append(p.Alarms, alarmRow{i + 1, r.clock(a.RaisedS), alarmTitle(a), words.AlarmLasted(a.RaisedS, a.OverS, a.HeardS)})
	}
	for _, h := range r.Hulls {
		if h.Fitted > 0 {
			p.Hulls = append(p.Hulls, named(h.Boat, len(r.Hulls))+words.Balance(h.Balance()))
		}
		if s, ok := r.sheet(h); ok {
			p.Sheets = append(p.Sheets, s)
		}
	}
	p.NotSeen = r.notSeen()
	for _, n := range r.Notes {
		p.Notes = append(p.Notes, r.clock(n.AtS)+": "+n.Text)
	}
	return p
}

// named begins what is said of a boat with her name, where there are several.
func named(boat string, boats int) string {
	if boats < 2 || boat == "" {
		return ""
	}
	return boat + ": "
}

func alarmTitle(a Alarm) string {
	if a.On == "" {
		return a.Title
	}
	return a.Title + ": " + a.On
}

func (r *Report) row(o Rib) ribRow {
	row := ribRow{
		Rib: o.Rib, How: words.BentHow(o.Place, o.Outcome, o.Where), Mark: words.MarkWent(o.Mark, o.MarkTold),
		Mend: words.Mend(o.Broke, o.Instead), Bad: o.Outcome == "cracked", Sure: o.Sure,
	}
	if o.Test {
		row.Mark = words.TestPiece
	}
	if o.Heat != nil {
		row.At, row.Soak = r.clock(o.PulledS), words.Clock(o.SoakS)
		row.Steam, row.Door, row.Ratio = words.HeatTaken(o.Heat[0]), words.HeatTaken(o.Heat[1]), fmt.Sprintf("%.2f", o.Ratio)
	}
	return row
}

// windowSays tells what was learnt of each stick.
func (r *Report) windowSays() []string {
	if !r.box.Learn {
		return []string{words.SetWindow(r.box.Window, r.units)}
	}
	var out []string
	for _, k := range r.Sticks {
		first := 0.0
		i := slices.IndexFunc(r.pulled(), func(o Rib) bool { return o.of(k) })
		if i >= 0 {
			first = float64(r.pulled()[i].Wanted.Target)
		}
		out = append(out, words.Learned(k, first, r.units))
	}
	return out
}

func (r *Report) waterSays() []string {
	w := &r.Water
	var out, poured []string
	if w.OverL != nil {
		out = append(out, words.WaterTakenOver(*w.OverL, r.units))
	}
	for _, f := range w.FilledL {
		out = append(out, words.WaterFilled(r.clock(f.AtS), f.Litres, r.units))
	}
	if len(w.FilledL) == 0 && w.OverL == nil {
		out = append(out, words.NoFillTold)
	}
	for _, p := range w.Poured {
		poured = append(poured, r.clock(p.AtS))
	}
	out = append(out, words.WaterPoured(poured, w.PouredL, r.units), words.WaterBoiled(w.BoiledS, w.BoiledL, w.RateLH, r.units))
	if w.LeftL != nil {
		out = append(out, words.WaterLeft(*w.LeftL, r.units))
	}
	if r.Hot {
		return append(out, words.HotAlready)
	}
	return append(out, words.WarmedUp(r.WarmUp))
}

// notSeen lists what nobody saw and what nobody told.
func (r *Report) notSeen() []string {
	var out []string
	for _, u := range r.Unseen {
		out = append(out, words.NotSeen(r.clock(u.FromS), r.clock(u.ToS), u.Probe, u.ToS-u.FromS))
	}
	if len(out) == 0 {
		out = append(out, words.SeenAll)
	}
	marks := 0
	for _, o := range r.pulled() {
		if !o.Test && !o.MarkTold {
			marks++
		}
	}
	if said := words.Untold(r.Bent.Untold, marks); said != "" {
		out = append(out, said)
	}
	return out
}

// sheet is what goes home with a boat; there is none for one that got no rib.
func (r *Report) sheet(h steambox.HullNow) (boatSheet, bool) {
	var mine []Rib
	for _, o := range r.Ribs {
		if o.Boat == h.Boat && !o.Test && o.Heat != nil {
			mine = append(mine, o)
		}
	}
	if len(mine) == 0 {
		return boatSheet{}, false
	}
	last := slices.MaxFunc(mine, func(a, b Rib) int { return cmp.Compare(a.PulledS, b.PulledS) })
	slices.SortStableFunc(mine, func(a, b Rib) int { return cmp.Compare(a.StationM, b.StationM) })
	s := boatSheet{
		Name: cmp.Or(h.Boat, r.Boat, "The boat"), When: r.moment(last.PulledS).Format(day),
		Bent: words.FromSticks(sticksOf(mine)), Hull: words.Balance(h.Balance()),
	}
	for _, o := range mine {
		s.Ribs = append(s.Ribs, r.row(o))
		if said := words.Mend(o.Broke, o.Instead); said != "" && o.Broke != words.IsReplaced {
			s.Broke = append(s.Broke, fmt.Sprintf("Rib %s: %s.", o.Rib, said))
		}
	}
	if r.Rehearsal {
		s.Rehearsal = words.Rehearsed
	}
	if len(r.Hulls) == 1 { // the keel that was measured can only be hers
		s.Keel = words.Keel(r.Ledger, r.units)
	}
	pulled := r.moment(last.PulledS)
	if r.Undated {
		s.When, s.After = words.UnknownDay, []string{words.ClampsADay, words.SpringBack}
		return s, true
	}
	s.After = []string{
		words.ClampsUntil(pulled.AddDate(0, 0, 1).Format(day), pulled.AddDate(0, 0, 2).Format(day)), words.SpringBack,
	}
	return s, true
}

// sticksOf lists the sticks that ribs were cut from.
func sticksOf(ribs []Rib) []string {
	var out []string
	for _, o := range ribs {
		if o.Stick != "" && !slices.Contains(out, o.Stick) {
			out = append(out, o.Stick)
		}
	}
	slices.Sort(out)
	return out
}
