// Package freeport finds addresses for the servers of tests.
package freeport

import (
	"fmt"
	"math/rand/v2"
	"net"
	"testing"
)

// The kernel gives whoever asks for any port, and each connection that goes out, one of 32768 to
// 60999 (Linux, ip-sysctl.rst, ip_local_port_range): so a port that it once gave can be another's
// by the time a server comes up there, or comes back.
const first, last = 20000, 32767

// Find returns a host and port of this machine where nobody listens, and nobody will by chance.
func Find(t testing.TB) string {
	t.Helper()
	for range 100 {
		l, err := net.Listen("tcp", fmt.Sprintf("127.0.0.1:%d", first+rand.N(last-first+1)))
		if err == nil {
			defer l.Close()
			return l.Addr().String()
		}
	}
	t.Fatal("a hundred ports are taken")
	return ""
}
