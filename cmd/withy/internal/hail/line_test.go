package hail

import (
	"context"
	"net"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"strings"
	"sync"
	"testing"

	"golang.org/x/net/dns/dnsmessage"
)

// names is a server of names that gives every name one address, which may change.
type names struct {
	mu sync.Mutex
	at netip.Addr
}

func (n *names) set(at string) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.at = netip.MustParseAddr(at)
}

// resolver starts the server and returns a resolver that asks it.
func (n *names) resolver(t *testing.T) *net.Resolver {
	t.Helper()
	c, err := net.ListenPacket("udp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	go func() {
		b := make([]byte, 512)
		for {
			size, from, err := c.ReadFrom(b)
			if err != nil {
				return
			}
			if out := n.answer(b[:size]); out != nil {
				_, _ = c.WriteTo(out, from)
			}
		}
	}()
	return &net.Resolver{PreferGo: true, Dial: func(ctx context.Context, _, _ string) (net.Conn, error) {
		return new(net.Dialer).DialContext(ctx, "udp", c.LocalAddr().String())
	}}
}

func (n *names) answer(asked []byte) []byte {
	var m dnsmessage.Message
	if m.Unpack(asked) != nil || len(m.Questions) != 1 {
		return nil
	}
	m.Header = dnsmessage.Header{ID: m.ID, Response: true, RecursionAvailable: true}
	m.Additionals = nil
	if q := m.Questions[0]; q.Type == dnsmessage.TypeA {
		n.mu.Lock()
		defer n.mu.Unlock()
		m.Answers = []dnsmessage.Resource{{
			Header: dnsmessage.ResourceHeader{Name: q.Name, Class: q.Class, TTL: 60}, Body: &dnsmessage.AResource{A: n.at.As4()},
		}}
	}
	out, err := m.Pack()
	if err != nil {
		return nil
	}
	return out
}

// serverAt is a server at an address of this machine that counts what it gets.
func serverAt(t *testing.T, at string) (s *httptest.Server, took *int) {
	t.Helper()
	l, err := net.Listen("tcp", at)
	if err != nil {
		t.Fatal(err)
	}
	took = new(int)
	s = &httptest.Server{Listener: l, Config: &http.Server{Handler: http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		*took++
		w.Header().Set("Connection", "close")
	})}}
	s.Start()
	t.Cleanup(s.Close)
	return s, took
}

// A name that points elsewhere from one message to the next is followed within the local network,
// where the user's own server was from the start, and not out of it; nor into it, where it was
// outside.
func TestNameThatFlips(t *testing.T) {
	first, tookFirst := serverAt(t, "127.0.0.2:0")
	_, port, err := net.SplitHostPort(first.Listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	_, tookSecond := serverAt(t, net.JoinHostPort("127.0.0.3", port))
	var n names
	way := topicAt(t, "http://push.example.:"+port)
	way.line = &Line{resolver: n.resolver(t)}
	n.set("127.0.0.2")
	if err := way.Send(t.Context(), oneAlarm()); err != nil || *tookFirst != 1 {
		t.Fatalf("%v, %d taken", err, *tookFirst)
	}
	n.set("127.0.0.3")
	if err := way.Send(t.Context(), oneAlarm()); err != nil || *tookFirst != 1 || *tookSecond != 1 {
		t.Errorf("moved: %v, %d and %d taken", err, *tookFirst, *tookSecond)
	}
	n.set("192.0.0.9") // globally reachable (RFC 7723), and nobody is asked
	failed(t, way.Send(t.Context(), oneAlarm()), "out of the local network", 0)
	n.set("127.0.0.2")
	if err := way.Send(t.Context(), oneAlarm()); err != nil || *tookFirst != 2 {
		t.Errorf("back: %v", err)
	}

	outside := topicAt(t, "http://push.example.:"+port)
	outside.line = &Line{resolver: n.resolver(t), settled: true}
	failed(t, outside.Send(t.Context(), oneAlarm()), "into the local network", 0)
	if *tookFirst != 2 {
		t.Error("a server in the local network was asked")
	}
	// What was refused at first settles nothing: a sign-in page may answer for any name.
	refusing := httptest.NewServer(http.NotFoundHandler())
	defer refusing.Close()
	n.set("127.0.0.1")
	fresh := topicAt(t, strings.Replace(refusing.URL, "127.0.0.1", "push.example.", 1))
	fresh.line = &Line{resolver: n.resolver(t)}
	failed(t, fresh.Send(t.Context(), oneAlarm()), "404", 0)
	if fresh.line.settled {
		t.Error("settled by a failure")
	}
}
