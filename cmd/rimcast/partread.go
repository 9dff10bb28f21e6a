package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"

	"rimcast/ejecta"
)

// part is a part in memory.
type part struct {
	header  partHeader
	shared  *partShared // nil in a checkpoint
	entries []partEntry
	ended   bool
	size    int64 // bytes up to the end of the last whole frame
	words   map[string]string
}

// readPart reads a part. Any damage is an error, except that torn allows the
// file to end in the middle of a frame, as a killed run leaves it.
func readPart(r io.Reader, torn bool) (*part, error) {
	magic := make([]byte, len(partMagic))
	if _, err := io.ReadFull(r, magic); err != nil || string(magic) != partMagic {
		return nil, errors.New("is not a part of this version of rimcast")
	}
	p := &part{size: int64(len(partMagic))}
	for {
		kind, packed, err := readFrame(r)
		if err == io.EOF || torn && errors.Is(err, io.ErrUnexpectedEOF) {
			return p, p.whole(torn)
		}
		if err == nil {
			err = p.take(kind, packed)
		}
		if err != nil {
			return nil, fmt.Errorf("the part is damaged: %w", err)
		}
		p.size += int64(len(packed)) + frameOverhead
	}
}

// frameOverhead is the kind, the length and the sum of a frame.
const frameOverhead = 5 + 32

func (p *part) whole(torn bool) error {
	switch {
	case p.header.Format == 0:
		return errors.New("the part has no header")
	case !torn && (!p.ended || p.shared == nil):
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
	case kind == frameShared && p.shared == nil:
		p.shared = &partShared{}
		if err := unpack(packed, p.shared); err != nil {
			return err
		}
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
	p.entries = append(p.entries, list...)
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
	if end.Entries != len(p.entries) {
		return fmt.Errorf("it holds %d measurements and promises %d", len(p.entries), end.Entries)
	}
	p.ended = true
	return nil
}

// openPart reads a finished part from a file.
func openPart(path string) (*part, error) {
	f, err := openInput(path)
	if err != nil {
		return nil, inputFault(err, "a part is what screen --shard wrote with -o")
	}
	defer f.Close()
	p, err := readPart(bufio.NewReaderSize(f, 1<<16), false)
	if err != nil {
		return nil, inputFault(fmt.Errorf("%s: %w", path, err), "copy the file again, or screen this shard again")
	}
	return p, nil
}
