package web

import (
	"encoding/json"
	"io"
	"net/http"
	"strings"
	"testing"
	"testing/fstest"

	"withy/cmd/withy/internal/boxes"
)

// keeper is a box that knows the others.
type keeper struct{ *shelf }

func (keeper) Shop() boxes.ShopView {
	return boxes.ShopView{Number: 2, Boxes: []boxes.ShopBox{{Number: 2, At: "https://box-2.lan:8017"}}, Kettle: "Kettle on now for box 2.", Circuits: []boxes.ShopCircuit{}}
}

// A box that knows others shows them; one that doesn't says that there are none.
func TestShop(t *testing.T) {
	for _, c := range []struct {
		box    Box
		number int
		boxes  int
	}{{keeper{newShelf()}, 2, 1}, {newShelf(), 0, 0}} {
		w := ask(newHandler(c.box, nil, http.NotFoundHandler(), Entry{}, quiet, page), "GET", "/api/shop", "")
		var got boxes.ShopView
		if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil || w.Code != http.StatusOK {
			t.Fatal(w.Code, err)
		}
		if got.Number != c.number || len(got.Boxes) != c.boxes || got.Boxes == nil || got.Circuits == nil {
			t.Errorf("%s", w.Body)
		}
	}
}

// The shop has a page of its own; where nothing was built the placeholder speaks for both.
func TestShopPage(t *testing.T) {
	built := newAssets(fstest.MapFS{index: {Data: []byte("one")}, shopPage: {Data: []byte("all")}})
	bare := newAssets(fstest.MapFS{placeholder: {Data: []byte("not built")}})
	for want, files := range map[string]*assets{"all": built, "not built": bare} {
		answer := ask(newHandler(newShelf(), nil, http.NotFoundHandler(), Entry{}, quiet, files), "GET", "/shop", "").Result()
		body, _ := io.ReadAll(answer.Body)
		if string(body) != want || answer.Header.Get("Cache-Control") != "no-cache" || !strings.HasPrefix(answer.Header.Get("Content-Type"), "text/html") {
			t.Errorf("%q, %v", body, answer.Header)
		}
	}
}
