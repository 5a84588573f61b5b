package web

import (
	"bytes"
	"errors"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"withy/cmd/withy/internal/record"
)

// report answers with the report of a session as a page to read, print and take home.
//
// One report is made at a time: it goes through all that is on record of a session, and
// the loop needs its share of the board.
func (s *server) report(w http.ResponseWriter, r *http.Request) {
	session, mistakes := askedSession(r.URL.RawQuery)
	if len(mistakes) > 0 {
		refuse(w, http.StatusBadRequest, "This report can't be asked for: "+strings.Join(mistakes, "; ")+".", mistakes...)
		return
	}
	select {
	case s.reporting <- struct{}{}:
		defer func() { <-s.reporting }()
	case <-r.Context().Done(): // nobody waits for the answer
		return
	}
	paper, err := s.box.Report(r.Context(), session)
	switch {
	case errors.Is(err, record.ErrUnknown):
		refuse(w, http.StatusNotFound, "There is no session "+quoted(session)+" in the log.")
		return
	case err != nil:
		s.inside(w, http.StatusServiceUnavailable, "The log can't be read just now. Try again.", err)
		return
	}
	var b bytes.Buffer
	if err := paper.WriteHTML(&b, time.Local, s.box.View().Units); err != nil {
		s.inside(w, http.StatusInternalServerError, "The report can't be written out just now.", err)
		return
	}
	w.Header().Set("Content-Security-Policy", paperPolicy)
	send(w, http.StatusOK, "text/html; charset=utf-8", b.Bytes())
}

// askedSession reads which session is asked for, "" for the one that goes on, and
// returns all that is wrong with the query.
func askedSession(query string) (id string, mistakes []string) {
	values, err := url.ParseQuery(query)
	if err != nil {
		return "", []string{"the query is not well formed"}
	}
	for _, name := range slices.Sorted(maps.Keys(values)) {
		switch {
		case name != "session":
			mistakes = append(mistakes, quoted(name)+": there is no such parameter")
		case len(values[name]) != 1 || values[name][0] == "":
			mistakes = append(mistakes, "session: the name of one in the log, given once; leave it out for the one that goes on")
		default:
			id = values[name][0]
		}
	}
	return id, mistakes
}
