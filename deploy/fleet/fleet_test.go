package fleet_test

import (
	"bufio"
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"encoding/pem"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"go.yaml.in/yaml/v3"

	"withy/deploy/freeport"
)

// Three rehearsal boxes, paired and over TLS by their own certificates, are scraped by a
// real Prometheus with the rules that are here, one of them is left to boil dry, and a real
// Alertmanager tells it to somebody who listens, once that it is so and once that it is over.
// Only the waiting is made shorter than in the files that are tried.
func TestABoilerRunsDry(t *testing.T) {
	shop := &school{withy: build(t), dir: t.TempDir(), address: ownAddress(t)}
	dry := shop.rehearse(t, "--alone", "--scenario", "boils-dry", "--speed", "250")
	shop.rehearse(t, "--scenario", "good", "--speed", "150")
	shop.rehearse(t, "--scenario", "cold-door", "--speed", "150")
	heard := &receiver{}
	listening := httptest.NewServer(heard)
	t.Cleanup(listening.Close)
	alertmanager := startAlertmanager(t, listening.URL)
	prometheus := shop.startPrometheus(t, alertmanager)

	eventually(t, 30*time.Second, "all three are scraped", func() bool { return prometheus.value(t, `sum(up{job="withy"})`) == 3 })
	eventually(t, 30*time.Second, "the watch says that it watches", func() bool { return heard.got("still-watching", "StillWatching", "", "firing") })
	eventually(t, 2*time.Minute, "the dry boiler is told", func() bool { return heard.got("danger", "BoilerDry", "1", "firing") })
	showsSomething(t, prometheus)
	// Its steam fell first; that there is no water left by any reckoning comes minutes later.
	eventually(t, time.Minute, "it is dry for certain, and that is what was told last", func() bool {
		return prometheus.value(t, `steambox_water_dry_seconds{box="1", bound="high"} == bool 0`) == 1 && heard.got("danger", "BoilerDry", "1", "firing")
	})
	dry.tell(t, `{"id":"fleet-1","kind":"heat","on":false}`)
	dry.tell(t, `{"id":"fleet-2","kind":"heard","alarm":"boiler-dry"}`)
	eventually(t, time.Minute, "it is told that it is over", func() bool { return heard.got("danger", "BoilerDry", "1", "resolved") })
	for _, box := range []string{"2", "3"} {
		if status := heard.last("danger", "BoilerDry", box); status != "" {
			t.Errorf("box %s is told as dry: %s", box, status)
		}
	}
}

// showsSomething waits until each query of the dashboard has shown something.
func showsSomething(t *testing.T, s *server) {
	t.Helper()
	var empty []string
	for _, p := range readDashboard(t).Panels {
		for _, target := range p.Targets {
			empty = append(empty, shown.Replace(target.Expr))
		}
	}
	defer func() {
		for _, expr := range empty {
			t.Errorf("the dashboard shows nothing for %s", expr)
		}
	}()
	eventually(t, time.Minute, "every panel of the dashboard has shown something", func() bool {
		empty = slices.DeleteFunc(empty, func(expr string) bool { return len(s.query(t, expr)) > 0 })
		return len(empty) == 0
	})
}

// shown puts what Grafana would for the dashboard's variables.
var shown = strings.NewReplacer("$shop", ".*", "$box", ".*")

// build builds the program as it is now.
func build(t *testing.T) string {
	t.Helper()
	withy := filepath.Join(t.TempDir(), "withy")
	if out, err := exec.Command("go", "build", "-o", withy, "../../cmd/withy").CombinedOutput(); err != nil {
		t.Fatalf("build: %v\n%s", err, out)
	}
	return withy
}

// school has boxes on a network, paired, each with the certificate that it made for itself.
type school struct {
	withy, dir, address string
	boxes               []box
}

// box is one of them.
type box struct {
	withy, data, at string
	trust           *x509.CertPool
}

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

// rehearse starts a rehearsal box, takes its certificate as known, and has it let in what
// scrapes all of them by one token.
func (s *school) rehearse(t *testing.T, args ...string) box {
	t.Helper()
	b := box{withy: s.withy, data: t.TempDir(), trust: x509.NewCertPool()}
	b.at = rehearse(t, s.withy, append([]string{"--listen", "0.0.0.0:0", "--hosts", s.address, "--data", b.data}, args...)...)
	conn, err := tls.Dial("tcp", b.at, &tls.Config{InsecureSkipVerify: true}) //nolint:gosec // it was started here
	if err != nil {
		t.Fatal(err)
	}
	own := conn.ConnectionState().PeerCertificates[0]
	conn.Close()
	b.trust.AddCert(own)
	known, err := os.OpenFile(filepath.Join(s.dir, "boxes.pem"), os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o600)
	if err == nil {
		err = errors.Join(pem.Encode(known, &pem.Block{Type: "CERTIFICATE", Bytes: own.Raw}), known.Close())
	}
	if err != nil {
		t.Fatal(err)
	}
	token := filepath.Join(s.dir, "withy.token")
	if len(s.boxes) == 0 {
		if err := os.WriteFile(token, []byte(b.pair(t, "--token", "prometheus", "--view")), 0o600); err != nil {
			t.Fatal(err)
		}
	} else {
		b.pair(t, "--token", "prometheus", "--view", "--token-file", token)
	}
	s.boxes = append(s.boxes, b)
	return b
}

// pair runs the verb beside the box and returns what it prints.
func (b *box) pair(t *testing.T, args ...string) string {
	t.Helper()
	out, err := exec.Command(b.withy, append([]string{"pair", "--data", b.data}, args...)...).Output()
	if err != nil {
		t.Fatalf("pair %v: %v", args, err)
	}
	return string(out)
}

// tell tells the box an event, as somebody of the crew.
func (b *box) tell(t *testing.T, event string) {
	t.Helper()
	client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: b.trust}}}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, "https://"+b.at+"/api/event", strings.NewReader(event))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Authorization", "Bearer "+strings.TrimSpace(b.pair(t, "--token", "crew")))
	answer, err := client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	if said, _ := io.ReadAll(answer.Body); answer.StatusCode != http.StatusOK {
		t.Fatalf("%s: %s %s", event, answer.Status, said)
	}
}

var pageAt = regexp.MustCompile(`https?://([0-9.:]+)/`)

// rehearse starts a rehearsal box and returns where it is, HOST:PORT.
func rehearse(t *testing.T, withy string, args ...string) string {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), withy, append([]string{"rehearse", "--listen", "127.0.0.1:0"}, args...)...)
	cmd.Env = append(os.Environ(), "TMPDIR="+t.TempDir())
	cmd.Cancel = func() error { return cmd.Process.Signal(os.Interrupt) }
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Wait() }) // ended by the context
	for lines := bufio.NewScanner(out); lines.Scan(); {
		if at := pageAt.FindStringSubmatch(lines.Text()); at != nil {
			return at[1]
		}
	}
	t.Fatal("the rehearsal does not say where its page is")
	return ""
}

// peer starts another program, which answers at an address when it is ready, and ends it
// after the test. What it said is shown where the test fails.
func peer(t *testing.T, at, ready, program string, args ...string) *os.Process {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), program, args...)
	var said bytes.Buffer
	cmd.Stdout, cmd.Stderr = &said, &said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = cmd.Wait() // ended by the context
		if t.Failed() {
			t.Logf("%s said:\n%s", program, said.String())
		}
	})
	eventually(t, time.Minute, program+" is ready", func() bool {
		answer, err := http.Get("http://" + at + ready)
		if err != nil {
			return false
		}
		answer.Body.Close()
		return answer.StatusCode == http.StatusOK
	})
	return cmd.Process
}

// altered writes a YAML file that is here to dir, with some of it changed.
func altered(t *testing.T, name, dir string, change func(file map[string]any)) string {
	t.Helper()
	var file map[string]any
	readYAML(t, name, &file)
	change(file)
	text, err := yaml.Marshal(file)
	if err == nil {
		err = os.WriteFile(filepath.Join(dir, name), text, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	return filepath.Join(dir, name)
}

func startAlertmanager(t *testing.T, listener string) (at string) {
	t.Helper()
	dir, at := t.TempDir(), freeport.Find(t)
	config := altered(t, "alertmanager.yml", dir, func(file map[string]any) {
		var hasten func(route map[string]any)
		hasten = func(route map[string]any) {
			for _, key := range []string{"group_wait", "group_interval"} {
				if _, set := route[key]; set && route[key] != "0s" {
					route[key] = "1s"
				}
			}
			for _, r := range list(route["routes"]) {
				hasten(r)
			}
		}
		hasten(file["route"].(map[string]any))
		for _, r := range list(file["receivers"]) {
			list(r["webhook_configs"])[0]["url"] = listener + "/" + r["name"].(string)
		}
	})
	peer(t, at, "/-/ready", "prometheus-alertmanager", "--config.file="+config, "--storage.path="+dir,
		"--web.listen-address="+at, "--cluster.listen-address=")
	return at
}

func list(of any) []map[string]any {
	var out []map[string]any
	items, _ := of.([]any)
	for _, x := range items {
		out = append(out, x.(map[string]any))
	}
	return out
}

// server is a Prometheus that runs.
type server struct {
	at, data string
	process  *os.Process
}

// startPrometheus scrapes the boxes as prometheus.yml has it, with what it names beside it.
func (s *school) startPrometheus(t *testing.T, alertmanager string) *server {
	t.Helper()
	rules, err := filepath.Abs("rules.yml")
	if err != nil {
		t.Fatal(err)
	}
	var targets []map[string]any
	for i, b := range s.boxes {
		targets = append(targets, map[string]any{"targets": []string{b.at}, "labels": map[string]string{"shop": "school", "box": fmt.Sprint(i + 1)}})
	}
	text, err := yaml.Marshal(targets)
	if err == nil {
		err = errors.Join(os.Mkdir(filepath.Join(s.dir, "boxes"), 0o700), os.WriteFile(filepath.Join(s.dir, "boxes", "all.yml"), text, 0o600))
	}
	if err != nil {
		t.Fatal(err)
	}
	config := altered(t, "prometheus.yml", s.dir, func(file map[string]any) {
		global := file["global"].(map[string]any)
		global["scrape_interval"], global["scrape_timeout"], global["evaluation_interval"] = "500ms", "500ms", "500ms"
		file["rule_files"] = []string{rules}
		list(file["alerting"].(map[string]any)["alertmanagers"])[0]["static_configs"].([]any)[0].(map[string]any)["targets"] = []string{alertmanager}
	})
	return runPrometheus(t, config, s.dir)
}

func runPrometheus(t *testing.T, config, dir string) *server {
	t.Helper()
	s := &server{at: freeport.Find(t), data: filepath.Join(dir, "data")}
	s.process = peer(t, s.at, "/-/ready", "prometheus", "--config.file="+config, "--storage.tsdb.path="+s.data,
		"--web.listen-address="+s.at, "--web.enable-admin-api", "--log.level=warn",
		// What fires before it has found its Alertmanager, in the first five seconds, is sent again.
		"--rules.alert.resend-delay=1s")
	return s
}

// query asks for an expression and returns the values of its series.
func (s *server) query(t *testing.T, expr string) []float64 {
	t.Helper()
	var answer struct {
		Status, Error string
		Data          struct {
			Result []struct{ Value [2]any }
		}
	}
	getJSON(t, "http://"+s.at+"/api/v1/query?query="+url.QueryEscape(expr), &answer)
	if answer.Status != "success" {
		t.Fatalf("%s: %s", expr, answer.Error)
	}
	out := []float64{}
	for _, r := range answer.Data.Result {
		var x float64
		if _, err := fmt.Sscan(r.Value[1].(string), &x); err != nil {
			t.Fatalf("%s: %v", expr, err)
		}
		out = append(out, x)
	}
	return out
}

// value returns the value of an expression of one series, 0 where there is none yet.
func (s *server) value(t *testing.T, expr string) float64 {
	t.Helper()
	if values := s.query(t, expr); len(values) > 0 {
		return values[0]
	}
	return 0
}

func getJSON(t *testing.T, from string, to any) {
	t.Helper()
	answer, err := http.Get(from)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	if err := json.NewDecoder(answer.Body).Decode(to); err != nil {
		t.Fatalf("%s: %v", from, err)
	}
}

// receiver is somebody whom Alertmanager tells.
type receiver struct {
	mu   sync.Mutex
	told map[[3]string]string // the status that came last, by where, alert and box
}

// ServeHTTP takes what Alertmanager's webhook sends.
func (r *receiver) ServeHTTP(w http.ResponseWriter, q *http.Request) {
	var message struct {
		Alerts []struct {
			Status string
			Labels map[string]string
		}
	}
	if err := json.NewDecoder(q.Body).Decode(&message); err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.told == nil {
		r.told = map[[3]string]string{}
	}
	for _, a := range message.Alerts {
		r.told[[3]string{strings.TrimPrefix(q.URL.Path, "/"), a.Labels["alertname"], a.Labels["box"]}] = a.Status
	}
}

// last returns the status of an alert that was told last, "" where none was.
func (r *receiver) last(where, alert, box string) string {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.told[[3]string{where, alert, box}]
}

func (r *receiver) got(where, alert, box, status string) bool {
	return r.last(where, alert, box) == status
}

// eventually waits until something is so.
func eventually(t *testing.T, within time.Duration, what string, so func() bool) {
	t.Helper()
	begun := time.Now()
	ctx, cancel := context.WithTimeout(t.Context(), within)
	defer cancel()
	for !so() {
		select {
		case <-ctx.Done():
			t.Fatalf("not within %s: %s", within, what)
		case <-time.After(100 * time.Millisecond):
		}
	}
	t.Logf("after %5.1fs: %s", time.Since(begun).Seconds(), what)
}
