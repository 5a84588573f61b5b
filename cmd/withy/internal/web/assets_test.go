package web

import (
	"bytes"
	"compress/gzip"
	"io"
	"strings"
	"testing"
	"testing/fstest"
)

func TestPageIsAskedForAgain(t *testing.T) {
	h := serve(newShelf())
	w := ask(h, "GET", "/", "")
	if w.Header().Get("Cache-Control") != "no-cache" {
		t.Errorf("Cache-Control is %q", w.Header().Get("Cache-Control"))
	}
	again := ask(h, "GET", "/", "", "If-None-Match", `W/"0", `+w.Header().Get("ETag"))
	if again.Code != 304 || again.Body.Len() != 0 {
		t.Errorf("with its tag: %d and %d bytes", again.Code, again.Body.Len())
	}
}

func TestCompressed(t *testing.T) {
	h := serve(newShelf())
	small := string(squeezed("let a = 1"))
	for accepts, want := range map[string]string{
		"":                 "let a = 1",
		"br":               "let a = 1",
		"gzip;q=0":         "let a = 1",
		"gzip":             small,
		"br, gzip ; q=0.5": small,
	} {
		w := ask(h, "GET", "/page-AB12.js", "", "Accept-Encoding", accepts)
		if w.Body.String() != want || (w.Header().Get("Content-Encoding") == "gzip") != (want == small) {
			t.Errorf("accepting %q: %q, %q", accepts, w.Body, w.Header().Get("Content-Encoding"))
		}
		if !strings.Contains(w.Header().Get("Cache-Control"), "immutable") {
			t.Errorf("Cache-Control is %q", w.Header().Get("Cache-Control"))
		}
	}
}

// Those who take no compression get what was compressed.
func TestOnlyCompressed(t *testing.T) {
	var squeezed bytes.Buffer
	z := gzip.NewWriter(&squeezed)
	io.WriteString(z, "<p>the page</p>")
	z.Close()
	h := newHandler(newShelf(), nil, serve(newShelf()), Entry{}, quiet, newAssets(fstest.MapFS{"index.html.gz": {Data: squeezed.Bytes()}, "bad.js.gz": {Data: []byte("x")}}))
	if w := ask(h, "GET", "/", ""); w.Code != 200 || w.Body.String() != "<p>the page</p>" || w.Header().Get("Content-Encoding") != "" || !strings.HasPrefix(w.Header().Get("Content-Type"), "text/html") {
		t.Errorf("%d %q %v", w.Code, w.Body, w.Header())
	}
	if w := ask(h, "GET", "/", "", "Accept-Encoding", "gzip"); w.Body.String() != squeezed.String() || w.Header().Get("Content-Encoding") != "gzip" {
		t.Errorf("%d %v", w.Code, w.Header())
	}
	if w := ask(h, "GET", "/bad.js", ""); w.Code != 500 || w.Header().Get("Content-Encoding") != "" {
		t.Errorf("%d %v", w.Code, w.Header())
	}
}

// Without a built page the placeholder says which command comes first.
func TestPlaceholder(t *testing.T) {
	b, err := dist.ReadFile("dist/" + placeholder)
	if err != nil {
		t.Fatal(err)
	}
	bare := newAssets(fstest.MapFS{placeholder: {Data: b}})
	w := ask(newHandler(newShelf(), nil, serve(newShelf()), Entry{}, quiet, bare), "GET", "/", "")
	if w.Code != 200 || !strings.Contains(w.Body.String(), "go generate ./cmd/withy/internal/web") {
		t.Errorf("got %d %q", w.Code, w.Body)
	}
}
