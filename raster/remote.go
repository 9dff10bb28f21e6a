package raster

import (
	"encoding/xml"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync/atomic"
	"unicode/utf8"
)

// This file keeps GDAL from the network unless the user asks for it: a map, or
// a file that a map points to, must not make the machine call anybody.

// networkDrivers are left out: they read descriptions of services, or whole
// files at an address, and none of them is a way to keep a map.
const networkDrivers = "WMS WMTS WCS HTTP OGCAPI STACTA STACIT PLMOSAIC PLSCENES DAAS EEDAI NGW PostGISRaster"

// shut holds the options of GDAL that are set as long as nobody has asked for
// the network: a single address that may be opened, and, since the streaming
// handlers do not look at it, a proxy that is not there.
var shut = map[string]string{
	"CPL_VSIL_CURL_ALLOWED_FILENAME": "/vsicurl/nothing",
	"GDAL_HTTP_PROXY":                "http://127.0.0.1:9",
}

var remoteAllowed atomic.Bool

// setupRemote shuts the network handlers of GDAL, and gives the calls that a
// user allows later an end.
func setupRemote() {
	setenvDefault("GDAL_SKIP", networkDrivers)
	if !remoteAllowed.Load() {
		for key, value := range shut {
			setenvDefault(key, value)
		}
	}
	for key, value := range map[string]string{
		"GDAL_HTTP_MAX_RETRY": "3", "GDAL_HTTP_RETRY_DELAY": "1", "GDAL_HTTP_TIMEOUT": "60", "GDAL_HTTP_CONNECTTIMEOUT": "20",
		"GDAL_HTTP_MERGE_CONSECUTIVE_RANGES": "YES",
	} {
		setenvDefault(key, value)
	}
}

// allowRemote opens the network handlers for the rest of the process.
func allowRemote() {
	if !remoteAllowed.CompareAndSwap(false, true) {
		return
	}
	for key, value := range shut {
		if os.Getenv(key) == value {
			os.Unsetenv(key)
		}
	}
}

// webAddress turns a plain address into the name under which GDAL reads ranges
// of it; as it is GDAL would fetch the whole file.
func webAddress(path string) string {
	if strings.HasPrefix(path, "http://") || strings.HasPrefix(path, "https://") {
		return "/vsicurl/" + path
	}
	return path
}

func isWeb(path string) bool { return strings.Contains(path, "://") || strings.HasPrefix(path, "/vsi") }

var xmlService = regexp.MustCompile(`<\s*(GDAL_WMS|WMS_|GDAL_WMTS|WCS_GDAL|OGRWFS|GDAL_HTTP|MRF_META)`)

// maxFollowed bounds the virtual rasters that are looked into for one map.
const maxFollowed = 64

// checkRemoteText looks into virtual rasters and service descriptions for
// names that are not files, and follows those that are.
func checkRemoteText(path string) error {
	// GDAL opens these beside a map by itself, whatever they are.
	queue := []string{path, path + ".ovr", path + ".msk", path + ".aux.xml", path + ".msk.ovr"}
	seen, followed := map[string]bool{path: true}, 0
	for len(queue) > 0 {
		at := queue[0]
		queue = queue[1:]
		text := xmlText(at)
		if text == "" {
			continue
		}
		if followed++; followed > maxFollowed {
			return refused(path, vsiRemedy, "it leads through more than %d files that point on", maxFollowed)
		}
		if xmlService.MatchString(text) {
			return refused(path, vsiRemedy, "this file sends its reader to a network address")
		}
		for _, source := range vrtSources(text) {
			next, err := checkSource(path, at, source)
			if err != nil {
				return err
			}
			if !seen[next] {
				seen[next] = true
				queue = append(queue, next)
			}
		}
	}
	return nil
}

// checkSource refuses a source that is no local file and returns its path. A
// file that is not there is left to GDAL, whose message names it.
func checkSource(path, at, source string) (string, error) {
	if isWeb(source) || strings.HasPrefix(strings.TrimSpace(source), "<") {
		return "", refused(path, vsiRemedy, "this file sends its reader to %s, which is not a local file", quoted(source))
	}
	if !filepath.IsAbs(source) {
		source = filepath.Join(filepath.Dir(at), source)
	}
	if fi, err := os.Stat(source); err == nil && !fi.Mode().IsRegular() && !fi.IsDir() {
		return "", refused(path, vsiRemedy, "this file sends its reader to %s, which is a device or a pipe", quoted(source))
	}
	return source, nil
}

// quoted shortens a name of a stranger for a message.
func quoted(s string) string { return "\"" + clipped(printable(redact(s)), 80) + "\"" }

func clipped(s string, n int) string {
	if len(s) > n {
		return strings.ToValidUTF8(s[:n], "") + "..."
	}
	return s
}

// vrtSources returns the names of the sources in a virtual raster, with the
// entities of XML resolved.
func vrtSources(text string) (sources []string) {
	text = legible(text)
	for text != "" {
		found, end := someSources(text)
		sources = append(sources, found...)
		// GDAL reads past what the standard forbids, and so does this: what
		// follows a fault is read as a text of its own.
		text = text[max(end, 1):]
	}
	return sources
}

// legible replaces the bytes and characters that XML does not allow, so that a
// stray byte does not end the reading.
func legible(text string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' && r != '\t' && r != '\n' && r != '\r' || r == 0xFFFE || r == 0xFFFF {
			return utf8.RuneError
		}
		return r
	}, strings.ToValidUTF8(text, string(utf8.RuneError)))
}

// someSources reads until the end or the first fault, and says where that is.
func someSources(text string) (sources []string, end int) {
	d := xml.NewDecoder(strings.NewReader(text))
	d.Strict = false
	d.CharsetReader = func(_ string, r io.Reader) (io.Reader, error) { return r, nil }
	inside, start := false, 0
	for {
		tok, err := d.Token()
		if err == io.EOF {
			return sources, len(text)
		}
		if err != nil {
			if name := untilMarkup(text[start:]); inside && name != "" {
				sources = append(sources, name)
			}
			return sources, int(d.InputOffset())
		}
		start = int(d.InputOffset())
		switch t := tok.(type) {
		case xml.StartElement:
			inside = isSource(t.Name.Local)
		case xml.EndElement:
			inside = false
		case xml.CharData:
			if name := strings.TrimSpace(string(t)); inside && name != "" {
				sources = append(sources, name)
			}
		}
	}
}

// untilMarkup is a name that could not be read to its end, as it stands.
func untilMarkup(text string) string {
	name, _, _ := strings.Cut(text, "<")
	return strings.TrimSpace(name)
}

func isSource(element string) bool {
	for _, name := range []string{"SourceFilename", "SourceDataset", "SourceUrl", "ServerUrl", "DatasetName"} {
		if strings.EqualFold(element, name) {
			return true
		}
	}
	return false
}
