package report

import (
	"math"
	"slices"
	"strings"
	"time"

	"withy/steambox/unit"
)

// The course is the session over time: alarms, both ends with the boiling point, the
// ribs in their slots, and the water.
type course struct {
	drawing
	r          *Report
	clock      func(s float64) string
	fromS, toS float64
	moments    []moment // from fromS to toS
	y          float64  // where the next strip begins
}

// Sizes of the course.
const (
	courseLeft, courseRight = 62.0, 988.0
	warnHigh, warnWide      = 26.0, 28.0
	airHigh                 = 230.0
	waterHigh               = 70.0
	stripGap                = 16.0
	mostSlotHigh            = 20.0 // of a slot
	mostSlotsHigh           = 140.0
	courseColumns           = 460 // at most, in each the least and the greatest is drawn
)

// drawCourse draws the course; nil where nothing was seen.
func drawCourse(r *Report, clock func(s float64) string) *drawing {
	c := &course{r: r, clock: clock}
	if !c.crop() {
		return nil
	}
	if len(r.Alarms) > 0 {
		c.warnings()
	}
	top := c.y
	c.air()
	c.slots()
	c.water()
	c.unseen(top)
	c.axis(top)
	c.high, c.says = c.y, "Both ends of the box over time, with what water boils at; below, which rib lay in which slot, and the water left"
	return &c.drawing
}

// What the course shows: from a little before the box was warm until it has cooled
// again, and all that was done.
const (
	warmC   = 40
	cooledC = 85
	beforeS = 120
)

// crop finds the stretch to be drawn, and reports whether there is one.
func (c *course) crop() bool {
	all := c.r.moments
	if len(all) < 2 {
		return false
	}
	first, last := all[0].atS, all[len(all)-1].atS
	hotter := func(than float32) func(m moment) bool {
		return func(m moment) bool { return m.seen[0] && m.endC[0] > than || m.seen[1] && m.endC[1] > than }
	}
	c.fromS, c.toS = first, last
	if i := slices.IndexFunc(all, hotter(warmC)); i >= 0 {
		c.fromS = max(first, all[i].atS-beforeS)
		for _, m := range slices.Backward(all) {
			if hotter(cooledC)(m) {
				c.toS = min(last, m.atS+beforeS)
				break
			}
		}
	}
	for _, s := range c.r.soaks {
		c.fromS = min(c.fromS, s.inS)
		if s.out { // one that was left in the box says nothing of how long there is to see
			c.toS = max(c.toS, min(s.outS, last))
		}
	}
	inside := func(m moment) bool { return m.atS >= c.fromS && m.atS <= c.toS }
	for _, m := range all {
		if inside(m) {
			c.moments = append(c.moments, m)
		}
	}
	return c.toS > c.fromS && len(c.moments) > 1
}

func (c *course) x(s float64) float64 {
	share := (min(max(s, c.fromS), c.toS) - c.fromS) / (c.toS - c.fromS)
	return courseLeft + (courseRight-courseLeft)*share
}

// warnings stand above everything, numbered as the list of alarms is; those that come
// close after one another stand one below the other.
func (c *course) warnings() {
	var rows []float64 // where the last one of each ends
	for i, a := range c.r.Alarms {
		x := c.x(a.RaisedS)
		row := slices.IndexFunc(rows, func(end float64) bool { return x-warnWide/2 > end })
		if row < 0 {
			row, rows = len(rows), append(rows, 0)
		}
		rows[row] = x + warnWide/2
		c.warning(x, warnHigh*float64(row+1), i+1)
	}
	c.y = warnHigh * float64(len(rows))
}

// What is above bendC has most of the strip: there ribs are soaked.
const (
	leastC, bendC, mostC = 0.0, 80.0, 106.0
	bendShare            = 0.28
)

// airY is the height of a temperature in the strip that begins at top.
func airY(top, celsius float64) float64 {
	share := bendShare * (celsius - leastC) / (bendC - leastC)
	if celsius > bendC {
		share = bendShare + (1-bendShare)*(celsius-bendC)/(mostC-bendC)
	}
	return top + airHigh*(1-min(max(share, 0), 1))
}

func (c *course) air() {
	top := c.y + 6
	for _, celsius := range []float64{0, 40, 80, 85, 90, 95, 100} {
		y := airY(top, celsius)
		c.line("grid", courseLeft, y, courseRight, y)
		c.text("end", courseLeft-6, y+5, c.r.units.Temperature(celsius, 0))
	}
	boils := airY(top, c.r.BoilingC)
	c.line("boils", courseLeft, boils, courseRight, boils)
	c.text("start", courseLeft+6, boils-6, "water boils here at "+c.r.units.Temperature(c.r.BoilingC, 1))
	for _, e := range unit.Ends {
		value := func(m moment) (float64, bool) { return float64(m.endC[e]), m.seen[e] }
		c.trail([2]string{"steam", "door"}[e], c.trace(value, func(v float64) float64 { return airY(top, v) })...)
	}
	c.y = top + airHigh + stripGap
}

// trace are the lines through a value of all moments, broken where it was not seen. Of many
// moments it keeps the least and the greatest of each column, in their order.
func (c *course) trace(value func(moment) (float64, bool), y func(float64) float64) (lines [][]point) {
	each := max(1, int(math.Ceil(float64(len(c.moments))/courseColumns)))
	up, lastS := true, 0.0
	for column := range slices.Chunk(c.moments, each) {
		for _, m := range extremes(column, value) {
			v, ok := value(m)
			if !ok {
				up = true
				continue
			}
			if up || m.atS-lastS > goneS+float64(2*each) {
				lines = append(lines, nil)
			}
			last := &lines[len(lines)-1]
			*last = append(*last, point{c.x(m.atS), y(v)})
			up, lastS = false, m.atS
		}
	}
	return lines
}

// extremes returns the moments with the least and the greatest value of a column, and
// one in which it was not seen.
func extremes(column []moment, value func(moment) (float64, bool)) []moment {
	least, most, missing := -1, -1, -1
	for i, m := range column {
		v, ok := value(m)
		if !ok {
			missing = i
			continue
		}
		if l, _ := value(column[max(least, 0)]); least < 0 || v < l {
			least = i
		}
		if g, _ := value(column[max(most, 0)]); most < 0 || v > g {
			most = i
		}
	}
	kept := slices.Compact(slices.Sorted(slices.Values([]int{least, most, missing})))
	out := make([]moment, 0, 3)
	for _, i := range kept {
		if i >= 0 {
			out = append(out, column[i])
		}
	}
	return out
}

// slots draws each rib's stay in the box.
func (c *course) slots() {
	n := len(c.r.box.Slots)
	high := min(mostSlotHigh, mostSlotsHigh/float64(n))
	for i, letter := range c.r.box.Slots {
		y := c.y + high*float64(i)
		c.line("grid", courseLeft, y+high/2, courseRight, y+high/2)
		c.text("end", courseLeft-6, y+high/2+5, letter)
	}
	for _, s := range c.r.soaks {
		slot := slices.IndexFunc(c.r.box.Slots, func(letter string) bool { return strings.EqualFold(letter, s.slot) })
		if slot < 0 {
			continue // the box had other slots then
		}
		x, y := c.x(s.inS), c.y+high*float64(slot)+1
		wide := max(2, c.x(s.outS)-x)
		c.rect("rib", x, y, wide, high-2)
		if wide > 9*float64(len([]rune(s.rib))) && high >= 14 {
			c.text("middle", x+wide/2, y+high/2+4, s.rib)
		}
	}
	c.y += high*float64(n) + stripGap
}

// water draws what was left, with its bounds; nothing where it was never known.
func (c *course) water() {
	if !slices.ContainsFunc(c.moments, func(m moment) bool { return m.known }) {
		return
	}
	most := c.r.Water.FullL
	for _, m := range c.moments {
		most = max(most, float64(m.leftL[0]))
	}
	top := c.y
	y := func(l float64) float64 { return top + waterHigh*(1-min(max(l/most, 0), 1)) }
	left := func(bound int) func(moment) (float64, bool) {
		return func(m moment) (float64, bool) { return float64(m.leftL[bound]), m.known }
	}
	for _, l := range []float64{0, most} {
		c.line("grid", courseLeft, y(l), courseRight, y(l))
		c.text("end", courseLeft-6, y(l)+5, c.r.units.Volume(l))
	}
	for bound := 1; bound <= 2; bound++ {
		c.trail("maybe", c.trace(left(bound), y)...)
	}
	c.trail("water", c.trace(left(0), y)...)
	for _, p := range slices.Concat(c.r.Water.FilledL, c.r.Water.Poured) {
		x := c.x(p.AtS)
		c.area("pour", point{x, top}, point{x + 6, top - 10}, point{x - 6, top - 10})
	}
	c.y += waterHigh + stripGap
}

// unseen hatches what nobody saw, over all strips.
func (c *course) unseen(top float64) {
	for _, u := range c.r.Unseen {
		if u.Probe == "" && u.ToS > c.fromS && u.FromS < c.toS {
			x := c.x(u.FromS)
			c.rect("unseen", x, top, max(2, c.x(u.ToS)-x), c.y-top)
			c.text("start", x+3, top+14, "not seen")
		}
	}
}

// axis writes the time of day below all strips, or the day where a step is one or more; its
// lines lie under what is drawn there.
func (c *course) axis(top float64) {
	var under drawing
	step, says := c.step(), c.clock
	if step >= oneDay.Seconds() {
		says = func(s float64) string { return c.r.moment(s).Format("2 Jan") }
	}
	begin := c.r.Began
	sinceMidnight := float64(begin.Hour()*3600+begin.Minute()*60+begin.Second()) + float64(begin.Nanosecond())/1e9
	for s := math.Ceil((sinceMidnight+c.fromS)/step)*step - sinceMidnight; s <= c.toS; s += step {
		under.line("grid", c.x(s), top, c.x(s), c.y)
		c.text("middle", c.x(s), c.y+16, says(s))
	}
	c.shapes = append(under.shapes, c.shapes...)
	c.y += 24
}

const oneDay = 24 * time.Hour

// step is how far apart the times on the axis are, in seconds: at most ten of them.
func (c *course) step() float64 {
	for _, s := range []time.Duration{
		time.Minute, 5 * time.Minute, 10 * time.Minute, 15 * time.Minute, 30 * time.Minute, time.Hour, 2 * time.Hour, 6 * time.Hour, 12 * time.Hour, oneDay,
	} {
		if (c.toS-c.fromS)/s.Seconds() <= 10 {
			return s.Seconds()
		}
	}
	step := oneDay.Seconds()
	for (c.toS-c.fromS)/step > 10 {
		step *= 2
	}
	return step
}
