package hull

import "math"

// turn is which of the two ways of taking turns along the keel a rib keeps: +1
// with the mark to port at the foremost station, −1 with it to starboard there.
func turn(mark Side, station int) float64 {
	if station%2 == 0 {
		return mark.sign()
	}
	return -mark.sign()
}

// byTurns is the mark at a station when turns are taken one of the two ways.
func byTurns(way float64, station int) Side {
	if turn(Port, station) == way {
		return Port
	}
	return Starboard
}

// way returns how turns are taken in this hull, seen from the station where the
// next rib goes: the way that most ribs keep. Neighbouring stations then have
// opposite marks whatever the order of work and whatever gaps there are, and a
// rib fitted the wrong way changes nothing for the stations after it.
//
// Where as many keep the one as the other, which happens when turns were begun
// anew after a mistake, the rib nearest to the station decides, and the one
// forward of it where two are equally near. An empty hull begins with port.
func (h *Hull) way(next int) float64 {
	votes, near, nearest := 0.0, 1.0, math.MaxInt
	for i := range h.places {
		if i == next || h.places[i].rib == nil {
			continue
		}
		t := turn(h.places[i].rib.Mark, i)
		votes += t
		if d := apart(i, next); d < nearest {
			near, nearest = t, d
		}
	}
	switch {
	case votes > 0:
		return 1
	case votes < 0:
		return -1
	}
	return near
}

// apart is how many ribs two stations are from one another.
func apart(i, j int) int { return max(i-j, j-i) }

// against returns the labels of the ribs that stand the other way round than
// turns would have them, from the bow; the one at next is about to go.
func (h *Hull) against(way float64, next int) []string {
	var labels []string
	for i := range h.places {
		if r := h.places[i].rib; r != nil && i != next && turn(r.Mark, i) != way {
			labels = append(labels, r.Label)
		}
	}
	return labels
}

// sameBeside returns the label of a rib at a neighbouring station whose mark went
// to the side given; "" if there is none.
func (h *Hull) sameBeside(mark Side, next int) string {
	for _, i := range []int{next - 1, next + 1} {
		if i >= 0 && i < len(h.places) && h.places[i].rib != nil && h.places[i].rib.Mark == mark {
			return h.places[i].rib.Label
		}
	}
	return ""
}
