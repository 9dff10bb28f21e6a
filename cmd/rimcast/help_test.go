package main

import (
	"os/exec"
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

// eachCommand calls visit with every command that a person can give.
func eachCommand(t *testing.T, visit func(t *testing.T, c *cobra.Command)) {
	t.Helper()
	list := pages(newRoot(newApp(nil, nil, nil, nil)))[1:]
	if len(list) < 8 {
		t.Fatalf("only %d commands", len(list))
	}
	for _, c := range list {
		t.Run(c.Name(), func(t *testing.T) { visit(t, c) })
	}
}

func TestEveryCommandIsExplained(t *testing.T) {
	eachCommand(t, func(t *testing.T, c *cobra.Command) {
		if c.Short == "" || strings.HasSuffix(c.Short, ".") || strings.ToLower(c.Short[:1]) != c.Short[:1] {
			t.Errorf("short help %q", c.Short)
		}
		_, status, ok := strings.Cut(c.Long, "\n\nEXIT STATUS\n")
		if !ok || !strings.Contains(status, "0    complete") || !strings.Contains(status, "70   ") {
			t.Error("the help has no paragraph EXIT STATUS")
		}
		if !strings.HasPrefix(c.Example, "  rimcast "+c.Name()) {
			t.Errorf("example %q", c.Example)
		}
		for line := range strings.Lines(c.Long) {
			if len(line) > 81 {
				t.Errorf("a line of the help has %d characters: %s", len(line), line)
			}
		}
	})
}

func TestEveryFlagIsExplained(t *testing.T) {
	eachCommand(t, func(t *testing.T, c *cobra.Command) {
		for _, name := range flagNames(c) {
			f := c.Flag(name)
			if f.Usage == "" || strings.HasSuffix(f.Usage, ".") {
				t.Errorf("--%s: usage %q", name, f.Usage)
			}
		}
		for _, name := range []string{"json", "quiet", "verbose"} {
			if c.Flag(name) == nil {
				t.Errorf("there is no --%s", name)
			}
		}
	})
}

func TestExamplesParse(t *testing.T) {
	eachCommand(t, func(t *testing.T, c *cobra.Command) {
		text := strings.ReplaceAll(c.Example, "\\\n", " ")
		for line := range strings.Lines(text) {
			words := strings.Fields(line)
			for i, w := range words {
				if w == "|" || w == ">" {
					words = words[:i]
					break
				}
			}
			root := newRoot(newApp(nil, nil, nil, nil))
			found, rest, err := root.Find(words[1:])
			if err != nil || found.Name() != c.Name() {
				t.Errorf("%s: finds %v, %v", line, found, err)
				continue
			}
			if err := found.ParseFlags(rest); err != nil {
				t.Errorf("%s: %v", line, err)
			}
			if err := found.ValidateArgs(found.Flags().Args()); err != nil {
				t.Errorf("%s: %v", line, err)
			}
		}
	})
}

func TestManPages(t *testing.T) {
	eachCommand(t, func(t *testing.T, c *cobra.Command) {
		var b strings.Builder
		manPage(&b, c)
		for _, section := range []string{".TH RIMCAST-", ".SH NAME", ".SH SYNOPSIS", ".SH DESCRIPTION", ".SH COMMON OPTIONS", ".SH EXIT STATUS", ".SH EXAMPLES"} {
			if !strings.Contains(b.String(), section) {
				t.Errorf("the page has no %s", section)
			}
		}
		checkRoff(t, b.String())
	})
}

// checkRoff lets the man formatter look for errors, where there is one.
func checkRoff(t *testing.T, page string) {
	t.Helper()
	path, err := exec.LookPath("groff")
	if err != nil {
		return
	}
	cmd := exec.Command(path, "-man", "-ww", "-z")
	cmd.Stdin = strings.NewReader(page)
	if out, err := cmd.CombinedOutput(); err != nil || len(out) > 0 {
		t.Errorf("groff: %v\n%s", err, out)
	}
}

func TestRoffEscapes(t *testing.T) {
	if got, want := roff(".start\n'quote a-b \\n"), "\\&.start\n\\&'quote a\\-b \\en"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
