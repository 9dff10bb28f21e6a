package raster

import (
	"errors"
	"fmt"
	"strings"
)

// Kind says what a caller should do about an Error.
type Kind int

// The kinds of Error.
const (
	// Refused: the file can be read, but not safely without an answer from the
	// user.
	Refused Kind = iota
	// Corrupt: the file, or a part of it, cannot be read.
	Corrupt
	// Output: a file cannot be written.
	Output
)

// String returns "refused", "corrupt" or "output".
func (k Kind) String() string {
	switch k {
	case Refused:
		return "refused"
	case Corrupt:
		return "corrupt"
	}
	return "output"
}

// Window is a rectangle of whole pixels; X and Y are the column and row of its
// upper left pixel.
type Window struct{ X, Y, Width, Height int }

// String returns the window in words.
func (w Window) String() string {
	return fmt.Sprintf("columns %d to %d, rows %d to %d", w.X, w.X+w.Width-1, w.Y, w.Y+w.Height-1)
}

// Error is a map that cannot be used, or a part of one that cannot be read. It
// names the file, the band and the pixels, and what to do.
type Error struct {
	File    string // empty when the request, not a file, is at fault
	Band    int    // from 1; 0 when no band is concerned
	Window  Window // zero Width when the whole file is concerned
	Tile    string // the damaged block, such as "block column 3, row 7"
	Problem string
	Remedy  string
	Kind    Kind
}

// Error implements error.
func (e *Error) Error() string {
	var b strings.Builder
	b.WriteString(redact(e.File))
	if e.Band > 0 {
		fmt.Fprintf(&b, ", band %d", e.Band)
	}
	if e.Window.Width > 0 {
		fmt.Fprintf(&b, ", %v", e.Window)
	}
	if e.Tile != "" {
		fmt.Fprintf(&b, " (%s)", e.Tile)
	}
	if b.Len() > 0 {
		b.WriteString(": ")
	}
	b.WriteString(clipped(redact(e.Problem), maxProblem))
	if e.Remedy != "" {
		fmt.Fprintf(&b, "; %s", e.Remedy)
	}
	return b.String()
}

// maxProblem bounds what an error says, in bytes: names of bands and reference
// systems come from files.
const maxProblem = 2000

func refused(file, remedy, format string, args ...any) *Error {
	return &Error{File: file, Kind: Refused, Remedy: remedy, Problem: fmt.Sprintf(format, args...)}
}

// unreadable is the error for a file that cannot be opened, with the advice
// that fits the reason.
func unreadable(file string, cause error) *Error {
	e := corrupt(file, errors.New("cannot be read as a raster: "+reason(cause)))
	text := strings.ToLower(cause.Error())
	switch {
	case isWeb(file):
		e.Remedy = "check the address, the right to read it, and the network; a retry may help"
	case strings.Contains(text, "codec") || strings.Contains(text, "compression") || strings.Contains(text, "predictor") || strings.Contains(text, "jpeg"):
		e.Remedy = "write it again where it can be read: gdal_translate -co COMPRESS=DEFLATE -co TILED=YES FILE COPY.tif"
	}
	return e
}

func corrupt(file string, err error) *Error {
	return &Error{File: file, Kind: Corrupt, Problem: err.Error(),
		Remedy: "check the copy of the file against its checksum"}
}
