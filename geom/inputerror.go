package geom

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"
)

// ErrorKind says what is wrong with an input, for exit codes.
type ErrorKind int

// The kinds of an InputError.
const (
	Refused ErrorKind = iota // it cannot be read safely: a decision is missing (exit 3)
	Corrupt                  // it cannot be read at all, or contradicts its format (exit 4)
)

// String returns "refused" or "corrupt".
func (k ErrorKind) String() string {
	if k == Corrupt {
		return "corrupt"
	}
	return "refused"
}

// InputError is a fault of an input file that stops its reading. It says where
// the fault is, what it is, and what to do.
type InputError struct {
	File    string // as given to the reader
	Feature int    // position of the feature from 0, or -1 when the file as a whole is meant
	Field   string // column, property or member; may be empty
	Problem string // what is wrong, with the value
	Remedy  string // what to do; may be empty
	Kind    ErrorKind
	Err     error // the cause; may be nil
}

// Error joins the parts: "file: feature 7: field: problem; remedy".
func (e *InputError) Error() string {
	var b strings.Builder
	part := func(format string, args ...any) {
		if b.Len() > 0 {
			b.WriteString(": ")
		}
		fmt.Fprintf(&b, format, args...)
	}
	if e.File != "" {
		part("%s", e.File)
	}
	if e.Feature >= 0 {
		part("feature %d", e.Feature)
	}
	if e.Field != "" {
		part("%s", e.Field)
	}
	part("%s", e.Problem)
	if e.Remedy != "" {
		b.WriteString("; " + e.Remedy)
	}
	return b.String()
}

// Unwrap returns the cause.
func (e *InputError) Unwrap() error { return e.Err }

// KindOf returns the kind of the first InputError in the chain of err.
func KindOf(err error) (ErrorKind, bool) {
	var e *InputError
	if errors.As(err, &e) {
		return e.Kind, true
	}
	return 0, false
}

func refuse(field, remedy, problem string, args ...any) *InputError {
	return &InputError{Feature: -1, Field: field, Problem: fmt.Sprintf(problem, args...), Remedy: remedy}
}

func corrupt(feature int, field, remedy, problem string, args ...any) *InputError {
	return &InputError{Feature: feature, Field: field, Problem: fmt.Sprintf(problem, args...), Remedy: remedy, Kind: Corrupt}
}

const maxQuoted = 60

// Quote returns text of a stranger for a message: quoted, control and direction
// characters escaped, cut to 60 characters.
func Quote(s string) string {
	if len(s) > 4*maxQuoted+utf8.UTFMax { // do not walk through megabytes
		s = s[:4*maxQuoted+utf8.UTFMax]
	}
	n := 0
	for i := range s {
		if n == maxQuoted {
			return strconv.Quote(s[:i]) + "..."
		}
		n++
	}
	return strconv.Quote(s)
}

// label returns a short plain name as it is, and any other name quoted.
func label(name string) string {
	if name == "" || len(name) > maxQuoted {
		return Quote(name)
	}
	for _, r := range name {
		if r > '~' || r < ' ' || r == '"' {
			return Quote(name)
		}
	}
	return name
}
