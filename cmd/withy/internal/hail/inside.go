package hail

import (
	"net/netip"
	"slices"
)

// special are the blocks that IANA's registries of special-purpose addresses do not call globally
// reachable (RFC 6890, RFC 8190), and reachable what lies in them and is. Site-local addresses
// (RFC 3879) are in no registry any more, and may be in old networks.
var (
	special = blocks(
		"0.0.0.0/8", "10.0.0.0/8", "100.64.0.0/10", "127.0.0.0/8", "169.254.0.0/16", "172.16.0.0/12", "192.0.0.0/24", "192.0.2.0/24",
		"192.88.99.0/24", "192.168.0.0/16", "198.18.0.0/15", "198.51.100.0/24", "203.0.113.0/24", "240.0.0.0/4",
		"64:ff9b:1::/48", "100::/64", "100:0:0:1::/64", "2001::/23", "2001:db8::/32", "3fff::/20", "5f00::/16", "fc00::/7", "fe80::/10", "fec0::/10")
	reachable = blocks(
		"192.0.0.9/32", "192.0.0.10/32",
		"2001:1::1/128", "2001:1::2/128", "2001:1::3/128", "2001:3::/32", "2001:4:112::/48", "2001:20::/28", "2001:30::/28")
)

// wrapped are the blocks of IPv6 whose addresses lead to an IPv4 address that they hold, and at
// which byte: IPv4-compatible ones, to which :: and ::1 belong (RFC 4291, 2.5), a translator's
// (RFC 6052) and those of 6to4 (RFC 3056).
var wrapped = []struct {
	in netip.Prefix
	at int
}{
	{netip.MustParsePrefix("::/96"), 12},
	{netip.MustParsePrefix("64:ff9b::/96"), 12},
	{netip.MustParsePrefix("2002::/16"), 2},
}

func blocks(texts ...string) (out []netip.Prefix) {
	for _, text := range texts {
		out = append(out, netip.MustParsePrefix(text))
	}
	return out
}

// inside reports whether an address is this machine's, in the local network or nowhere: not one
// that can be reached from everywhere.
func inside(a netip.Addr) bool {
	a = a.Unmap().WithZone("") // no block holds an address with a zone
	for _, w := range wrapped {
		if w.in.Contains(a) {
			b := a.As16()
			a = netip.AddrFrom4([4]byte(b[w.at:]))
			break
		}
	}
	holds := func(b netip.Prefix) bool { return b.Contains(a) }
	return slices.ContainsFunc(special, holds) && !slices.ContainsFunc(reachable, holds)
}
