package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"syscall"
	"testing"

	"rimcast/geom"
	"rimcast/raster"
)

func TestExitCodes(t *testing.T) {
	for _, c := range []struct {
		name string
		err  error
		want int // section "file contract" of the design: the codes are stable
	}{
		{"nothing", nil, 0},
		{"usage", usage("x", ""), 2},
		{"refused", refuse("x", ""), 3},
		{"catalogue refused", &geom.InputError{Kind: geom.Refused}, 3},
		{"catalogue corrupt", &geom.InputError{Kind: geom.Corrupt}, 4},
		{"raster refused", &raster.Error{Kind: raster.Refused}, 3},
		{"raster corrupt", &raster.Error{Kind: raster.Corrupt}, 4},
		{"raster output", &raster.Error{Kind: raster.Output}, 6},
		{"wrapped raster", fmt.Errorf("species water: %w", &raster.Error{Kind: raster.Corrupt}), 4},
		{"missing input", &fs.PathError{Op: "open", Path: "x", Err: fs.ErrNotExist}, 4},
		{"output", outputFault(errors.New("x")), 6},
		{"cancelled", fmt.Errorf("sweep: %w", context.Canceled), 130},
		{"unknown", errors.New("x"), 70},
	} {
		if got := exitCode(c.err); got != c.want {
			t.Errorf("%s: exit code %d, want %d", c.name, got, c.want)
		}
	}
	if outputFault(nil) != nil {
		t.Error("no error became one")
	}
}

func TestOutputFaultsHelp(t *testing.T) {
	for err, want := range map[error]string{syscall.ENOSPC: "disk is full", syscall.EROFS: "can be written", fs.ErrPermission: "can be written"} {
		if got := remedyOf(outputFault(&fs.PathError{Op: "write", Path: "x", Err: err})); !strings.Contains(got, want) {
			t.Errorf("%v: hint %q", err, got)
		}
	}
}

func TestPanicsAreInternalErrors(t *testing.T) {
	var errs strings.Builder
	a := newApp(nil, nil, &errs, &errs)
	if code := a.crashed("index out of range", []byte("stack")); code != exitInternal {
		t.Errorf("exit code %d", code)
	}
	if got := errs.String(); !strings.Contains(got, "rimcast: error: internal error: index out of range") || strings.Contains(got, "stack") {
		t.Errorf("message %q", got)
	}
}

func TestCommandLineFaults(t *testing.T) {
	for _, c := range []struct{ args, problem, hint string }{
		{"scren", "there is no command scren", "did you mean screen"},
		{"screen --sede 3", "unknown flag: --sede", "did you mean --seed"},
		{"screen --rings many", `"many" is not a whole number`, "--help"},
		{"screen a b", "does not take b", "one survey file"},
		{"screen", "no catalogue", "--craters"},
		{"screen -q -v", "quiet", ""},
		{"screen --species water", "there is no name", ""},
		{"screen --craters c --species w=w --nodata x=1 -o x", `layer "x"`, "known are w"},
		{"screen --craters c --species w=w", "no place for the output", "-o DIR"},
		{"profile", "needs the id", "--help"},
		{"explain bilatral", "no explanation of bilatral", "did you mean bilateral"},
		{"completion csh", "no completion for csh", "did you mean"},
		{"man nosuch", "no command nosuch", ""},
		{"synth", "needs a scenario", "demo"},
		{"synth dmeo -o x", "no scenario dmeo", "did you mean demo"},
		{"synth demo", "no place for the output", "-o DIR"},
		{"synth demo --width 3 -o x", "3 x 0 pixels is not possible", "8 to"},
		{"inspect", "nothing to inspect", ""},
	} {
		t.Run(c.args, func(t *testing.T) {
			t.Chdir(t.TempDir())
			code, stdout, stderr := runHere(t, strings.Fields(c.args)...)
			if code != exitUsage || stdout != "" {
				t.Errorf("exit code %d, output %q", code, stdout)
			}
			if !strings.Contains(stderr, "rimcast: error: ") || !strings.Contains(stderr, c.problem) || !strings.Contains(stderr, c.hint) {
				t.Errorf("message %q lacks %q or %q", stderr, c.problem, c.hint)
			}
		})
	}
}

func TestFailuresAsJSON(t *testing.T) {
	code, stdout, _ := runHere(t, "explain", "bilatral", "--json")
	want := "{\n  \"error\": {\n    \"exit\": 2,\n    \"message\": \"there is no explanation of bilatral\",\n    \"hint\": \"did you mean bilateral\"\n  }\n}\n"
	if code != exitUsage || stdout != want {
		t.Errorf("exit code %d, output %q", code, stdout)
	}
}
