package web

import (
	"encoding/json"
	"net/http"
	"reflect"

	"withy/cmd/withy/internal/boxes"
)

func (s *server) shopRoutes() []route {
	return []route{
		{method: "GET", path: "/shop", handler: http.HandlerFunc(s.page.shop), does: "The page of all boxes of the shop.",
			answers: []reply{{http.StatusOK, "The page.", "text/html", nil}, {http.StatusNotModified, "The client has it.", "", nil}}},
		{method: "GET", path: "/api/shop", handler: http.HandlerFunc(s.shop),
			does:    "All boxes of the shop as this one heard them last, the next call first; whose turn the kettle is, and what hangs on each circuit. Without a shop there are none.",
			answers: []reply{{http.StatusOK, "The shop.", asJSON, reflect.TypeFor[boxes.ShopView]()}, problem(http.StatusInternalServerError, "It can't be written out.")}},
	}
}

// shop answers with all boxes.
func (s *server) shop(w http.ResponseWriter, _ *http.Request) {
	view := boxes.ShopView{Boxes: []boxes.ShopBox{}, Circuits: []boxes.ShopCircuit{}}
	if k, ok := s.box.(shopkeeper); ok {
		view = k.Shop()
	}
	if v := s.box.View(); v != nil {
		view.Units = v.Units
	}
	b, err := json.Marshal(view)
	if err != nil {
		s.inside(w, http.StatusInternalServerError, "The shop can't be written out just now.", err)
		return
	}
	send(w, http.StatusOK, asJSON, b)
}
