package main

import (
	"bufio"
	"compress/gzip"
	"encoding/gob"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"rimcast/reports"
)

// A result directory keeps the finished survey in one file, so that reports
// are redone, craters looked at and surveys compared without the maps. It is
// for rimcast itself; the tables are for everybody else.
//
// The file is a line of text that says what it is, then a gzip stream of gob
// messages: the head, then the craters, findings, contrasts, targets and
// cut-outs in pieces of a few thousand, so that no message grows with the
// catalogue. Equal surveys give equal bytes: maps are in the manifest only,
// which is a file of its own.
const (
	savedName  = "survey.bin"
	savedMagic = "rimcast survey 1\n"
	savedPiece = 2048
)

// savedHead is the first message: the survey without its long lists, which
// follow, and without its manifest.
type savedHead struct {
	Survey                                                 reports.Survey
	Craters, Findings, Contrasts, Targets, Cutouts, Masked int
	Epochs, Persistence                                    int
}

// maxSaved bounds the counts in a head, so that a damaged one cannot ask for
// more memory than the file could fill.
const maxSaved = 1 << 28

// saveSurvey writes a finished survey, without its manifest.
func saveSurvey(w io.Writer, s *reports.Survey) error {
	if _, err := io.WriteString(w, savedMagic); err != nil {
		return err
	}
	z := gzip.NewWriter(w) // no name and no time in its header
	e := gob.NewEncoder(z)
	err := errors.Join(
		e.Encode(headOf(s)),
		encodePieces(e, s.Catalogue.Craters),
		encodeFindings(e, s),
		encodePieces(e, s.Contrasts),
		encodePieces(e, s.Targets),
		encodePieces(e, s.Cutouts),
		encodePieces(e, s.Masked),
		encodePieces(e, s.Epochs),
		encodePieces(e, s.Persistence),
	)
	return errors.Join(err, z.Close())
}

func headOf(s *reports.Survey) savedHead {
	h := savedHead{
		Survey: *s, Craters: len(s.Catalogue.Craters), Findings: s.Count(), Contrasts: len(s.Contrasts),
		Targets: len(s.Targets), Cutouts: len(s.Cutouts), Masked: len(s.Masked),
		Epochs: len(s.Epochs), Persistence: len(s.Persistence),
	}
	withoutLists(&h.Survey)
	return h
}

// withoutLists empties what does not belong into the head.
func withoutLists(s *reports.Survey) {
	s.Manifest = reports.Manifest{}
	s.Catalogue.Craters = nil
	s.Findings, s.Contrasts, s.Targets, s.Cutouts, s.Masked = nil, nil, nil, nil, nil
	s.Epochs, s.Persistence = nil, nil
}

func encodePieces[T any](e *gob.Encoder, list []T) error {
	for len(list) > 0 {
		n := min(savedPiece, len(list))
		if err := e.Encode(list[:n]); err != nil {
			return err
		}
		list = list[n:]
	}
	return nil
}

// loadSurvey reads what saveSurvey wrote. Any damage is an error: the gzip
// stream ends in a check sum, and it is read to its end.
func loadSurvey(r io.Reader) (*reports.Survey, error) {
	magic := make([]byte, len(savedMagic))
	if _, err := io.ReadFull(r, magic); err != nil || string(magic) != savedMagic {
		return nil, errors.New("is not a saved survey of this version of rimcast")
	}
	z, err := gzip.NewReader(r)
	if err != nil {
		return nil, err
	}
	s, err := decodeSurvey(z)
	if err != nil {
		return nil, damaged(err)
	}
	return s, nil
}

// decodeSurvey reads the messages to the end of the stream, where the check sum
// of a gzip stream is compared.
func decodeSurvey(r io.Reader) (*reports.Survey, error) {
	d := gob.NewDecoder(r)
	var h savedHead
	if err := d.Decode(&h); err != nil {
		return nil, err
	}
	s := &h.Survey
	withoutLists(s) // also in a head that a stranger wrote
	for _, step := range []func() error{
		func() error { return decodePieces(d, h.Craters, &s.Catalogue.Craters) },
		func() error { return decodeFindings(d, h.Findings, s) },
		func() error { return decodePieces(d, h.Contrasts, &s.Contrasts) },
		func() error { return decodePieces(d, h.Targets, &s.Targets) },
		func() error { return decodePieces(d, h.Cutouts, &s.Cutouts) },
		func() error { return decodePieces(d, h.Masked, &s.Masked) },
		func() error { return decodePieces(d, h.Epochs, &s.Epochs) },
		func() error { return decodePieces(d, h.Persistence, &s.Persistence) },
		func() error { return atEnd(r) },
		func() error { return checkIndices(s) },
		func() error { return checkPairs(&s.Controls, len(s.Catalogue.Craters)) },
	} {
		if err := step(); err != nil {
			return nil, err
		}
	}
	return s, nil
}

func damaged(err error) error { return fmt.Errorf("the saved survey is damaged: %w", err) }

// decodePieces appends n entries; the slice grows with what is read, not with
// what the head promises.
func decodePieces[T any](d *gob.Decoder, n int, list *[]T) error {
	if n < 0 || n > maxSaved {
		return fmt.Errorf("it promises %d entries", n)
	}
	for len(*list) < n {
		var piece []T
		if err := d.Decode(&piece); err != nil {
			return err
		}
		if len(piece) == 0 || len(*list)+len(piece) > n {
			return errors.New("a piece has the wrong length")
		}
		*list = append(*list, piece...)
	}
	return nil
}

// atEnd reads to the end of the stream.
func atEnd(r io.Reader) error {
	n, err := io.Copy(io.Discard, r)
	if err == nil && n > 0 {
		err = errors.New("there is more in it than it says")
	}
	return err
}

// checkIndices makes sure that every crater index names a crater, and that the
// findings come crater by crater: the writers of reports rely on it.
func checkIndices(s *reports.Survey) error {
	var err error
	n, last := len(s.Catalogue.Craters), 0
	check := func(what string, i int) {
		if err == nil && (i < 0 || i >= n) {
			err = fmt.Errorf("a %s names crater %d of %d", what, i, n)
		}
	}
	for _, f := range s.Findings {
		check("finding", f.CraterIndex)
		if f.CraterIndex < last && err == nil {
			err = errors.New("the findings are out of order")
		}
		last = f.CraterIndex
	}
	for _, c := range s.Contrasts {
		check("contrast", c.CraterIndex)
	}
	for _, e := range s.Epochs {
		check("time of day", e.CraterIndex)
	}
	for _, e := range s.Persistence {
		check("persistence", e.CraterIndex)
	}
	for _, t := range s.Targets {
		check("target", t.CraterIndex)
	}
	for _, m := range s.Seams {
		check("seam", m.CraterIndex)
	}
	for _, m := range s.Masked {
		check("mask", m.CraterIndex)
		check("mask", m.Neighbour)
	}
	for _, c := range s.Cutouts {
		check("cut-out", c.CraterIndex)
		if c.Size < 0 || c.Size > maxCutout || len(c.Values) != c.Size*c.Size || c.Masked != nil && len(c.Masked) != len(c.Values) {
			return errors.New("a cut-out does not fit its size")
		}
	}
	return err
}

// maxCutout is the largest side of a cut-out, pixels.
const maxCutout = 1 << 14

// writeSaved adds the saved survey to a result directory in the making.
func writeSaved(dir string, s *reports.Survey) error {
	f, err := os.Create(filepath.Join(dir, savedName))
	if err != nil {
		return err
	}
	w := bufio.NewWriterSize(f, 1<<16)
	return errors.Join(saveSurvey(w, s), w.Flush(), f.Close())
}

// readResult reads the survey and the manifest of a result directory.
func readResult(dir string) (*reports.Survey, error) {
	if !isResult(dir) {
		return nil, usage(dir+" is not a result directory: it has no "+resultMark, "give the directory that screen wrote with -o")
	}
	path := filepath.Join(dir, savedName)
	f, err := openInput(path)
	if err != nil {
		return nil, inputFault(err, "the directory is not complete; screen again")
	}
	defer f.Close()
	s, err := loadSurvey(bufio.NewReaderSize(f, 1<<16))
	if err != nil {
		return nil, inputFault(fmt.Errorf("%s: %w", path, err), "copy the directory again, or screen again")
	}
	if s.Manifest, err = readManifest(filepath.Join(dir, resultMark)); err != nil {
		return nil, inputFault(err, "copy the directory again, or screen again")
	}
	return s, nil
}
