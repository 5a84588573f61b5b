package hail

import (
	"net/netip"
	"testing"
)

// The two registries of special-purpose addresses as IANA had them on 2026-07-18, each block with
// its RFC and whether it is globally reachable: what is not, or of which the registry does not
// say so, is inside.
func TestRegistries(t *testing.T) {
	for _, c := range []struct {
		block, rfc string
		reachable  bool
	}{
		{"0.0.0.0/8", "RFC 791, 3.2", false},
		{"0.0.0.0/32", "RFC 1122, 3.2.1.3", false},
		{"10.0.0.0/8", "RFC 1918", false},
		{"100.64.0.0/10", "RFC 6598", false},
		{"127.0.0.0/8", "RFC 1122, 3.2.1.3", false},
		{"169.254.0.0/16", "RFC 3927", false},
		{"172.16.0.0/12", "RFC 1918", false},
		{"192.0.0.0/24", "RFC 6890, 2.1", false},
		{"192.0.0.0/29", "RFC 7335", false},
		{"192.0.0.8/32", "RFC 7600", false},
		{"192.0.0.9/32", "RFC 7723", true},
		{"192.0.0.10/32", "RFC 8155", true},
		{"192.0.0.170/31", "RFC 8880, RFC 7050, 2.2", false},
		{"192.0.2.0/24", "RFC 5737", false},
		{"192.31.196.0/24", "RFC 7535", true},
		{"192.52.193.0/24", "RFC 7450", true},
		{"192.88.99.0/24", "RFC 7526", false}, // given up
		{"192.88.99.2/32", "RFC 6751", false},
		{"192.168.0.0/16", "RFC 1918", false},
		{"192.175.48.0/24", "RFC 7534", true},
		{"198.18.0.0/15", "RFC 2544", false},
		{"198.51.100.0/24", "RFC 5737", false},
		{"203.0.113.0/24", "RFC 5737", false},
		{"240.0.0.0/4", "RFC 1112, 4", false},
		{"255.255.255.255/32", "RFC 8190, RFC 919, 7", false},
		{"::1/128", "RFC 4291", false},
		{"::/128", "RFC 4291", false},
		{"64:ff9b:1::/48", "RFC 8215", false},
		{"100::/64", "RFC 6666", false},
		{"100:0:0:1::/64", "RFC 9780", false},
		{"2001::/23", "RFC 2928", false},
		{"2001::/32", "RFC 4380, RFC 8190", false}, // not said
		{"2001:1::1/128", "RFC 7723", true},
		{"2001:1::2/128", "RFC 8155", true},
		{"2001:1::3/128", "RFC 9665", true},
		{"2001:2::/48", "RFC 5180", false},
		{"2001:3::/32", "RFC 7450", true},
		{"2001:4:112::/48", "RFC 7535", true},
		{"2001:10::/28", "RFC 4843", false}, // given up
		{"2001:20::/28", "RFC 7343", true},
		{"2001:30::/28", "RFC 9374", true},
		{"2001:db8::/32", "RFC 3849", false},
		{"2620:4f:8000::/48", "RFC 7534", true},
		{"3fff::/20", "RFC 9637", false},
		{"5f00::/16", "RFC 9602", false},
		{"fc00::/7", "RFC 4193, RFC 8190", false},
		{"fe80::/10", "RFC 4291", false},
	} {
		block := netip.MustParsePrefix(c.block)
		for _, a := range []netip.Addr{block.Addr(), last(block)} {
			if inside(a) == c.reachable {
				t.Errorf("%s of %s (%s): inside %t", a, c.block, c.rfc, !c.reachable)
			}
		}
	}
}

// last is a block's last address.
func last(p netip.Prefix) netip.Addr {
	b := p.Addr().AsSlice()
	for i := p.Bits(); i < len(b)*8; i++ {
		b[i/8] |= 0x80 >> (i % 8)
	}
	a, _ := netip.AddrFromSlice(b)
	return a
}

// What is in neither registry, and addresses that lead to the one they hold.
func TestInside(t *testing.T) {
	for _, c := range []struct {
		at, because string
		want        bool
	}{
		{"::ffff:192.168.1.20", "RFC 4291, 2.5.5.2: mapped", true},
		{"::ffff:192.31.196.1", "the same", false},
		{"::192.168.1.20", "RFC 4291, 2.5.5.1: compatible", true},
		{"::192.31.196.1", "the same", false},
		{"64:ff9b::10.0.0.1", "RFC 6052, 2.1: translated", true},
		{"64:ff9b::127.0.0.1", "the same", true},
		{"64:ff9b::192.31.196.1", "the same", false},
		{"2002:c0a8:114::1", "RFC 3056, 2: 6to4 of 192.168.1.20", true},
		{"2002:c01f:c401::1", "the same of 192.31.196.1", false},
		{"fec0::1", "RFC 3879: site-local", true},
		{"feff:ffff::1", "the same", true},
		{"fe80::1%eth0", "RFC 4007: with its zone", true},
		{"9.255.255.255", "before RFC 1918", false},
		{"11.0.0.0", "after it", false},
		{"172.32.0.1", "the same", false},
		{"100.128.0.1", "after RFC 6598", false},
		{"198.20.0.0", "after RFC 2544", false},
		{"2001:200::1", "after RFC 2928", false},
		{"fe00::1", "after RFC 4193", false},
	} {
		if got := inside(netip.MustParseAddr(c.at)); got != c.want {
			t.Errorf("%s (%s): %t", c.at, c.because, got)
		}
	}
}
