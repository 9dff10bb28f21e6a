package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"sync"
	"time"

	"rimcast/ejecta"
	"rimcast/raster"
)

// keepEvery is the time between two checkpoints: short against what a run can
// lose, long against the flush of a file.
var keepEvery = 2 * time.Second

// keeper writes the measured craters to a checkpoint beside the output while a
// run goes on. The file appears with the first craters and is removed when the
// result stands. A checkpoint that cannot be written is told of and left; the
// run goes on without. A nil keeper keeps nothing.
type keeper struct {
	sv   *surveyFile
	sums *hashing
	prog progress
	path string

	mu      sync.Mutex
	file    *os.File
	began   bool
	off     bool // nothing is kept any more
	kept    int  // measurements in the file
	pending []int
	last    time.Time
	p       *pipeline
}

func newKeeper(sv *surveyFile, sums *hashing, prog progress) *keeper {
	return &keeper{sv: sv, sums: sums, prog: prog, path: besideName(sv.Output.Dir, "progress"), off: sv.Output.Dir == ""}
}

// visitKept measures craters group by group, without those that a checkpoint
// holds, and keeps them.
func (p *pipeline) visitKept(ctx context.Context, jobs []raster.Job) error {
	done := map[int]bool{}
	if p.keep != nil {
		var err error
		if done, err = p.keep.begin(p); err != nil {
			return err
		}
		defer p.keep.close()
	}
	p.prog.Stage("craters", len(jobs)*len(p.groups))
	for _, g := range p.groups {
		left := p.pending(g, jobs, done)
		p.prog.Add(len(jobs) - len(left))
		if err := p.visitGroup(ctx, g, left, p.keptCrater); err != nil {
			return err
		}
	}
	return nil
}

// pending lists the jobs that are not done on every species of a group.
func (p *pipeline) pending(g *group, jobs []raster.Job, done map[int]bool) (left []raster.Job) {
	for _, job := range jobs {
		for _, species := range g.species {
			if !done[job.ID*len(p.sv.Species)+species] {
				left = append(left, job)
				break
			}
		}
	}
	return left
}

func (p *pipeline) keptCrater(g *group, b *siteBuilder, job raster.Job, patch *raster.Patch, fault error) {
	p.craterAt(g, b, job, patch, fault)
	if p.keep == nil {
		return
	}
	for _, species := range g.species {
		p.keep.add(job.ID*len(p.sv.Species) + species)
	}
}

// begin reads the checkpoint to resume from, and returns what is done.
func (k *keeper) begin(p *pipeline) (map[int]bool, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.p, k.last = p, time.Now()
	if k.off {
		return map[int]bool{}, nil
	}
	_, err := os.Lstat(k.path)
	found := !errors.Is(err, fs.ErrNotExist)
	switch {
	case found && k.sv.resume:
		return k.resume()
	case found:
		k.prog.Warn("the checkpoint of an earlier run, %s, is replaced; --resume would continue it", k.path)
	case k.sv.resume:
		k.prog.Note("there is no checkpoint to resume from; the run begins anew")
	}
	return map[int]bool{}, nil
}

// resume restores the measurements of the checkpoint and opens it to append.
func (k *keeper) resume() (map[int]bool, error) {
	f, err := os.OpenFile(k.path, os.O_RDWR, 0)
	if err != nil {
		return nil, inputFault(err, "run without --resume")
	}
	done, size, err := k.readBack(f)
	if err == nil && size > 0 {
		err = k.appendTo(f, size)
	}
	if err != nil || size == 0 {
		f.Close()
		return done, err
	}
	k.kept = len(done)
	k.prog.Note("%d measurements are taken from %s", len(done), k.path)
	return done, nil
}

// readBack restores the measurements of a checkpoint, frame by frame, and returns
// which they are and where the last whole frame ends: at 0 when the run was
// stopped before its first one was whole.
func (k *keeper) readBack(f *os.File) (done map[int]bool, size int64, err error) {
	done = map[int]bool{}
	r := bufio.NewReaderSize(f, 1<<16)
	c, err := beginPart(r)
	if err == nil {
		err = c.read(r, true, func() bool { return c.header.Format != 0 })
	}
	if err != nil {
		return done, 0, k.unreadable(f, err)
	}
	if err := k.sameRun(&c.header); err != nil {
		return nil, 0, err
	}
	if err := c.stream(r, true, func(e *partEntry) error {
		done[e.Slot] = true
		return k.p.restore(e)
	}); err != nil {
		return nil, 0, k.damaged(err)
	}
	return done, c.size, outputFault(k.p.details.fault())
}

// unreadable is the error of a checkpoint that does not begin like one; nil where
// the run was stopped before its first frame was whole.
func (k *keeper) unreadable(f *os.File, err error) error {
	if tornStart(f) {
		return nil
	}
	return k.damaged(err)
}

func (k *keeper) damaged(err error) error {
	return inputFault(errors.Join(errors.New(k.path), err), "run without --resume; the checkpoint is replaced")
}

// sameRun refuses a checkpoint of another run.
func (k *keeper) sameRun(h *partHeader) error {
	inputs, err := k.sums.wait()
	if err != nil {
		return err
	}
	want := k.sv.header(len(k.p.cat.Craters), inputs)
	return sameOrigin(k.path, h, "this run", &want)
}

// appendTo cuts a torn end off and goes on behind the last whole frame.
func (k *keeper) appendTo(f *os.File, size int64) error {
	_, err := f.Seek(size, io.SeekStart)
	if err = errors.Join(f.Truncate(size), err); err != nil || !lockFile(f) {
		return errors.Join(outputFault(err), usage(k.path+" is in use", "another run writes to the same output; wait for it"))
	}
	k.file, k.began = f, true
	return nil
}

// tornStart reports whether a file ends before its header does.
func tornStart(f *os.File) bool {
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return false
	}
	r := bufio.NewReader(f)
	magic := make([]byte, len(partMagic))
	n, _ := io.ReadFull(r, magic)
	if n < len(magic) {
		return bytes.HasPrefix([]byte(partMagic), magic[:n])
	}
	_, _, err := readFrame(r)
	return string(magic) == partMagic && (err == io.EOF || errors.Is(err, io.ErrUnexpectedEOF))
}

// add keeps a measurement with the next flush. One that could not be read is
// tried again after a resume.
func (k *keeper) add(slot int) {
	if k.p.findings[k.p.at(slot)].Status == ejecta.StatusUnreadable {
		return
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.off {
		return
	}
	k.pending = append(k.pending, slot)
	if now := time.Now(); now.Sub(k.last) >= keepEvery && k.sums.ready() {
		k.last = now
		k.flush()
	}
}

// flush writes what is pending and makes it durable.
func (k *keeper) flush() {
	if k.off || len(k.pending) == 0 {
		return
	}
	err := k.start()
	for len(k.pending) > 0 && err == nil {
		n := min(partBatch, len(k.pending))
		err = k.p.writeEntries(k.file, k.pending[:n])
		k.pending, k.kept = k.pending[n:], k.kept+n
	}
	if err == nil {
		err = k.file.Sync()
	}
	if err != nil {
		k.off, k.kept = true, 0
		k.prog.Warn("no checkpoint can be written, so that this run cannot be resumed: %v", err)
	}
}

// start makes the checkpoint when there is something to keep.
func (k *keeper) start() error {
	if k.began {
		return nil
	}
	k.began = true
	inputs, err := k.sums.wait()
	if err != nil {
		return err
	}
	if k.file, err = os.OpenFile(k.path, os.O_RDWR|os.O_CREATE, 0o666); err != nil {
		return err
	}
	if !lockFile(k.file) {
		return errors.New("another run writes " + k.path)
	}
	if err := k.file.Truncate(0); err != nil {
		return err
	}
	_, err = io.WriteString(k.file, partMagic)
	return errors.Join(err, writeFrame(k.file, frameHeader, k.sv.header(len(k.p.cat.Craters), inputs)))
}

// close flushes and keeps the file, for a run that ends early. It may be called
// more than once.
func (k *keeper) close() {
	if k == nil {
		return
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.p != nil && k.sums.ready() && k.sums.err == nil {
		k.flush()
	}
}

// remove ends the life of the checkpoint: the output stands.
func (k *keeper) remove() {
	if k == nil || k.sv.Output.Dir == "" {
		return
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.file != nil {
		k.file.Close()
	}
	if l := lockDir(k.path); l != nil { // else it belongs to another run
		_ = os.Remove(k.path) // what cannot be removed is replaced by the next run
		l.Close()
	}
	k.off, k.kept, k.file = true, 0, nil
}

// remedy is what to do after an interruption.
func (k *keeper) remedy() string {
	if k == nil || k.kept == 0 {
		return "run the same command again"
	}
	return "continue with the same command and --resume; what was measured is in " + k.path
}
