package raster

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"

	"github.com/airbusgeo/godal"
)

// This file decides once how the program treats GDAL: its cache, its drivers,
// its messages, and which names it may open.

var setupOnce sync.Once

// setup registers the drivers and sets the options that GDAL reads from the
// environment, unless the user has set them. Each tile is read once or nearly
// so, hence a small block cache: the default, a twentieth of the memory for
// every process, only costs page faults.
func setup() {
	setupOnce.Do(func() {
		setenvDefault("GDAL_CACHEMAX", "64")
		// Coordinate transforms report failing points on standard error; they
		// are looked at point by point here.
		setenvDefault("CPL_LOG", os.DevNull)
		setupRemote()
		godal.RegisterAll()
	})
}

// BlockCache sets how many megabytes of blocks GDAL keeps for all files together,
// for a program that reads each block once. It counts when it comes before the
// first file is opened and the environment says nothing.
func BlockCache(megabytes int) { setenvDefault("GDAL_CACHEMAX", strconv.Itoa(megabytes)) }

func setenvDefault(key, value string) {
	if _, set := os.LookupEnv(key); !set {
		os.Setenv(key, value)
	}
}

// journal collects what GDAL says during calls on one file. Warnings become
// notes; failures become errors.
type journal struct {
	path     string // of the file, which GDAL repeats
	mu       sync.Mutex
	notes    []string
	strict   bool // a warning about damaged data is a failure
	lastFail string
}

const maxNotes = 20

// damage matches warnings that some drivers give, without failing, when the
// bytes of a tile run short.
var damage = regexp.MustCompile(`(?i)premature|io error|truncat|corrupt|not enough data|short read|end of file|checksum|crc`)

// handle is a godal.ErrorHandler.
func (j *journal) handle(ec godal.ErrorCategory, _ int, msg string) error {
	if ec <= godal.CE_Debug {
		return nil
	}
	j.mu.Lock()
	defer j.mu.Unlock()
	if ec >= godal.CE_Failure || (j.strict && damage.MatchString(msg)) {
		j.lastFail = msg
		return errors.New(gdalWords(j.path, msg))
	}
	j.note("GDAL: " + gdalWords(j.path, msg))
	return nil
}

// orDamage turns the refusal of a file into a fault of its bytes, when GDAL has
// said that they run short: what is missing is then missing for that reason.
func (j *journal) orDamage(path string, err error) error {
	j.mu.Lock()
	defer j.mu.Unlock()
	for _, n := range j.notes {
		if damage.MatchString(n) {
			return corrupt(path, fmt.Errorf("it is damaged: %s (%w)", strings.TrimPrefix(n, "GDAL: "), err))
		}
	}
	return err
}

func (j *journal) note(msg string) {
	for _, n := range j.notes {
		if n == msg {
			return
		}
	}
	if len(j.notes) < maxNotes {
		j.notes = append(j.notes, msg)
	}
}

var (
	urlSecret   = regexp.MustCompile(`(?i)\b([a-z][a-z0-9+.-]*://)[^/@\s]*@`)
	querySecret = regexp.MustCompile(`\?[^\s"'<>|)]*=[^\s"'<>|)]*`)
)

// redact hides user names, passwords and signed queries of addresses in a
// message or a file name.
func redact(s string) string {
	s = urlSecret.ReplaceAllString(s, "${1}***@")
	return querySecret.ReplaceAllString(s, "?***")
}

// Redact returns a file name or message without the user names, passwords and
// signed queries of the addresses in it.
func Redact(s string) string { return redact(s) }

const vsiRemedy = "give a local file, or allow names that are not files (allow_vsi)"

// checkName refuses a name that GDAL would take for something other than a
// local file, and a local file that sends GDAL to the network.
func checkName(path string) error {
	if strings.HasPrefix(path, "/vsi") || strings.Contains(path, "://") || strings.HasPrefix(strings.TrimSpace(path), "<") {
		return refused(path, vsiRemedy, "this is an address or a virtual file, not a local file")
	}
	fi, err := os.Stat(path)
	if err != nil {
		var pe *os.PathError
		if errors.As(err, &pe) {
			err = pe.Err
		}
		return &Error{File: path, Kind: Corrupt, Problem: "cannot be opened: " + err.Error(), Remedy: "check the path"}
	}
	if fi.IsDir() {
		return &Error{File: path, Kind: Corrupt, Problem: "is a directory", Remedy: "give a raster file"}
	}
	if !fi.Mode().IsRegular() {
		return &Error{File: path, Kind: Corrupt, Problem: "is a device or a pipe", Remedy: "give a raster file"}
	}
	return checkRemoteText(path)
}

const maxXML = 16 << 20

// xmlText returns the text of an XML file, and "" for any other.
func xmlText(path string) string {
	if fi, err := os.Stat(path); err != nil || !fi.Mode().IsRegular() {
		return ""
	}
	f, err := os.Open(path)
	if err != nil {
		return ""
	}
	defer f.Close()
	var head [64]byte
	n, _ := f.Read(head[:])
	text := strings.TrimLeft(strings.TrimPrefix(string(head[:n]), "\ufeff"), " \t\r\n")
	if !strings.HasPrefix(text, "<") {
		return ""
	}
	if fi, err := f.Stat(); err != nil || fi.Size() > maxXML {
		return ""
	}
	all, err := os.ReadFile(path)
	if err != nil {
		return ""
	}
	return string(all)
}

// openDataset opens a raster read-only with its sidecar files (overviews,
// statistics, masks) visible.
func openDataset(path string, j *journal) (*godal.Dataset, error) {
	setup()
	j.path = path
	opts := []godal.OpenOption{godal.RasterOnly(), godal.SiblingFiles(), godal.ErrLogger(j.handle)}
	if isWeb(path) {
		// Some forty names of files that may stand beside it, one request each.
		opts = append(opts, godal.ConfigOption("GDAL_DISABLE_READDIR_ON_OPEN=EMPTY_DIR"))
	}
	ds, err := godal.Open(webAddress(path), opts...)
	if err != nil {
		return nil, err
	}
	if ds == nil {
		return nil, errors.New("GDAL could not open it and gave no reason")
	}
	return ds, nil
}

// cleanPath names a file in a message: as the user wrote it, tidied.
func cleanPath(path string) string {
	if strings.Contains(path, "://") || strings.HasPrefix(path, "/vsi") {
		return path
	}
	return filepath.Clean(path)
}
