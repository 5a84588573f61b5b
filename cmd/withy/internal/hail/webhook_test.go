package hail

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// The worked example of the Standard Webhooks libraries' own tests.
const exampleSecret = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"

func TestSignature(t *testing.T) {
	got, err := sign(exampleSecret, "msg_p5jXN8AQM9LWM0D4loKWxJek", "1614265330", []byte(`{"test": 2432232314}`))
	if want := "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="; err != nil || got != want {
		t.Errorf("%s, %v; want %s", got, err, want)
	}
	for _, bad := range []string{"", "whsec_", "whsec_%%%", "whsec_c2hvcnQ=", "MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"} {
		_, err := sign(bad, "a", "1", nil)
		failed(t, err, "24 to 64 bytes", 0)
	}
}

func TestWebhook(t *testing.T) {
	var heads []http.Header
	var bodies []string
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		text, _ := io.ReadAll(r.Body)
		heads, bodies = append(heads, r.Header), append(bodies, string(text))
		if len(heads) == 1 {
			w.WriteHeader(http.StatusInternalServerError)
		}
	}))
	defer server.Close()
	name := filepath.Join(t.TempDir(), "secret")
	if err := os.WriteFile(name, []byte(exampleSecret+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	w := Webhook{Post{URL: address(t, server.URL+"/in"), Secret: Secret{File: name}}}
	failed(t, w.Send(t.Context(), oneAlarm()), "status 500", 0)
	if err := w.Send(t.Context(), oneAlarm()); err != nil {
		t.Fatal(err)
	}
	if err := w.Send(t.Context(), Notice{Box: "box", Test: true}); err != nil {
		t.Fatal(err)
	}
	for i, h := range heads {
		want, err := sign(exampleSecret, h.Get("webhook-id"), h.Get("webhook-timestamp"), []byte(bodies[i]))
		if err != nil || h.Get("webhook-signature") != want || h.Get("Authorization") != "" {
			t.Errorf("%v", h)
		}
	}
	// Told again it has the id that it had, so that the receiver can know it by that.
	if heads[0].Get("webhook-id") != heads[1].Get("webhook-id") || heads[1].Get("webhook-id") == heads[2].Get("webhook-id") {
		t.Errorf("ids %q, %q, %q", heads[0].Get("webhook-id"), heads[1].Get("webhook-id"), heads[2].Get("webhook-id"))
	}
	var got struct {
		Type string
		Data struct {
			Box    string
			Alarms []struct {
				Key, ID, Priority, State string
				Do                       []string
				New, Over                bool
			}
		}
	}
	if err := json.Unmarshal([]byte(bodies[1]), &got); err != nil || got.Type != "alarms" || got.Data.Box != "Hütte" || len(got.Data.Alarms) != 1 {
		t.Fatalf("%v: %s", err, bodies[1])
	}
	a := got.Data.Alarms[0]
	if a.Key != "s1/dry-now/1" || a.ID != "dry-now" || a.Priority != "high" || a.State != "raised" || !a.New || a.Over || !slices.Equal(a.Do, []string{"Pour.", "Heat off."}) {
		t.Errorf("%+v", a)
	}
}
