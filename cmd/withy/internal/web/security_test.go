package web

import (
	"net/http"
	"strings"
	"testing"
	"time"
)

// RFC 9116: Contact and Expires must be there, Expires is a date of RFC 3339, less than a
// year ahead (2.5.5).
func TestSecurityText(t *testing.T) {
	for _, contact := range []string{"mailto:shed@example.org", ""} {
		h := newHandler(newShelf(), nil, http.NotFoundHandler(), Entry{Contact: contact}, quiet, page)
		w := ask(h, "GET", "/.well-known/security.txt", "")
		fields := map[string]string{}
		for line := range strings.Lines(w.Body.String()) {
			if name, value, ok := strings.Cut(strings.TrimSpace(line), ": "); ok && !strings.HasPrefix(name, "#") {
				fields[name] = value
			}
		}
		if w.Code != 200 || w.Header().Get("Content-Type") != "text/plain; charset=utf-8" || fields["Contact"] != contact {
			t.Errorf("%d %v %s", w.Code, w.Header(), w.Body)
		}
		at, err := time.Parse(time.RFC3339, fields["Expires"])
		if ahead := time.Until(at); err != nil || ahead < 24*time.Hour || ahead > 365*24*time.Hour {
			t.Errorf("expires in %v, %v", ahead, err)
		}
	}
}
