package hail

import (
	"context"
	"encoding/pem"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"withy/alert"
	"withy/deploy/freeport"
)

const secretText = "tk-0123456789-nobody-may-see"

func secretFile(t *testing.T, mode os.FileMode) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "secret")
	if err := os.WriteFile(name, []byte(secretText+"\n"), mode); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(name, mode); err != nil {
		t.Fatal(err)
	}
	return name
}

func address(t *testing.T, text string) *url.URL {
	t.Helper()
	u, err := url.Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	return u
}

func topicAt(t *testing.T, text string) *Topic {
	return &Topic{
		Post: Post{URL: address(t, text), Secret: Secret{File: secretFile(t, 0o600)}}, Topic: "hidden-topic",
		Title: "Title", Priority: "Priority", Tags: "Tags", Priorities: map[alert.Priority]string{alert.High: "urgent", alert.Low: "low"},
	}
}

func oneAlarm() Notice {
	a := alert.Alarm{ID: alert.DryNow, Title: "Dry now", Priority: alert.High, State: alert.Raised, Count: 1, Consequence: "It runs dry.", Do: []string{"Pour.", "Heat off."}}
	return Notice{Box: "Hütte", Session: "s1", Alarms: []Alarm{{Key: "s1/dry-now/1", Alarm: a, New: true}}}
}

func TestTopic(t *testing.T) {
	var got *http.Request
	var body string
	server := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		text, _ := io.ReadAll(r.Body)
		got, body = r, string(text)
	}))
	defer server.Close()
	way := topicAt(t, server.URL+"/base")
	if err := way.Send(t.Context(), oneAlarm()); err != nil {
		t.Fatal(err)
	}
	h := got.Header
	if got.Method != http.MethodPost || got.URL.Path != "/base/hidden-topic" || h.Get("Title") != "Dry now" || h.Get("Priority") != "urgent" ||
		h.Get("Tags") != "dry-now" || h.Get("Authorization") != "Bearer "+secretText {
		t.Errorf("%s %s %v", got.Method, got.URL, h)
	}
	if body != "Hütte.\nDry now: It runs dry. Pour. Heat off." {
		t.Errorf("%q", body)
	}
	way.User, way.Tags = "me", ""
	if err := way.Send(t.Context(), Notice{Box: "Hütte", Test: true}); err != nil {
		t.Fatal(err)
	}
	// RFC 2047, 4.2: what is not ASCII goes into a header as an encoded word.
	if user, password, ok := got.BasicAuth(); !ok || user != "me" || password != secretText || got.Header.Get("Tags") != "" ||
		got.Header.Get("Title") != "=?utf-8?q?A_test_from_H=C3=BCtte?=" || got.Header.Get("Priority") != "low" {
		t.Errorf("%v", got.Header)
	}
}

// A server that fails in every way that servers do. Each is said in words, without secret or
// topic, and within the time that the sender allows.
func TestServerThatFails(t *testing.T) {
	elsewhere := 0
	other := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { elsewhere++ }))
	defer other.Close()
	hold := make(chan struct{})
	defer close(hold)
	cases := []struct {
		name   string
		answer http.HandlerFunc
		says   string
		after  time.Duration
	}{
		{"500", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusInternalServerError) }, "status 500", 0},
		{"429", func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Retry-After", "90")
			w.WriteHeader(http.StatusTooManyRequests)
		}, "left alone", 90 * time.Second},
		{"429 with a date", func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Date", "Mon, 01 Jan 2001 00:00:00 GMT") // a clock of its own
			w.Header().Set("Retry-After", "Mon, 01 Jan 2001 00:03:00 GMT")
			w.WriteHeader(http.StatusTooManyRequests)
		}, "left alone", 3 * time.Minute},
		{"503 with nonsense", func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Retry-After", "-5 soon")
			w.WriteHeader(http.StatusServiceUnavailable)
		}, "status 503", 0},
		{"401", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusUnauthorized) }, "user or the secret", 0},
		{"404", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusNotFound) }, "url and topic", 0},
		{"redirect", func(w http.ResponseWriter, r *http.Request) {
			http.Redirect(w, r, other.URL, http.StatusTemporaryRedirect)
		}, "elsewhere (307)", 0},
		{"a page", func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Type", "text/html; charset=utf-8")
			fmt.Fprint(w, "<html>sign in</html>")
		}, "web page", 0},
		{"hangs", func(_ http.ResponseWriter, r *http.Request) {
			_, _ = io.Copy(io.Discard, r.Body) // else the server doesn't see that the client has gone
			select {
			case <-hold:
			case <-r.Context().Done():
			}
		}, "no answer in time", 0},
		{"resets", func(w http.ResponseWriter, _ *http.Request) {
			c, _, err := http.NewResponseController(w).Hijack()
			if err != nil {
				return
			}
			_ = c.(*net.TCPConn).SetLinger(0) // so that closing resets
			c.Close()
		}, "broke off", 0},
		{"endless headers", func(w http.ResponseWriter, _ *http.Request) {
			for i := range 2000 {
				w.Header().Set(fmt.Sprint("X-", i), "0123456789")
			}
		}, "broke off", 0},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			server := httptest.NewServer(c.answer)
			defer server.Close()
			ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
			defer cancel()
			failed(t, topicAt(t, server.URL).Send(ctx, oneAlarm()), c.says, c.after)
		})
	}
	if elsewhere != 0 {
		t.Errorf("%d redirects were followed", elsewhere)
	}
}

// failed checks that a send failed in the right words.
func failed(t *testing.T, err error, says string, after time.Duration) {
	t.Helper()
	f, ok := errors.AsType[*Failure](err)
	if !ok || !strings.Contains(f.Says, says) || f.After != after {
		t.Errorf("%#v, want %q after %v", err, says, after)
	}
	if err != nil && (strings.Contains(err.Error(), secretText) || strings.Contains(err.Error(), "hidden-topic")) {
		t.Errorf("a secret is in %q", err)
	}
}

// A long body is not read to its end.
func TestAnswerWithoutEnd(t *testing.T) {
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		for r.Context().Err() == nil {
			if _, err := w.Write(make([]byte, 4096)); err != nil {
				return
			}
		}
	}))
	defer server.Close()
	ctx, cancel := context.WithTimeout(t.Context(), 5*time.Second)
	defer cancel()
	if err := topicAt(t, server.URL).Send(ctx, oneAlarm()); err != nil || ctx.Err() != nil {
		t.Errorf("%v, %v", err, ctx.Err())
	}
}

func TestUnreachable(t *testing.T) {
	failed(t, topicAt(t, "http://"+freeport.Find(t)).Send(t.Context(), oneAlarm()), "no server listens", 0)
	// RFC 6761, 6.4: names under invalid never exist.
	ctx, cancel := context.WithTimeout(t.Context(), 5*time.Second)
	defer cancel()
	failed(t, topicAt(t, "http://shop.invalid").Send(ctx, oneAlarm()), "not known here", 0)
}

func TestCertificates(t *testing.T) {
	server := httptest.NewTLSServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) {}))
	defer server.Close()
	server.Config.ErrorLog = nil
	stranger := topicAt(t, server.URL)
	failed(t, stranger.Send(t.Context(), oneAlarm()), "ca_file", 0)
	failed(t, topicAt(t, strings.Replace(server.URL, "https", "http", 1)).Send(t.Context(), oneAlarm()), "status 400", 0)
	known := topicAt(t, server.URL)
	known.Authority = filepath.Join(t.TempDir(), "ca.pem")
	failed(t, known.Send(t.Context(), oneAlarm()), "can't be read", 0)
	if err := os.WriteFile(known.Authority, []byte("nothing"), 0o600); err != nil {
		t.Fatal(err)
	}
	failed(t, known.Send(t.Context(), oneAlarm()), "no certificate", 0)
	text := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: server.Certificate().Raw})
	if err := os.WriteFile(known.Authority, text, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := known.Send(t.Context(), oneAlarm()); err != nil {
		t.Errorf("put right, and still %v", err)
	}
	_, port, err := net.SplitHostPort(server.Listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	named := topicAt(t, "https://localhost:"+port) // the certificate is for 127.0.0.1 and example.com
	named.Authority = known.Authority
	failed(t, named.Send(t.Context(), oneAlarm()), "another name", 0)
	plain := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) {}))
	defer plain.Close()
	failed(t, topicAt(t, strings.Replace(plain.URL, "http", "https", 1)).Send(t.Context(), oneAlarm()), "doesn't speak TLS", 0)
}

func TestSecrets(t *testing.T) {
	if got, err := (Secret{File: secretFile(t, 0o600)}).Read(); err != nil || got != secretText {
		t.Errorf("%q, %v", got, err)
	}
	for _, mode := range []os.FileMode{0o640, 0o604, 0o644} {
		_, err := Secret{File: secretFile(t, mode)}.Read()
		failed(t, err, "chmod 600", 0)
	}
	folder := t.TempDir()
	_, err := Secret{File: folder}.Read()
	failed(t, err, "not a file", 0)
	_, err = Secret{File: folder + "/none"}.Read()
	failed(t, err, "no such file", 0)
	for _, bad := range []string{"", "\n", "two\nlines", "bell\a", strings.Repeat("x", mostSecret+1)} {
		name := filepath.Join(folder, "bad")
		if err := os.WriteFile(name, []byte(bad), 0o600); err != nil {
			t.Fatal(err)
		}
		_, err := Secret{File: name}.Read()
		failed(t, err, "one line", 0)
	}
	// systemd hands credentials as files of a folder that only the service can enter, and sets
	// the variable (systemd.exec(5)).
	_, err = Secret{Credential: "phone"}.Read()
	failed(t, err, "LoadCredential=phone", 0)
	t.Setenv("CREDENTIALS_DIRECTORY", folder)
	if err := os.WriteFile(filepath.Join(folder, "phone"), []byte(secretText), 0o440); err != nil {
		t.Fatal(err)
	}
	if got, err := (Secret{Credential: "phone"}).Read(); err != nil || got != secretText {
		t.Errorf("%q, %v", got, err)
	}
}
