package main

import (
	"bufio"
	"cmp"
	"errors"
	"fmt"
	"io"

	"rimcast/ejecta"
)

// part is a part, or as much of one as was read.
type part struct {
	header  partHeader
	shared  *partShared // nil in a checkpoint
	alike   [32]byte    // sum of what every shard must find
	entries []partEntry // read and not handed on
	count   int         // read so far
	ended   bool
	size    int64 // bytes up to the end of the last whole frame
	words   map[string]string
}

// hasShared reports whether the frame of what all shards share was read.
func (p *part) hasShared() bool { return p.alike != [32]byte{} }

// readPart reads a part into memory. Any damage is an error, except that torn
// allows the file to end in the middle of a frame, as a killed run leaves it.
func readPart(r io.Reader, torn bool) (*part, error) {
	p, err := beginPart(r)
	if err == nil {
		err = p.read(r, torn, func() bool { return false })
	}
	if err != nil {
		return nil, err
	}
	return p, nil
}

// beginPart reads the line that says what a file is.
func beginPart(r io.Reader) (*part, error) {
	magic := make([]byte, len(partMagic))
	if _, err := io.ReadFull(r, magic); err != nil || string(magic) != partMagic {
		return nil, errors.New("is not a part of this version of rimcast")
	}
	return &part{size: int64(len(partMagic))}, nil
}

// read takes frames to the end of the file, or until it is enough.
func (p *part) read(r io.Reader, torn bool, enough func() bool) error {
	for !enough() {
		kind, packed, err := readFrame(r)
		if err == io.EOF || torn && errors.Is(err, io.ErrUnexpectedEOF) {
			return p.whole(torn)
		}
		if err == nil {
			err = p.take(kind, packed)
		}
		if err != nil {
			return fmt.Errorf("the part is damaged: %w", err)
		}
		p.size += int64(len(packed)) + frameOverhead
	}
	return nil
}

// stream hands the measurements on as they are read, a frame at a time. The
// error of each is returned as it is.
func (p *part) stream(r io.Reader, torn bool, each func(*partEntry) error) error {
	var failed error
	fault := p.read(r, torn, func() bool {
		failed = p.handOn(each)
		return failed != nil
	})
	return cmp.Or(failed, fault)
}

// handOn empties the list of what was read.
func (p *part) handOn(each func(*partEntry) error) error {
	list := p.entries
	p.entries = nil
	for i := range list {
		if err := each(&list[i]); err != nil {
			return err
		}
	}
	return nil
}

// frameOverhead is the kind, the length and the sum of a frame.
const frameOverhead = 5 + 32

func (p *part) whole(torn bool) error {
	switch {
	case p.header.Format == 0:
		return errors.New("the part has no header")
	case !torn && (!p.ended || !p.hasShared()):
		return errors.New("the part is cut short")
	}
	return nil
}

// take adds a frame. The header comes first, and once.
func (p *part) take(kind byte, packed []byte) error {
	first := p.header.Format == 0
	switch {
	case first != (kind == frameHeader), p.ended:
		return errors.New("its frames are out of order")
	case kind == frameHeader:
		return p.takeHeader(packed)
	case kind == frameShared && !p.hasShared():
		p.shared = &partShared{}
		if err := unpack(packed, p.shared); err != nil {
			return err
		}
		p.alike = p.shared.alike()
		return p.shared.check(p.header)
	case kind == frameData:
		return p.takeEntries(packed)
	case kind == frameEnd:
		return p.takeEnd(packed)
	}
	return errors.New("it has a frame of no known kind")
}

func (p *part) takeHeader(packed []byte) error {
	if err := unpack(packed, &p.header); err != nil {
		return err
	}
	return p.header.check()
}

// check refuses a header that no run writes.
func (h *partHeader) check() error {
	switch {
	case h.Format != partFormat:
		return fmt.Errorf("its format is %d, not %d", h.Format, partFormat)
	case h.Of < 1 || h.Of > maxShards || h.Shard < 1 || h.Shard > h.Of:
		return fmt.Errorf("it is shard %d of %d", h.Shard, h.Of)
	case h.Craters < 0 || h.Craters > maxSaved || h.Species < 1 || h.Species > maxSaved || h.Craters*h.Species > maxSaved:
		return fmt.Errorf("it promises %d craters and %d species", h.Craters, h.Species)
	}
	return nil
}

func (p *part) takeEntries(packed []byte) error {
	var list []partEntry
	if err := unpack(packed, &list); err != nil {
		return err
	}
	for i := range list {
		if s := list[i].Slot; s < 0 || s >= p.header.Craters*p.header.Species {
			return fmt.Errorf("it measures number %d of %d", s, p.header.Craters*p.header.Species)
		}
		if _, err := list[i].evidence(); err != nil {
			return err
		}
		if e := list[i].Epoch; e != nil && !e.Valid() {
			return errors.New("a time of day does not hold what its tests need")
		}
	}
	for i := range list {
		p.shareWords(&list[i].Finding)
	}
	p.entries, p.count = append(p.entries, list...), p.count+len(list)
	return nil
}

// shareWords lets the findings of a part share the words that they have in
// common: the decoder makes a copy for each.
func (p *part) shareWords(f *ejecta.Finding) {
	f.Species, f.Unit, f.Epoch = p.word(f.Species), p.word(f.Unit), p.word(f.Epoch)
	for i := range f.Alarms {
		a := &f.Alarms[i]
		a.Name, a.NotRun, a.Unit, a.Detail = p.word(a.Name), p.word(a.NotRun), p.word(a.Unit), p.word(a.Detail)
	}
}

// maxWords bounds the words that findings share; most details differ.
const maxWords = 4096

func (p *part) word(s string) string {
	if w, ok := p.words[s]; ok {
		return w
	}
	if p.words == nil {
		p.words = map[string]string{}
	}
	if len(p.words) < maxWords {
		p.words[s] = s
	}
	return s
}

func (p *part) takeEnd(packed []byte) error {
	var end partEnd
	if err := unpack(packed, &end); err != nil {
		return err
	}
	if end.Entries != p.count {
		return fmt.Errorf("it holds %d measurements and promises %d", p.count, end.Entries)
	}
	p.ended = true
	return nil
}

// openPart reads the beginning of a finished part: what it was made from, and what
// all shards share.
func openPart(path string) (p *part, err error) {
	err = fromPart(path, 0, func(r io.Reader) error {
		if p, err = beginPart(r); err != nil {
			return err
		}
		return p.read(r, false, p.hasShared)
	})
	return p, err
}

// readOn hands on the measurements of a part that was begun.
func (p *part) readOn(path string, each func(*partEntry) error) error {
	var failed error
	err := fromPart(path, p.size, func(r io.Reader) error {
		return p.stream(r, false, func(e *partEntry) error {
			failed = each(e)
			return failed
		})
	})
	return cmp.Or(failed, err)
}

// fromPart reads a file from a place on.
func fromPart(path string, from int64, read func(io.Reader) error) error {
	f, err := openInput(path)
	if err != nil {
		return inputFault(err, "a part is what screen --shard wrote with -o")
	}
	defer f.Close()
	if from > 0 {
		_, err = f.Seek(from, io.SeekStart)
	}
	if err == nil {
		err = read(bufio.NewReaderSize(f, 1<<16))
	}
	if err != nil {
		return inputFault(fmt.Errorf("%s: %w", path, err), "copy the file again, or screen this shard again")
	}
	return nil
}
