package hail

import (
	"bufio"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/json"
	"encoding/pem"
	"fmt"
	"io"
	"log/slog"
	"math/big"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"withy/alert"
	"withy/deploy/freeport"
)

// debianBroker is Debian's broker with TLS, a user and a rule where that user may write.
type debianBroker struct {
	at     string // host and port
	folder string
	cmd    *exec.Cmd
}

func program(t *testing.T, name, from string) string {
	t.Helper()
	if testing.Short() {
		t.Skip("starts a broker")
	}
	path, err := exec.LookPath(name)
	if err != nil {
		t.Fatalf("%s is not installed: deploy/test installs %s", name, from)
	}
	return path
}

func write(t *testing.T, name, text string) string {
	t.Helper()
	if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return name
}

// certificates writes an authority and a server's certificate for 127.0.0.1 that it vouches for.
func certificates(t *testing.T, folder string) {
	t.Helper()
	store := func(name, kind string, der []byte) {
		write(t, filepath.Join(folder, name), string(pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der})))
	}
	template := func(n int64, name string) *x509.Certificate {
		return &x509.Certificate{
			SerialNumber: big.NewInt(n), Subject: pkix.Name{CommonName: name}, NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		}
	}
	ca, server := template(1, "shop"), template(2, "broker")
	ca.IsCA, ca.BasicConstraintsValid, ca.KeyUsage = true, true, x509.KeyUsageCertSign
	server.IPAddresses = []net.IP{net.IPv4(127, 0, 0, 1)}
	caKey, err1 := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	key, err2 := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err1 != nil || err2 != nil {
		t.Fatal(err1, err2)
	}
	caDER, err1 := x509.CreateCertificate(rand.Reader, ca, ca, caKey.Public(), caKey)
	der, err2 := x509.CreateCertificate(rand.Reader, server, ca, key.Public(), caKey)
	keyDER, err3 := x509.MarshalPKCS8PrivateKey(key)
	if err1 != nil || err2 != nil || err3 != nil {
		t.Fatal(err1, err2, err3)
	}
	store("ca.pem", "CERTIFICATE", caDER)
	store("server.pem", "CERTIFICATE", der)
	store("server.key", "PRIVATE KEY", keyDER)
}

func newBroker(t *testing.T) *debianBroker {
	t.Helper()
	program(t, "mosquitto", "mosquitto")
	m := &debianBroker{at: freeport.Find(t), folder: t.TempDir()}
	certificates(t, m.folder)
	_, port, err := net.SplitHostPort(m.at)
	if err != nil {
		t.Fatal(err)
	}
	passwords := filepath.Join(m.folder, "passwords")
	if out, err := exec.Command(program(t, "mosquitto_passwd", "mosquitto"), "-c", "-b", passwords, "board", secretText).CombinedOutput(); err != nil {
		t.Fatalf("mosquitto_passwd: %v: %s", err, out)
	}
	rules := write(t, filepath.Join(m.folder, "rules"), "user board\ntopic readwrite shop/#\n")
	write(t, filepath.Join(m.folder, "conf"), fmt.Sprintf(`user root
listener %[1]s 127.0.0.1
cafile %[2]s/ca.pem
certfile %[2]s/server.pem
keyfile %[2]s/server.key
password_file %[3]s
acl_file %[4]s
allow_anonymous false
`, port, m.folder, passwords, rules))
	m.start(t)
	t.Cleanup(m.stop)
	return m
}

func (m *debianBroker) start(t *testing.T) {
	t.Helper()
	m.cmd = exec.Command(program(t, "mosquitto", "mosquitto"), "-c", filepath.Join(m.folder, "conf"))
	if err := m.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	for range 100 {
		if c, err := net.Dial("tcp", m.at); err == nil {
			c.Close()
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatal("the broker does not start")
}

func (m *debianBroker) stop() {
	_ = m.cmd.Process.Kill()
	_ = m.cmd.Wait()
}

// way is the output as it should be.
func (m *debianBroker) way(t *testing.T) *MQTT {
	return &MQTT{
		URL: address(t, "mqtts://"+m.at), Authority: filepath.Join(m.folder, "ca.pem"), User: "board",
		Secret: Secret{File: secretFile(t, 0o600)}, Topic: "shop/box",
	}
}

// heardBy is what a subscriber was told, by Debian's mosquitto_sub.
type heardBy struct {
	mu    sync.Mutex
	lines []string // topic, whether it was retained when the subscriber came, and text
}

// subscribe listens until the test ends.
func (m *debianBroker) subscribe(t *testing.T) *heardBy {
	t.Helper()
	host, port, err := net.SplitHostPort(m.at)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("stdbuf", "-oL", program(t, "mosquitto_sub", "mosquitto-clients"), "-V", "5", "-h", host, "-p", port, "-u", "board", "-P", secretText,
		"--cafile", filepath.Join(m.folder, "ca.pem"), "-q", "1", "-t", "shop/#", "-F", "%t %r %p", "-d")
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() })
	h := &heardBy{}
	defer h.wait(t, "Subscribed")
	go func() {
		for s := bufio.NewScanner(out); s.Scan(); {
			h.mu.Lock()
			h.lines = append(h.lines, s.Text())
			h.mu.Unlock()
		}
	}()
	return h
}

func (h *heardBy) all() []string {
	h.mu.Lock()
	defer h.mu.Unlock()
	return slices.Clone(h.lines)
}

// wait waits for a line that begins so and returns it.
func (h *heardBy) wait(t *testing.T, begin string, contains ...string) string {
	t.Helper()
	for range 400 {
		for _, l := range h.all() {
			if strings.HasPrefix(l, begin) && !slices.ContainsFunc(contains, func(s string) bool { return !strings.Contains(l, s) }) {
				return l
			}
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatalf("nothing like %q with %q in %q", begin, contains, h.all())
	return ""
}

// hailing runs outputs in real time.
func hailing(t *testing.T, outputs ...Output) (h *Hails, stop func()) {
	t.Helper()
	h = New(outputs, slog.New(slog.DiscardHandler))
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { defer close(done); h.Run(ctx) }()
	stop = func() { cancel(); <-done }
	t.Cleanup(stop)
	return h, stop
}

func byBroker(way *MQTT) Output {
	return Output{Name: "broker", Kind: "mqtt", Way: way, Least: alert.Low}
}

// alarmsOf is the body in a line.
func alarmsOf(t *testing.T, line string) Body {
	t.Helper()
	var b Body
	if err := json.Unmarshal([]byte(strings.SplitN(line, " ", 3)[2]), &b); err != nil {
		t.Fatalf("%v in %q", err, line)
	}
	return b
}

// How things stand is retained, with nothing up too; whoever comes later knows; test messages are
// not retained; and once the daemon has gone the broker says so.
func TestBroker(t *testing.T) {
	t.Parallel()
	m := newBroker(t)
	early := m.subscribe(t)
	h, stop := hailing(t, byBroker(m.way(t)))
	h.Hand(seen())
	if l := early.wait(t, "shop/box/online"); l != "shop/box/online 0 true" {
		t.Error(l)
	}
	if b := alarmsOf(t, early.wait(t, "shop/box/alarms", `"alarms":[]`)); b.Type != "alarms" || b.Data.Box != "steam box" {
		t.Errorf("%+v", b)
	}
	h.Hand(seen(raised(alert.DryNow, alert.High)))
	b := alarmsOf(t, early.wait(t, "shop/box/alarms", "dry-now"))
	if a := b.Data.Alarms; len(a) != 1 || a[0].Key != "s1/dry-now/1" || !a[0].New || a[0].Over || a[0].Priority != alert.High {
		t.Errorf("%+v", b)
	}
	late := m.subscribe(t)
	late.wait(t, "shop/box/alarms 1", "dry-now")
	if l := late.wait(t, "shop/box/online"); l != "shop/box/online 1 true" {
		t.Error(l)
	}
	// check, while the daemon runs: it comes and goes, and the daemon stays.
	if got := New([]Output{byBroker(m.way(t))}, nil).Try(t.Context(), "steam box"); !got[0].OK {
		t.Errorf("%+v", got)
	}
	late.wait(t, "shop/box/test 0", `"type":"test"`)
	if got := h.Try(t.Context(), "steam box"); !got[0].OK {
		t.Errorf("%+v", got)
	}
	h.Hand(seen())
	late.wait(t, "shop/box/alarms 0", `"over":true`)
	if slices.Contains(late.all(), "shop/box/online 0 false") {
		t.Errorf("check pushed the daemon off: %q", late.all())
	}
	if s := h.Standing()[0]; s.Fails != "" || s.Waiting != 0 || s.GoodS == nil {
		t.Errorf("%+v", s)
	}
	stop()
	late.wait(t, "shop/box/online 0 false")
	last := m.subscribe(t)
	last.wait(t, "shop/box/online 1 false")
	if l := last.all(); slices.ContainsFunc(l, func(s string) bool { return strings.HasPrefix(s, "shop/box/test") }) {
		t.Errorf("a test message was retained: %q", l)
	}
}

// relay carries connections to a broker until it is cut off; then nothing more passes, and nobody
// is told.
type relay struct {
	net.Listener
	mu    sync.Mutex
	pairs []net.Conn
	stuck bool
}

func newRelay(t *testing.T, to string) *relay {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	r := &relay{Listener: l}
	t.Cleanup(func() { l.Close(); r.close() })
	go func() {
		for {
			from, err := l.Accept()
			if err != nil {
				return
			}
			into, err := net.Dial("tcp", to)
			if err != nil {
				from.Close()
				continue
			}
			r.mu.Lock()
			r.pairs = append(r.pairs, from, into)
			r.mu.Unlock()
			go r.carry(from, into)
			go r.carry(into, from)
		}
	}()
	return r
}

func (r *relay) carry(from, to net.Conn) {
	b := make([]byte, 4096)
	for {
		n, err := from.Read(b)
		r.mu.Lock()
		stuck := r.stuck
		r.mu.Unlock()
		if stuck && err == nil {
			continue
		}
		if stuck {
			return
		}
		if _, werr := to.Write(b[:n]); err != nil || werr != nil {
			from.Close()
			to.Close()
			return
		}
	}
}

func (r *relay) hang() {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.stuck = true
}

func (r *relay) close() {
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, c := range r.pairs {
		c.Close()
	}
}

// A board that dies is told of by its last will, and one that comes back takes over what it left
// behind, so that the old will does not stand in the end.
func TestWill(t *testing.T) {
	t.Parallel()
	m := newBroker(t)
	h := m.subscribe(t)
	r := newRelay(t, m.at)
	dead := m.way(t)
	dead.URL = address(t, "mqtts://"+r.Addr().String())
	_, stop := hailing(t, byBroker(dead))
	h.wait(t, "shop/box/online 0 true")
	r.close() // as when the board loses its power and the network says so
	h.wait(t, "shop/box/online 0 false")
	h.times(t, 2, "shop/box/online 0 true")
	stop()
	h.times(t, 2, "shop/box/online 0 false")

	// The same board, started again while the broker still believes in the connection before.
	r = newRelay(t, m.at)
	hung := m.way(t)
	hung.URL = address(t, "mqtts://"+r.Addr().String())
	hailing(t, byBroker(hung))
	h.times(t, 3, "shop/box/online 0 true")
	r.hang()
	hailing(t, byBroker(m.way(t)))
	h.times(t, 4, "shop/box/online 0 true")
	time.Sleep(time.Second) // a will that came late would be here by now
	last := m.subscribe(t)
	if l := last.wait(t, "shop/box/online"); l != "shop/box/online 1 true" {
		t.Error(l)
	}
	h.times(t, 3, "shop/box/online 0 false")
}

// times waits until a line was there so often, and no more often.
func (h *heardBy) times(t *testing.T, want int, line string) {
	t.Helper()
	got := 0
	for range 400 {
		got = 0
		for _, l := range h.all() {
			if l == line {
				got++
			}
		}
		if got >= want {
			break
		}
		time.Sleep(50 * time.Millisecond)
	}
	if got != want {
		t.Errorf("%q %d times, want %d: %q", line, got, want, h.all())
	}
}

// The broker is restarted in mid-run, and has forgotten everything: the newest state goes first,
// and twenty alarms of the meantime are at most three messages.
func TestBrokerRestarted(t *testing.T) {
	t.Parallel()
	m := newBroker(t)
	h, _ := hailing(t, byBroker(m.way(t)))
	before := m.subscribe(t)
	h.Hand(seen(raised(alert.ColdEnd, alert.Medium)))
	before.wait(t, "shop/box/alarms", "cold-end")
	m.stop()
	for i := range 20 {
		h.Hand(seen(raised(alert.ColdEnd, alert.Medium), raised(alert.ID(fmt.Sprint("short-", i)), alert.Medium)))
		time.Sleep(20 * time.Millisecond)
	}
	h.Hand(seen(raised(alert.DryNow, alert.High)))
	time.Sleep(time.Second)
	if s := h.Standing()[0]; s.Fails == "" || s.Waiting < 20 {
		t.Errorf("while it is away: %+v", s)
	}
	m.start(t)
	after := m.subscribe(t)
	first := after.wait(t, "shop/box/alarms")
	if a := alarmsOf(t, first).Data.Alarms; len(a) == 0 || a[0].ID != alert.DryNow || a[0].Over {
		t.Errorf("the first message after it came back: %s", first)
	}
	time.Sleep(2*gap + time.Second)
	n := 0
	for _, l := range after.all() {
		if strings.HasPrefix(l, "shop/box/alarms") {
			n++
		}
	}
	if s := h.Standing()[0]; n > 3 || s.Waiting != 0 || s.Fails != "" {
		t.Errorf("%d messages, %+v", n, s)
	}
	after.wait(t, "shop/box/online", "true")
}

// What is wrong with a broker is said in words, by check and by the daemon alike, and the secret
// is in none of them.
func TestBrokerThatRefuses(t *testing.T) {
	t.Parallel()
	m := newBroker(t)
	other := t.TempDir()
	certificates(t, other)
	plain := newRelay(t, m.at) // not TLS to who speaks to it in the clear
	page, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { page.Close() })
	go func() {
		for {
			c, err := page.Accept()
			if err != nil {
				return
			}
			_, _ = io.WriteString(c, "HTTP/1.1 400 Bad Request\r\n\r\n")
			c.Close()
		}
	}()
	hung, err := net.Listen("tcp", "127.0.0.1:0") // takes connections and never says a word
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { hung.Close() })
	wrong := func(change func(*MQTT)) *MQTT {
		w := m.way(t)
		change(w)
		return w
	}
	for name, c := range map[string]struct {
		way  *MQTT
		says string
	}{
		"wrong user":       {wrong(func(w *MQTT) { w.User = "nobody" }), "refuses the user or the secret"},
		"wrong secret":     {wrong(func(w *MQTT) { w.Secret.File = write(t, other+"/secret", "another") }), "refuses the user or the secret"},
		"no secret's file": {wrong(func(w *MQTT) { w.Secret.File += "x" }), "no such file"},
		"may not write":    {wrong(func(w *MQTT) { w.Topic = "elsewhere" }), "doesn't let this user write"},
		"unknown":          {wrong(func(w *MQTT) { w.Authority = "" }), "ca_file"},
		"another's":        {wrong(func(w *MQTT) { w.Authority = filepath.Join(other, "ca.pem") }), "ca_file"},
		"no authority":     {wrong(func(w *MQTT) { w.Authority = other + "/none" }), "can't be read"},
		"another name":     {wrong(func(w *MQTT) { w.URL = address(t, strings.Replace(w.URL.String(), "127.0.0.1", "localhost", 1)) }), "another name"},
		"in the clear":     {wrong(func(w *MQTT) { w.URL = address(t, "mqtt://"+plain.Addr().String()) }), "broke off"},
		"a page, plain":    {wrong(func(w *MQTT) { w.URL = address(t, "mqtt://"+page.Addr().String()) }), page.Addr().String()},
		"a page, TLS":      {wrong(func(w *MQTT) { w.URL = address(t, "mqtts://"+page.Addr().String()) }), "doesn't speak TLS"},
		"nobody there":     {wrong(func(w *MQTT) { w.URL = address(t, "mqtts://"+freeport.Find(t)) }), "no server listens"},
		"hangs":            {wrong(func(w *MQTT) { w.URL = address(t, "mqtts://"+hung.Addr().String()) }), "no answer in time"},
		"no such name":     {wrong(func(w *MQTT) { w.URL = address(t, "mqtts://broker.invalid") }), "not known here"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			ctx, cancel := context.WithTimeout(context.Background(), toSend)
			defer cancel()
			failed(t, c.way.Send(ctx, Notice{Box: "b", Test: true}), c.says, 0)
			if name == "may not write" {
				return // kept, it fails at its greeting
			}
			why := make(chan error, 100)
			kept, cut := context.WithCancel(context.Background())
			ended := c.way.Keep(kept, func(err error) { why <- err })
			failed(t, <-why, c.says, 0)
			cut()
			ended()
		})
	}
}

// A broker that stops in the middle of everything holds up nothing, and is given up.
func TestBrokerThatHangs(t *testing.T) {
	t.Parallel()
	m := newBroker(t)
	h, _ := hailing(t, byBroker(m.way(t)))
	s := m.subscribe(t)
	h.Hand(seen())
	s.wait(t, "shop/box/alarms")
	if err := m.cmd.Process.Signal(syscall.SIGSTOP); err != nil {
		t.Fatal(err)
	}
	began := time.Now()
	h.Hand(seen(raised(alert.DryNow, alert.High)))
	for h.Standing()[0].Fails == "" && time.Since(began) < 2*toSend {
		time.Sleep(50 * time.Millisecond)
	}
	if took := time.Since(began); took > toSend+time.Second {
		t.Errorf("given up after %v", took)
	}
	failed(t, &Failure{Says: h.Standing()[0].Fails}, "no answer in time", 0)
	if err := m.cmd.Process.Signal(syscall.SIGCONT); err != nil {
		t.Fatal(err)
	}
	s.wait(t, "shop/box/alarms", "dry-now")
}
