package boxes

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"withy/alert"
	"withy/cmd/withy/internal/view"
	"withy/steambox"
	"withy/steambox/boiler"
	"withy/steambox/shop"
)

func ptr(x float64) *float64 { return &x }

// told is what a box tells whose rib is due so soon and whose water lasts so long.
func status(inS, dryS float64) view.View {
	return view.View{Number: 1, Speed: 1, Status: steambox.Status{
		Box: "long box", Boat: "dinghy", Phase: steambox.Running, BoilerKind: boiler.OpenPot,
		Probes: []steambox.ProbeAt{{Name: "steam", TempC: ptr(98.5)}, {Name: "door", TempC: ptr(96)}},
		Calls:  []steambox.Call{{Do: steambox.PullCall, Rib: "7", Slot: "C", Boat: "skiff", InS: ptr(inS), GoodS: ptr(60), Sure: true}},
		Water:  steambox.WaterNow{Boiling: true, Switch: "closed", DryLoS: ptr(dryS), LeadS: 300},
	}, Alarms: []alert.Alarm{{ID: alert.RibOver, State: alert.Cleared}, {ID: alert.DrySoon, State: alert.HeardBy}, {ID: alert.ColdEnd, State: alert.Raised}}}
}

// served is a box that answers so, and where it is.
func served(t *testing.T, answer http.HandlerFunc) string {
	t.Helper()
	s := httptest.NewServer(answer)
	t.Cleanup(s.Close)
	return s.URL
}

func says(v any) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path != "/api/status" {
			http.NotFound(w, r)
			return
		}
		_ = json.NewEncoder(w).Encode(v)
	}
}

func watch(s Shop) *Watch { return New(s, nil, slog.New(slog.DiscardHandler)) }

// at are the boxes at these places, the first with the number 1.
func at(places ...string) (s Shop) {
	for i, at := range places {
		s.Boxes = append(s.Boxes, Listed{Number: i + 1, At: at})
	}
	return s
}

// Two boxes answer, one of them this one, which is asked by no network, and one never does: all that is known is there, and the call that comes
// first is the first.
func TestShop(t *testing.T) {
	w := New(Shop{Number: 2, Kettle: &shop.Shared{Watts: 2200, Circuit: "window side"}, Circuits: []shop.Circuit{{Name: "window side", Volts: 230, Amps: 16}},
		Boxes: []Listed{{Number: 1, At: served(t, says(status(300, 3000))), Watts: 2200, Circuit: "window side"},
			{Number: 2, At: "http://nobody.invalid"}, {Number: 3, At: "http://127.0.0.1:1"}}}, func() *view.View { v := status(20, 900); return &v }, slog.New(slog.DiscardHandler))
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan struct{})
	go func() { w.Run(ctx); close(ended) }()
	var v ShopView
	for v = w.Shop(); len(v.Boxes) < 3 || !v.Boxes[0].Heard || !v.Boxes[1].Heard; v = w.Shop() {
		time.Sleep(10 * time.Millisecond)
	}
	first, second, third := v.Boxes[0], v.Boxes[1], v.Boxes[2]
	if first.Number != 2 || second.Number != 1 || third.Number != 3 || third.Heard {
		t.Errorf("order %d, %d, %d", first.Number, second.Number, third.Number)
	}
	if first.Boat != "skiff" || first.Call.Rib != "7" || *first.SteamC != 98.5 || *first.DoorC != 96 || *first.DryLoS > 900 || first.Alarm.ID != alert.DrySoon || first.More != 2 {
		t.Errorf("%+v", first)
	}
	if want := "Kettle on in "; !strings.HasPrefix(v.Kettle, want) || !strings.HasSuffix(v.Kettle, "box 2, then box 1.") {
		t.Errorf("kettle: %q", v.Kettle)
	}
	if c := v.Circuits[0]; !c.Trips || c.OnA > 10 || c.AllA < 19 {
		t.Errorf("%+v", c)
	}
	cancel()
	<-ended
}

// A box that was heard a while ago has come nearer to its call since; one that does not
// answer is silent, and shows no figure that could be taken for one of now.
func TestAge(t *testing.T) {
	w := watch(at("http://box-1.lan:8017", "http://box-2.lan:8017"))
	now, a, b := time.Now(), status(20, 900), status(5, 900)
	w.heard[0] = heard{view: &a, at: now.Add(-8 * time.Second), tried: true}
	w.heard[1] = heard{view: &b, at: now.Add(-4 * time.Minute), tried: true}
	v := w.Shop()
	if one := v.Boxes[0]; one.Number != 1 || one.Silent || *one.Call.InS > 12 || *one.Call.InS < 11 || *one.DryLoS > 892 {
		t.Errorf("%+v", one)
	}
	two := v.Boxes[1]
	if !two.Silent || two.AgeS < 240 || two.Name != "long box" || two.Call != nil || two.SteamC != nil || two.DryLoS != nil || two.Alarm != nil {
		t.Errorf("%+v", two)
	}
}

// What a box, or something that took its place, may answer: the others are shown all the
// same, and the watch is not kept.
func TestAnswersThatAreNone(t *testing.T) {
	elsewhere := served(t, says(status(1, 1)))
	held := make(chan struct{})
	defer close(held)
	for what, answer := range map[string]http.HandlerFunc{
		"it points elsewhere": func(w http.ResponseWriter, r *http.Request) {
			http.Redirect(w, r, elsewhere+"/api/status", http.StatusFound)
		},
		"too much":         func(w http.ResponseWriter, _ *http.Request) { fmt.Fprintf(w, "{%s}", strings.Repeat(" ", mostByte)) },
		"too many":         says(map[string][]int{"outputs": make([]int, mostList+2)}),
		"calls for ever":   says(map[string]any{"number": 1, "status": map[string]any{"calls": []map[string]any{{"in_s": 1e308}}}}),
		"a kettle's years": says(map[string]any{"number": 1, "status": map[string]any{"water": map[string]any{"kettle_lead_s": -1e308}}}),
		"no JSON":          func(w http.ResponseWriter, _ *http.Request) { fmt.Fprint(w, "<html>") },
		"another's JSON":   says([]int{1}),
		"an error":         func(w http.ResponseWriter, _ *http.Request) { http.Error(w, "{}", http.StatusServiceUnavailable) },
		"nothing": func(_ http.ResponseWriter, r *http.Request) {
			select {
			case <-held:
			case <-r.Context().Done():
			}
		},
	} {
		begun := time.Now()
		w := watch(at(served(t, answer)))
		w.clients[0].Timeout = 200 * time.Millisecond
		if v, err := w.look(t.Context(), 0); err == nil {
			t.Errorf("%s: taken for an answer: %+v", what, v)
		}
		if took := time.Since(begun); took > 2*time.Second {
			t.Errorf("%s: waited for %s", what, took)
		}
	}
}

// Each box is tried once; one that is there under another name, or that does not let this
// one in, says what is to be done.
func TestTry(t *testing.T) {
	answers := func(status int) http.HandlerFunc {
		return func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(status) }
	}
	got := watch(at(served(t, says(status(1, 1))), served(t, answers(http.StatusMisdirectedRequest)), served(t, answers(http.StatusUnauthorized)), "http://127.0.0.1:1")).Try(t.Context())
	if got[0] != nil || !errors.Is(got[1], ErrName) || !errors.Is(got[2], ErrClosed) || got[3] == nil {
		t.Error(got)
	}
}

// A box with a certificate of its own is looked at only where that very certificate is
// known, and it alone gets the token.
func TestOwnCertificate(t *testing.T) {
	var shown []string
	box := httptest.NewTLSServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		shown = append(shown, r.Header.Get("Authorization"))
		says(status(1, 1))(w, r)
	}))
	box.Config.ErrorLog = log.New(io.Discard, "", 0)
	t.Cleanup(box.Close)
	token := filepath.Join(t.TempDir(), "token")
	if err := os.WriteFile(token, []byte("OPEN\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	look := func(sha256 string) error {
		s := at(box.URL)
		s.Boxes[0].SHA256, s.Boxes[0].Secret.File = sha256, token
		_, err := watch(s).look(t.Context(), 0)
		return err
	}
	var stranger *StrangerError
	if err := look(""); !errors.As(err, &stranger) {
		t.Fatal(err)
	}
	known := stranger.SHA256
	if err := look(strings.Repeat("0", 64)); !errors.As(err, &stranger) || stranger.SHA256 != known || len(shown) > 0 {
		t.Errorf("another certificate: %v, shown %q", err, shown)
	}
	if err := look(known); err != nil || len(shown) != 1 || shown[0] != "Bearer OPEN" {
		t.Errorf("the known one: %v, shown %q", err, shown)
	}
}

// Only the box that is listed is taken for it: not another to which its address went, and
// not anything else that answers.
func TestAnotherBox(t *testing.T) {
	for text, says := range map[string]string{
		`{}`: "no number", `null`: "no number", `{"number":3,"status":{"box":"short box"}}`: "box 3 answers there", `[]`: "cannot unmarshal", `<html>`: "invalid character",
	} {
		_, err := watch(at(served(t, func(w http.ResponseWriter, _ *http.Request) { fmt.Fprint(w, text) }))).look(t.Context(), 0)
		if err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v, want %q", text, err, says)
		}
	}
}

// A status with nothing in it, or with calls that say nothing, breaks nothing.
func TestPoorAnswers(t *testing.T) {
	for _, text := range []string{`{"number":1}`, `{"number":1,"status":{"calls":[{}]}}`, `{"number":1,"status":{"calls":[{"do":"dry"}]}}`, `{"number":1,"status":{"calls":[{"do":"load"}],"probes":[{}]},"alarms":[{}]}`,
		`{"number":1,"speed":-1e8,"status":{"calls":[{"do":"pull","in_s":1e8,"good_s":-1}],"water":{"dry_lo_s":-5,"boiling":true}}}`} {
		s := at(served(t, func(w http.ResponseWriter, _ *http.Request) { fmt.Fprint(w, text) }))
		s.Kettle = &shop.Shared{}
		w := watch(s)
		v, err := w.look(t.Context(), 0)
		if err != nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		w.heard[0] = heard{view: v, at: time.Now()}
		if _, err := json.Marshal(w.Shop()); err != nil {
			t.Errorf("%s: %v", text, err)
		}
	}
}

// A box of the shop is looked for in the shop once it was found there, so that its token does
// not leave it.
func TestBoxThatLeaves(t *testing.T) {
	w := watch(at(served(t, says(status(1, 1)))))
	for _, c := range []struct{ at, says string }{
		{w.shop.Boxes[0].At, ""},
		{"http://192.0.0.9", "out of the local network"}, // globally reachable (RFC 7723), and nobody is asked
		{w.shop.Boxes[0].At, ""},
	} {
		w.shop.Boxes[0].At = c.at
		_, err := w.look(t.Context(), 0)
		if (err == nil) != (c.says == "") || err != nil && !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want %q", c.at, err, c.says)
		}
	}
}
