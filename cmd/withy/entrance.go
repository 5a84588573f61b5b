package main

import (
	"cmp"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/netip"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"syscall"

	"golang.org/x/sys/unix"

	"withy/cmd/withy/internal/door"
	"withy/cmd/withy/internal/web"
	"withy/steambox/words"
)

// What page.tls may be.
const (
	tlsOwn   = "own"   // beyond this machine by the board's own certificate
	tlsFiles = "files" // by the user's
	tlsOff   = "off"   // not at all: on the board's own wireless network
)

var tlsKinds = []string{tlsOwn, tlsFiles, tlsOff}

// entrance is where the page is served, and to whom.
type entrance struct {
	web.Entry
	listener net.Listener
	socket   net.Listener // of the verbs on the board; nil: none could be made
	url      string
}

// openEntrance takes the page's port and makes ready what it is served with. What doesn't work
// and can be done without is a trouble for the page: the watch goes on.
func openEntrance(p pageConfig, data string, log *slog.Logger) (e *entrance, troubles []string, err error) {
	e = &entrance{Entry: web.Entry{Hosts: p.names(), Contact: p.SecurityContact}}
	if e.listener, err = listen(p.Listen); err != nil {
		return nil, nil, err
	}
	e.listener = door.Room(e.listener)
	note := func(sentence string, err error) {
		if err != nil {
			log.Warn("door", "what", sentence, "err", err)
			troubles = append(troubles, sentence)
		}
	}
	scheme := "http://"
	if p.encrypted() {
		e.Certificate, err = p.certificate(data)
		note(words.NoCertificate, err)
		scheme = "https://"
		e.listener = tls.NewListener(e.listener, e.Certificate.Config())
	}
	e.url = scheme + p.reached(e.listener.Addr()) + "/"
	e.Door, err = door.Open(data)
	note(words.NoKeys, err)
	if e.socket, err = door.Listen(data); err != nil && !p.local() {
		note(words.NoSocket, err)
	}
	return e, troubles, nil
}

// Close gives the port back. It matters only where nothing was served.
func (e *entrance) Close() {
	_ = e.listener.Close()
	if e.socket != nil {
		_ = e.socket.Close()
	}
}

// listen takes the page's port. An address that the board hasn't got yet will do: its
// wireless network may come later, and the watch must not wait for it.
func listen(address string) (net.Listener, error) {
	early := net.ListenConfig{Control: func(_, _ string, c syscall.RawConn) error {
		var set error
		err := c.Control(func(fd uintptr) { set = unix.SetsockoptInt(int(fd), unix.IPPROTO_IP, unix.IP_FREEBIND, 1) })
		return errors.Join(err, set)
	}}
	l, err := early.Listen(context.Background(), "tcp", address)
	if errors.Is(err, syscall.EADDRINUSE) {
		return nil, fmt.Errorf("--listen %s: the port is taken by another program; name another, such as 127.0.0.1:8018", address)
	}
	if err != nil {
		return nil, fmt.Errorf("--listen %s: %w", address, err)
	}
	return l, nil
}

// local reports whether the page is served to this machine only.
func (p pageConfig) local() bool {
	host, _, _ := net.SplitHostPort(p.Listen) // it was checked
	return thisMachine(host)
}

// thisMachine reports whether a host is this machine, reached by no network.
func thisMachine(host string) bool {
	ip, err := netip.ParseAddr(host)
	return host == "localhost" || err == nil && ip.IsLoopback()
}

// encrypted reports whether the page is served over TLS.
func (p pageConfig) encrypted() bool {
	kind := cmp.Or(p.TLS, tlsOwn)
	return kind == tlsFiles || kind == tlsOwn && !p.local()
}

// names is what the page is asked for by: the hosts, or the one address that it is
// served at beyond this machine.
func (p pageConfig) names() []string {
	host, _, _ := net.SplitHostPort(p.Listen) // it was checked
	if len(p.Hosts) > 0 || p.local() || everywhere(host) {
		return p.Hosts
	}
	return []string{host}
}

// reached is where a browser reaches the page that is served at an address.
func (p pageConfig) reached(at net.Addr) string {
	names := p.names()
	_, port, err := net.SplitHostPort(at.String())
	if len(names) == 0 || err != nil {
		return at.String()
	}
	if _, _, err := net.SplitHostPort(names[0]); err == nil {
		return names[0]
	}
	return net.JoinHostPort(door.Bare(names[0]), port)
}

// everywhere reports whether a host stands for all addresses of the board.
func everywhere(host string) bool {
	ip, err := netip.ParseAddr(host)
	return host == "" || err == nil && ip.IsUnspecified()
}

// certificate returns what the page is served with. Where the user's files can't be read
// it is the board's own, with the error.
func (p pageConfig) certificate(data string) (*door.Certificate, error) {
	var given error
	if p.TLS == tlsFiles {
		c, err := door.Given(p.Certificate, p.Key)
		if err == nil {
			return c, nil
		}
		given = err
	}
	c, err := door.Own(data, p.names())
	return c, errors.Join(given, err)
}

// shown returns the certificate that is there already; nil is none.
func (p pageConfig) shown(data string) (*door.Certificate, error) {
	switch {
	case !p.encrypted():
		return nil, nil
	case p.TLS == tlsFiles:
		return door.Given(p.Certificate, p.Key)
	}
	return door.Kept(data)
}

// mistake is what is wrong with a key.
type mistake struct{ key, says string }

// mistakes returns all that is wrong with how the page is to be served.
func (p pageConfig) mistakes() []mistake {
	var out []mistake
	wrong := func(key, format string, a ...any) { out = append(out, mistake{key, fmt.Sprintf(format, a...)}) }
	host, port, err := net.SplitHostPort(p.Listen)
	if n, bad := strconv.ParseUint(port, 10, 16); err != nil || bad != nil {
		wrong("listen", "%q is not HOST:PORT, with a port from 0 to 65535", p.Listen)
	} else if everywhere(host) && len(p.Hosts) == 0 {
		wrong("hosts", "empty; beyond this machine name what the page is asked for by, such as steambox.lan or the board's address")
	} else if everywhere(host) && p.TLS == tlsOff {
		wrong("tls", "off, and listen means every network of the board; name the address in its own wireless network, such as 10.42.0.1:%d", n)
	}
	for i, h := range p.Hosts {
		if !isHost(h) {
			wrong("hosts["+strconv.Itoa(i)+"]", "%q is not a name or an address, with or without a port", h)
		}
	}
	if !slices.Contains(tlsKinds, p.TLS) {
		wrong("tls", "%q is not one of %s", p.TLS, strings.Join(tlsKinds, ", "))
	}
	if (p.TLS == tlsFiles) != (p.Certificate != "") || (p.TLS == tlsFiles) != (p.Key != "") {
		wrong("tls", "certificate and key are named where it is %s, and only there", tlsFiles)
	} else if p.TLS == tlsFiles {
		if _, err := door.Given(p.Certificate, p.Key); err != nil {
			wrong("certificate", "%v", err)
		}
	}
	if u, err := url.Parse(p.SecurityContact); p.SecurityContact != "" && (err != nil || !slices.Contains(contactKinds, u.Scheme) || strings.ContainsAny(p.SecurityContact, "\r\n ")) {
		wrong("security_contact", "%q does not begin with %s", p.SecurityContact, strings.Join(contactKinds, ":, ")+":")
	}
	return out
}

// contactKinds are those of RFC 9116.
var contactKinds = []string{"mailto", "https", "tel"}

// isHost reports whether a page may be asked for by h.
func isHost(h string) bool {
	if _, port, err := net.SplitHostPort(h); err == nil {
		if _, err := strconv.ParseUint(port, 10, 16); err != nil {
			return false
		}
	}
	name := door.Bare(h)
	if _, err := netip.ParseAddr(name); err == nil {
		return true
	}
	part := func(c rune) bool {
		return c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '-' || c == '.' || c == '_'
	}
	return name != "" && !strings.ContainsFunc(name, func(c rune) bool { return !part(c) })
}
