package main

import (
	"bytes"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"golang.org/x/term"
)

// Text for people is folded to the width of the terminal; in a pipe or a file
// every line stays whole, so that a log can be searched. COLUMNS says another
// width. Where the locale is not UTF-8, signs beyond ASCII are replaced.

// narrowest is the least width that text is folded to.
const narrowest = 40

// screen is standard output for text that people read.
func (a *app) screen() io.Writer {
	s := &screenWriter{w: a.stdout, width: screenWidth(a.stdout, os.Getenv("COLUMNS")), ascii: !utf8Locale(os.Getenv)}
	if s.width == 0 && !s.ascii {
		return a.stdout
	}
	return s
}

// screenWidth is the number of columns to fold to, 0 for none.
func screenWidth(w io.Writer, columns string) int {
	if n, err := strconv.Atoi(columns); err == nil && n >= narrowest {
		return n
	}
	f, ok := w.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return 0
	}
	n, _, err := term.GetSize(int(f.Fd()))
	if err != nil || n < narrowest {
		return 0
	}
	return n
}

// utf8Locale reports whether the locale shows UTF-8; one that is not set is
// taken to.
func utf8Locale(env func(string) string) bool {
	for _, name := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		if v := strings.ToLower(env(name)); v != "" {
			return strings.Contains(v, "utf-8") || strings.Contains(v, "utf8")
		}
	}
	return true
}

// screenWriter arranges whole lines; a last line without an end is held back.
type screenWriter struct {
	w     io.Writer
	width int
	ascii bool
	held  []byte
}

// Write implements io.Writer.
func (s *screenWriter) Write(p []byte) (int, error) {
	s.held = append(s.held, p...)
	for {
		i := bytes.IndexByte(s.held, '\n')
		if i < 0 {
			return len(p), nil
		}
		line := string(s.held[:i])
		s.held = s.held[i+1:]
		if _, err := io.WriteString(s.w, s.arrange(line)); err != nil {
			return 0, err
		}
	}
}

func (s *screenWriter) arrange(line string) string {
	if s.ascii {
		line = plainASCII(line)
	}
	if s.width == 0 {
		return line + "\n"
	}
	return strings.Join(fold(line, s.width), "\n") + "\n"
}

// plainASCII replaces what a terminal without UTF-8 cannot show.
func plainASCII(s string) string {
	s = strings.NewReplacer("±", "+-", "–", "-", "µ", "u", "’", "'", "“", `"`, "”", `"`, "…", "...").Replace(s)
	return strings.Map(func(r rune) rune {
		if r < utf8.RuneSelf {
			return r
		}
		return '?'
	}, s)
}

// fold breaks a line at spaces. What follows the first piece stands under the
// last column of the line's head; a word longer than the width stays whole.
func fold(line string, width int) []string {
	if utf8.RuneCountInString(line) <= width {
		return []string{line}
	}
	indent := hanging(line, width)
	var out []string
	for utf8.RuneCountInString(line) > width {
		cut := breakAt(line, indent, width)
		if cut < 0 {
			break
		}
		out = append(out, strings.TrimRight(line[:cut], " "))
		line = strings.Repeat(" ", indent) + strings.TrimLeft(line[cut:], " ")
	}
	return append(out, line)
}

// hanging is where the text of a line begins: after the last gap of two spaces
// or more within its first half, else two beyond its own indent.
func hanging(line string, width int) int {
	at := len(line) - len(strings.TrimLeft(line, " ")) + 2
	column := 0
	for i, r := range line {
		if column > width/2 {
			break
		}
		if i >= 2 && r != ' ' && strings.HasSuffix(line[:i], "  ") && column > at-2 {
			at = column
		}
		column++
	}
	return at
}

// sticks reports whether the words on both sides of a space are one number: a
// value and its error, a sign of comparison, per cent.
func sticks(line string, space int) bool {
	before, after := line[:space], line[space+1:]
	before = strings.TrimPrefix(before[strings.LastIndexByte(before, ' ')+1:], "(")
	after, _, _ = strings.Cut(after, " ")
	return slices.Contains([]string{"±", "+-", "<", "=", "p", "q"}, before) || slices.Contains([]string{"±", "+-", "<", "="}, after) || strings.HasPrefix(after, "%")
}

// breakAt is the byte of the last space that leaves the line within the width,
// and a number whole where that can be; else of the first beyond it; -1 when there
// is none.
func breakAt(line string, indent, width int) int {
	within, whole, beyond := -1, -1, -1
	column := 0
	for i, r := range line {
		if r == ' ' && column > indent {
			if column > width {
				beyond = i
				break
			}
			within = i
			if !sticks(line, i) {
				whole = i
			}
		}
		column++
	}
	for _, at := range []int{whole, within} {
		if at >= 0 {
			return at
		}
	}
	return beyond
}
