package web

import (
	"fmt"
	"net/http"
	"reflect"

	"withy/cmd/withy/internal/door"
	"withy/cmd/withy/internal/sheet"
	"withy/cmd/withy/internal/view"
	"withy/steambox"
	"withy/steambox/ribs"
)

// route is one thing that is served: where, by whom, and how the API's description
// tells of it.
type route struct {
	method, path string
	open         bool      // to everybody; most are not
	need         door.Role // empty: view where something is looked at, else crew
	handler      http.Handler
	does         string
	params       []param
	body         reflect.Type // of the request's JSON
	text         string       // media type of a request that is no JSON; "" for none
	answers      []reply      // the success first
}

// pattern is the path as the multiplexer spells it.
func (r route) pattern() string {
	if r.path == "/" {
		return "/{$}"
	}
	return r.path
}

// needs is what one must be let in as to be served.
func (r route) needs() door.Role {
	switch {
	case r.open:
		return door.Nobody
	case r.need != "":
		return r.need
	case r.method == http.MethodGet:
		return door.View
	}
	return door.Crew
}

// param is one parameter of a route.
type param struct {
	name, in, does string
	kind           string // of JSON
}

// reply is one answer of a route.
type reply struct {
	status int
	does   string
	kind   string       // media type; "" for no body
	body   reflect.Type // of the JSON; nil for any other
}

const (
	asJSON   = "application/json"
	asText   = "text/plain"
	asStream = "text/event-stream"
)

func problem(status int, does string) reply {
	return reply{status, does, asJSON, reflect.TypeFor[Problem]()}
}

// routes is the table of all that is served.
func (s *server) routes(metrics http.Handler) []route {
	out := append(s.pageRoutes(), s.watchRoutes(metrics)...)
	out = append(out, s.apiRoutes()...)
	out = append(out, s.planRoutes()...)
	out = append(out, s.reportRoute())
	out = append(out, s.historyRoutes()...)
	out = append(out, s.pairingRoutes()...)
	out = append(out, s.securityRoute())
	out = append(out, s.shopRoutes()...)
	if s.settings != nil {
		out = append(out, s.settingRoutes()...)
		if s.settings.Calibrator() != nil {
			out = append(out, s.calibrationRoutes()...)
		}
	}
	doc := route{method: "GET", path: "/api/openapi.json", does: "This description.",
		answers: []reply{{http.StatusOK, "OpenAPI 3.1.", asJSON, nil}}}
	out = append(out, doc)
	text := describe(out)
	out[len(out)-1].handler = http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { send(w, http.StatusOK, asJSON, text) })
	return out
}

func (s *server) pageRoutes() []route {
	return []route{
		{method: "GET", path: "/", open: true, handler: http.HandlerFunc(s.page.root), does: "The page for the crew.",
			answers: []reply{{http.StatusOK, "The page.", "text/html", nil}, {http.StatusNotModified, "The client has it.", "", nil}}},
		{method: "GET", path: "/{asset}", open: true, handler: http.HandlerFunc(s.page.file), does: "A file that the page loads.",
			params: []param{{"asset", "path", "Its name, which changes with its content.", "string"}},
			answers: []reply{{http.StatusOK, "The file.", "application/octet-stream", nil}, {http.StatusNotModified, "The client has it.", "", nil},
				problem(http.StatusNotFound, "There is no such file.")}},
	}
}

func (s *server) watchRoutes(metrics http.Handler) []route {
	return []route{
		{method: "GET", path: "/metrics", handler: metrics, does: "Metrics for a scraper.",
			answers: []reply{{http.StatusOK, "Prometheus text or OpenMetrics, as asked for.", asText, nil}}},
		{method: "GET", path: "/healthz", open: true, handler: http.HandlerFunc(s.healthz), does: "Whether the loop is alive and sensing.",
			answers: []reply{{http.StatusOK, "It is.", asText, nil}, {http.StatusServiceUnavailable, "It is not; the reason as a sentence.", asText, nil}}},
	}
}

func (s *server) planRoutes() []route {
	says := fmt.Sprintf("Spares in percent of the ribs, 0 to %d, at least one a stick and section; %g if not given.", mostSpares, 100*ribs.UsualShare)
	spares := []param{{"spares_pct", "query", says, "number"}}
	asked, box := problem(http.StatusBadRequest, "The plan is asked for wrongly; all mistakes."), "The box as it is set can't be planned for; why."
	return []route{
		{method: "GET", path: "/api/plan", handler: http.HandlerFunc(s.plan), params: spares,
			does: "The plan of the day for the box and the ribs of its table, made from what is known now. Without a table it is empty, and its limits say so.",
			answers: []reply{{http.StatusOK, "The plan. Times are minutes from the first rib in.", asJSON, reflect.TypeFor[sheet.PlanDocument]()},
				asked, problem(http.StatusConflict, box), problem(http.StatusInternalServerError, "It can't be written out.")}},
		{method: "GET", path: "/plan", handler: http.HandlerFunc(s.planSheet), params: spares, does: "The same as a page to print.",
			answers: []reply{{http.StatusOK, "The page.", "text/html", nil}, asked, {http.StatusConflict, box, "text/html", nil},
				problem(http.StatusInternalServerError, "It can't be written out.")}},
	}
}

func (s *server) reportRoute() route {
	return route{method: "GET", path: "/report", handler: http.HandlerFunc(s.report),
		does:   "The report of a session as a page that needs nothing else: what was bent, how it went, what to do next time, and a sheet for each boat. One is made at a time.",
		params: []param{{"session", "query", "Its name in the log; the one that goes on if not given.", "string"}},
		answers: []reply{{http.StatusOK, "The page.", "text/html", nil}, problem(http.StatusBadRequest, "The report is asked for wrongly; all mistakes."),
			problem(http.StatusNotFound, "There is no such session."), problem(http.StatusServiceUnavailable, "The log can't be read now."),
			problem(http.StatusInternalServerError, "It can't be written out.")}}
}

func (s *server) apiRoutes() []route {
	return []route{
		{method: "GET", path: "/api/status", handler: http.HandlerFunc(s.status), does: "All that is known of the box now.",
			answers: []reply{{http.StatusOK, "The view.", asJSON, reflect.TypeFor[view.View]()}, problem(http.StatusInternalServerError, "It can't be written out.")}},
		{method: "GET", path: "/api/events", handler: s.stream,
			does: "The same as server-sent events: a view event after a change, at most one a second and at once with a new sound or alarm, " +
				"its id the view's seq; a beat event each second. A client that does not read is dropped.",
			params: []param{{"Last-Event-ID", "header", "The seq of the view that the client has; that one is not sent again.", "integer"}},
			answers: []reply{{http.StatusOK, "Events without end.", asStream, reflect.TypeFor[Beat]()},
				problem(http.StatusServiceUnavailable, "Too many clients listen.")}},
		{method: "POST", path: "/api/event", handler: http.HandlerFunc(s.told), does: "Tell what the crew did. An id told twice counts once.",
			body: reflect.TypeFor[steambox.Event](),
			answers: []reply{{http.StatusOK, "The event is on disk.", asJSON, okType},
				problem(http.StatusBadRequest, "The event is malformed; all mistakes."), problem(http.StatusForbidden, "A page from elsewhere sent it, or it may not."),
				problem(http.StatusConflict, "It can't be taken now; why, in a sentence."), problem(http.StatusRequestEntityTooLarge, "It is too long."),
				problem(http.StatusUnsupportedMediaType, "It is not JSON."), problem(http.StatusServiceUnavailable, "It could not be stored: tell it again.")}},
		{method: "POST", path: "/api/press", handler: http.HandlerFunc(s.pressed),
			does: "The press of a key: does is what the key is for, as a button on the board has it. The same again within five seconds says no to it.",
			body: reflect.TypeFor[Press](),
			answers: []reply{{http.StatusOK, "The answer to be said.", asJSON, reflect.TypeFor[view.Answer]()},
				problem(http.StatusBadRequest, "The press is malformed; all mistakes."), problem(http.StatusForbidden, "A page from elsewhere sent it, or it may not."),
				problem(http.StatusConflict, "It can't be taken now; why, in a sentence."), problem(http.StatusRequestEntityTooLarge, "It is too long."),
				problem(http.StatusUnsupportedMediaType, "It is not JSON."), problem(http.StatusServiceUnavailable, "It could not be stored: press again.")}},
		{method: "POST", path: "/api/session", handler: http.HandlerFunc(s.next),
			does: "End the log that goes on and begin another one, for another boat: all ribs of the table wait again, and what is known of water, heat, pace and rig goes on.",
			body: reflect.TypeFor[Next](),
			answers: []reply{{http.StatusOK, "It has begun.", asJSON, okType},
				problem(http.StatusBadRequest, "The request is malformed."), problem(http.StatusForbidden, "A page from elsewhere sent it, or it may not."),
				problem(http.StatusConflict, "It can't be done now; why, in a sentence."), problem(http.StatusRequestEntityTooLarge, "It is too long."),
				problem(http.StatusUnsupportedMediaType, "It is not JSON."), problem(http.StatusServiceUnavailable, "The box does not answer.")}},
		{method: "POST", path: "/api/sound", handler: http.HandlerFunc(s.sounded),
			does: "Make a sound, at the buzzer and on every page, so that it is known to be heard.",
			body: reflect.TypeFor[Sounded](),
			answers: []reply{{http.StatusOK, "It sounds.", asJSON, okType},
				problem(http.StatusBadRequest, "The request is malformed."), problem(http.StatusForbidden, "A page from elsewhere sent it, or it may not."),
				problem(http.StatusRequestEntityTooLarge, "It is too long."), problem(http.StatusUnsupportedMediaType, "It is not JSON."),
				problem(http.StatusServiceUnavailable, "The box does not answer.")}},
		{method: "POST", path: "/api/message", handler: http.HandlerFunc(s.messaged),
			does: "Send a test message by each output, so that somebody away from the box sees that it arrives. It waits until each has taken it or failed.",
			body: reflect.TypeFor[Message](),
			answers: []reply{{http.StatusOK, "What became of it.", asJSON, reflect.TypeFor[Messaged]()},
				problem(http.StatusBadRequest, "The request is malformed."), problem(http.StatusForbidden, "A page from elsewhere sent it."),
				problem(http.StatusRequestEntityTooLarge, "It is too long."), problem(http.StatusUnsupportedMediaType, "It is not JSON."),
				problem(http.StatusInternalServerError, "It can't be written out.")}},
		{method: "GET", path: "/api/trace", handler: http.HandlerFunc(s.trace), does: "A stretch of the session's past.",
			params: []param{{"from", "query", "Elapsed time in seconds; the start if not given.", "number"},
				{"to", "query", "Elapsed time in seconds; the end if not given.", "number"}, {"most", "query", "How many moments, 2 to 5000.", "integer"}},
			answers: []reply{{http.StatusOK, "The stretch.", asJSON, reflect.TypeFor[view.Trace]()}, problem(http.StatusBadRequest, "The stretch is malformed."),
				problem(http.StatusServiceUnavailable, "The log can't be read now.")}},
	}
}
