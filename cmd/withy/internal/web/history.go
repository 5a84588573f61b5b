package web

import (
	"bytes"
	"context"
	"errors"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"withy/cmd/withy/internal/history"
	"withy/cmd/withy/internal/record"
	"withy/cmd/withy/internal/report"
)

// asHTML is the media type of the pages that are made of the log.
const asHTML = "text/html; charset=utf-8"

// mostFind is the longest text that is looked for, in letters.
const mostFind = 100

// historyPolicy is that of paper, but that its forms may ask this server for more.
var historyPolicy = strings.Replace(paperPolicy, "form-action 'none'", "form-action 'self'", 1)

// history answers with what all sessions come to, as a page.
func (s *server) history(w http.ResponseWriter, r *http.Request) {
	find, mistakes := askedOnce(r.URL.RawQuery, "find")
	if utf8.RuneCountInString(find[0]) > mostFind {
		mistakes = append(mistakes, "find: a text of at most 100 letters")
	}
	s.past(w, r, mistakes, func() (paper, error) {
		h, err := s.box.History(r.Context())
		if err != nil {
			return paper{}, err
		}
		var b bytes.Buffer
		err = h.Find(find[0], time.Local).WriteHTML(&b, time.Local, s.box.View().Units, find[0])
		return paper{asHTML, historyPolicy, b.Bytes()}, err
	})
}

// historyTable answers with every rib that was pulled, as CSV.
func (s *server) historyTable(w http.ResponseWriter, r *http.Request) {
	_, mistakes := askedOnce(r.URL.RawQuery)
	s.past(w, r, mistakes, func() (paper, error) {
		h, err := s.box.History(r.Context())
		if err != nil {
			return paper{}, err
		}
		var b bytes.Buffer
		err = h.WriteCSV(&b)
		return paper{asCSV + "; charset=utf-8", paperPolicy, b.Bytes()}, err
	})
}

// compare answers with two sessions on one page.
func (s *server) compare(w http.ResponseWriter, r *http.Request) {
	names, mistakes := askedOnce(r.URL.RawQuery, "session", "with")
	if len(mistakes) == 0 && (names[0] == "" || names[1] == "") {
		mistakes = []string{"session, with: the names of two in the log"}
	}
	s.past(w, r, mistakes, func() (paper, error) {
		var two [2]*report.Report
		for i, name := range names {
			var err error
			if two[i], err = s.box.Report(r.Context(), name); err != nil {
				return paper{}, err
			}
		}
		var b bytes.Buffer
		err := report.WriteBeside(&b, two[0], two[1], time.Local, s.box.View().Units)
		return paper{asHTML, paperPolicy, b.Bytes()}, err
	})
}

// paper is a page or a table that stands alone.
type paper struct {
	kind, policy string
	body         []byte
}

// past makes an answer of what is in the log, or says why there is none. One is made at a
// time, reports among them: the loop needs its share of the board.
func (s *server) past(w http.ResponseWriter, r *http.Request, mistakes []string, make func() (paper, error)) {
	if len(mistakes) > 0 {
		refuse(w, http.StatusBadRequest, "This can't be asked for: "+strings.Join(mistakes, "; ")+".", mistakes...)
		return
	}
	select {
	case s.reporting <- struct{}{}:
		defer func() { <-s.reporting }()
	case <-r.Context().Done(): // nobody waits for the answer
		return
	}
	a, err := make()
	switch {
	case errors.Is(err, context.Canceled):
		return
	case errors.Is(err, record.ErrUnknown):
		refuse(w, http.StatusNotFound, "There is no such session in the log.")
		return
	case err != nil:
		s.inside(w, http.StatusServiceUnavailable, "The log can't be read just now. Try again.", err)
		return
	}
	w.Header().Set("Content-Security-Policy", a.policy)
	send(w, http.StatusOK, a.kind, a.body)
}

// askedOnce reads the parameters of a query by their names, "" for one that isn't there,
// and returns all that is wrong with it.
func askedOnce(query string, names ...string) (values []string, mistakes []string) {
	values = make([]string, len(names))
	given, err := url.ParseQuery(query)
	if err != nil {
		return append(values, ""), []string{"the query is not well formed"}
	}
	for _, name := range slices.Sorted(maps.Keys(given)) {
		i := slices.Index(names, name)
		switch {
		case i < 0:
			mistakes = append(mistakes, quoted(name)+": there is no such parameter")
		case len(given[name]) != 1:
			mistakes = append(mistakes, name+": given more than once")
		default:
			values[i] = given[name][0]
		}
	}
	return values, mistakes
}

// columnsSay says what the columns of the table are.
func columnsSay() string {
	var out []string
	for _, c := range history.Columns {
		out = append(out, c.Name+": "+c.Means)
	}
	return "The columns are " + strings.Join(out, "; ") + "."
}

func (s *server) historyRoutes() []route {
	answers := func(says, kind string) []reply {
		return []reply{{http.StatusOK, says, kind, nil}, problem(http.StatusBadRequest, "It is asked for wrongly; all mistakes."),
			problem(http.StatusServiceUnavailable, "The log can't be read now.")}
	}
	return []route{
		{method: "GET", path: "/history", handler: http.HandlerFunc(s.history),
			does:    "What all sessions come to, as a page: which soak worked in which stick, how much broke, and how this box went. Rehearsals have one of their own.",
			params:  []param{{"find", "query", "Words that a session, a rib, a boat or a stick must have; all if not given.", "string"}},
			answers: answers("The page.", "text/html")},
		{method: "GET", path: "/history.csv", handler: http.HandlerFunc(s.historyTable), does: "Every rib that was pulled, a line each. " + columnsSay(),
			answers: answers("The table.", asCSV)},
		{method: "GET", path: "/compare", handler: http.HandlerFunc(s.compare), does: "Two sessions on one graph and in one table.",
			params:  []param{{"session", "query", "The name of one in the log.", "string"}, {"with", "query", "The name of the other.", "string"}},
			answers: append(answers("The page.", "text/html"), problem(http.StatusNotFound, "There is no such session."))},
	}
}
