package reports

import (
	"go/ast"
	"go/parser"
	"go/token"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// The words that the program can write are read from its source, so that none is
// added without an explanation.

// source is the files of a package without its tests.
func source(t *testing.T, dir string) (out []*ast.File) {
	t.Helper()
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range list {
		if !strings.HasSuffix(f.Name(), ".go") || strings.HasSuffix(f.Name(), "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), filepath.Join(dir, f.Name()), nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, file)
	}
	return out
}

// textConstants are the string constants declared under a node: name and value,
// with the type when one is written.
func textConstants(under ast.Node, found func(name, typ, value string)) {
	ast.Inspect(under, func(n ast.Node) bool {
		spec, ok := n.(*ast.ValueSpec)
		if !ok {
			return true
		}
		typ := ""
		if id, ok := spec.Type.(*ast.Ident); ok {
			typ = id.Name
		}
		for i, v := range spec.Values {
			if s, ok := literal(v); ok {
				found(spec.Names[i].Name, typ, s)
			}
		}
		return true
	})
}

func literal(e ast.Expr) (string, bool) {
	b, ok := e.(*ast.BasicLit)
	if !ok || b.Kind != token.STRING {
		return "", false
	}
	s, err := strconv.Unquote(b.Value)
	return s, err == nil
}

// wordTypes and wordGroups are where the words of the tables come from: types of
// their own, and untyped constants by the beginning of their names.
var (
	wordTypes  = []string{"Status", "Pattern", "QRule"}
	wordGroups = []string{"Verdict", "Axis", "Persistent", "Changing", "ComesAndGoes", "NotKnown"}
)

func TestEveryWordOfTheTablesIsExplained(t *testing.T) {
	words := map[string]bool{}
	for _, f := range source(t, "../ejecta") {
		textConstants(f, func(name, typ, value string) {
			group := typ == "" && ast.IsExported(name) && slices.ContainsFunc(wordGroups, func(g string) bool { return strings.HasPrefix(name, g) })
			if group || slices.Contains(wordTypes, typ) {
				words[value] = true
			}
		})
	}
	for _, state := range []string{"raised", "clear", "not_run", "ambiguous"} {
		words[state] = true
	}
	if len(words) < 37 {
		t.Errorf("only %d words were found", len(words))
	}
	explained(t, words)
}

// explained fails for words without a line and a paragraph.
func explained(t *testing.T, words map[string]bool) {
	t.Helper()
	for w := range words {
		if short, long, ok := Explain(w); !ok || short == "" || len(long) < 80 {
			t.Errorf("%q is written and has no explanation", w)
		}
		if kind := ExplainKind(w); !slices.Contains(TermKinds(), kind) {
			t.Errorf("%q is of the kind %q, which is not listed", w, kind)
		}
	}
}

// alarmMakers are the functions whose first argument is the name of an alarm.
var alarmMakers = []string{"over", "above", "flag", "notRun", "axisAlarm", "holeAlarm"}

// alarmNames are the names of alarms in a package: arguments of the makers, and
// names in the literals of alarms and of their lists.
func alarmNames(t *testing.T, dir string) map[string]bool {
	consts, names := map[string]string{}, map[string]bool{}
	files := source(t, dir)
	for _, f := range files {
		textConstants(f, func(name, _, value string) { consts[name] = value })
	}
	for _, f := range files {
		for _, d := range f.Decls {
			if fn, ok := d.(*ast.FuncDecl); ok {
				namesIn(fn, consts, names)
			}
		}
	}
	return names
}

// namesIn adds the names of alarms of one function, whose own constants come
// before those of the package.
func namesIn(fn *ast.FuncDecl, consts map[string]string, names map[string]bool) {
	own := maps.Clone(consts)
	textConstants(fn, func(name, _, value string) { own[name] = value })
	ast.Inspect(fn, func(n ast.Node) bool {
		if call, ok := n.(*ast.CallExpr); ok && len(call.Args) > 0 {
			if id, ok := call.Fun.(*ast.Ident); ok && slices.Contains(alarmMakers, id.Name) {
				addName(call.Args[0], own, names)
			}
		}
		if l, ok := n.(*ast.CompositeLit); ok && len(l.Elts) > 0 && typeName(l.Type) == "Alarm" {
			if kv, ok := l.Elts[0].(*ast.KeyValueExpr); ok {
				addName(kv.Value, own, names)
			}
		}
		return true
	})
}

func addName(e ast.Expr, consts map[string]string, names map[string]bool) {
	if s, ok := literal(e); ok {
		names[s] = true
	} else if id, ok := e.(*ast.Ident); ok && consts[id.Name] != "" {
		names[consts[id.Name]] = true
	}
}

func typeName(e ast.Expr) string {
	switch e := e.(type) {
	case *ast.Ident:
		return e.Name
	case *ast.SelectorExpr:
		return e.Sel.Name
	}
	return ""
}

// Every alarm has an explanation, and nothing is explained as one that no code
// raises. Those of the covariates have their names in a list.
func TestEveryAlarmIsExplained(t *testing.T) {
	names := map[string]bool{"thermal": true, "illumination": true, "albedo": true, "other_covariate": true}
	for _, dir := range []string{"../ejecta", "../cmd/rimcast"} {
		for n := range alarmNames(t, dir) {
			names[n] = true
		}
	}
	explained(t, names)
	for _, term := range Terms("alarm") {
		if !names[term] {
			t.Errorf("%s is explained, and no alarm has that name", term)
		}
		delete(names, term)
	}
	for n := range names {
		t.Errorf("%s is explained, but not as an alarm", n)
	}
}
