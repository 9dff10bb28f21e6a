package main

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/binary"
	"encoding/gob"
	"errors"
	"fmt"
	"io"
	"sync"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/reports"
)

// A part is what one shard of a survey leaves, or a run that was stopped: the
// measurements of some craters, with the record of what they were made from.
//
// The file is a line of text that says what it is, then frames: one byte for
// the kind, the length as four bytes, the content as a gzip stream of one gob
// message, and the SHA-256 of all that. The header comes first. A finished
// part has a frame of what all shards share and ends in a frame that counts the
// measurements; a checkpoint has neither, and may end in the middle of a frame.
const (
	partMagic  = "rimcast part 1\n"
	partFormat = 1
	partBatch  = 512 // measurements in a frame

	frameHeader = 'H'
	frameShared = 'S'
	frameData   = 'D'
	frameEnd    = 'E'
)

// Limits of a frame, so that a damaged length or a hostile stream cannot ask
// for more memory than a survey needs.
const (
	maxFrame    = 1 << 28 // bytes in the file
	maxUnpacked = 1 << 31 // bytes unpacked
)

// partHeader says what a part was made from.
type partHeader struct {
	Format           int
	Version          string
	Settings         string // SHA-256 of the settings
	Inputs           []reports.Input
	Shard, Of        int // from 1
	Craters, Species int // of the whole survey
	Seed             uint64
}

// partEntry is one crater and species.
type partEntry struct {
	Slot          int // crater times species, plus species
	Finding       ejecta.Finding
	Amplitude, SE float64
	H, Cov        []float64
	Epoch         *ejecta.EpochFinding // nil without times of day
}

// partEnd closes a finished part.
type partEnd struct{ Entries int }

// writeFrame appends one frame.
func writeFrame(w io.Writer, kind byte, v any) error {
	packed, err := pack(v)
	if err != nil {
		return err
	}
	if len(packed) > maxFrame {
		return errors.New("a frame of the part is too large")
	}
	b := binary.LittleEndian.AppendUint32([]byte{kind}, uint32(len(packed)))
	b = append(b, packed...)
	sum := sha256.Sum256(b)
	_, err = w.Write(append(b, sum[:]...))
	return err
}

func pack(v any) ([]byte, error) {
	pinTypes()
	var b bytes.Buffer
	z, err := gzip.NewWriterLevel(&b, gzip.BestSpeed)
	if err != nil {
		return nil, err
	}
	err = errors.Join(gob.NewEncoder(z).Encode(v), z.Close())
	return b.Bytes(), err
}

// readFrame reads one frame and compares its sum. At the end of the file it
// returns io.EOF, in the middle of a frame io.ErrUnexpectedEOF.
func readFrame(r io.Reader) (kind byte, packed []byte, err error) {
	var head [5]byte
	if _, err := io.ReadFull(r, head[:]); err != nil {
		return 0, nil, err
	}
	n := int64(binary.LittleEndian.Uint32(head[1:]))
	if n > maxFrame {
		return 0, nil, fmt.Errorf("a frame promises %d bytes", n)
	}
	var b bytes.Buffer // grows with what is read, not with what is promised
	if _, err := io.CopyN(&b, r, n+sha256.Size); err != nil {
		return 0, nil, io.ErrUnexpectedEOF
	}
	packed = b.Bytes()[:n]
	if sum := frameSum(head[:], packed); !bytes.Equal(sum, b.Bytes()[n:]) {
		return 0, nil, errors.New("a check sum does not fit")
	}
	return head[0], packed, nil
}

func frameSum(head, packed []byte) []byte {
	h := sha256.New()
	h.Write(head)
	h.Write(packed)
	return h.Sum(nil)
}

// unpack decodes the content of a frame, which must hold one message and no
// more.
func unpack(packed []byte, v any) error {
	pinTypes()
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		return err
	}
	r := io.LimitReader(z, maxUnpacked)
	if err := gob.NewDecoder(r).Decode(v); err != nil {
		return err
	}
	return atEnd(r)
}

// pinTypes gives the types of a saved survey their numbers before those of a
// part: gob numbers types in the order in which a process meets them, and the
// numbers are in the bytes.
var pinTypes = sync.OnceFunc(func() {
	empty := &reports.Survey{
		Catalogue: geom.Catalogue{Craters: make([]geom.Crater, 1)}, Findings: make([]ejecta.Finding, 1),
		Contrasts: make([]ejecta.Contrast, 1), Targets: make([]ejecta.Target, 1),
		Cutouts: make([]reports.Cutout, 1), Masked: make([]reports.MaskedDisc, 1),
		Epochs: make([]ejecta.EpochFinding, 1), Persistence: make([]ejecta.Persistence, 1),
	}
	if err := saveSurvey(io.Discard, empty); err != nil {
		panic("rimcast: an empty survey cannot be saved: " + err.Error())
	}
})
