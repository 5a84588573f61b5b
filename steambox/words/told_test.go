package words_test

import (
	"fmt"
	"strings"
	"testing"

	"withy/steambox/words"
)

func TestTold(t *testing.T) {
	dry := words.ToldAlarm{Title: "Dry now", Consequence: "It runs dry.", Do: []string{"Pour.", "Heat off."}}
	door := words.ToldAlarm{Title: "Probe failed", On: "door"}
	rib := func(on string) words.ToldAlarm {
		return words.ToldAlarm{Title: "Rib waits", On: on, Consequence: "It turns brittle.", Do: []string{"Pull it."}}
	}
	for _, c := range []struct {
		told        words.Told
		title, text string
	}{
		{words.Told{Box: "box", New: []words.ToldAlarm{dry}}, "Dry now", "box.\nDry now: It runs dry. Pour. Heat off."},
		{words.Told{Box: "box", New: []words.ToldAlarm{dry, dry}, Still: []words.ToldAlarm{door}}, "Dry now, and 1 more",
			"box.\nDry now: It runs dry. Pour. Heat off.\nDry now: It runs dry. Pour. Heat off.\nStill so: Probe failed (door)."},
		{words.Told{Box: "box", New: []words.ToldAlarm{rib("1"), dry, rib("2")}, Still: []words.ToldAlarm{rib("3")}}, "Rib waits (1, 2), and 1 more",
			"box.\nRib waits (1, 2): It turns brittle. Pull it.\nDry now: It runs dry. Pour. Heat off.\nStill so: Rib waits (3)."},
		{words.Told{Box: "box", Over: []words.ToldAlarm{door}}, "Over: Probe failed (door)", "box.\nOver: Probe failed (door)."},
		{words.Told{Box: "box", LeftOut: 3}, "box", "box.\n3 more came and went."},
	} {
		if title, text := c.told.Title(), c.told.Text(); title != c.title || text != c.text {
			t.Errorf("%q, %q; want %q, %q", title, text, c.title, c.text)
		}
	}
}

// However much there is to tell, it can be read at a glance.
func TestToldIsShort(t *testing.T) {
	var many []words.ToldAlarm
	for i := range 64 {
		many = append(many, words.ToldAlarm{Title: "Rib will not wait much longer", On: fmt.Sprint(i), Consequence: "Brittle.", Do: []string{"Pull."}})
	}
	text := words.Told{Box: "box", New: many, Still: many, Over: many, LeftOut: 100}.Text()
	if len(text) > 1500 || strings.Count(text, "\n") > 8 {
		t.Errorf("%d bytes, %d lines", len(text), strings.Count(text, "\n"))
	}
}
