package words_test

import (
	"testing"

	"withy/steambox/shop"
	"withy/steambox/words"
)

func TestKettleOfAShop(t *testing.T) {
	for want, c := range map[string]struct {
		turns []shop.Turn
		busyS float64
	}{
		"": {},
		"Kettle on in 2:00 at the latest for box 2, then box 3.": {turns: []shop.Turn{{Number: 2, OnS: 120}, {Number: 3, OnS: 480}}},
		"Kettle on now for box 2.":                               {turns: []shop.Turn{{Number: 2, OnS: 0.4}}},
		"Kettle on now for box 2, then box 4.":                   {turns: []shop.Turn{{Number: 2, OnS: 400}, {Number: 4, OnS: 900, Now: true}}},
		"The kettle is on. Next: box 2.":                         {turns: []shop.Turn{{Number: 2, OnS: 120}}, busyS: 60},
		"Kettle on now for box 1, then box 2, then box 3. It comes too late for box 2 and box 3: a second kettle, or heat off there before the water is gone.": {turns: []shop.Turn{{Number: 1, OnS: -60}, {Number: 2, OnS: 1, LateS: 3}, {Number: 3, OnS: 1, LateS: 2}}},
	} {
		if got := words.Kettle(c.turns, c.busyS); got != want {
			t.Errorf("%q, not %q", got, want)
		}
	}
}

func TestCircuit(t *testing.T) {
	c := shop.Circuit{Name: "Window side", Volts: 230, Amps: 32}
	for want, l := range map[string]shop.Load{
		"Window side: 10 A with all on, of 32.":                                                                                        {Circuit: c, AllA: 9.6},
		"Window side: 29 A with all on, of 32. Too near for hours of steam: hang nothing else on it.":                                  {Circuit: c, AllA: 28.7, OnA: 28.7},
		"Window side: 38 A with all on, of 32. All at once trip it: move a boiler or the kettle to another circuit, or leave one off.": {Circuit: c, AllA: 38.3, OnA: 19},
		"Window side: 38 A with all on, of 32. 38 A are on now: it will trip. Take the heat off at one box.":                           {Circuit: c, AllA: 38.3, OnA: 38.3},
	} {
		if got := words.Circuit(l); got != want {
			t.Errorf("%q, not %q", got, want)
		}
	}
}
