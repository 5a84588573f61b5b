package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"withy/cmd/withy/internal/sheet"
	"withy/steambox/ribs"
	"withy/steambox/unit"
)

// mostSpares is the most spares that are planned, in percent of the ribs.
const mostSpares = 100 * ribs.MostShare

// paperPolicy is for what stands alone to be printed: its looks are in its text, and it
// loads nothing and runs nothing.
const paperPolicy = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// plan answers with the plan of the day for the box as it is now.
func (s *server) plan(w http.ResponseWriter, r *http.Request) {
	share, ok := spareShare(w, r)
	if !ok {
		return
	}
	day, err := s.planned(r, share)
	if err != nil {
		refuse(w, http.StatusConflict, noPlan+": "+strings.Join(lines(err), "; ")+".", lines(err)...)
		return
	}
	b, err := json.Marshal(day.Drawn())
	if err != nil {
		s.inside(w, http.StatusInternalServerError, "The plan can't be written out just now.", err)
		return
	}
	send(w, http.StatusOK, asJSON, b)
}

// noPlan heads what keeps a day from being planned.
const noPlan = "No plan can be made"

// planSheet answers with the same plan as a page to print and pin up.
func (s *server) planSheet(w http.ResponseWriter, r *http.Request) {
	share, ok := spareShare(w, r)
	if !ok {
		return
	}
	status, paper := http.StatusOK, (*sheet.Sheet)(nil)
	if day, err := s.planned(r, share); err != nil {
		status, paper = http.StatusConflict, sheet.Without(noPlan, lines(err)...)
	} else {
		paper = day.Sheet()
	}
	var b bytes.Buffer
	if err := paper.WriteHTML(&b); err != nil {
		s.inside(w, http.StatusInternalServerError, "The plan can't be written out just now.", err)
		return
	}
	w.Header().Set("Content-Security-Policy", paperPolicy)
	send(w, status, "text/html; charset=utf-8", b.Bytes())
}

// planned plans the day from what was published last, so that the loop has nothing to
// do with it. One plan is made at a time: a board may have one processor, and the loop
// needs its share.
func (s *server) planned(r *http.Request, spareShare float64) (sheet.Day, error) {
	select {
	case s.planning <- struct{}{}:
		defer func() { <-s.planning }()
	case <-r.Context().Done(): // nobody waits for the answer
		return sheet.Day{}, r.Context().Err()
	}
	v := s.box.View()
	if v == nil || v.Box == nil {
		return sheet.Day{}, errors.New("nothing is known of the box yet")
	}
	day, err := sheet.Plan(v.Box, &v.Status, spareShare)
	day.Units = v.Units
	return day, err
}

// spareShare reads how many spares are asked for each rib, or refuses the request.
func spareShare(w http.ResponseWriter, r *http.Request) (share float64, ok bool) {
	values, err := url.ParseQuery(r.URL.RawQuery)
	if err != nil {
		refuse(w, http.StatusBadRequest, "The query is not well formed.", "the query is not well formed")
		return 0, false
	}
	share = ribs.UsualShare
	var mistakes []string
	for _, name := range slices.Sorted(maps.Keys(values)) {
		pct, err := strconv.ParseFloat(values[name][0], 64)
		switch {
		case name != "spares_pct":
			mistakes = append(mistakes, quoted(name)+": there is no such parameter")
		case err != nil || len(values[name]) != 1 || !unit.Finite(pct) || pct < 0 || pct > mostSpares:
			mistakes = append(mistakes, fmt.Sprintf("spares_pct: spares in percent of the ribs, 0 to %d, given once", mostSpares))
		default:
			share = pct / 100
		}
	}
	if len(mistakes) > 0 {
		refuse(w, http.StatusBadRequest, "This plan can't be asked for: "+strings.Join(mistakes, "; ")+".", mistakes...)
		return 0, false
	}
	return share, true
}
