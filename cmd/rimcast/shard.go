package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"hash/fnv"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"rimcast/ejecta"
)

// shard is a share of the craters: number index of of, from 1. The zero value
// is all of them.
type shard struct{ index, of int }

// maxShards bounds the number of shards.
const maxShards = 1 << 20

// shardFlags are the flags of screen for long catalogues.
type shardFlags struct {
	shard  string
	resume bool
}

func (f *shardFlags) register(fs *pflag.FlagSet) {
	fs.StringVar(&f.shard, "shard", "", "measure share `i/n` of the craters only, into the file of -o, for merge")
	fs.BoolVar(&f.resume, "resume", false, "continue where a run that was stopped left off")
}

func (f *shardFlags) into(sv *surveyFile) (err error) {
	sv.resume = f.resume
	if f.shard != "" {
		sv.shard, err = parseShard(f.shard)
	}
	return err
}

// parseShard reads i/n with 1 <= i <= n.
func parseShard(text string) (shard, error) {
	i, n, ok := strings.Cut(text, "/")
	index, err1 := strconv.Atoi(i)
	of, err2 := strconv.Atoi(n)
	if !ok || err1 != nil || err2 != nil || index < 1 || index > of || of > maxShards {
		return shard{}, usage("--shard "+printable(text)+" is no share of a catalogue", "write it as 3/17, from 1/17 to 17/17")
	}
	return shard{index, of}, nil
}

// owns reports whether a crater belongs to this run. Shards are drawn by the
// hash of the crater's id, so that each has its fair share of every kind of
// crater, and adding a crater to the list moves no other.
func (p *pipeline) owns(i int) bool {
	if p.sv.shard.of <= 1 {
		return true
	}
	h := fnv.New64a()
	h.Write([]byte(p.cat.Craters[i].ID))
	x := h.Sum64()
	return (x^x>>32)%uint64(p.sv.shard.of) == uint64(p.sv.shard.index-1)
}

// screenShard measures a share of the craters into a part.
func (a *app) screenShard(ctx context.Context, sv *surveyFile) error {
	out := sv.Output.Dir
	if err := checkFilePlace(out, isPart, "is not a part", sv.Output.Force); err != nil {
		return err
	}
	f, err := newPartFile(out)
	if err != nil {
		return err
	}
	defer f.discard()
	defer sv.limitMemory()()
	if err := sv.openDetails(filepath.Dir(out)); err != nil {
		return err
	}
	defer sv.closeDetails()
	var own, unreadable int
	_, err = a.measureThen(ctx, sv, func(p *pipeline) error {
		inputs, err := a.keep.sums.wait()
		if err != nil {
			return err
		}
		own, unreadable = p.countOwn()
		w := bufio.NewWriterSize(f.file, 1<<16)
		return outputFault(errors.Join(p.writePart(w, sv.header(len(p.cat.Craters), inputs)), w.Flush()))
	})
	if err != nil {
		return err
	}
	if err := f.commit(); err != nil {
		return err
	}
	a.keep.remove()
	return a.printShard(sv, own, unreadable)
}

// countOwn counts the craters of this shard, and those whose pixels could not
// be read.
func (p *pipeline) countOwn() (own, unreadable int) {
	n := len(p.sv.Species)
	last := -1
	for _, slot := range p.ownSlots() {
		if slot%n == 0 {
			own++
		}
		if p.hasRow(slot) && p.findings[p.at(slot)].Status == ejecta.StatusUnreadable && last != slot/n {
			unreadable, last = unreadable+1, slot/n
		}
	}
	return own, unreadable
}

func (a *app) printShard(sv *surveyFile, own, unreadable int) error {
	if unreadable > 0 {
		a.code = exitPartial
		a.msg.warn("the maps could not be read at %d craters of this shard; screening it again may help", unreadable)
	}
	if a.json {
		return printJSON(a.stdout, map[string]any{"part": sv.Output.Dir, "shard": sv.shard.index, "of": sv.shard.of, "craters": own, "unreadable": unreadable})
	}
	_, err := fmt.Fprintf(a.stdout, "%d craters of shard %d of %d in %s; when all are there, rimcast merge\n", own, sv.shard.index, sv.shard.of, sv.Output.Dir)
	return outputFault(err)
}

// checkFilePlace refuses to replace a file of another kind, and one of this kind
// without force.
func checkFilePlace(path string, isKind func(string) bool, isNot string, force bool) error {
	if path == "" {
		return usage("there is no place for the file", "name one with -o FILE")
	}
	info, err := os.Lstat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return outputFault(err)
	case !info.Mode().IsRegular() || !isKind(path):
		return usage(path+" exists and "+isNot, "choose another name with -o; it is left alone, also with --force")
	case !force:
		return usage(path+" exists already", "choose another name with -o, or replace it with --force")
	}
	return nil
}

func isPart(path string) bool { return beginsWith(path, partMagic) }

func beginsWith(path, magic string) bool {
	f, err := openInput(path)
	if err != nil {
		return false
	}
	defer f.Close()
	begin := make([]byte, len(magic))
	n, _ := f.Read(begin)
	return string(begin[:n]) == magic
}

// partFile is a part, or a file of sums, in the making, under a temporary name beside its place.
// The name is its own, so that two tasks of one shard never write one file; it
// is locked while its run lives.
type partFile struct {
	file  *os.File
	final string
}

func newPartFile(path string) (*partFile, error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return nil, outputFault(err)
	}
	sweepParts(path)
	prefix := filepath.Base(besideName(path, "partial-"))
	f, err := os.CreateTemp(filepath.Dir(path), prefix+"*")
	if err != nil {
		return nil, outputFault(err)
	}
	lockFile(f)
	// CreateTemp is for secrets; a part has the rights of any new file.
	return &partFile{f, path}, outputFault(f.Chmod(0o644))
}

// sweepParts removes what killed runs left for the same part. One whose run
// still lives is locked and stays.
func sweepParts(path string) {
	stale, _ := filepath.Glob(globbed(besideName(path, "partial-")) + "*") // the pattern is a good one
	for _, name := range stale {
		if l := lockDir(name); l != nil {
			_ = os.Remove(name) // what cannot be removed does no harm
			l.Close()
		}
	}
}

// globbed is a path as a pattern that only it matches.
func globbed(path string) string {
	return strings.NewReplacer(`\`, `\\`, `*`, `\*`, `?`, `\?`, `[`, `\[`).Replace(path)
}

// besideName is the name of a helper file beside an output.
func besideName(path, what string) string {
	path = filepath.Clean(path)
	return filepath.Join(filepath.Dir(path), "."+filepath.Base(path)+"."+what)
}

// commit makes the part durable and moves it to its place.
func (f *partFile) commit() error {
	err := errors.Join(f.file.Sync(), f.file.Close())
	if err == nil {
		err = os.Rename(f.file.Name(), f.final)
	}
	if err == nil {
		f.file = nil
		err = syncDir(filepath.Dir(f.final))
	}
	return outputFault(err)
}

// discard removes the part, if it was not committed.
func (f *partFile) discard() {
	if f.file != nil {
		f.file.Close()
		_ = os.Remove(f.file.Name()) // the next run sweeps what is left
	}
}
