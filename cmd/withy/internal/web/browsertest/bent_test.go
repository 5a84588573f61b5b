package browsertest

import (
	"testing"

	"withy/sensor"
	"withy/steambox"
)

// How the last rib bent is asked within a phone's first screen, below the call, whatever is
// called next and whoever is new to the door; and one tap held answers it.
func TestBentIsAskedBelowTheCall(t *testing.T) {
	b := browser(t)
	for _, c := range []struct {
		next string
		tell func(*still)
	}{
		{"load", func(*still) {}},
		{"pull", func(s *still) { s.tell(steambox.Event{Kind: steambox.Loaded, Rib: waiting(s), Slot: "A"}).run(1) }},
		{"pull, late", func(s *still) { s.tell(steambox.Event{Kind: steambox.Loaded, Rib: waiting(s), Slot: "A"}).run(120) }},
	} {
		s := newStill(t).loaded().before(0).tell(steambox.Event{Kind: steambox.Pulled, Slot: "A"})
		c.tell(s)
		p := b.open(t, phone, s.url())
		p.wait(`!document.querySelector("#bent").hidden`)
		var at struct{ Call, Bent, Window float64 }
		p.eval(`(() => {
			const bottom = (of) => document.querySelector(of).getBoundingClientRect().bottom;
			return { Call: bottom("#call"), Bent: bottom("#bent button"), Window: innerHeight };
		})()`, &at)
		if at.Bent > at.Window || at.Call > at.Bent {
			t.Errorf("next is %s: the question ends at %.0f, the call at %.0f of %.0f px", c.next, at.Bent, at.Call, at.Window)
		}
	}
}

// waiting is the next blank.
func waiting(s *still) string {
	for _, r := range s.View().Status.Ribs {
		if r.Place == steambox.Waiting {
			return r.Rib
		}
	}
	s.t.Fatal("no blank is left")
	return ""
}

// Ribs that had too much are one line, answered as one, and leave the call in sight.
func TestRibsAreOneLine(t *testing.T) {
	s := newStill(t).loaded().run(900)
	p := browser(t).open(t, phone, s.url())
	const title = `document.querySelector("#alarms .title")?.textContent`
	p.wait(title + `?.startsWith("Ribs 11, 12, 13, 14: had too much heat")`)
	var at struct{ Lines, Rib, Window float64 }
	p.eval(`({ Lines: document.querySelectorAll("#alarms article").length, Rib: document.querySelector("#call .mark").getBoundingClientRect().bottom, Window: innerHeight })`, &at)
	if at.Lines != 1 || at.Rib > at.Window {
		t.Errorf("%.0f lines of alarms, and the call's rib at %.0f of %.0f px", at.Lines, at.Rib, at.Window)
	}
	p.eval(`window.sent = [];
		const send = fetch;
		window.fetch = (to, what) => { if (to === "/api/event") sent.push(JSON.parse(what.body).alarm); return send(to, what); };`, nil)
	p.press("#alarms", "Heard")
	p.wait(`sent.join() === "rib-overdone-soon/11,rib-overdone-soon/12,rib-overdone-soon/13,rib-overdone-soon/14"`)
}

// Several other alarms are one line on a phone, which opens and stays so when it is
// made anew, and leave the call in sight; where there is room each is a line of its own.
func TestOtherAlarmsAreOneLineOnAPhone(t *testing.T) {
	s := newStill(t).loaded().run(900)
	s.level, s.fault = sensor.Open, true
	s.run(40)
	b := browser(t)
	p := b.open(t, phone, s.url())
	const told = `document.querySelector("#alarms .more summary")?.textContent`
	p.wait(told + ` === "2 more: BLIND, RIB"`)
	var rib, window float64
	p.eval(`document.querySelector("#call .mark").getBoundingClientRect().bottom`, &rib)
	p.eval(`innerHeight`, &window)
	if rib > window {
		t.Errorf("the call's rib ends at %.0f of %.0f px", rib, window)
	}
	p.eval(`window.was = document.querySelector("#alarms .more"); was.open = true; document.querySelector("#screen input[value=us]").click()`, nil)
	p.wait(`!was.isConnected && document.querySelector("#alarms .more").open`)
	p.press("#alarms .more article:last-of-type", "Heard")

	b.open(t, desktop, s.url()).wait(`document.querySelectorAll("#alarms > article").length === 3`)
}
