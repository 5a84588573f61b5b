package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"withy/steambox/unit"
)

// farS is later than any session lasts: what is told between two samples counts too.
const farS = 1e9

// How many moments of the past are given: when not asked for a number, and at most.
const (
	usualTrace = 1000
	mostTrace  = 5000
)

// stretch is the part of the past that is asked for.
type stretch struct {
	fromS, toS float64
	most       int
}

// trace answers with a stretch of the session's past.
func (s *server) trace(w http.ResponseWriter, r *http.Request) {
	ask := stretch{toS: farS, most: usualTrace}
	if mistakes := ask.read(r.URL.RawQuery); len(mistakes) > 0 {
		refuse(w, http.StatusBadRequest, "This stretch can't be read: "+strings.Join(mistakes, "; ")+".", mistakes...)
		return
	}
	trace, err := s.box.Trace(r.Context(), ask.fromS, ask.toS, ask.most)
	if err != nil {
		s.inside(w, http.StatusServiceUnavailable, "The log can't be read just now. Try again.", err)
		return
	}
	b, err := json.Marshal(trace)
	if err != nil {
		s.inside(w, http.StatusInternalServerError, "The log can't be written out just now. Try again.", err)
		return
	}
	send(w, http.StatusOK, "application/json", b)
}

// read fills in what the query asks for and returns all that is wrong with it.
func (a *stretch) read(query string) []string {
	values, err := url.ParseQuery(query)
	if err != nil {
		return []string{"the query is not well formed"}
	}
	var mistakes []string
	names := make([]string, 0, len(values))
	for name := range values {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		if !a.set(name, values[name]) {
			mistakes = append(mistakes, whatIsMeant(name))
		}
	}
	if len(mistakes) == 0 && a.fromS > a.toS {
		mistakes = append(mistakes, "from: must not be after to")
	}
	return mistakes
}

// set reports whether a parameter is known, given once and in range.
func (a *stretch) set(name string, values []string) bool {
	x, err := strconv.ParseFloat(values[0], 64)
	ok := err == nil && len(values) == 1 && unit.Finite(x) && x >= 0
	switch name {
	case "from":
		a.fromS = x
	case "to":
		a.toS = x
	case "most":
		a.most = int(min(max(x, 0), mostTrace+1))
		return ok && a.most >= 2 && a.most <= mostTrace
	default:
		return false
	}
	return ok
}

func whatIsMeant(name string) string {
	switch name {
	case "from", "to":
		return name + ": a time in seconds since the session began, given once"
	case "most":
		return fmt.Sprintf("most: a number from 2 to %d, given once", mostTrace)
	}
	return quoted(name) + ": there is no such parameter"
}
