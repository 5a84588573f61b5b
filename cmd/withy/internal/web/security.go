package web

import (
	"fmt"
	"net/http"
	"strings"
	"time"
)

// policyFor is how long what security.txt says counts from when it is read.
const policyFor = 180 * 24 * time.Hour

// securityText says where to tell of a hole, as RFC 9116 has it. Without an address
// there is none to give: then it says so, and what would make it whole.
func (s *server) securityText(w http.ResponseWriter, _ *http.Request) {
	var b strings.Builder
	if s.entry.Contact != "" {
		fmt.Fprintf(&b, "Contact: %s\n", s.entry.Contact)
	} else {
		b.WriteString("# Whoever runs this box has set no address (page.security_contact in its configuration).\n")
	}
	fmt.Fprintf(&b, "Expires: %s\nPreferred-Languages: en\n", time.Now().Add(policyFor).UTC().Format(time.RFC3339))
	b.WriteString("# The policy stands in the program's README, under Security: what is promised, what is not,\n" +
		"# and what happens with a report.\n")
	send(w, http.StatusOK, asText+"; charset=utf-8", []byte(b.String()))
}

func (s *server) securityRoute() route {
	return route{method: "GET", path: "/.well-known/security.txt", open: true, handler: http.HandlerFunc(s.securityText),
		does: "Where to tell of a hole.", answers: []reply{{http.StatusOK, "RFC 9116, without Contact where no address is set.", asText, nil}}}
}
