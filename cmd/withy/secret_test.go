package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"withy/deploy/freeport"
)

// transcript is a writer that several goroutines may write to.
type transcript struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *transcript) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *transcript) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// Secrets of outputs that work, that are refused, that can't be reached and that are no good: in
// nothing that the daemon and check say, serve or keep.
func TestSecretsAreNowhere(t *testing.T) {
	if testing.Short() {
		t.Skip("runs the daemon")
	}
	folder := t.TempDir()
	var secrets []string
	secret := func(name, text string) string {
		secrets = append(secrets, strings.TrimPrefix(text, "whsec_"))
		file := filepath.Join(folder, name)
		if err := os.WriteFile(file, []byte(text+"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		return file
	}
	var got sync.Map // what servers were sent, so that it is known that the secrets were used
	server := func(status int) string {
		s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			_, _ = io.Copy(io.Discard, r.Body)
			got.Store(r.URL.Path+" "+r.Header.Get("Authorization")+" "+r.Header.Get("webhook-signature"), true)
			// A server that says what it was told, as some do in their errors.
			w.Header().Set("Location", "http://127.0.0.1:1"+r.URL.Path+"?"+r.Header.Get("Authorization"))
			http.Error(w, r.URL.Path+r.Header.Get("Authorization"), status)
		}))
		t.Cleanup(s.Close)
		return s.URL
	}
	page := freeport.Find(t)
	text := fmt.Sprintf(`probes:
  - {name: steam, id: 28-000000000001, at_mm: 0}
board: {w1_root: %[1]q}
data: %[2]q
page: {listen: %[3]q}
outputs:
  - {name: good, kind: topic, url: %[4]q, topic: steam-box, secret_file: %[5]q}
  - {name: refused, kind: topic, url: %[6]q, topic: steam-box, secret_file: %[7]q, user: boat}
  - {name: elsewhere, kind: webhook, url: %[8]q, secret_file: %[9]q}
  - {name: unsigned, kind: webhook, url: %[4]q, secret_file: %[10]q}
  - {name: gone, kind: alertmanager, url: "http://127.0.0.1:1", secret_file: %[11]q}
  - {name: broker, kind: mqtt, url: "mqtt://127.0.0.1:1", topic: box, secret_file: %[12]q, user: boat}
  - {name: watcher, kind: heartbeat, url: %[6]q, secret_file: %[13]q, secret_in: address, each: 10s}
`, folder, filepath.Join(folder, "data"), page, server(http.StatusOK), secret("s1", "first-secret-4711"), server(http.StatusUnauthorized),
		secret("s2", "second-secret-4712"), server(http.StatusFound), secret("s3", "whsec_dGhpcmQtc2VjcmV0LTQ3MTMtdGhpcmQtc2VjcmV0"),
		secret("s4", "fourth-secret-4714"), secret("s5", "fifth-secret-4715"), secret("s6", "sixth-secret-4716"), secret("s7", "seventh-secret-4717"))
	probe := filepath.Join(folder, "28-000000000001", "temperature")
	if err := errors.Join(os.Mkdir(filepath.Dir(probe), 0o700), os.WriteFile(probe, []byte("98000\n"), 0o600)); err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(folder, "my.yaml")
	if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}

	ctx, cancel := context.WithCancel(t.Context())
	var out, errs transcript
	done := make(chan int)
	go func() { done <- run(ctx, []string{"run", "--config", name}, &out, &errs) }()
	asked := map[string]string{}
	ask := func(path, body string) string {
		method := http.MethodGet
		if body != "" {
			method = http.MethodPost
		}
		r, err := http.NewRequestWithContext(ctx, method, "http://"+page+path, strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/json")
		a, err := http.DefaultClient.Do(r)
		if err != nil {
			return ""
		}
		defer a.Body.Close()
		text, _ := io.ReadAll(a.Body)
		asked[path] = string(text)
		return string(text)
	}
	until := func(what, tried string) {
		t.Helper()
		began := time.Now()
		for !strings.Contains(ask("/api/status", ""), tried) {
			if time.Since(began) > 40*time.Second {
				t.Fatalf("no %s: %s\n%s", what, asked["/api/status"], errs.String())
			}
			time.Sleep(200 * time.Millisecond)
		}
	}
	until("heartbeat", `"name":"watcher","kind":"heartbeat","bad_s"`)
	if err := os.RemoveAll(filepath.Dir(probe)); err != nil {
		t.Fatal(err)
	}
	until("alarm of a probe that isn't there", `"name":"unsigned","kind":"webhook","bad_s"`)
	if a := ask("/api/message", `{"id":"m1"}`); !strings.Contains(a, `{"name":"good","kind":"topic","ok":true}`) || strings.Count(a, `"ok":false`) != 6 {
		t.Errorf("test message: %s", a)
	}
	for _, path := range []string{"/metrics", "/healthz", "/api/settings", "/api/trace", "/api/openapi.json", "/report", "/plan"} {
		if ask(path, "") == "" {
			t.Errorf("%s is empty", path)
		}
	}
	asked["log"] = errs.String()
	var tried, triedErrs, json transcript
	run(t.Context(), []string{"check", "--config", name}, &tried, &triedErrs)
	run(t.Context(), []string{"check", "--json", "--config", name}, &json, &triedErrs)
	cancel()
	<-done
	var exported transcript
	run(t.Context(), []string{"sessions", "--data", filepath.Join(folder, "data")}, &exported, &exported)
	for s := range strings.FieldsSeq(exported.String()) {
		if strings.HasPrefix(s, "20") && strings.Count(s, "-") > 2 {
			run(t.Context(), []string{"sessions", "export", s, "--data", filepath.Join(folder, "data")}, &exported, &exported)
		}
	}
	asked["check"], asked["check --json"], asked["check's errors"], asked["sessions"], asked["out"] = tried.String(), json.String(), triedErrs.String(), exported.String(), out.String()
	err := filepath.WalkDir(filepath.Join(folder, "data"), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := os.ReadFile(path)
		asked["file "+d.Name()] = string(text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}

	for where, text := range asked {
		for _, s := range secrets {
			if strings.Contains(text, s) {
				t.Errorf("%s: %q is in it:\n%s", where, s, text)
			}
		}
	}
	for _, want := range []string{"/steam-box Bearer first-secret-4711 ", "/steam-box Basic Ym9hdDpzZWNvbmQtc2VjcmV0LTQ3MTI= ", "/seventh-secret-4717  "} {
		if _, ok := got.Load(want); !ok {
			t.Errorf("nobody was sent %q", want)
		}
	}
	for where, want := range map[string]string{
		"log": "refuses the user or the secret (401)", "check": "sends elsewhere (302)", "check --json": "no server listens there",
		"/api/status": "is not whsec_ followed by", "sessions": `"kind":"session"`, "file settings.json": "s7", "/metrics": `steambox_output_waiting{output="gone"} 1`,
	} {
		if !strings.Contains(asked[where], want) {
			t.Errorf("%s: %q is missing:\n%.2000s", where, want, asked[where])
		}
	}
}
