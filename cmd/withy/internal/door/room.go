package door

import (
	"net"
	"net/netip"
	"sync"
)

// How many connections there may be at once, in all and from one address beyond this
// machine, so that one that floods the page leaves room for the others and memory stays
// bounded.
const (
	mostConns        = 512
	mostConnsFromOne = 64
)

// Room returns l with bounds on how many connections there are at once. Those beyond
// them are closed as they come.
func Room(l net.Listener) net.Listener {
	return &room{Listener: l, from: map[netip.Addr]int{}}
}

type room struct {
	net.Listener
	mu   sync.Mutex
	all  int
	from map[netip.Addr]int
}

// Accept waits for the next connection for which there is room.
func (r *room) Accept() (net.Conn, error) {
	for {
		c, err := r.Listener.Accept()
		if err != nil {
			return nil, err
		}
		from := address(c.RemoteAddr())
		if r.enter(from) {
			return &guest{Conn: c, leave: sync.OnceFunc(func() { r.leave(from) })}, nil
		}
		_ = c.Close() // there is nobody to be told
	}
}

func (r *room) enter(from netip.Addr) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.all >= mostConns || !from.IsLoopback() && r.from[from] >= mostConnsFromOne {
		return false
	}
	r.all++
	r.from[from]++
	return true
}

func (r *room) leave(from netip.Addr) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.all--
	if r.from[from]--; r.from[from] == 0 {
		delete(r.from, from)
	}
}

// address is where a connection comes from: of an IPv6 address the network, since one
// machine may have all that are in it.
func address(a net.Addr) netip.Addr {
	at, err := netip.ParseAddrPort(a.String())
	if err != nil {
		return netip.Addr{}
	}
	ip := at.Addr().Unmap().WithZone("")
	if ip.Is4() || ip.IsLoopback() {
		return ip
	}
	return netip.PrefixFrom(ip, 64).Masked().Addr()
}

// guest is a connection that takes up room.
type guest struct {
	net.Conn
	leave func()
}

// Close ends the connection and makes room.
func (g *guest) Close() error {
	defer g.leave()
	return g.Conn.Close()
}
