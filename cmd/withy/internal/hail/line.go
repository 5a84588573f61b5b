package hail

import (
	"context"
	"crypto/x509"
	"net"
	"net/netip"
	"os"
	"sync"
	"syscall"
)

// Line opens connections to one server. A name is looked up anew for each, so that a server that
// moved is found again. Its zero value is ready; its methods may be called by any goroutine.
//
// The server may well stand in the shop: whatever address the name has when something is first
// taken there is right. From then on a name that pointed into the local network may only point
// there, and one that pointed outside only outside: else whoever meddles with names could turn
// what is told and its secret to another machine of the shop, or out of it. A server that really
// moved is believed after a restart.
type Line struct {
	resolver *net.Resolver // nil: the system's

	mu      sync.Mutex
	settled bool // something was taken there
	inside  bool // the last connection went to a local address
}

// Dial connects to host and port, and gives up after some seconds. It returns a *Failure for an
// address on the other side of the local network's edge than the server was.
func (l *Line) Dial(ctx context.Context, network, address string) (net.Conn, error) {
	d := net.Dialer{Timeout: toAnswer, Resolver: l.resolver, Control: l.judge}
	c, err := d.DialContext(ctx, network, address)
	if err != nil {
		return nil, err
	}
	if at, ok := c.RemoteAddr().(*net.TCPAddr); ok {
		l.mu.Lock()
		defer l.mu.Unlock()
		if !l.settled {
			l.inside = inside(at.AddrPort().Addr())
		}
	}
	return c, nil
}

// judge is asked before an address is connected to.
func (l *Line) judge(_, address string, _ syscall.RawConn) error {
	at, err := netip.ParseAddrPort(address)
	if err != nil {
		return err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	switch is := inside(at.Addr()); {
	case l.settled && l.inside && !is:
		return &Failure{Says: "its name points out of the local network, and did not before: start the daemon again if that is right"}
	case l.settled && !l.inside && is:
		return &Failure{Says: "its name points into the local network, and did not before: start the daemon again if that is right"}
	}
	return nil
}

// Took settles where the server is: it answered as nobody else would.
func (l *Line) Took() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.settled = true
}

// authorities reads who may vouch for a server: nil, the system's, where no file is named.
func authorities(file string) (*x509.CertPool, error) {
	if file == "" {
		return nil, nil
	}
	text, err := os.ReadFile(file)
	if err != nil {
		return nil, &Failure{Key: "ca_file", Says: "the file of its certificate authority can't be read: " + err.Error()}
	}
	roots := x509.NewCertPool()
	if !roots.AppendCertsFromPEM(text) {
		return nil, &Failure{Key: "ca_file", Says: file + " holds no certificate in PEM form"}
	}
	return roots, nil
}
