package raster

import (
	"errors"
	"regexp"
	"strings"
	"unicode"
)

// This file turns what GDAL says into words for a person: without the names of
// its functions, the path a second time, and numbers that stand for "none".

// maxWords bounds a message of GDAL, in bytes: some quote the file.
const maxWords = 400

var (
	// gdalFunction is the name of a function before its message, as in
	// "TIFFReadDirectory:Failed" or "IReadBlock failed at".
	gdalFunction = regexp.MustCompile(`(?m)^_?(?:[A-Z][A-Za-z0-9_]*[a-z][A-Z][A-Za-z0-9_]*|TIFF[A-Za-z0-9]+|[A-Z]{3,}[a-z]+[A-Za-z0-9]*)(?:\(\))?:\s*`)
	// gdalNoPlace is a row or column that libtiff does not know.
	gdalNoPlace = regexp.MustCompile(`,? ?(?:(?:at|on|of) )?(?:row|col|column|scanline|line) (?:4294967295|18446744073709551615|-1)\b`)
	gdalSpaces  = regexp.MustCompile(`\s+`)
)

// noCRS is what gdalWords makes of a missing reference.
const noCRS = "there is no CRS"

// gdalSays are messages of GDAL and what they mean, the first that fits.
var gdalSays = []struct {
	said  *regexp.Regexp
	means string
}{
	{regexp.MustCompile(`(?i)^Read error.*?(tile|strip) (\d+); ?got (\d+) bytes, expected (\d+)`), "$1 $2 is cut off: got $3 bytes, expected $4"},
	{regexp.MustCompile(`(?i)^Read error.*; ?got (\d+) bytes, expected (\d+)`), "the file is cut off: got $1 bytes, expected $2"},
	{regexp.MustCompile(`(?i)(?:TIFFReadEncoded\w+|TIFFReadScanline)\(\) failed`), "the block cannot be decoded"},
	{regexp.MustCompile(`(?i)^Can ?not read TIFF directory|^Failed to read directory|^Error fetching directory`), "its directory cannot be read: it is cut off or damaged"},
	{regexp.MustCompile(`(?i)not recognized as (?:a supported file format|being in a supported|a supported dataset)`), "it is in no format that GDAL reads"},
	{regexp.MustCompile(`(?i)^Cannot open TIFF file due to missing codec (?:of code )?(\S*?)\.?$`), "nothing here knows its compression $1"},
	{regexp.MustCompile(`(?i)^(?:Decoding error|LZW|inflate|Not enough data)[^;]*`), "compressed data are damaged: $0"},
	{regexp.MustCompile(`(?i)^unknown cpl error.*`), "GDAL cannot read it and gives no reason"},
	{regexp.MustCompile(`(?i)\bhSRS\b.*NULL`), noCRS},
}

// gdalWords is a message of GDAL about a file, in words.
func gdalWords(path, msg string) string {
	msg = withoutPath(msg, path)
	msg = gdalFunction.ReplaceAllString(msg, "")
	msg = gdalNoPlace.ReplaceAllString(withoutPath(msg, path), "")
	for _, g := range gdalSays {
		if at := g.said.FindStringSubmatchIndex(msg); at != nil {
			msg = string(g.said.ExpandString(nil, g.means, msg, at))
			break
		}
	}
	return printable(redact(msg))
}

// withoutPath takes the name of the file off the front.
func withoutPath(msg, path string) string {
	if path == "" {
		return msg
	}
	for _, mark := range []string{path + ": ", path + ":", path + ", ", "`" + path + "' "} {
		msg = strings.TrimPrefix(msg, mark)
	}
	return msg
}

// printable is text on one line, without control characters and not endless.
func printable(s string) string {
	s = strings.TrimSpace(gdalSpaces.ReplaceAllString(strings.ToValidUTF8(s, "\uFFFD"), " "))
	s = strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return unicode.ReplacementChar
	}, s)
	if len(s) > maxWords {
		s = strings.ToValidUTF8(s[:maxWords], "") + " ..."
	}
	return s
}

// reason is why a call of GDAL failed, in one line: it repeats a fault from the
// cause outwards, and the cause is what helps.
func reason(err error) string {
	line, _, _ := strings.Cut(err.Error(), "\n")
	return printable(line)
}

// because is reason as an error.
func because(err error) error { return errors.New(reason(err)) }
