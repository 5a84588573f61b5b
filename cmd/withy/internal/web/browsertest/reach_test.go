package browsertest

import (
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"withy/alert"
	"withy/cmd/withy/internal/daemon"
	"withy/cmd/withy/internal/hail"
	"withy/cmd/withy/internal/view"
)

// Somebody away from the box: at the rig check a test message is sent, arrives, and is said to
// have arrived; which ways work now stands there and in the wait, in words.
func TestReached(t *testing.T) {
	var mu sync.Mutex
	var got []string
	server := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		text, _ := io.ReadAll(r.Body)
		mu.Lock()
		defer mu.Unlock()
		got = append(got, r.URL.Path+" "+string(text))
	}))
	defer server.Close()
	to := func(address string) hail.Post {
		u, err := url.Parse(address)
		if err != nil {
			t.Fatal(err)
		}
		return hail.Post{URL: u}
	}
	hails := hail.New([]hail.Output{
		{Name: "phone", Kind: "topic", Way: &hail.Topic{Post: to(server.URL), Topic: "box"}, Least: alert.Low},
		{Name: "office", Kind: "alertmanager", Way: &hail.Manager{Post: to("http://127.0.0.1:1")}, Least: alert.Low},
		{Name: "watcher", Kind: view.Heartbeat, Way: &hail.Heart{Post: to(server.URL + "/ping"), Method: http.MethodGet, Each: time.Hour}},
	}, slog.New(slog.DiscardHandler))
	shop := shop(t, "good", hot, 1, func(o *daemon.Options) { o.Outputs, o.Box.Away = hails, true })
	go hails.Run(t.Context())

	p := browser(t).open(t, phone, shop.url)
	p.look("light")
	p.step("The rig", `document.querySelector(".reached .ways")`)
	p.wait(`document.querySelector(".reached").innerText.includes("not tried yet – phone, a push.")`)
	p.press(".rig .reached", "Send a message to the phones")
	p.wait(`document.querySelector("#answer").textContent.startsWith("Sent by phone. Did it arrive? Not by office: 127.0.0.1:1: no server listens there.")`)
	p.wait(`document.querySelector(".reached").innerText.includes("works – phone, a push; last got through just now.")`)
	p.wait(`document.querySelector(".reached").innerText.includes("does not work now – office, an alarm program; 127.0.0.1:1: no server listens there; nothing has got through yet")`)
	mu.Lock()
	if !strings.HasPrefix(strings.Join(got, "\n"), "/box Nothing is wrong.") && !strings.Contains(strings.Join(got, "\n"), "\n/box Nothing is wrong.") {
		t.Errorf("arrived: %q", got)
	}
	mu.Unlock()
	p.clean("the rig")
	p.press(".rig li:has(.reached)", "It arrived")
	p.wait(`document.querySelector(".rig li.is-good .reached")`)

	p.eval(`[...document.querySelectorAll("#wait > details")].find((d) => d.querySelector(".title").textContent === "Who is told").open = true`, nil)
	p.wait(`document.querySelector("#wait .ways") && document.querySelector("#wait").textContent.includes("1 of 3 ways does not work now")`)
	for _, size := range screens {
		p.resize(size)
		p.clean("the wait, " + size.name)
		if wide := p.wider(size); len(wide) > 0 {
			t.Errorf("on a %s: %q", size.name, wide)
		}
	}
	if said := p.console(); len(said) > 0 {
		t.Errorf("on the console: %q", said)
	}
}
