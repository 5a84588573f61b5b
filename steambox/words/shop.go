package words

import (
	"fmt"
	"strings"

	"withy/steambox/shop"
)

// Kettle says whose turn the shop's one kettle is, "" where nobody needs it. busyS is how
// long it is still away.
func Kettle(turns []shop.Turn, busyS float64) string {
	if len(turns) == 0 {
		return ""
	}
	var order, late []string
	now := turns[0].OnS < 1
	for _, t := range turns {
		now = now || t.Now // a box and its shop must not say two things
		order = append(order, fmt.Sprintf("box %d", t.Number))
		if t.LateS > 0 {
			late = append(late, fmt.Sprintf("box %d", t.Number))
		}
	}
	var say string
	switch {
	case busyS > 0:
		say = "The kettle is on. Next: " + strings.Join(order, ", then ") + "."
	case now:
		say = "Kettle on now for " + strings.Join(order, ", then ") + "."
	default:
		say = fmt.Sprintf("Kettle on in %s at the latest for %s.", Clock(turns[0].OnS), strings.Join(order, ", then "))
	}
	if len(late) > 0 {
		say += " It comes too late for " + and(late) + ": a second kettle, or heat off there before the water is gone."
	}
	return say
}

// and joins what is listed as one says it.
func and(list []string) string {
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	return strings.Join(list[:len(list)-1], ", ") + " and " + list[len(list)-1]
}

// Circuit says what hangs on a circuit and what to do where it is too much.
func Circuit(l shop.Load) string {
	say := fmt.Sprintf("%s: %.0f A with all on, of %.0f.", l.Name, l.AllA, l.Amps)
	switch {
	case l.OnA > l.Amps:
		return say + fmt.Sprintf(" %.0f A are on now: it will trip. Take the heat off at one box.", l.OnA)
	case l.Trips():
		return say + " All at once trip it: move a boiler or the kettle to another circuit, or leave one off."
	case l.Close():
		return say + " Too near for hours of steam: hang nothing else on it."
	}
	return say
}
