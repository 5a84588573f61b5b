package web

import (
	"encoding/json"
	"errors"
	"net/http"

	"withy/cmd/withy/internal/view"
)

// Problem is the body of every answer that is not a success.
type Problem struct {
	Error    string   `json:"error"`              // a sentence for people
	Mistakes []string `json:"mistakes,omitempty"` // all that is wrong with the request, each with its key
}

// refuse answers with a problem.
func refuse(w http.ResponseWriter, status int, sentence string, mistakes ...string) {
	b, err := json.Marshal(Problem{Error: sentence, Mistakes: mistakes})
	if err != nil {
		panic(err) // two kinds of text always marshal
	}
	send(w, status, "application/json", b)
}

// send answers with b, which nobody may keep.
func send(w http.ResponseWriter, status int, kind string, b []byte) {
	h := w.Header()
	h.Set("Content-Type", kind)
	h.Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, _ = w.Write(b) // an answer that can't be written has nobody to be told
}

// inside answers when something of our own failed, and logs what.
func (s *server) inside(w http.ResponseWriter, status int, sentence string, err error) {
	s.log.Error("cannot answer", "err", err)
	refuse(w, status, sentence)
}

// status answers with the view as it is now.
func (s *server) status(w http.ResponseWriter, _ *http.Request) {
	b, err := s.stream.encode(s.box.View())
	if err != nil {
		s.inside(w, http.StatusInternalServerError, "The status can't be written out just now. The alarms go on.", err)
		return
	}
	send(w, http.StatusOK, "application/json", b)
}

// healthz says whether the loop is alive and sensing.
func (s *server) healthz(w http.ResponseWriter, _ *http.Request) {
	if err := s.box.Healthy(); err != nil {
		send(w, http.StatusServiceUnavailable, "text/plain; charset=utf-8", []byte(err.Error()+"\n"))
		return
	}
	send(w, http.StatusOK, "text/plain; charset=utf-8", []byte("ok\n"))
}

// marshalView writes a view out; a number that is none is an error.
func marshalView(v *view.View) ([]byte, error) {
	if v == nil {
		return nil, errors.New("no view has been published")
	}
	return json.Marshal(v)
}
