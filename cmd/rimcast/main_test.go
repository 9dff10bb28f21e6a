package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

var update = flag.Bool("update", false, "rewrite the expectations of the command scripts and goldens")

func TestMain(m *testing.M) {
	if os.Getenv(asProgram) != "" {
		if os.Getenv(keepAtOnce) != "" {
			keepEvery = 0
		}
		main()
	}
	testscript.Main(m, map[string]func(){
		"rimcast":   main,
		"fixture":   fixtureMain,
		"status":    statusMain,
		"same":      sameMain,
		"makemap":   makemapMain,
		"manybytes": manyBytesMain,
		"join":      joinMain,
		"truncate":  truncateMain,
		"questions": questionsMain,
	})
}

// fixtureMain is a command of the scripts: it writes the result directory of
// the fixture survey.
func fixtureMain() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: fixture DIR")
		os.Exit(2)
	}
	if err := writeFixture(os.Args[1]); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// statusMain is a command of the scripts: "status 3 inspect ..." runs rimcast
// and fails unless it ends with exit code 3.
func statusMain() {
	want, args := os.Args[1], os.Args[2:]
	code := run(context.Background(), args, os.Stdin, os.Stdout, os.Stderr)
	if fmt.Sprint(code) != want {
		fmt.Fprintf(os.Stderr, "status: exit code %d, want %s\n", code, want)
		os.Exit(1)
	}
}

// TestScripts runs the command scripts, one for each task and exit code. A
// folder without scripts would test nothing.
func TestScripts(t *testing.T) {
	files, err := filepath.Glob("testdata/script/*.txt")
	if err != nil || len(files) == 0 {
		t.Fatal("there are no command scripts")
	}
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireExplicitExec: false,
		RequireUniqueNames:  true,
		UpdateScripts:       *update,
		Setup: func(e *testscript.Env) error {
			e.Setenv("NO_COLOR", "1")
			return setQuestions(e.Setenv)
		},
	})
}

// runHere runs a command line in this process.
func runHere(t *testing.T, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, errs strings.Builder
	code = run(context.Background(), args, strings.NewReader(""), &out, &errs)
	return code, out.String(), errs.String()
}

// truncateMain is a command of the scripts: it cuts a file short.
func truncateMain() {
	size, err := strconv.ParseInt(os.Args[2], 10, 64)
	if err == nil {
		err = os.Truncate(os.Args[1], size)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// manyBytesMain is a command of the scripts: it writes a start and a text many
// times over.
func manyBytesMain() {
	n, err := strconv.Atoi(os.Args[4])
	if err == nil {
		err = os.WriteFile(os.Args[1], []byte(os.Args[2]+strings.Repeat(os.Args[3], n)), 0o644)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// joinMain is a command of the scripts: it joins files.
func joinMain() {
	var all []byte
	for _, path := range os.Args[2:] {
		b, err := os.ReadFile(path)
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		all = append(all, b...)
	}
	if err := os.WriteFile(os.Args[1], all, 0o644); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}
