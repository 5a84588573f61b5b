package browsertest

import (
	"log/slog"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"withy/alert"
	"withy/cmd/withy/internal/boxes"
	"withy/cmd/withy/internal/web"
	"withy/steambox"
)

// among is a box that knows others.
type among struct {
	web.Box
	shop boxes.ShopView
}

func (a among) Shop() boxes.ShopView { return a.shop }

// The page of all boxes: the order is the one that is served, each box has what it calls
// for, whose, how it stands and what is wrong, a silent one says so; it passes axe and fits
// a phone, a tablet and a wall. When nothing comes any more it says that it is old.
func TestAllBoxes(t *testing.T) {
	s := shop(t, "good", hot, 1)
	all := boxes.ShopView{
		Number: 2, Kettle: "Kettle on now for box 2, then box 1.",
		Boxes: []boxes.ShopBox{
			{Number: 2, At: "https://box-2.lan:8017", Heard: true, Name: "long box", Boat: "skiff", Phase: steambox.Running, SteamC: new(98.4), DoorC: new(96.1),
				LeftL: new(2.5), DryLoS: new(1380.0), ToGo: 12, More: 1,
				Call:  &steambox.Call{Do: steambox.PullCall, Rib: "12", Slot: "C", Mark: "starboard", InS: new(0.0), GoodS: new(75.0)},
				Alarm: &alert.Alarm{ID: alert.WaterLow, Title: "Water low", State: alert.Raised, Do: []string{"Kettle on now."}}},
			{Number: 1, At: "https://box-1.lan:8017", Heard: true, Name: "<b>short</b> box", Phase: steambox.Warming, Call: &steambox.Call{Do: steambox.WaitCall},
				Alarm: &alert.Alarm{ID: alert.BoilerDry, Title: "Boiler dry", State: alert.Latched}},
			{Number: 3, At: "https://box-3.lan:8017", Silent: true, Heard: true, AgeS: 240, Name: "third box"},
		},
		Circuits: []boxes.ShopCircuit{{Name: "Window side", Says: "Window side: 29 A with all on, of 25.", Trips: true}},
	}
	server := httptest.NewServer(web.New(among{s.Daemon, all}, nil, http.NotFoundHandler(), web.Entry{}, slog.New(slog.DiscardHandler)))
	t.Cleanup(server.Close)
	p := browser(t).open(t, phone, server.URL+"/shop")
	p.wait(`document.body.dataset.live === "live"`)
	for _, is := range []string{
		`[...document.querySelectorAll(".place .number")].map((n) => n.textContent).join() === "2,1,3"`,
		`document.querySelector(".place.late .figure").textContent === "1:15"`,
		`document.querySelector(".place .mark.starboard") !== null`,
		`document.querySelector(".place .wrong").textContent.startsWith("Box 2: Water low, and 1 more. Kettle on now.")`,
		`document.querySelectorAll(".place")[1].textContent.includes("<b>short</b> box")`,
		`document.querySelector(".place.silent").textContent.includes("not heard for 4 min")`,
		`document.querySelector("#circuits .trips") !== null && !document.querySelector("#kettle").hidden`,
	} {
		var so bool
		if p.eval(is, &so); !so {
			t.Errorf("not so: %s", is)
		}
	}
	for _, size := range []screen{phone, tablet, {"wall", 1920, 1080, false}} {
		p.resize(size)
		for _, found := range p.axe() {
			t.Errorf("%s: %s", size.name, found)
		}
		var over int
		if p.eval("document.documentElement.scrollWidth - innerWidth", &over); over > 0 {
			t.Errorf("%s: %d pixels too wide", size.name, over)
		}
	}
	server.CloseClientConnections()
	server.Close()
	if took := p.wait(`document.body.dataset.live === "lost" && !document.querySelector("#lost").hidden`); took > 15*time.Second {
		t.Errorf("old after %v", took)
	}
}
