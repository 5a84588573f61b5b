package soak

import "time"

// Until returns how long it will be until a point's best guess reaches the
// exposure target if the air there, and so the film, stays as it is, and false if that is longer
// than limit. Reached already is 0. It is right to 2 % and 2 s (TestUntil).
func (p *Point) Until(m *Model, target Exposure, limit time.Duration) (time.Duration, bool) {
	t := p.Track[Best]
	ahead := m.at(InBox, Best, t.Rung).stepsAhead()
	var passed time.Duration
	for rung := 0; t.Exposure < target; rung++ {
		if passed > limit {
			return 0, false
		}
		// Each length twice, the longest for good.
		i := min(rung/2, len(ladder)-1)
		from := t.Exposure
		t.advance(&ahead[i], t.AirC)
		if t.Exposure >= target {
			part := float64(target-from) / float64(t.Exposure-from)
			return passed + time.Duration(part*float64(ladder[i])), true
		}
		passed += ladder[i]
	}
	return 0, true
}

// Fresh returns how long a rib that is loaded now, with wood of woodC °C, will
// take to gather target where the air is and stays airC °C.
func (m *Model) Fresh(target Exposure, woodC, airC float64, limit time.Duration) (time.Duration, bool) {
	h := NewHeat(m, 0, 1, 2, woodC, []Air{{[Bounds]float64{airC, airC, airC}}, {[Bounds]float64{airC, airC, airC}}})
	return h.Points[0].Until(m, target, limit)
}
