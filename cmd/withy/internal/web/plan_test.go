package web

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"reflect"
	"strings"
	"testing"

	"withy/cmd/withy/internal/sheet"
	"withy/cmd/withy/internal/view"
	"withy/steambox"
)

// planned is a shelf with a box of n ribs that nothing was done to.
func planned(t testing.TB, n int) *shelf {
	t.Helper()
	b := steambox.DefaultBox()
	b.Probes = []steambox.BoxProbe{{Name: "steam"}, {Name: "door", XM: 1.5}}
	for i := range n {
		r := b.Common
		r.Label, r.StationM = fmt.Sprintf("<b>%d", i+1), float64(i)
		b.Ribs = append(b.Ribs, r)
	}
	session, err := steambox.NewSession(b)
	if err != nil {
		t.Fatal(err)
	}
	s := newShelf()
	s.put(&view.View{Status: session.Status(), Box: &b})
	return s
}

// readPlan reads a plan strictly.
func readPlan(t *testing.T, s *shelf, query string) sheet.PlanDocument {
	t.Helper()
	w := ask(serve(s), "GET", "/api/plan"+query, "")
	if w.Code != 200 || w.Header().Get("Content-Type") != asJSON {
		t.Fatalf("%d %s", w.Code, w.Body)
	}
	var p sheet.PlanDocument
	d := json.NewDecoder(w.Body)
	d.DisallowUnknownFields()
	if err := d.Decode(&p); err != nil {
		t.Fatal(err)
	}
	return p
}

func TestPlan(t *testing.T) {
	s := planned(t, 20)
	for query, spares := range map[string]int{"": 6, "?spares_pct=0": 1, "?spares_pct=12.5": 3, "?spares_pct=200": 40} {
		if p := readPlan(t, s, query); p.Ribs != 20 || len(p.Order) != 20 || len(p.Curve) != 20 || len(p.Spares) != spares {
			t.Errorf("%q: %d ribs, %d turns, %d spares, want %d", query, p.Ribs, len(p.Order), len(p.Spares), spares)
		}
	}
	if p := readPlan(t, planned(t, 0), ""); p.Ribs != 0 || p.Curve == nil || p.Cut == nil || len(p.Limits) != 1 {
		t.Errorf("without a table: %+v", p)
	}
}

// The page looks as its own text says, runs nothing, loads nothing, and takes no markup
// from the table.
func TestPlanSheet(t *testing.T) {
	for n, want := range map[int]string{20: "Plan for 20 ribs", 0: "No plan yet"} {
		w := ask(serve(planned(t, n)), "GET", "/plan", "")
		if w.Code != 200 || !strings.Contains(w.Body.String(), want) || strings.Contains(w.Body.String(), "<b>") {
			t.Errorf("%d ribs: %d %s", n, w.Code, w.Body)
		}
		if kind := w.Header().Get("Content-Type"); kind != "text/html; charset=utf-8" {
			t.Errorf("is %q", kind)
		}
		if got := w.Header().Get("Content-Security-Policy"); got != paperPolicy || strings.Contains(got, "script") {
			t.Errorf("policy %q", got)
		}
	}
}

func TestPlanAskedWrongly(t *testing.T) {
	h := serve(planned(t, 20))
	for query, mistake := range map[string]string{
		"spares_pct=x": "0 to 200", "spares_pct=-1": "0 to 200", "spares_pct=201": "0 to 200", "spares_pct=NaN": "0 to 200",
		"spares_pct=": "0 to 200", "spares_pct=1&spares_pct=2": "given once", "spares=30": "no such parameter",
		"a=1&spares_pct=x": "no such parameter; spares_pct:", "%zz": "well formed",
	} {
		for _, path := range []string{"/api/plan?", "/plan?"} {
			if w := ask(h, "GET", path+query, ""); w.Code != 400 || !strings.Contains(w.Body.String(), mistake) {
				t.Errorf("%s%s: %d %s, want 400 with %q", path, query, w.Code, w.Body, mistake)
			}
		}
	}
}

// A box that passes its own check and still can't be planned for says why.
func TestCannotPlan(t *testing.T) {
	s := planned(t, 20)
	v := *s.View()
	b := *v.Box
	b.Boiler.BareL = b.Boiler.FullL
	v.Box = &b
	s.put(&v)
	for _, path := range []string{"/api/plan", "/plan"} {
		if w := ask(serve(s), "GET", path, ""); w.Code != 409 || !strings.Contains(w.Body.String(), "it must hold more") {
			t.Errorf("%s: %d %s", path, w.Code, w.Body)
		}
	}
	s.put(nil)
	if w := ask(serve(s), "GET", "/api/plan", ""); w.Code != 409 {
		t.Errorf("of nothing: %d", w.Code)
	}
}

// What is served has exactly the keys that are described.
func TestPlanIsAsDescribed(t *testing.T) {
	schemas := at(t, description(t), "components", "schemas")
	var p sheet.PlanDocument
	full(reflect.ValueOf(&p).Elem())
	text, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	var got any
	if err := json.NewDecoder(bytes.NewReader(text)).Decode(&got); err != nil {
		t.Fatal(err)
	}
	compare(t, "plan", got, at(t, schemas, "PlanDocument"), schemas)
}

// While one plan is being made the next waits, and goes when nobody wants it any more.
func TestOnePlanAtATime(t *testing.T) {
	s := newServer(planned(t, 20), nil, Entry{}, quiet, page)
	s.planning <- struct{}{}
	ctx, cancel := context.WithCancel(t.Context())
	gone := make(chan error)
	r := httptest.NewRequest(http.MethodGet, "http://localhost/api/plan", nil)
	go func() {
		_, err := s.planned(r.WithContext(ctx), 0)
		gone <- err
	}()
	cancel()
	if err := <-gone; !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
	<-s.planning
	if _, err := s.planned(r, 0); err != nil || len(s.planning) != 0 {
		t.Errorf("got %v with %d under way", err, len(s.planning))
	}
}
