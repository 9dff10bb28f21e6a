package geom

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"unicode/utf8"
)

// jsonScanner walks the outer structure of a JSON text of any size without
// holding more than one value of it, and knows where it is.
type jsonScanner struct {
	r     io.Reader
	buf   []byte
	pos   int   // of the next byte in buf
	base  int64 // offset of buf[0] in the text
	lines int64 // newlines passed
	bol   int64 // offset of the beginning of the line
	err   error // of the reader
	value []byte
}

const (
	maxJSONDepth = 256      // nesting inside one value; GeoJSON needs 6
	maxJSONValue = 64 << 20 // bytes of one feature or member
)

var (
	errJSONEnd   = errors.New("the text ends early")
	errJSONDeep  = fmt.Errorf("nested deeper than %d levels", maxJSONDepth)
	errJSONLarge = fmt.Errorf("one value is larger than %d MB", maxJSONValue>>20)
)

// jsonError is a fault with its place in the text.
type jsonError struct {
	offset, line, column int64
	what                 string
	err                  error
}

// Error gives the fault, the byte from 0, and line and column from 1.
func (e *jsonError) Error() string {
	return fmt.Sprintf("%s at byte %d (line %d, column %d)", e.what, e.offset, e.line, e.column)
}

// Unwrap returns the cause.
func (e *jsonError) Unwrap() error { return e.err }

func (s *jsonScanner) fail(err error) error {
	return &jsonError{s.offset(), s.lines + 1, s.offset() - s.bol + 1, err.Error(), err}
}

func (s *jsonScanner) failf(format string, args ...any) error {
	return s.fail(fmt.Errorf(format, args...))
}

func (s *jsonScanner) offset() int64 { return s.base + int64(s.pos) }

// fill reads on when the buffer is used up.
func (s *jsonScanner) fill() bool {
	if s.buf == nil {
		s.buf = make([]byte, 0, 64<<10)
	}
	s.base += int64(len(s.buf))
	s.pos, s.buf = 0, s.buf[:0]
	for len(s.buf) == 0 && s.err == nil {
		var n int
		n, s.err = s.r.Read(s.buf[:cap(s.buf)])
		s.buf = s.buf[:n]
	}
	return len(s.buf) > 0
}

// next returns the next byte that is no white space, without taking it.
func (s *jsonScanner) next() (byte, error) {
	for {
		if s.pos == len(s.buf) && !s.fill() {
			return 0, s.ended()
		}
		switch c := s.buf[s.pos]; c {
		case '\n':
			s.pos++
			s.lines++
			s.bol = s.offset()
		case ' ', '\t', '\r', 0x1e: // record separators of text sequences
			s.pos++
		default:
			return c, nil
		}
	}
}

func (s *jsonScanner) ended() error {
	if s.err != nil && !errors.Is(s.err, io.EOF) {
		return s.fail(fmt.Errorf("reading failed: %w", s.err))
	}
	return s.fail(errJSONEnd)
}

// expect takes one byte.
func (s *jsonScanner) expect(want byte) error {
	c, err := s.next()
	if err == nil && c != want {
		err = s.failf("%q where %q should be", c, want)
	}
	if err == nil {
		s.pos++
	}
	return err
}

// members calls fn at the value of each member of an object; fn takes the value.
func (s *jsonScanner) members(fn func(key string) error) error {
	return s.list('{', '}', func() error {
		raw, err := s.take()
		if err != nil {
			return err
		}
		if len(raw) == 0 || raw[0] != '"' {
			return s.failf("a member without a name")
		}
		key := jsonText(raw)
		if err := s.expect(':'); err != nil {
			return err
		}
		return fn(key)
	})
}

// list walks a bracketed list of items.
func (s *jsonScanner) list(open, shut byte, item func() error) error {
	if err := s.expect(open); err != nil {
		return err
	}
	c, err := s.next()
	if err == nil && c == shut {
		s.pos++
		return nil
	}
	for err == nil {
		if err = item(); err != nil {
			return err
		}
		if c, err = s.next(); err != nil {
			return err
		}
		s.pos++
		switch c {
		case shut:
			return nil
		case ',':
		default:
			s.pos--
			return s.failf("%q where ',' or %q should be", c, shut)
		}
	}
	return err
}

// take reads one value and returns its text, valid until the next call. The
// text is checked to be JSON.
func (s *jsonScanner) take() ([]byte, error) {
	if _, err := s.next(); err != nil {
		return nil, err
	}
	at, line, bol := s.offset(), s.lines, s.bol
	s.value = s.value[:0]
	if err := s.copyValue(); err != nil {
		return nil, err
	}
	if json.Valid(s.value) {
		return s.value, nil
	}
	return nil, describeInvalid(s.value, at, line, at-bol)
}

// copyValue moves one value into s.value by counting brackets.
func (s *jsonScanner) copyValue() error {
	var n nesting
	for {
		if s.pos == len(s.buf) && !s.fill() {
			if n.bare() && len(s.value) > 0 && errors.Is(s.err, io.EOF) {
				return nil // a number or a word at the very end
			}
			return s.ended()
		}
		c := s.buf[s.pos]
		if n.bare() && endsWord(c) {
			return nil
		}
		if n.step(c); n.depth > maxJSONDepth {
			return s.fail(errJSONDeep)
		}
		if c == '\n' {
			s.lines++
			s.bol = s.offset() + 1
		}
		s.value = append(s.value, c)
		s.pos++
		switch {
		case len(s.value) > maxJSONValue:
			return s.fail(errJSONLarge)
		case n.bare() && (c == '"' || c == '}' || c == ']'):
			return nil
		}
	}
}

// nesting follows brackets and quotes.
type nesting struct {
	depth           int
	quoted, escaped bool
}

func (n *nesting) bare() bool { return n.depth == 0 && !n.quoted }

func (n *nesting) step(c byte) {
	switch {
	case n.escaped:
		n.escaped = false
	case n.quoted:
		n.escaped, n.quoted = c == '\\', c != '"'
	case c == '"':
		n.quoted = true
	case c == '{' || c == '[':
		n.depth++
	case c == '}' || c == ']':
		n.depth--
	}
}

// endsWord reports whether a byte outside brackets ends a number or a word.
func endsWord(c byte) bool {
	switch c {
	case ',', ':', ' ', '\t', '\r', '\n', '}', ']':
		return true
	}
	return false
}

// describeInvalid finds the first fault of a value that begins at a place.
func describeInvalid(text []byte, at, line, col int64) error {
	var syntax *json.SyntaxError
	var v json.RawMessage
	err := json.Unmarshal(text, &v)
	off := int64(0)
	what := "not valid JSON"
	if errors.As(err, &syntax) {
		off = max(syntax.Offset-1, 0)
		what = syntax.Error()
	}
	off = min(off, int64(len(text)))
	if word := numberWord(text, int(off)); word != "" {
		what = word + " is not a number in JSON"
	}
	head := text[:off]
	if n := int64(bytes.Count(head, []byte{'\n'})); n > 0 {
		line += n
		col = int64(len(head) - bytes.LastIndexByte(head, '\n') - 1)
	} else {
		col += off
	}
	return &jsonError{at + off, line + 1, col + 1, what, err}
}

// numberWord recognises the words that some programs write for numbers that are
// not finite.
func numberWord(text []byte, off int) string {
	lo := max(0, off-3)
	window := text[lo:min(len(text), off+9)]
	for _, w := range []string{"-Infinity", "Infinity", "NaN", "nan", "-inf", "inf", "Inf"} {
		if bytes.Contains(window, []byte(w)) {
			return w
		}
	}
	return ""
}

// The functions below walk a value that is known to be valid JSON.

func skipSpace(b []byte, i int) int {
	for i < len(b) && (b[i] == ' ' || b[i] == '\n' || b[i] == '\t' || b[i] == '\r') {
		i++
	}
	return i
}

// skipValue returns the end of the value that begins at i.
func skipValue(b []byte, i int) int {
	depth := 0
	for i < len(b) {
		switch b[i] {
		case '"':
			for i++; i < len(b) && b[i] != '"'; i++ {
				if b[i] == '\\' {
					i++
				}
			}
		case '{', '[':
			depth++
		case '}', ']':
			if depth == 0 {
				return i
			}
			depth--
		case ',', ' ', '\n', '\t', '\r', ':':
			if depth == 0 {
				return i
			}
		}
		i++
		if depth == 0 && i < len(b) && (b[i-1] == '"' || b[i-1] == '}' || b[i-1] == ']') {
			return i
		}
	}
	return i
}

// names keeps the names of members met, so that a million features share one
// text for each.
type names map[string]string

func (n names) text(b []byte) string {
	if s, ok := n[string(b)]; ok {
		return s
	}
	s := jsonText(b)
	if n != nil && len(n) < maxNames && len(s) < 256 {
		n[string(b)] = s
	}
	return s
}

// eachMember calls fn for the members of an object, in order.
func eachMember(b []byte, n names, fn func(key string, value []byte)) {
	i := skipSpace(b, 0)
	if i >= len(b) || b[i] != '{' {
		return
	}
	for i = skipSpace(b, i+1); i < len(b) && b[i] == '"'; i = skipSpace(b, i+1) {
		end := skipValue(b, i)
		key := n.text(b[i:end])
		i = skipSpace(b, skipSpace(b, end)+1) // over the colon
		end = skipValue(b, i)
		fn(key, b[i:end])
		i = skipSpace(b, end)
	}
}

// eachElement calls fn for the elements of an array until it returns false. It
// reports whether b is an array and fn never refused.
func eachElement(b []byte, fn func(value []byte) bool) bool {
	i := skipSpace(b, 0)
	if i >= len(b) || b[i] != '[' {
		return false
	}
	for i = skipSpace(b, i+1); i < len(b) && b[i] != ']'; i = skipSpace(b, i+1) {
		end := skipValue(b, i)
		if !fn(b[i:end]) {
			return false
		}
		if i = skipSpace(b, end); i < len(b) && b[i] == ']' {
			break
		}
	}
	return true
}

// jsonText decodes a quoted string; bytes that are not UTF-8 become U+FFFD.
func jsonText(b []byte) string {
	if inner := b[1 : len(b)-1]; bytes.IndexByte(inner, '\\') < 0 && utf8.Valid(inner) {
		return string(inner)
	}
	var s string
	if json.Unmarshal(b, &s) != nil {
		return ""
	}
	return s
}

// scalarText returns the text of a string, a number as it is written, or a
// truth value; ok is false for null, objects and arrays.
func scalarText(b []byte) (text string, ok bool) {
	if len(b) == 0 {
		return "", false
	}
	switch b[0] {
	case '{', '[', 'n':
		return "", false
	case '"':
		return jsonText(b), true
	}
	return string(b), true
}
