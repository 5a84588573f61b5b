package web

import (
	"bytes"
	"net/http"
	"time"
)

// report answers with the report of a session as a page to read, print and take home.
func (s *server) report(w http.ResponseWriter, r *http.Request) {
	session, mistakes := askedOnce(r.URL.RawQuery, "session")
	s.past(w, r, mistakes, func() (paper, error) {
		told, err := s.box.Report(r.Context(), session[0])
		if err != nil {
			return paper{}, err
		}
		var b bytes.Buffer
		err = told.WriteHTML(&b, time.Local, s.box.View().Units)
		return paper{asHTML, paperPolicy, b.Bytes()}, err
	})
}
