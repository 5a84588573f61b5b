package rehearsal_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// allowed is all that the judge may lean on: nothing it judges, and nothing that
// reads a clock, a file or a network.
var allowed = map[string]bool{
	"encoding/json": true, "errors": true, "fmt": true, "math": true, "math/rand/v2": true,
	"slices": true, "strconv": true, "time": true, "withy/steambox/steam": true, "withy/steambox/unit": true,
}

// clockwork is what a pure package does not touch in package time.
var clockwork = map[string]bool{
	"Now": true, "Since": true, "Until": true, "Sleep": true, "After": true, "AfterFunc": true,
	"Tick": true, "NewTicker": true, "NewTimer": true,
}

// globalRand is what draws from the process's own chance.
var globalRand = map[string]bool{"Float64": true, "IntN": true, "Int": true, "Uint64": true, "NormFloat64": true, "Perm": true, "N": true}

func TestPure(t *testing.T) {
	names, err := filepath.Glob("*.go")
	if err != nil || len(names) == 0 {
		t.Fatalf("found %d files: %v", len(names), err)
	}
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, i := range file.Imports {
			if path, _ := strconv.Unquote(i.Path.Value); !allowed[path] {
				t.Errorf("%s imports %s", name, path)
			}
		}
		ast.Inspect(file, func(n ast.Node) bool { impure(t, name, n); return true })
	}
}

func impure(t *testing.T, name string, n ast.Node) {
	switch n := n.(type) {
	case *ast.GoStmt:
		t.Errorf("%s starts a goroutine", name)
	case *ast.SelectorExpr:
		x, ok := n.X.(*ast.Ident)
		if !ok || x.Obj != nil {
			return
		}
		if x.Name == "time" && clockwork[n.Sel.Name] || x.Name == "rand" && globalRand[n.Sel.Name] {
			t.Errorf("%s uses %s.%s", name, x.Name, n.Sel.Name)
		}
	}
}
