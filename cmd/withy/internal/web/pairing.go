package web

import (
	"context"
	"errors"
	"net/http"
	"reflect"
	"slices"
	"strings"
	"time"

	"withy/cmd/withy/internal/door"
)

// admits is h for those who may do what it needs, and for as long as they may.
func (s *server) admits(need door.Role, h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		who := s.entry.Door.Who(r)
		switch {
		case who.Role == door.Nobody && need != door.Nobody:
			refuse(w, http.StatusUnauthorized, "This device is not paired with the steam box.")
			return
		case !who.Role.May(need):
			refuse(w, http.StatusForbidden, "This device may look. To tell and to set, pair it as crew.")
			return
		}
		ctx := context.WithValue(r.Context(), visitor{}, who)
		if !who.Here && who.Role != door.Nobody {
			during, leave := s.entry.Door.Stay(ctx, who.Key)
			defer leave()
			ctx = during
		}
		h.ServeHTTP(w, r.WithContext(ctx))
	})
}

// visitor is the key of who sent a request, in its context.
type visitor struct{}

func who(r *http.Request) door.Visitor {
	v, _ := r.Context().Value(visitor{}).(door.Visitor)
	return v
}

// Standing is how the one who asks stands with the box.
type Standing struct {
	Role door.Role `json:"role"`           // empty: not paired
	Here bool      `json:"here"`           // on the board itself, where there is nothing to pair
	Name string    `json:"name,omitempty"` // that the device gave itself
	Safe bool      `json:"safe"`           // nobody in between can read or change what is sent
}

func (s *server) standing(w http.ResponseWriter, r *http.Request) {
	v := who(r)
	s.answer(w, Standing{Role: v.Role, Here: v.Here, Name: v.Key.Name, Safe: r.TLS != nil || v.Here})
}

// Pair is a device that wants to be let in: by a code, or by the board's button.
type Pair struct {
	Name string `json:"name"`           // of the device
	Code string `json:"code,omitempty"` // that the board shows
	Ask  string `json:"ask,omitempty"`  // without a code: a secret made at random, the same each time that it asks
}

// Paired is the answer to it.
type Paired struct {
	Role door.Role `json:"role"` // empty: the button was not pressed yet
}

func (s *server) pair(w http.ResponseWriter, r *http.Request) {
	body, ok := jsonBody(w, r)
	if !ok {
		return
	}
	var p Pair
	if err := strictly(body, &p); err != nil || (p.Code == "") == (p.Ask == "") {
		refuse(w, http.StatusBadRequest, "To be paired takes a name, and either a code or ask.")
		return
	}
	var token string
	var role door.Role
	var err error
	if p.Code != "" {
		token, role, err = s.entry.Door.Code(p.Code, p.Name)
	} else if token, err = s.entry.Door.Ask(p.Ask, p.Name); token != "" {
		role = door.Crew
	}
	if err != nil {
		s.unpaired(w, err)
		return
	}
	if token != "" {
		s.log.Info("paired", "device", p.Name, "role", string(role), "from", r.RemoteAddr)
		http.SetCookie(w, door.Cookie(r, token))
	}
	s.answer(w, Paired{role})
}

// unpaired says why a device was not let in.
func (s *server) unpaired(w http.ResponseWriter, err error) {
	switch {
	case errors.Is(err, door.ErrCode):
		s.warnOfGuessing()
		refuse(w, http.StatusForbidden, "That code is not right, or not open any more. `withy pair` on the board shows another.")
	case errors.Is(err, door.ErrName), errors.Is(err, door.ErrAsk), errors.Is(err, door.ErrToken):
		refuse(w, http.StatusBadRequest, sentence(err))
	case errors.Is(err, door.ErrFull), errors.Is(err, door.ErrKnown):
		refuse(w, http.StatusConflict, sentence(err))
	case errors.Is(err, door.ErrBusy):
		refuse(w, http.StatusTooManyRequests, "Several devices ask to be paired. Close the page on the others, or use a code.")
	default:
		s.inside(w, http.StatusServiceUnavailable, "The pairing can't be kept on the card.", err)
	}
}

// warnOfGuessing puts a wrong code into the log, once a minute: whoever guesses must not
// fill the card.
func (s *server) warnOfGuessing() {
	now := time.Now().UnixNano()
	if last := s.guessed.Load(); now-last > int64(time.Minute) && s.guessed.CompareAndSwap(last, now) {
		s.log.Warn("somebody typed a wrong code, or guesses")
	}
}

// Device is one that is paired.
type Device struct {
	ID   string    `json:"id"`
	Name string    `json:"name"`
	Role door.Role `json:"role"`
	Made string    `json:"made"` // the day, by the board's clock
	This bool      `json:"this"` // the one that asks
}

// Devices is all that are paired.
type Devices struct {
	Devices []Device `json:"devices"`
}

func (s *server) devices(w http.ResponseWriter, r *http.Request) {
	out := Devices{Devices: []Device{}}
	for _, k := range s.entry.Door.Keys() {
		out.Devices = append(out.Devices, Device{k.ID, k.Name, k.Role, k.Made.Format("2006-01-02"), k.ID == who(r).Key.ID})
	}
	s.answer(w, out)
}

// Unpair is a device that is to be sent away.
type Unpair struct {
	Device string `json:"device"` // its id; empty for the one that asks
}

func (s *server) unpair(w http.ResponseWriter, r *http.Request) {
	body, ok := jsonBody(w, r)
	if !ok {
		return
	}
	var u Unpair
	if strictly(body, &u) != nil || len(u.Device) > mostID {
		refuse(w, http.StatusBadRequest, "device: the id of one that is paired, or empty for the one that asks.")
		return
	}
	v := who(r)
	if u.Device == "" {
		u.Device = v.Key.ID
	}
	if u.Device != v.Key.ID && !v.Role.May(door.Crew) {
		refuse(w, http.StatusForbidden, "Only the crew sends others away.")
		return
	}
	switch err := s.entry.Door.Revoke(u.Device); {
	case errors.Is(err, door.ErrUnknown):
		refuse(w, http.StatusNotFound, "No device with that id is paired.")
		return
	case err != nil:
		s.inside(w, http.StatusServiceUnavailable, "It is away until the next start, but that can't be kept on the card.", err)
		return
	}
	s.log.Info("unpaired", "device", u.Device)
	if u.Device == v.Key.ID {
		http.SetCookie(w, door.Cookie(r, ""))
	}
	sendOK(w)
}

// Grant is a code, or a token for a program, that somebody on the board asks for.
type Grant struct {
	Role door.Role `json:"role"`
	Name string    `json:"name,omitempty"` // of the program; empty for a code
	// Token is one that another box has made for the program; empty: a new one.
	Token string `json:"token,omitempty"`
}

// Granted is the answer: one of the two.
type Granted struct {
	Code        string  `json:"code,omitempty"`
	ForS        float64 `json:"for_s,omitempty"` // how long the code is good
	Token       string  `json:"token,omitempty"`
	Fingerprint string  `json:"fingerprint,omitempty"` // of the certificate, as browsers show it
}

// grant makes what lets somebody in. It is answered by the socket only: whoever sees it
// stands at the board, or is allowed what is in its data folder.
func (s *server) grant(w http.ResponseWriter, r *http.Request) {
	if !door.Inside(r) {
		refuse(w, http.StatusForbidden, "That is shown on the board only: `withy pair`.")
		return
	}
	body, ok := jsonBody(w, r)
	if !ok {
		return
	}
	var g Grant
	if strictly(body, &g) != nil || !slices.Contains([]door.Role{door.View, door.Crew}, g.Role) || g.Token != "" && g.Name == "" {
		refuse(w, http.StatusBadRequest, "role: view or crew; and name, for a program, with its token where another box made that.")
		return
	}
	out := Granted{Fingerprint: s.fingerprint()}
	var err error
	switch {
	case g.Token != "":
		out.Token, err = g.Token, s.entry.Door.LetBy(g.Token, g.Name, g.Role)
	case g.Name != "":
		out.Token, err = s.entry.Door.Let(g.Name, g.Role)
	default:
		out.ForS = door.CodeFor.Seconds()
		out.Code, err = s.entry.Door.OpenCode(g.Role)
	}
	if err != nil {
		s.unpaired(w, err)
		return
	}
	s.answer(w, out)
}

// fingerprint is that of the certificate, "" where there is none.
func (s *server) fingerprint() string {
	if s.entry.Certificate == nil {
		return ""
	}
	return s.entry.Certificate.Fingerprint()
}

// sentence is an error as people read it.
func sentence(err error) string {
	text := err.Error()
	return strings.ToUpper(text[:1]) + text[1:] + "."
}

// pairingRoutes are how devices come in and go.
func (s *server) pairingRoutes() []route {
	kept := problem(http.StatusServiceUnavailable, "It can't be kept on the card.")
	return []route{
		{method: "GET", path: "/api/pairing", open: true, handler: http.HandlerFunc(s.standing), does: "How the one who asks stands with the box.",
			answers: []reply{{http.StatusOK, "Its role.", asJSON, reflect.TypeFor[Standing]()}}},
		{method: "POST", path: "/api/pair", open: true, handler: http.HandlerFunc(s.pair),
			does: "Be let in, by a code that the board shows or by its button. With ask it is asked again each second until the role is there; the token comes as a cookie.",
			body: reflect.TypeFor[Pair](),
			answers: append(taken("It is let in, or its role is empty: the button was not pressed yet.", reflect.TypeFor[Paired]()),
				problem(http.StatusConflict, "Too many are paired."), problem(http.StatusTooManyRequests, "Too many ask at once."), kept)},
		{method: "GET", path: "/api/devices", need: door.Crew, handler: http.HandlerFunc(s.devices), does: "Who is paired.",
			answers: []reply{{http.StatusOK, "All of them.", asJSON, reflect.TypeFor[Devices]()}}},
		{method: "POST", path: "/api/unpair", need: door.View, handler: http.HandlerFunc(s.unpair), does: "Send a device away. Others than the one that asks need crew.",
			body:    reflect.TypeFor[Unpair](),
			answers: append(taken("It is away.", okType), problem(http.StatusNotFound, "There is no such device."), kept)},
		{method: "POST", path: "/api/grant", handler: http.HandlerFunc(s.grant), does: "Make a code for a device, or a token for a program. Answered by the socket in the data folder only.",
			body: reflect.TypeFor[Grant](),
			answers: append(taken("It is shown this once.", reflect.TypeFor[Granted]()),
				problem(http.StatusConflict, "Too many are paired, or the token is known."), kept)},
	}
}

// taken is what a request with a body is answered when it is taken, and when it is none.
func taken(does string, body reflect.Type) []reply {
	return []reply{{http.StatusOK, does, asJSON, body}, problem(http.StatusBadRequest, "It is malformed."),
		problem(http.StatusForbidden, "A page from elsewhere sent it, or it may not."), problem(http.StatusRequestEntityTooLarge, "It is too long."),
		problem(http.StatusUnsupportedMediaType, "It is not JSON.")}
}

var okType = reflect.TypeFor[struct {
	OK bool `json:"ok"`
}]()
