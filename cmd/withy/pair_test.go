package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"crypto/tls"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"withy/cmd/withy/internal/view"
	"withy/cmd/withy/internal/web"
)

// ownAddress is an address of this machine at which it comes from elsewhere to itself.
func ownAddress(t *testing.T) string {
	t.Helper()
	all, err := net.InterfaceAddrs()
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range all {
		if ip := a.(*net.IPNet).IP; ip.To4() != nil && !ip.IsLoopback() {
			return ip.String()
		}
	}
	t.Skip("this machine has no network but its own")
	return ""
}

// printed is what a verb prints, to be read while it runs.
type printed struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (p *printed) Write(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.b.Write(b)
}

func (p *printed) String() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.b.String()
}

// find waits until what is printed matches, and returns the first group of it.
func (p *printed) find(t *testing.T, pattern string) string {
	t.Helper()
	for range 100 {
		if m := regexp.MustCompile(pattern).FindStringSubmatch(p.String()); m != nil {
			return m[1]
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatalf("no %s in %q", pattern, p)
	return ""
}

// said is what a verb prints that must go well.
func said(t *testing.T, args ...string) string {
	t.Helper()
	var out, errs bytes.Buffer
	if status := run(t.Context(), args, &out, &errs); status != 0 {
		t.Fatalf("%v: %d %s", args, status, errs.String())
	}
	return out.String()
}

// rehearsing runs a rehearsal beyond this machine, and returns its data folder and where
// its page is.
func rehearsing(t *testing.T, address string, more ...string) (data, page string) {
	t.Helper()
	data = filepath.Join(t.TempDir(), "data")
	ctx, stop := context.WithCancel(context.Background())
	out, errs, ended := &printed{}, &printed{}, make(chan int, 1)
	go func() {
		ended <- run(ctx, append([]string{"rehearse", "--listen", "0.0.0.0:0", "--hosts", address, "--data", data, "--speed", "100"}, more...), out, errs)
	}()
	t.Cleanup(func() {
		stop()
		if status := <-ended; status != 0 {
			t.Errorf("it ended with %d: %s", status, errs)
		}
	})
	return data, out.find(t, `page is at (\S+)/\n`)
}

// A phone elsewhere is shown nothing, is paired by the code that the verb prints, and is
// sent away.
func TestPairing(t *testing.T) {
	address := ownAddress(t)
	data, page := rehearsing(t, address)
	code := said(t, "pair", "--data", data)
	digits := regexp.MustCompile(`^(\d{3}) (\d{3})\n`).FindStringSubmatch(code)
	if digits == nil {
		t.Fatalf("no code in %q", code)
	}
	var shown string
	jar, _ := cookiejar.New(nil)
	phone := &http.Client{Jar: jar, Transport: &http.Transport{TLSClientConfig: &tls.Config{
		InsecureSkipVerify: true, // as a person clicks through, having compared the fingerprint
		VerifyConnection: func(s tls.ConnectionState) error {
			shown = fmt.Sprintf("%X", sha256.Sum256(s.PeerCertificates[0].Raw))
			return s.PeerCertificates[0].VerifyHostname(address)
		},
	}}}
	ask := func(method, path, body string) (int, string) {
		t.Helper()
		r, _ := http.NewRequestWithContext(t.Context(), method, page+path, strings.NewReader(body))
		r.Header.Set("Content-Type", "application/json")
		answer, err := phone.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer answer.Body.Close()
		text, err := io.ReadAll(answer.Body)
		if err != nil {
			t.Fatal(err)
		}
		return answer.StatusCode, string(text)
	}
	for _, path := range []string{"/api/status", "/api/events", "/metrics", "/report", "/api/openapi.json"} {
		if status, text := ask("GET", path, ""); status != 401 {
			t.Errorf("%s: %d %s", path, status, text)
		}
	}
	if !strings.Contains(strings.ReplaceAll(code, ":", ""), shown) {
		t.Errorf("the certificate is %s, and said is %s", shown, code)
	}
	if status, text := ask("POST", "/api/pair", `{"name":"phone","code":"`+digits[1]+digits[2]+`"}`); status != 200 {
		t.Fatal(status, text)
	}
	// The rehearsal's own fitter comes in by the socket, and has told the fill.
	var v view.View
	for range 100 {
		if status, text := ask("GET", "/api/status", ""); status != 200 || json.Unmarshal([]byte(text), &v) != nil {
			t.Fatal(status, text)
		}
		if v.Status.Water.Told {
			break
		}
		time.Sleep(50 * time.Millisecond)
	}
	if !v.Status.Water.Told {
		t.Error("the crew of the rehearsal does not work")
	}
	if status, text := ask("POST", "/api/event", `{"id":"p1","kind":"break"}`); status != 200 {
		t.Error(status, text)
	}
	var all []web.Device
	if err := json.Unmarshal([]byte(said(t, "pair", "list", "--json", "--data", data)), &all); err != nil || len(all) != 1 || all[0].Name != "phone" {
		t.Fatalf("%+v %v", all, err)
	}
	said(t, "pair", "revoke", all[0].ID, "--data", data)
	if status, text := ask("GET", "/api/status", ""); status != 401 {
		t.Errorf("sent away: %d %s", status, text)
	}
	for _, name := range []string{"keys.json", "page.pem", "door.sock"} {
		if info, err := os.Stat(filepath.Join(data, name)); err != nil || info.Mode().Perm() != 0o600 {
			t.Errorf("%s: %v %v", name, info.Mode(), err)
		}
	}
}

// On this machine nothing has to be paired, and there is no TLS.
func TestLoopbackIsTrusted(t *testing.T) {
	data := t.TempDir()
	ctx, stop := context.WithCancel(context.Background())
	out, ended := &printed{}, make(chan int, 1)
	go func() {
		ended <- run(ctx, []string{"rehearse", "--listen", "127.0.0.1:0", "--data", data}, out, io.Discard)
	}()
	defer func() { stop(); <-ended }()
	page := out.find(t, `page is at (http://127\S+)/\n`)
	r, _ := http.NewRequestWithContext(t.Context(), http.MethodPost, page+"/api/event", strings.NewReader(`{"id":"1","kind":"break"}`))
	r.Header.Set("Content-Type", "application/json")
	answer, err := http.DefaultClient.Do(r)
	if err != nil || answer.Body.Close() != nil || answer.StatusCode != http.StatusOK {
		t.Fatal(answer, err)
	}
	if _, err := os.Stat(filepath.Join(data, "page.pem")); err == nil {
		t.Error("a key was made for nothing")
	}
}

// An address that comes later is no reason not to watch.
func TestListenBeforeTheNetwork(t *testing.T) {
	l, err := listen("203.0.113.77:0") // RFC 5737: nobody has it
	if err != nil {
		t.Fatal(err)
	}
	l.Close()
}

func TestPageMistakes(t *testing.T) {
	for _, c := range []struct {
		page pageConfig
		want string // the key, and a word of what is said; empty: none
	}{
		{pageConfig{Listen: "127.0.0.1:8017", TLS: tlsOwn}, ""},
		{pageConfig{Listen: "localhost:8017", TLS: tlsOff}, ""},
		{pageConfig{Listen: "10.42.0.1:80", TLS: tlsOff}, ""},
		{pageConfig{Listen: "[::]:443", TLS: tlsOwn, Hosts: []string{"box.lan", "fd00::1", "[fd00::1]:443", "10.0.0.1:80", "under_score"}}, ""},
		{pageConfig{Listen: "8017", TLS: tlsOwn}, "listen HOST:PORT"},
		{pageConfig{Listen: "127.0.0.1:70000", TLS: tlsOwn}, "listen 65535"},
		{pageConfig{Listen: "0.0.0.0:80", TLS: tlsOwn}, "hosts empty"},
		{pageConfig{Listen: ":80", TLS: tlsOff, Hosts: []string{"box.lan"}}, "tls 10.42.0.1:80"},
		{pageConfig{Listen: "10.0.0.1:80", TLS: "on"}, "tls own, files, off"},
		{pageConfig{Listen: "10.0.0.1:80", TLS: tlsOwn, Hosts: []string{"*"}}, "hosts[0] name"},
		{pageConfig{Listen: "10.0.0.1:80", TLS: tlsOwn, Hosts: []string{"https://box.lan"}}, "hosts[0] name"},
		{pageConfig{Listen: "10.0.0.1:80", TLS: tlsOwn, Hosts: []string{""}}, "hosts[0] name"},
		{pageConfig{Listen: "10.0.0.1:80", TLS: tlsFiles}, "tls certificate and key"},
		{pageConfig{Listen: "10.0.0.1:80", TLS: tlsOwn, Key: "k"}, "tls certificate and key"},
		{pageConfig{Listen: "10.0.0.1:80", TLS: tlsFiles, Certificate: "no.crt", Key: "no.key"}, "certificate no.crt"},
		{pageConfig{Listen: "127.0.0.1:80", TLS: tlsOwn, SecurityContact: "shed@example.org"}, "security_contact mailto:"},
		{pageConfig{Listen: "127.0.0.1:80", TLS: tlsOwn, SecurityContact: "mailto:shed@example.org"}, ""},
	} {
		got := c.page.mistakes()
		key, word, _ := strings.Cut(c.want, " ")
		if len(got) != min(len(c.want), 1) || len(got) == 1 && (got[0].key != key || !strings.Contains(got[0].says, word)) {
			t.Errorf("%+v: %v, want %q", c.page, got, c.want)
		}
	}
}
