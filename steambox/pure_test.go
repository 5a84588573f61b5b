package steambox_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// allowed is all that a pure package may import beside its own tree.
var allowed = []string{
	"bytes", "cmp", "encoding", "encoding/binary", "encoding/gob", "encoding/json", "errors", "fmt", "hash/fnv",
	"iter", "maps", "math", "math/rand/v2", "slices", "sort", "strconv", "strings", "time", "unicode/utf8",
}

// clocks are the functions of package time that read or wait for the time.
var clocks = []string{"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "Tick", "NewTimer", "NewTicker"}

// The tree does no I/O, knows no clock and starts no goroutine.
func TestPure(t *testing.T) {
	files := 0
	err := filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		files++
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err != nil {
			return err
		}
		for _, imp := range f.Imports {
			name, _ := strconv.Unquote(imp.Path.Value)
			if !slices.Contains(allowed, name) && !strings.HasPrefix(name, "withy/steambox") {
				t.Errorf("%s imports %s", path, name)
			}
		}
		ast.Inspect(f, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.GoStmt:
				t.Errorf("%s starts a goroutine", path)
			case *ast.SelectorExpr:
				if x, ok := n.X.(*ast.Ident); ok && x.Name == "time" && slices.Contains(clocks, n.Sel.Name) {
					t.Errorf("%s calls time.%s", path, n.Sel.Name)
				}
			}
			return true
		})
		return nil
	})
	if err != nil || files < 10 {
		t.Fatalf("%d files read, %v", files, err)
	}
}
