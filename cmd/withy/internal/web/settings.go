package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"reflect"
	"strings"
	"time"

	"withy/cmd/withy/internal/door"
	"withy/steambox"
)

// Setting is one thing that can be set at the box, with what is in use for it now.
type Setting struct {
	Key   string   `json:"key"`             // the configuration file's, such as place.altitude_m
	Group string   `json:"group"`           // the part of the file that it stands in
	Says  string   `json:"says"`            // its name for people
	Help  string   `json:"help,omitempty"`  // one sentence more
	Kind  string   `json:"kind"`            // number, word, switch, time, text or list
	Unit  string   `json:"unit,omitempty"`  // of a number
	Lo    float64  `json:"lo"`              // of a number in its unit, of a time in s, of a list or a text in members or characters
	Hi    float64  `json:"hi"`              // both included
	None  bool     `json:"none,omitempty"`  // 0, or no word, is allowed too: it isn't told
	Words []string `json:"words,omitempty"` // what a word may be
	Value any      `json:"value"`           // a number, text, true or false, or a list of texts
	From  string   `json:"from"`            // page, file (or the environment) or default
}

// Settings is what can be set at the box. Its methods are called from many goroutines.
//
// Set, SetRibs and SetBends return nil once what is set is in use and kept for the
// next start, a *MistakesError, a *steambox.RefusedError where it can't be taken now,
// and any other error where it could not be kept. An id that was told before counts
// once. A nil table takes back the one that was set, so that the file's is in use again.
type Settings interface {
	// List returns all that can be set.
	List() []Setting
	// Set sets values by their keys: numbers, texts, true or false, lists of texts as
	// encoding/json reads them. nil takes back what was set, so that the file's value
	// is in use again.
	Set(ctx context.Context, id string, values map[string]any) error
	// Ribs returns the rib table in use, as CSV.
	Ribs() []byte
	// SetRibs puts another table in its place and returns how many ribs there are.
	SetRibs(ctx context.Context, id string, table []byte) (int, error)
	// Bends returns the test bends in use, as CSV.
	Bends() []byte
	// SetBends puts others in their place and returns how many there are.
	SetBends(ctx context.Context, id string, table []byte) (int, error)
	// TablesSet reports which of the two tables were set, and so can be taken back.
	TablesSet() (ribs, bends bool)
	// Calibrator returns what calibrates the probes; nil where nothing does.
	Calibrator() Calibrator
	// Erase erases all that is kept: sessions, what was set, who is paired. Errors are
	// those of Box.Do.
	Erase(ctx context.Context) error
}

// MistakesError is all that is wrong with what somebody wants to set, each with its
// key, or line and column, and what is allowed.
type MistakesError struct{ All []string }

// Error returns the mistakes, a line each.
func (e *MistakesError) Error() string { return strings.Join(e.All, "\n") }

// mostTable is the longest table that is taken, in bytes: the record keeps it on one
// line of at most 1 MiB.
const mostTable = 64 << 10

// Change is the body of a change of settings.
type Change struct {
	ID  string         `json:"id"` // made by the client; one that is sent twice counts once
	Set map[string]any `json:"set"`
}

// Taken is the answer to what was set: how many lines a table has.
type Taken struct {
	OK    bool `json:"ok"`
	Ribs  int  `json:"ribs,omitempty"`
	Bends int  `json:"bends,omitempty"`
}

// SettingsNow is all that can be set, and whether the tables that have a route of their
// own were set too.
type SettingsNow struct {
	Settings []Setting `json:"settings"`
	RibsSet  bool      `json:"ribs_set"`
	BendsSet bool      `json:"bends_set"`
}

func (s *server) settingsNow(w http.ResponseWriter, _ *http.Request) {
	ribs, bends := s.settings.TablesSet()
	s.answer(w, SettingsNow{s.settings.List(), ribs, bends})
}

// answer writes v out as JSON.
func (s *server) answer(w http.ResponseWriter, v any) {
	b, err := json.Marshal(v)
	if err != nil {
		s.inside(w, http.StatusInternalServerError, "The answer can't be written out.", err)
		return
	}
	send(w, http.StatusOK, asJSON, b)
}

// set takes a change of settings.
func (s *server) set(w http.ResponseWriter, r *http.Request) {
	body, ok := jsonBody(w, r)
	if !ok {
		return
	}
	var change Change
	if err := strictly(body, &change); err != nil || !validID(change.ID) || len(change.Set) == 0 {
		refuse(w, http.StatusBadRequest, fmt.Sprintf("A change is an id of 1 to %d characters and set, the values by their keys.", mostID))
		return
	}
	ctx, cancel := context.WithTimeout(r.Context(), toStore)
	defer cancel()
	if err := s.settings.Set(ctx, change.ID, change.Set); err != nil {
		s.unset(w, err)
		return
	}
	s.answer(w, Taken{OK: true})
}

// unset says why what was to be set is not.
func (s *server) unset(w http.ResponseWriter, err error) {
	if wrong := (*MistakesError)(nil); errors.As(err, &wrong) {
		refuse(w, http.StatusBadRequest, "That can't be set: "+strings.Join(wrong.All, "; ")+".", wrong.All...)
		return
	}
	s.untaken(w, err)
}

// Erase is the wish to have all erased.
type Erase struct {
	Erase string `json:"erase"` // the word everything, so that nothing else is taken for it
}

func (s *server) erase(w http.ResponseWriter, r *http.Request) {
	body, ok := jsonBody(w, r)
	if !ok {
		return
	}
	var e Erase
	if strictly(body, &e) != nil || e.Erase != "everything" {
		refuse(w, http.StatusBadRequest, `To erase all that is kept say {"erase":"everything"}.`)
		return
	}
	ctx, cancel := context.WithTimeout(r.Context(), toErase)
	defer cancel()
	if err := s.settings.Erase(ctx); err != nil {
		s.untaken(w, err)
		return
	}
	http.SetCookie(w, door.Cookie(r, ""))
	sendOK(w)
}

// toErase is how long erasing may take: the whole record is written anew.
const toErase = 25 * time.Second

// shows serves a table.
func shows(table func() []byte) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) { send(w, http.StatusOK, asCSV+"; charset=utf-8", table()) }
}

// takes serves the telling of a table, and its taking back.
func (s *server) takes(put func(context.Context, string, []byte) (int, error), count func(int) Taken) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		var table []byte
		if r.Method == http.MethodPost {
			var ok bool
			if table, ok = csvBody(w, r); !ok {
				return
			}
		}
		id := r.URL.Query().Get("id")
		if !validID(id) {
			refuse(w, http.StatusBadRequest, fmt.Sprintf("id: 1 to %d characters, made by the client.", mostID))
			return
		}
		ctx, cancel := context.WithTimeout(r.Context(), toStore)
		defer cancel()
		n, err := put(ctx, id, table)
		if err != nil {
			s.unset(w, err)
			return
		}
		s.answer(w, count(n))
	}
}

// csvBody returns a request's table, or refuses the request.
func csvBody(w http.ResponseWriter, r *http.Request) (body []byte, ok bool) {
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != asCSV {
		refuse(w, http.StatusUnsupportedMediaType, "A table is told as CSV: set Content-Type to text/csv.")
		return nil, false
	}
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, mostTable))
	if tooLong := (*http.MaxBytesError)(nil); errors.As(err, &tooLong) {
		refuse(w, http.StatusRequestEntityTooLarge, fmt.Sprintf("A table is at most %d bytes long.", mostTable))
		return nil, false
	}
	if err != nil {
		refuse(w, http.StatusBadRequest, "The table did not arrive whole. Send it again.")
		return nil, false
	}
	return body, true
}

// asCSV is the media type of the tables.
const asCSV = "text/csv"

// settingRoutes are what is set at the box.
func (s *server) settingRoutes() []route {
	id := []param{{"id", "query", "Made by the client; one that is sent twice counts once.", "string"}}
	answers := func(does string, body reflect.Type) []reply {
		return []reply{{http.StatusOK, does, asJSON, body},
			problem(http.StatusBadRequest, "It is wrong; all mistakes, each with its key, or line and column, and what is allowed."),
			problem(http.StatusForbidden, "A page from elsewhere sent it, or it may not."), problem(http.StatusConflict, "It can't be taken now; why, in a sentence."),
			problem(http.StatusRequestEntityTooLarge, "It is too long."), problem(http.StatusUnsupportedMediaType, "It is of another media type."),
			problem(http.StatusServiceUnavailable, "It could not be stored: send it again.")}
	}
	table := func(path, what string, now func() []byte, put func(context.Context, string, []byte) (int, error), count func(int) Taken) []route {
		return []route{
			{method: "GET", path: path, handler: shows(now), does: "The " + what + " in use.",
				answers: []reply{{http.StatusOK, "The table.", asCSV, nil}}},
			{method: "POST", path: path, handler: s.takes(put, count), does: "Put another table in the place of the " + what + ".",
				params: id, text: asCSV, answers: answers("It is in use and kept.", reflect.TypeFor[Taken]())},
			{method: "DELETE", path: path, handler: s.takes(put, count), does: "Take back what was set as the " + what + ": the configuration file's is in use again.",
				params: id, answers: answers("The file's is in use.", reflect.TypeFor[Taken]())},
		}
	}
	out := []route{
		{method: "POST", path: "/api/erase", handler: http.HandlerFunc(s.erase),
			does: "Erase all that is kept: the log, what was set on the page, calibrations, keys, and who is paired. It can't be taken back.",
			body: reflect.TypeFor[Erase](), answers: answers("All is erased.", okType)},
		{method: "GET", path: "/api/settings", handler: http.HandlerFunc(s.settingsNow), does: "What can be set at the box, and what is in use.",
			answers: []reply{{http.StatusOK, "The settings.", asJSON, reflect.TypeFor[SettingsNow]()}}},
		{method: "POST", path: "/api/settings", handler: http.HandlerFunc(s.set),
			does: "Set values by their keys; null takes back what was set. It goes before the configuration file and is in use at once.",
			body: reflect.TypeFor[Change](), answers: answers("It is in use and kept.", reflect.TypeFor[Taken]())},
	}
	out = append(out, table("/api/ribs", "rib table", s.settings.Ribs, s.settings.SetRibs, func(n int) Taken { return Taken{OK: true, Ribs: n} })...)
	return append(out, table("/api/bends", "test bends", s.settings.Bends, s.settings.SetBends, func(n int) Taken { return Taken{OK: true, Bends: n} })...)
}

// toldKinds is what the crew may tell: the kinds of event but those that the daemon makes.
func toldKinds() []steambox.KindInfo {
	var out []steambox.KindInfo
	for _, k := range steambox.Kinds {
		if !k.Kind.ByDaemon() {
			out = append(out, k)
		}
	}
	return out
}
