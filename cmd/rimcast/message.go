package main

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/term"
)

// Rules for what goes to standard error.
//
//   - Data go to standard output, everything else to standard error.
//   - A line starts with "rimcast: ", in lower case, and ends without a full
//     stop. What a person can do about it follows as "rimcast: hint: ...".
//   - "error" stops the run; "warning" is about numbers that may be wrong and
//     shows always; progress and plain news hide with -q; "note" is what was
//     guessed or chosen and shows with -v.
//   - A message names the file, the feature or band, the value, and the key or
//     flag that settles it.
//   - Names and values come from files of strangers: control and direction
//     characters are written as escapes.
//   - Colour marks only the words error, warning and hint, only on a terminal,
//     and never when NO_COLOR is set or TERM is dumb.
type messages struct {
	mu        sync.Mutex
	w         io.Writer
	terminal  bool
	colour    bool
	verbosity int    // -1 quiet, 0 usual, 1 verbose
	beforeLog func() // clears a progress bar before a line is printed; may be nil
}

func newMessages(w io.Writer) *messages {
	m := &messages{w: w}
	if f, ok := w.(*os.File); ok {
		m.terminal = term.IsTerminal(int(f.Fd()))
	}
	_, noColour := os.LookupEnv("NO_COLOR")
	m.colour = m.terminal && !noColour && os.Getenv("TERM") != "dumb"
	return m
}

// The SGR colours: bold red, bold yellow, cyan.
const (
	red    = "1;31"
	yellow = "1;33"
	cyan   = "36"
)

func (m *messages) paint(colour, word string) string {
	if !m.colour {
		return word
	}
	return "\x1b[" + colour + "m" + word + "\x1b[0m"
}

func (m *messages) line(text string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.beforeLog != nil {
		m.beforeLog()
	}
	fmt.Fprintf(m.w, "rimcast: %s\n", text)
}

// fail reports the error that ends the run.
func (m *messages) fail(err error) {
	m.line(m.paint(red, "error") + ": " + printable(err.Error()))
	if r := remedyOf(err); r != "" {
		m.hint(r)
	}
}

func (m *messages) hint(text string) {
	m.line(m.paint(cyan, "hint") + ": " + printable(text))
}

// warn says that numbers may be wrong.
func (m *messages) warn(format string, args ...any) {
	m.line(m.paint(yellow, "warning") + ": " + printable(fmt.Sprintf(format, args...)))
}

// say reports plain news, unless -q.
func (m *messages) say(format string, args ...any) {
	if m.verbosity >= 0 {
		m.line(printable(fmt.Sprintf(format, args...)))
	}
}

// note says what was guessed or chosen, with -v.
func (m *messages) note(format string, args ...any) {
	if m.verbosity > 0 {
		m.line("note: " + printable(fmt.Sprintf(format, args...)))
	}
}

// printable escapes control, direction and other invisible characters, so that
// text from a file cannot move the cursor, start a line of its own or read
// backwards. Invalid UTF-8 becomes the replacement character.
func printable(s string) string {
	if !strings.ContainsFunc(s, hidden) {
		return strings.ToValidUTF8(s, "\uFFFD")
	}
	var b strings.Builder
	for _, r := range s {
		if !hidden(r) {
			b.WriteRune(r)
			continue
		}
		q := strconv.QuoteRuneToASCII(r)
		b.WriteString(q[1 : len(q)-1])
	}
	return b.String()
}

// maxTableText bounds the ids and names in a table on the screen, characters.
const maxTableText = 40

// tableText is text of a stranger for a table on the screen.
func tableText(s string) string {
	n := 0
	for i := range s {
		if n == maxTableText {
			return printable(s[:i]) + "..."
		}
		n++
	}
	return printable(s)
}

func hidden(r rune) bool { return r != ' ' && !unicode.IsPrint(r) && r != unicode.ReplacementChar }

// printJSON writes one JSON document, indented, to w. Markup characters stay
// as they are: the output is for programs.
func printJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(v)
}
