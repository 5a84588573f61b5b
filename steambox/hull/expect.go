package hull

import "math"

// halfAway is over how many stations a rib's say in what to expect halves: a box
// changes over a run, and neighbours on the keel were mostly in it soon after one
// another. Halves over 2 to 8 stations came out within 2 in 100 of each other in
// runs like those of TestScore where work goes from the bow, and 2 best where it
// goes from the middle.
const halfAway = 2

// replacedSay is what the say of a rib that replaced another is multiplied by. It
// was in the box at another time than its neighbours, so it has next to none; but
// where every rib was replaced it is all there is.
const replacedSay = 1e-6

// expected is a difference that a rib still to come will have, and its standard
// deviation.
type expected struct{ d, sd float64 }

// expect returns what the difference of a rib at station at would be by those
// fitted round about: a straight line over the distance from it, near ones
// counting most and replacements hardly, read where the distance is 0. The order of work is not used,
// for nobody is bound to enter ribs in it. With less than three ribs it is their
// mean. There must be one rib at another station at least.
func (h *Hull) expect(at int) expected {
	f := h.fitLine(at)
	var left, doubt float64
	for i := range h.places {
		if w, sd := h.say(i, at); w > 0 {
			x := float64(apart(i, at))
			e := h.places[i].rib.Difference() - f.d - f.slope*x
			left += w * e * e
			doubt += w * w * sd * sd
		}
	}
	return expected{f.d, math.Sqrt(left/f.weight + doubt/(f.weight*f.weight))}
}

// line is a fitted straight line: d at distance 0 and how it changes a station.
type line struct{ d, slope, weight float64 }

func (h *Hull) fitLine(at int) line {
	var n int
	var sw, sx, sd, sxx, sxd float64
	for i := range h.places {
		if w, _ := h.say(i, at); w > 0 {
			x, d := float64(apart(i, at)), h.places[i].rib.Difference()
			sw, sx, sd, sxx, sxd = sw+w, sx+w*x, sd+w*d, sxx+w*x*x, sxd+w*x*d
			n++
		}
	}
	// The spread of distances is 0 when all ribs are equally far.
	if spread := sw*sxx - sx*sx; n >= 3 && spread > 1e-9*sw*sxx {
		slope := (sw*sxd - sx*sd) / spread
		return line{(sd - slope*sx) / sw, slope, sw}
	}
	return line{d: sd / sw, weight: sw}
}

// say returns how much the rib at station i counts for what to expect at another,
// 0 where there is none or it is the same, and its standard deviation.
func (h *Hull) say(i, at int) (weight, sd float64) {
	r := h.places[i].rib
	if r == nil || i == at {
		return 0, 0
	}
	sd = r.sd()
	weight = math.Exp2(-float64(apart(i, at))/halfAway) * DefaultSD * DefaultSD / (sd * sd)
	if h.places[i].replaced {
		weight *= replacedSay
	}
	return weight, sd
}

// unlike returns the labels of ribs that replaced others and came out unlike
// their neighbours: beyond two standard deviations. The one at next is about to go.
func (h *Hull) unlike(next int) []string {
	var labels []string
	fitted, _ := h.Ribs()
	for i := range h.places {
		p := &h.places[i]
		if !p.replaced || i == next || fitted < 2 {
			continue
		}
		e := h.expect(i)
		if math.Abs(p.rib.Difference()-e.d) > 2*math.Hypot(e.sd, p.rib.sd()) {
			labels = append(labels, p.rib.Label)
		}
	}
	return labels
}
