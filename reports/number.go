package reports

import (
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Digits is the number of significant digits of a number in a table.
const Digits = 6

// number formats v with six significant digits; NaN and the infinities are
// empty. Negative zero is written as 0.
func number(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	if v == 0 {
		return "0"
	}
	return strconv.FormatFloat(v, 'g', Digits, 64)
}

// degrees formats a coordinate with six decimals, which is 3 cm on the Moon.
func degrees(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	s := strconv.FormatFloat(v, 'f', 6, 64)
	if s == "-0.000000" {
		return "0.000000"
	}
	return s
}

// westLongitude turns an east longitude into a west one in 0..360.
func westLongitude(east float64) float64 {
	w := math.Mod(-east, 360)
	if w < 0 {
		w += 360
	}
	if w == 0 {
		return 0 // not -0
	}
	return w
}

// eastLongitude puts a longitude into -180..180, 180 excluded.
func eastLongitude(lon float64) float64 {
	w := math.Mod(lon+180, 360)
	if w < 0 {
		w += 360
	}
	return w - 180
}

// NeutralText returns s as a spreadsheet cell that cannot be taken for a
// formula, and that moves no cursor. Control characters, line ends among them,
// become their pictures (see [picturedText]). Text that begins with = + - @, after
// any apostrophes, gets one apostrophe in front, unless it is a plain number.
// To restore the text, remove one apostrophe from a cell that has such a
// character after its apostrophes; [OriginalText] does so.
func NeutralText(s string) string {
	s = picturedText(s)
	if isFormula(strings.TrimLeft(s, "'")) && !plainNumber(s) {
		return "'" + s
	}
	return s
}

// OriginalText undoes [NeutralText].
func OriginalText(cell string) string {
	if strings.HasPrefix(cell, "'") && isFormula(strings.TrimLeft(cell, "'")) {
		cell = cell[1:]
	}
	return unpicturedText(cell)
}

func isFormula(s string) bool {
	return s != "" && strings.ContainsRune("=+-@", rune(s[0]))
}

// plainNumber reports whether s is digits with an optional sign and point,
// such as the id "-12": harmless, and a join by id should find it.
func plainNumber(s string) bool {
	digits, points := 0, 0
	for i, r := range s {
		switch {
		case r >= '0' && r <= '9':
			digits++
		case r == '.':
			points++
		case (r == '-' || r == '+') && i == 0:
		default:
			return false
		}
	}
	return digits > 0 && points <= 1
}

// DisplayText returns s fit for a figure or a page: control, formatting and
// invalid characters become U+FFFD, runs of white space one blank, and the
// text is cut at 80 characters.
func DisplayText(s string) string {
	clean := cleanText(s)
	if runes := []rune(clean); len(runes) > 80 {
		return string(runes[:79]) + "…"
	}
	return clean
}

// cleanText is [DisplayText] of any length.
func cleanText(s string) string {
	clean := strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case r == utf8.RuneError || unicode.In(r, unicode.Cc, unicode.Cf, unicode.Co, unicode.Cs):
			return '\uFFFD'
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD"))
	return strings.Join(strings.Fields(clean), " ")
}

// SafeName turns an id into a part of a file name: ASCII letters, digits,
// point, hyphen and underscore stay, everything else becomes an underscore.
// It is at most 40 bytes long and never starts with a point, so it cannot
// leave its directory. Different ids may give the same name: put a number
// beside it.
func SafeName(id string) string {
	var b strings.Builder
	for _, r := range id {
		ok := r < utf8.RuneSelf && (unicode.IsLetter(r) || unicode.IsDigit(r) || r == '_' || r == '-' || r == '.')
		if !ok || (r == '.' && b.Len() == 0) {
			r = '_'
		}
		b.WriteRune(r)
		if b.Len() == 40 {
			break
		}
	}
	if b.Len() == 0 {
		return "_"
	}
	return b.String()
}
