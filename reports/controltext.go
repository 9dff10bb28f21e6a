package reports

import "strings"

// Control characters in a table: each becomes one that shows. Those of ASCII
// become their pictures in Unicode, U+2400 to U+2420 and U+2421; the later ones,
// U+0080 to U+009F, become the mark U+2426 and the letter that follows escape in
// their seven-bit form. The mark also stands before a picture or a mark that was
// in the text, so that all comes back.
const (
	pictures   = '\u2400' // of NUL; those of the others follow
	deletePic  = '\u2421'
	pictureTag = '\u2426'
)

func isPicture(r rune) bool { return r >= pictures && r <= deletePic || r == pictureTag }

func isControl(r rune) bool { return r < 0x20 || r >= 0x7f && r <= 0x9f }

// picturedText is s without control characters.
func picturedText(s string) string {
	if !strings.ContainsFunc(s, func(r rune) bool { return isControl(r) || isPicture(r) }) {
		return s
	}
	var b strings.Builder
	for _, r := range s {
		writePictured(&b, r)
	}
	return b.String()
}

func writePictured(b *strings.Builder, r rune) {
	switch {
	case r < 0x20:
		b.WriteRune(pictures + r)
	case r == 0x7f:
		b.WriteRune(deletePic)
	case isControl(r):
		b.WriteRune(pictureTag)
		b.WriteRune(r - 0x40)
	case isPicture(r):
		b.WriteRune(pictureTag)
		b.WriteRune(r)
	default:
		b.WriteRune(r)
	}
}

// unpicturedText undoes picturedText.
func unpicturedText(s string) string {
	if !strings.ContainsFunc(s, isPicture) {
		return s
	}
	var b strings.Builder
	tagged := false
	for _, r := range s {
		if r == pictureTag && !tagged {
			tagged = true
			continue
		}
		b.WriteRune(unpictured(r, tagged))
		tagged = false
	}
	return b.String()
}

// unpictured is the character behind one of picturedText.
func unpictured(r rune, tagged bool) rune {
	switch {
	case tagged && r >= 0x40 && r < 0x60:
		return r + 0x40
	case tagged:
		return r
	case r == deletePic:
		return 0x7f
	case isPicture(r) && r-pictures < 0x20:
		return r - pictures
	}
	return r
}
