package web

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"slices"
	"strconv"
	"strings"
)

//go:embed all:dist
var dist embed.FS

// built returns the page as it was built into the program.
func built() *assets {
	files, err := fs.Sub(dist, "dist")
	if err != nil {
		panic(err) // the pattern above names the folder
	}
	return newAssets(files)
}

// assets are the page's files. The page itself is asked for again each time; all
// others bear a hash of their content in their names and may be kept for ever.
type assets struct {
	files map[string]asset
	page  string // which of them is the page
}

// asset is one file: plain, compressed, or both. The build keeps the compressed one alone,
// since nearly everybody takes it and the program is to be small.
type asset struct {
	kind        string
	tag         string
	plain, gzip []byte
}

// text is the file as it was before it was compressed.
func (f *asset) text() ([]byte, error) {
	if f.plain != nil {
		return f.plain, nil
	}
	r, err := gzip.NewReader(bytes.NewReader(f.gzip))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(r)
}

const (
	index       = "index.html"
	shopPage    = "shop.html"
	placeholder = "placeholder.html" // says how to build the page
	compressed  = ".gz"
)

// newAssets reads all files; without a built page the placeholder is served.
func newAssets(files fs.FS) *assets {
	a := &assets{files: map[string]asset{}, page: placeholder}
	names, err := fs.Glob(files, "*")
	if err != nil {
		panic(err) // the pattern is well formed
	}
	for _, file := range names {
		b, err := fs.ReadFile(files, file)
		if err != nil {
			continue // a folder; the build makes none
		}
		name, squeezed := strings.CutSuffix(file, compressed)
		f := a.files[name]
		if squeezed {
			f.gzip = b
		} else {
			f.plain = b
		}
		if f.tag == "" {
			sum := sha256.Sum256(b)
			f.kind, f.tag = mime.TypeByExtension(path.Ext(name)), `"`+hex.EncodeToString(sum[:8])+`"`
		}
		a.files[name] = f
		if name == index {
			a.page = index
		}
	}
	return a
}

// root serves the page.
func (a *assets) root(w http.ResponseWriter, r *http.Request) { a.serve(w, r, a.page, "no-cache") }

// shop serves the page of all boxes.
func (a *assets) shop(w http.ResponseWriter, r *http.Request) {
	name := a.page
	if name == index {
		name = shopPage
	}
	a.serve(w, r, name, "no-cache")
}

// file serves one of the page's other files.
func (a *assets) file(w http.ResponseWriter, r *http.Request) {
	a.serve(w, r, r.PathValue("asset"), "public, max-age=31536000, immutable")
}

func (a *assets) serve(w http.ResponseWriter, r *http.Request, name, keep string) {
	f, ok := a.files[name]
	if !ok {
		refuse(w, http.StatusNotFound, "There is nothing here by that name.")
		return
	}
	h := w.Header()
	h.Set("Cache-Control", keep)
	h.Set("Vary", "Accept-Encoding")
	tag, squeezed := f.tag, f.gzip != nil && acceptsGzip(r)
	if squeezed {
		tag = strings.TrimSuffix(f.tag, `"`) + `-z"`
	}
	h.Set("ETag", tag)
	if known(r, tag) {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	h.Set("Content-Type", f.kind)
	body, err := f.gzip, error(nil)
	if squeezed {
		h.Set("Content-Encoding", "gzip")
	} else if body, err = f.text(); err != nil {
		refuse(w, http.StatusInternalServerError, "The page was built wrongly into the program.")
		return
	}
	_, _ = w.Write(body) // an answer that can't be written has nobody to be told
}

// acceptsGzip reports whether the client takes gzip and does not weigh it with 0.
func acceptsGzip(r *http.Request) bool {
	return slices.ContainsFunc(listed(r, "Accept-Encoding"), func(s string) bool {
		name, weight, weighed := strings.Cut(strings.ReplaceAll(s, " ", ""), ";q=")
		q, err := strconv.ParseFloat(weight, 64)
		return name == "gzip" && (!weighed || err == nil && q > 0)
	})
}

// known reports whether the client has the file with that tag.
func known(r *http.Request, tag string) bool { return slices.Contains(listed(r, "If-None-Match"), tag) }

// listed returns the members of a header that is a list.
func listed(r *http.Request, header string) []string {
	var out []string
	for s := range strings.SplitSeq(strings.Join(r.Header.Values(header), ","), ",") {
		out = append(out, strings.TrimPrefix(strings.TrimSpace(s), "W/"))
	}
	return out
}
