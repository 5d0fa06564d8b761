package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const module = "weir.example/weir/"

// rank is a package's place in the map of DEVELOPERS.md: a package imports
// only packages of a lower rank. Arrows inside one rank are listed in beside.
var rank = map[string]int{
	"mapping/quantity": 0, "mapping/notation": 1, "mapping/finding": 1, "mapping/element": 2, "mapping/schedule": 2,
	"mapping/order": 3, "mapping/sig": 4, "mapping/compendium": 4, "mapping/policy": 5, "mapping/lumen": 5, "mapping/plan": 6,
	"mapping/fulfillment": 7, "mapping/worksheet": 8, "mapping/r4": 9, "mapping/r4/googlefhir": 9,
	"conformance/schema": 10, "conformance/equation": 10, "conformance/arithmetic": 11, "conformance/computation": 12, "conformance/slips": 12, "conformance/alertload": 14, "conformance/reconciliation": 14, "conformance/verification": 12, "conformance/profile": 12, "conformance": 13,
	"adapter": 14, "adapter/terminal": 15, "adapter/index": 15, "adapter/settings": 15, "adapter/intake": 16, "adapter/night": 18, "adapter/morning": 19, "adapter/night/nightgen": 15, "adapter/worklist": 17, "adapter/api": 17, "adapter/queue": 17, "adapter/store": 15, "adapter/store/sqlite": 16, "adapter/store/postgres": 16, "adapter/store/storetest": 16, "cmd/weir": 20,
}

// The inner rings neither read a clock, a file, the network or the host's
// zone data, nor compute with binary fractions or chance.
var bannedImports = []string{"os", "io/fs", "net", "net/http", "math/rand", "math/rand/v2", "log", "log/slog", "os/exec", "database/sql", "unsafe"}
var bannedNames = map[string][]string{"time": {"Now", "LoadLocation", "Local", "Since", "Until", "Sleep", "After", "Tick"}}

type source struct {
	pkg, path string
	file      *ast.File
	test      bool
}

// sources parses every Go file below the root. Reading the files here, and
// not asking the go command, lets Go's test cache see each of them.
func sources(t *testing.T) []source {
	root := filepath.Join("..", "..")
	var out []source
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, _ := filepath.Rel(root, path)
		if d.IsDir() && (strings.HasPrefix(d.Name(), ".") && rel != "." || d.Name() == "testdata") {
			return filepath.SkipDir
		}
		if !strings.HasSuffix(path, ".go") {
			return nil
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, data, parser.ParseComments)
		if err != nil {
			return err
		}
		out = append(out, source{filepath.ToSlash(filepath.Dir(rel)), rel, file, strings.HasSuffix(path, "_test.go")})
		return nil
	})
	require.NoError(t, err)
	return out
}

func imports(f *ast.File) []string {
	var out []string
	for _, i := range f.Imports {
		path, _ := strconv.Unquote(i.Path.Value)
		out = append(out, path)
	}
	return out
}

func generator(s source) bool {
	for _, c := range s.file.Comments {
		if strings.Contains(c.Text(), "go:build ignore") {
			return true
		}
	}
	for _, group := range s.file.Comments {
		for _, c := range group.List {
			if strings.HasPrefix(c.Text, "//go:build ignore") {
				return true
			}
		}
	}
	return strings.Contains(s.pkg, "/internal/gen")
}

func TestArrowsNeverTurnBack(t *testing.T) {
	for _, s := range sources(t) {
		if s.test || generator(s) {
			continue
		}
		from, known := rank[s.pkg]
		if !assert.True(t, known, "%s: package %s is not in the map; give it a rank and a paragraph in DEVELOPERS.md", s.path, s.pkg) {
			continue
		}
		for _, path := range imports(s.file) {
			to, ours := strings.CutPrefix(path, module)
			if ours {
				assert.Less(t, rank[to], from, "%s imports %s, which is not below it", s.path, to)
			}
			if strings.HasPrefix(path, "github.com/google/fhir") {
				assert.Equal(t, "mapping/r4/googlefhir", s.pkg, "only the judge imports google/fhir")
			}
			if strings.HasPrefix(path, "github.com/riverqueue/river") && s.pkg != "adapter/queue" {
				// The stores have it bring its tables up to date, and nothing else.
				assert.Contains(t, []string{"adapter/store", "adapter/store/sqlite", "adapter/store/postgres"}, s.pkg, "only the queue imports River")
				assert.Contains(t, []string{"riverdriver", "rivermigrate", "riversqlite", "riverpgxv5"}, path[strings.LastIndexByte(path, '/')+1:], s.path)
			}
		}
	}
}

func TestInnerRingsArePure(t *testing.T) {
	for _, s := range sources(t) {
		inner := strings.HasPrefix(s.pkg, "mapping") || strings.HasPrefix(s.pkg, "conformance")
		if !inner || s.test || generator(s) {
			continue
		}
		for _, path := range imports(s.file) {
			assert.NotContains(t, bannedImports, path, s.path)
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			switch x := n.(type) {
			case *ast.Ident:
				assert.NotEqual(t, "float64", x.Name, "%s: no binary fractions on a clinical path", s.path)
				assert.NotEqual(t, "float32", x.Name, s.path)
			case *ast.SelectorExpr:
				if pkg, ok := x.X.(*ast.Ident); ok && slices.Contains(bannedNames[pkg.Name], x.Sel.Name) {
					assert.Failf(t, "clock or host zone", "%s uses %s.%s", s.path, pkg.Name, x.Sel.Name)
				}
			}
			return true
		})
	}
}

func TestFilesStaySmall(t *testing.T) {
	root := filepath.Join("..", "..")
	for _, s := range sources(t) {
		data, err := os.ReadFile(filepath.Join(root, s.path))
		require.NoError(t, err)
		if !s.test {
			assert.LessOrEqual(t, strings.Count(string(data), "\n"), 450, "%s is longer than 450 lines", s.path)
		}
	}
}

func TestEveryPackageSaysWhatItIs(t *testing.T) {
	documented, seen := map[string]bool{}, map[string]bool{}
	for _, s := range sources(t) {
		if s.test || generator(s) {
			continue
		}
		seen[s.pkg] = true
		if s.file.Doc != nil && len(s.file.Doc.Text()) > 40 {
			documented[s.pkg] = true
		}
	}
	for pkg := range seen {
		assert.True(t, documented[pkg], "package %s has no package comment", pkg)
	}
}
