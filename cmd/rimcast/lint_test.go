package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// The tests in this file hold the shape of the code: who may import whom, how
// long things may be, what must be explained, what lies at the top.

const repository = "../.."

// importTable is the architecture: what the production files of a package may
// import beside the standard library. A name ending in /... allows what is
// below it. The first matching row counts.
var importTable = []struct {
	pkg     string
	allowed []string
}{
	{"geom", []string{"github.com/paulmach/orb/...", "github.com/tidwall/geodesic"}},
	{"raster", []string{"rimcast/geom", "github.com/airbusgeo/godal"}},
	{"ejecta/...", []string{"rimcast/geom", "rimcast/ejecta/...", "gonum.org/v1/gonum/..."}},
	{"reports/gpkg", []string{"rimcast/geom", "rimcast/ejecta", "rimcast/reports", "github.com/paulmach/orb/...", "github.com/airbusgeo/godal"}},
	{"reports/...", []string{"rimcast/geom", "rimcast/ejecta", "rimcast/reports/...", "github.com/paulmach/orb/...",
		"gonum.org/v1/gonum/...", "gonum.org/v1/plot/...", "golang.org/x/image/...", "golang.org/x/text/...", "github.com/parquet-go/parquet-go/..."}},
	{"cmd/...", []string{"rimcast/...", "github.com/...", "golang.org/...", "gonum.org/..."}},
}

// never are imports that no file may have, tests included.
var never = map[string]string{
	"github.com/paulmach/orb/geo": "its distances have the radius of the Earth built in",
}

// maxGeoJSONFiles bounds the files that may import orb/geojson in one package: it
// brings a database module into the build.
const maxGeoJSONFiles = 2

func TestImports(t *testing.T) {
	geojson := map[string]int{}
	eachFile(t, func(path string, f *ast.File) {
		dir := filepath.ToSlash(filepath.Dir(path))
		for _, imp := range f.Imports {
			name := strings.Trim(imp.Path.Value, `"`)
			if why, bad := never[name]; bad {
				t.Errorf("%s imports %s: %s", path, name, why)
			}
			if isTest(path) {
				continue
			}
			if strings.HasPrefix(name, "rimcast/cmd") {
				t.Errorf("%s imports a command", path)
			}
			if strings.HasSuffix(name, "orb/geojson") {
				geojson[dir]++
			}
			if !allowedImport(dir, name) {
				t.Errorf("%s imports %s, which the table in lint_test.go does not allow to %s", path, name, dir)
			}
		}
	})
	for dir, n := range geojson {
		if n > maxGeoJSONFiles {
			t.Errorf("%s: %d files import orb/geojson, at most %d may", dir, n, maxGeoJSONFiles)
		}
	}
}

// allowedImport looks a package up in the table; the standard library has no
// dot in the first part of its paths, and neither has this module.
func allowedImport(dir, name string) bool {
	first, _, _ := strings.Cut(name, "/")
	if first != "rimcast" && !strings.Contains(first, ".") {
		return name != "C"
	}
	for _, row := range importTable {
		if under(dir, row.pkg) {
			return slices.ContainsFunc(row.allowed, func(pattern string) bool { return under(name, pattern) })
		}
	}
	return false
}

func under(name, pattern string) bool {
	base, wild := strings.CutSuffix(pattern, "/...")
	return name == base || wild && strings.HasPrefix(name, base+"/")
}

func TestImportTableIsStrict(t *testing.T) {
	for _, c := range []struct {
		dir, name string
		want      bool
	}{
		{"geom", "math", true},
		{"geom", "github.com/paulmach/orb", true},
		{"geom", "rimcast/raster", false},
		{"ejecta", "rimcast/raster", false},
		{"ejecta", "github.com/airbusgeo/godal", false},
		{"ejecta/testblanket", "rimcast/geom", true},
		{"reports", "github.com/airbusgeo/godal", false},
		{"reports/gpkg", "github.com/airbusgeo/godal", true},
		{"raster", "rimcast/ejecta", false},
		{"geom", "C", false},
		{"elsewhere", "rimcast/geom", false},
	} {
		if got := allowedImport(c.dir, c.name); got != c.want {
			t.Errorf("may %s import %s: %v, want %v", c.dir, c.name, got, c.want)
		}
	}
}

// The limits of length. A function that is one table may be longer.
const (
	maxFunc     = 80
	mostFunc    = 45 // nine of ten functions are at most so long
	medianFunc  = 10
	maxFileSize = 400
)

func TestFunctionLength(t *testing.T) {
	var lengths []int
	fset := token.NewFileSet()
	eachFileIn(t, fset, func(path string, f *ast.File) {
		for _, d := range f.Decls {
			fn, ok := d.(*ast.FuncDecl)
			if !ok || fn.Body == nil {
				continue
			}
			n := fset.Position(fn.End()).Line - fset.Position(fn.Pos()).Line + 1
			if !isTest(path) {
				lengths = append(lengths, n)
			}
			if n > maxFunc && !isTable(fn) {
				t.Errorf("%s: %s has %d lines, more than %d", fset.Position(fn.Pos()), fn.Name.Name, n, maxFunc)
			}
		}
	})
	slices.Sort(lengths)
	if m := lengths[len(lengths)/2]; m > medianFunc {
		t.Errorf("the median function has %d lines, more than %d", m, medianFunc)
	}
	if p := lengths[len(lengths)*9/10]; p > mostFunc {
		t.Errorf("one function of ten has %d lines or more, the limit is %d", p, mostFunc)
	}
}

// isTable reports whether a function does nothing but return a literal, or, in
// a test, walk over one.
func isTable(fn *ast.FuncDecl) bool {
	for _, s := range fn.Body.List {
		switch s := s.(type) {
		case *ast.ReturnStmt:
			if len(s.Results) == 1 && isLiteral(s.Results[0]) {
				return true
			}
		case *ast.RangeStmt:
			if isLiteral(s.X) {
				return true
			}
		case *ast.AssignStmt:
			if len(s.Rhs) == 1 && isLiteral(s.Rhs[0]) {
				return true
			}
		}
	}
	return false
}

func isLiteral(e ast.Expr) bool {
	_, ok := e.(*ast.CompositeLit)
	return ok
}

func TestFileLength(t *testing.T) {
	eachFile(t, func(path string, _ *ast.File) {
		text, err := os.ReadFile(filepath.Join(repository, path))
		if err != nil {
			t.Fatal(err)
		}
		if n := strings.Count(string(text), "\n"); n > maxFileSize {
			t.Errorf("%s has %d lines, more than %d", path, n, maxFileSize)
		}
	})
}

func TestExportedNamesAreDocumented(t *testing.T) {
	fset := token.NewFileSet()
	eachFileIn(t, fset, func(path string, f *ast.File) {
		if isTest(path) {
			return
		}
		for _, d := range f.Decls {
			for _, name := range undocumented(d) {
				t.Errorf("%s: %s has no comment", fset.Position(d.Pos()), name)
			}
		}
	})
}

// undocumented lists the exported names of a declaration without a comment of
// their own or of their group.
func undocumented(d ast.Decl) (names []string) {
	switch d := d.(type) {
	case *ast.FuncDecl:
		if d.Name.IsExported() && d.Doc == nil && exportedReceiver(d) {
			names = append(names, d.Name.Name)
		}
	case *ast.GenDecl:
		for _, s := range d.Specs {
			switch s := s.(type) {
			case *ast.TypeSpec:
				if s.Name.IsExported() && s.Doc == nil && d.Doc == nil {
					names = append(names, s.Name.Name)
				}
			case *ast.ValueSpec:
				for _, n := range s.Names {
					if n.IsExported() && s.Doc == nil && s.Comment == nil && d.Doc == nil {
						names = append(names, n.Name)
					}
				}
			}
		}
	}
	return names
}

// exportedReceiver reports whether a function is a method of an exported type
// or no method at all.
func exportedReceiver(d *ast.FuncDecl) bool {
	if d.Recv == nil {
		return true
	}
	t := d.Recv.List[0].Type
	if star, ok := t.(*ast.StarExpr); ok {
		t = star.X
	}
	if index, ok := t.(*ast.IndexExpr); ok {
		t = index.X
	}
	id, ok := t.(*ast.Ident)
	return ok && id.IsExported()
}

func TestPackagesAreDocumented(t *testing.T) {
	documented := map[string]bool{}
	eachFile(t, func(path string, f *ast.File) {
		dir := filepath.Dir(path)
		if !isTest(path) {
			documented[dir] = documented[dir] || f.Doc != nil
		}
	})
	for dir, ok := range documented {
		if !ok {
			t.Errorf("package in %s has no comment", dir)
		}
	}
}

// topNames are what may lie at the top of the repository.
var topNames = []string{
	".ci", ".gitattributes", ".gitignore", "CHANGELOG.md", "DEVELOPERS.md", "LICENSE", "README.md",
	"cmd", "ejecta", "geom", "go.mod", "go.sum", "raster", "reports", "testdata",
}

func TestTopNames(t *testing.T) {
	out, err := exec.Command("git", "-C", repository, "ls-files").Output()
	if err != nil {
		t.Skip("not a git checkout")
	}
	for path := range strings.Lines(string(out)) {
		top, _, _ := strings.Cut(strings.TrimSpace(path), "/")
		if !slices.Contains(topNames, top) {
			t.Errorf("%s does not belong at the top of the repository", top)
		}
	}
}

func isTest(path string) bool { return strings.HasSuffix(path, "_test.go") }

func eachFile(t *testing.T, visit func(path string, f *ast.File)) {
	t.Helper()
	eachFileIn(t, token.NewFileSet(), visit)
}

// eachFileIn parses every Go file of the repository. A repository without any
// would pass every test, so that is a failure.
func eachFileIn(t *testing.T, fset *token.FileSet, visit func(path string, f *ast.File)) {
	t.Helper()
	n := 0
	err := filepath.WalkDir(repository, func(path string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if e.IsDir() && path != repository && strings.HasPrefix(e.Name(), ".") {
			return filepath.SkipDir
		}
		if e.IsDir() || filepath.Ext(path) != ".go" {
			return nil
		}
		f, err := parser.ParseFile(fset, path, nil, parser.ParseComments)
		if err != nil {
			return err
		}
		n++
		rel, err := filepath.Rel(repository, path)
		visit(filepath.ToSlash(rel), f)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if n < 20 {
		t.Fatalf("only %d Go files found", n)
	}
}
