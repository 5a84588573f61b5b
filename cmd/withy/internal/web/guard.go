package web

import (
	"net/http"
	"net/netip"
	"slices"
	"strings"

	"withy/cmd/withy/internal/door"
)

// policy lets the page load its own files, talk to where it came from, and nothing
// else: no scripts or styles in the text, no frames, no forms.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
	"base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// guard answers only those who ask for one of hosts by name, so that a name
// elsewhere that was pointed at this machine gets nothing, and sets the headers that
// every answer bears.
func guard(hosts []string, next http.Handler) http.Handler {
	allowed := make([]string, len(hosts))
	for i, h := range hosts {
		allowed[i] = strings.ToLower(h)
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=()")
		if !door.Inside(r) && !answers(allowed, r.Host) {
			refuse(w, http.StatusMisdirectedRequest,
				"The steam box does not answer to that name. Ask by one of the names in its settings.")
			return
		}
		// The library's protection does not look at the scheme; what came in the open may
		// be anybody's.
		if r.TLS != nil && strings.HasPrefix(r.Header.Get("Origin"), "http:") {
			foreignPage(w, r)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// answers reports whether host, as a request names it, is one of the allowed.
func answers(allowed []string, host string) bool {
	host = strings.ToLower(host)
	name := door.Bare(host)
	if len(allowed) == 0 {
		return loopback(name)
	}
	return slices.Contains(allowed, host) || slices.Contains(allowed, name)
}

func loopback(name string) bool {
	if name == "localhost" {
		return true
	}
	addr, err := netip.ParseAddr(name)
	return err == nil && addr.IsLoopback()
}

// foreignPage answers a page from elsewhere that tries to tell an event.
func foreignPage(w http.ResponseWriter, _ *http.Request) {
	refuse(w, http.StatusForbidden, "Only the steam box's own page may tell it what the crew did.")
}
