// Package arch holds the layering of the project as data and keeps the code to it. The map is a statement
// of policy: a new import that is not in it needs a reason, and an architecture decision where it turns
// an arrow round.
package arch

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

const module = "repose"

// mayImport lists, for every package, what it may import besides the standard library. Test files may
// import anything.
var mayImport = map[string][]string{
	"ledger":                     {"github.com/shopspring/decimal"},
	"internal/merkle":            {},
	"internal/term":              {"golang.org/x/term", "github.com/schollz/progressbar/v3"},
	"internal/table":             {"golang.org/x/text", "github.com/klauspost/compress"},
	"internal/demoyard":          {"golang.org/x/text", "github.com/xuri/excelize/v2"},
	"internal/value":             {"repose/ledger", "github.com/shopspring/decimal"},
	"internal/valuation":         {"repose/ledger", "repose/internal/value", "github.com/shopspring/decimal"},
	"internal/audit":             {"repose/ledger", "github.com/shopspring/decimal"},
	"internal/pack":              {"repose/ledger", "repose/internal/merkle"},
	"internal/report":            {"repose/ledger", "repose/internal/audit", "repose/internal/value", "repose/internal/valuation", "github.com/shopspring/decimal"},
	"internal/intake":            {"repose/ledger", "repose/internal/table", "github.com/shopspring/decimal", "github.com/pelletier/go-toml/v2"},
	"internal/packed":            {},
	"internal/sqlite":            {"repose/ledger", "repose/internal/merkle", "repose/internal/packed", "github.com/ncruces/go-sqlite3", "github.com/klauspost/compress"},
	"internal/stat":              {"gonum.org/v1/gonum"},
	"internal/stat/simyard":      {"repose/internal/stat"},
	"internal/simyard":           {},
	"internal/assign":            {},
	"internal/match":             {"repose/ledger", "repose/internal/assign"},
	"internal/measure":           {"repose/ledger", "repose/internal/stat", "github.com/shopspring/decimal"},
	"internal/screen":            {"repose/ledger", "repose/internal/match"},
	"internal/screen/tickets":    {"repose/ledger", "repose/internal/match", "repose/internal/screen", "repose/internal/stat"},
	"internal/screen/weights":    {"repose/ledger", "repose/internal/match", "repose/internal/screen", "repose/internal/stat"},
	"internal/screen/piles":      {"repose/ledger", "repose/internal/match", "repose/internal/screen", "repose/internal/stat"},
	"internal/screen/rules":      {"repose/internal/screen"},
	"internal/screen/screentest": {"repose/ledger", "repose/internal/screen", "repose/internal/intake", "repose/internal/measure", "repose/internal/simyard"},
	"internal/book": {"repose/ledger", "repose/internal/sqlite", "repose/internal/report", "repose/internal/measure", "repose/internal/stat",
		"repose/internal/merkle", "repose/internal/screen", "repose/internal/value", "repose/internal/valuation", "repose/internal/audit", "repose/internal/pack",
		"github.com/shopspring/decimal"},
	"internal/workbook": {"repose/ledger", "repose/internal/report", "github.com/shopspring/decimal", "github.com/xuri/excelize/v2", "github.com/klauspost/compress"},
	"internal/cli": {"repose/ledger", "repose/internal/book", "repose/internal/demoyard", "repose/internal/intake",
		"repose/internal/pack", "repose/internal/report", "repose/internal/simyard", "repose/internal/sqlite", "repose/internal/stat/simyard",
		"repose/internal/table", "repose/internal/term", "repose/internal/workbook", "github.com/shopspring/decimal", "github.com/spf13/cobra", "github.com/spf13/pflag"},
	"cmd/repose":       {"repose/internal/cli"},
	"internal/bench":   {"repose/internal/table", "github.com/xuri/excelize/v2"},
	"cmd/repose-bench": {"repose/internal/bench"},
}

// pure packages take their facts as arguments: no files, no network, no database, no clock.
var pure = []string{"ledger", "internal/merkle", "internal/report", "internal/value", "internal/valuation", "internal/audit"}

var forbiddenInPure = []string{"os", "io/fs", "net", "net/http", "database/sql", "log", "log/slog", "embed", "os/exec", "path/filepath"}

func TestImportsRunOneWay(t *testing.T) {
	seen := map[string]bool{}
	for file, syntax := range sources(t) {
		pkg := path.Dir(file)
		seen[pkg] = true
		allowed, ok := mayImport[pkg]
		if !ok {
			t.Errorf("%s: package %s is not in the map", file, pkg)
			continue
		}
		for _, spec := range syntax.Imports {
			name, _ := strconv.Unquote(spec.Path.Value)
			if isStandard(name) {
				if slices.Contains(pure, pkg) && slices.Contains(forbiddenInPure, name) {
					t.Errorf("%s: pure package imports %s", file, name)
				}
				continue
			}
			if !slices.ContainsFunc(allowed, func(a string) bool { return name == a || strings.HasPrefix(name, a+"/") }) {
				t.Errorf("%s: %s may not import %s", file, pkg, name)
			}
		}
	}
	for pkg := range mayImport {
		if !seen[pkg] {
			t.Errorf("the map names %s, which holds no source", pkg)
		}
	}
}

// Only the commands know the time; everything else is told.
func TestClockIsAnArgument(t *testing.T) {
	for file, syntax := range sources(t) {
		if dir := path.Dir(file); dir == "internal/cli" || dir == "cmd/repose-bench" {
			continue
		}
		ast.Inspect(syntax, func(n ast.Node) bool {
			if sel, ok := n.(*ast.SelectorExpr); ok {
				if x, ok := sel.X.(*ast.Ident); ok && x.Name == "time" && (sel.Sel.Name == "Now" || sel.Sel.Name == "Since") {
					t.Errorf("%s calls time.%s", file, sel.Sel.Name)
				}
			}
			return true
		})
	}
}

// No package runs code when it is loaded.
func TestNoInit(t *testing.T) {
	for file, syntax := range sources(t) {
		for _, d := range syntax.Decls {
			if f, ok := d.(*ast.FuncDecl); ok && f.Recv == nil && f.Name.Name == "init" {
				t.Errorf("%s has an init function", file)
			}
		}
	}
}

// isStandard reports whether an import path is of the standard library: its first element has no dot, and
// it is not this module's.
func isStandard(name string) bool {
	first, _, _ := strings.Cut(name, "/")
	return !strings.Contains(first, ".") && first != module
}

// sources parses every Go file that is not a test, by its path from the root.
func sources(t *testing.T) map[string]*ast.File {
	t.Helper()
	const root = "../.."
	files := map[string]*ast.File{}
	err := filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == "testdata" || strings.HasPrefix(d.Name(), ".") && p != root) {
			return filepath.SkipDir
		}
		if !strings.HasSuffix(p, ".go") || strings.HasSuffix(p, "_test.go") {
			return nil
		}
		syntax, err := parser.ParseFile(token.NewFileSet(), p, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, p)
		files[filepath.ToSlash(rel)] = syntax
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(files) == 0 {
		t.Fatal("no sources found")
	}
	return files
}
