package door

import (
	"bytes"
	"crypto/tls"
	"crypto/x509"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func own(t *testing.T, data string, hosts ...string) *Certificate {
	t.Helper()
	c, err := Own(data, hosts)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestOwnCertificate(t *testing.T) {
	data := t.TempDir()
	c := own(t, data, "Box.lan:8017", "10.42.0.1", "[fd00::1]:80")
	if info, err := os.Stat(filepath.Join(data, ownFile)); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("anybody may read the key: %v %v", info.Mode(), err)
	}
	if again := own(t, data, "box.lan"); again.Fingerprint() != c.Fingerprint() {
		t.Error("a restart makes another one, which phones don't know")
	}
	if other := own(t, data, "shed.lan"); other.Fingerprint() == c.Fingerprint() {
		t.Error("a new name is not in it")
	}
	if other := own(t, t.TempDir(), "box.lan"); other.Fingerprint() == c.Fingerprint() || other.now.Leaf.SerialNumber.Cmp(c.now.Leaf.SerialNumber) == 0 {
		t.Error("two boards have the same")
	}
}

func TestOwnIsServed(t *testing.T) {
	c := own(t, t.TempDir(), "box.lan", "10.42.0.1")
	server := httptest.NewUnstartedServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { io.WriteString(w, "page") }))
	server.Listener = tls.NewListener(server.Listener, c.Config())
	server.Start()
	defer server.Close()
	pool := x509.NewCertPool()
	pool.AddCert(c.now.Leaf)
	for _, name := range []string{"box.lan", "10.42.0.1", "localhost", "127.0.0.1", "::1"} {
		conn, err := tls.Dial("tcp", server.Listener.Addr().String(), &tls.Config{RootCAs: pool, ServerName: name})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if v := conn.ConnectionState().Version; v != tls.VersionTLS13 {
			t.Errorf("%s: %s", name, tls.VersionName(v))
		}
		conn.Close()
	}
	if _, err := tls.Dial("tcp", server.Listener.Addr().String(), &tls.Config{RootCAs: pool, ServerName: "other.lan"}); err == nil {
		t.Error("it is good for any name")
	}
	if _, err := tls.Dial("tcp", server.Listener.Addr().String(), &tls.Config{RootCAs: pool, ServerName: "box.lan", MaxVersion: tls.VersionTLS11}); err == nil {
		t.Error("TLS 1.1 is spoken")
	}
}

func TestOwnIsRotated(t *testing.T) {
	c := own(t, t.TempDir(), "box.lan")
	first := c.Fingerprint()
	end := c.Until()
	if long := end.Sub(c.now.Leaf.NotBefore); long > 825*24*time.Hour { // what phones take of a certificate, from memory
		t.Errorf("good for %v", long)
	}
	for _, at := range []time.Time{end.Add(-61 * 24 * time.Hour), time.Unix(0, 0)} { // the second: a board without a clock
		if _, err := c.at(at); err != nil || c.Fingerprint() != first {
			t.Errorf("at %v: another one, %v", at, err)
		}
	}
	if _, err := c.at(end.Add(-59 * 24 * time.Hour)); err != nil || c.Fingerprint() == first || !c.Until().After(end) {
		t.Errorf("59 days before its end: the same, until %v, %v", c.Until(), err)
	}
}

// A board that was never told the time makes one that is good today.
func TestOwnWithoutClock(t *testing.T) {
	text, err := makeOwn([]string{"box.lan"}, time.Unix(0, 0))
	if err != nil {
		t.Fatal(err)
	}
	pair, err := parsePair(text, text)
	if err != nil {
		t.Fatal(err)
	}
	if now := clockFloor.AddDate(1, 0, 0); now.Before(pair.Leaf.NotBefore) || now.After(pair.Leaf.NotAfter) {
		t.Errorf("good from %v to %v", pair.Leaf.NotBefore, pair.Leaf.NotAfter)
	}
}

func TestOwnThatCannotBeKept(t *testing.T) {
	data := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(data, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	c, err := Own(data, []string{"box.lan"})
	if err == nil || c.Fingerprint() == "" {
		t.Errorf("it can't be kept, and must serve: %v", err)
	}
}

func TestDamagedOwn(t *testing.T) {
	data := t.TempDir()
	c := own(t, data, "box.lan")
	text, err := os.ReadFile(filepath.Join(data, ownFile))
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range []int{0, 10, len(text) / 2, len(text) - 30} {
		if err := os.WriteFile(filepath.Join(data, ownFile), text[:n], 0o600); err != nil {
			t.Fatal(err)
		}
		if again := own(t, data, "box.lan"); again.Fingerprint() == c.Fingerprint() {
			t.Errorf("cut to %d bytes it is the same", n)
		}
	}
}

// OpenSSL reads the same from it: key, curve, names and fingerprint.
func TestOpenSSLReadsOwn(t *testing.T) {
	program, err := exec.LookPath("openssl")
	if err != nil {
		t.Skip("openssl is not installed")
	}
	data := t.TempDir()
	c := own(t, data, "box.lan", "10.42.0.1")
	out, err := exec.CommandContext(t.Context(), program, "x509", "-in", filepath.Join(data, ownFile), "-noout", "-text", "-fingerprint", "-sha256").CombinedOutput()
	if err != nil {
		t.Fatalf("%v %s", err, out)
	}
	for _, want := range []string{"prime256v1", "ecdsa-with-SHA256", "DNS:box.lan", "IP Address:10.42.0.1", "TLS Web Server Authentication", "ingerprint=" + c.Fingerprint()} {
		if !bytes.Contains(out, []byte(want)) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
}

func TestGiven(t *testing.T) {
	dir := t.TempDir()
	put := func() (fingerprint string) {
		text, err := makeOwn([]string{"box.lan"}, time.Now())
		if err != nil {
			t.Fatal(err)
		}
		cut := bytes.Index(text, []byte("-----BEGIN CERTIFICATE"))
		if err := os.WriteFile(filepath.Join(dir, "key"), text[:cut], 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "cert"), text[cut:], 0o644); err != nil {
			t.Fatal(err)
		}
		pair, _ := parsePair(text, text)
		return (&Certificate{now: pair}).Fingerprint()
	}
	cert, key := filepath.Join(dir, "cert"), filepath.Join(dir, "key")
	first := put()
	c, err := Given(cert, key)
	if err != nil || c.Fingerprint() != first {
		t.Fatal(err)
	}
	second := put()
	if err := os.Chtimes(cert, time.Time{}, time.Now().Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	if _, err := c.at(time.Now().Add(2 * lookEvery)); err != nil || c.Fingerprint() != second {
		t.Errorf("a renewed one is not taken up: %v", err)
	}
	if err := os.WriteFile(cert, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := c.at(time.Now().Add(4 * lookEvery)); err != nil || c.Fingerprint() != second {
		t.Errorf("a damaged one is taken up: %v", err)
	}
	put()
	if err := os.Chmod(key, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Given(cert, key); err == nil || !strings.Contains(err.Error(), "chmod 600") {
		t.Errorf("a key that anybody can read: %v", err)
	}
	if _, err := Given(cert, filepath.Join(dir, "none")); err == nil {
		t.Error("no key, no error")
	}
}

// from is a connection that comes from somewhere.
type from struct {
	net.Conn
	addr string
}

func (f from) RemoteAddr() net.Addr { a, _ := net.ResolveTCPAddr("tcp", f.addr); return a }
func (f from) Close() error         { return nil }

// crowd lets connections in one after the other.
type crowd struct {
	net.Listener
	come chan net.Conn
}

func (c crowd) Accept() (net.Conn, error) {
	if conn, ok := <-c.come; ok {
		return conn, nil
	}
	return nil, net.ErrClosed
}

func TestRoom(t *testing.T) {
	for _, c := range []struct {
		who  func(i int) string
		want int
	}{
		{func(int) string { return "10.0.0.9:4" }, mostConnsFromOne},
		{func(i int) string { return net.JoinHostPort("fd00::"+string("0123456789abcdef"[i%16]), "4") }, mostConnsFromOne}, // one network
		{func(int) string { return "127.0.0.1:4" }, mostConns},
		{func(i int) string { return net.JoinHostPort(net.IPv4(10, 0, byte(i>>8), byte(i)).String(), "4") }, mostConns},
	} {
		come := make(chan net.Conn, 1000)
		for i := range 1000 {
			come <- from{addr: c.who(i)}
		}
		close(come)
		l := Room(crowd{come: come})
		var in []net.Conn
		for {
			conn, err := l.Accept()
			if err != nil {
				break
			}
			in = append(in, conn)
		}
		if len(in) != c.want {
			t.Errorf("from %s…: %d are in, want %d", c.who(0), len(in), c.want)
		}
		for _, conn := range in {
			conn.Close()
			conn.Close() // some close twice
		}
		if r := l.(*room); r.all != 0 || len(r.from) != 0 {
			t.Errorf("%d still take up room", r.all)
		}
	}
}
