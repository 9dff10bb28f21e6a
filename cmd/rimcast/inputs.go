package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"rimcast/raster"
	"rimcast/reports"
)

// inputFile is one file that a survey reads.
type inputFile struct {
	role    string // "catalogue", "species water", "species water, beside the map" ...
	path    string // to open
	written string // as the user wrote it
	before  fileState
}

// fileState tells whether a file has been replaced or written to.
type fileState struct {
	size    int64
	changed time.Time
}

// inputFiles lists the files of a survey in the order of the survey file,
// together with the files beside a raster that say how to read it. Addresses
// are listed, but not looked at.
func inputFiles(sv *surveyFile) ([]inputFile, error) {
	list := []inputFile{{role: "catalogue", path: sv.Catalogue.Path, written: sv.Catalogue.written}}
	if sv.source != "" && sv.source != "-" {
		list = append([]inputFile{{role: "survey", path: sv.source, written: filepath.Base(sv.source)}}, list...)
	}
	for _, n := range sv.layers() {
		list = append(list, rasterFiles(n.label(), n.layer.Path, n.layer.written)...)
		if n.layer.Sigma != "" {
			list = append(list, rasterFiles(n.label()+", sigma", n.layer.Sigma, n.layer.writtenSigma)...)
		}
	}
	for i := range list {
		if err := list[i].look(); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// sidecars are what stands beside a raster: GDAL's notes and masks, and the
// headers or data of formats with two files.
var sidecars = []string{".prj", ".hdr", ".lbl", ".img", ".dat", ".xml", ".tfw", ".wld"}

func rasterFiles(role, path, written string) []inputFile {
	list := []inputFile{{role: role, path: path, written: written}}
	if isAddress(path) {
		return list
	}
	names := []string{path + ".aux.xml", path + ".msk"}
	stem := strings.TrimSuffix(path, filepath.Ext(path))
	for _, ext := range sidecars {
		names = append(names, stem+ext)
	}
	for _, name := range names {
		if info, err := os.Stat(name); err == nil && info.Mode().IsRegular() && name != path {
			beside := filepath.Join(filepath.Dir(written), filepath.Base(name))
			list = append(list, inputFile{role: role + ", beside the map", path: name, written: beside})
		}
	}
	return list
}

// look remembers the state of the file before it is read.
func (f *inputFile) look() error {
	if isAddress(f.path) {
		return nil
	}
	info, err := os.Stat(f.path)
	if err != nil {
		return inputFault(fmt.Errorf("%s: %w", f.role, err), "check the path; paths in a survey file are relative to its folder")
	}
	if info.IsDir() {
		return inputFault(fmt.Errorf("%s: %s is a directory", f.role, f.path), "give the file in it")
	}
	if !info.Mode().IsRegular() {
		return inputFault(fmt.Errorf("%s: %s is a device or a pipe, and it is read more than once", f.role, f.path), "save it in a file first")
	}
	f.before = fileState{info.Size(), info.ModTime()}
	return nil
}

// unchanged returns an error when the file is not what it was: results from
// two versions of a map must not be mixed.
func (f *inputFile) unchanged() error {
	if isAddress(f.path) {
		return nil
	}
	info, err := os.Stat(f.path)
	if err == nil && info.Size() == f.before.size && info.ModTime().Equal(f.before.changed) {
		return nil
	}
	return &cliError{code: exitCorrupt, problem: fmt.Sprintf("%s: %s changed while it was read", f.role, f.path), remedy: "run again when nothing writes to it"}
}

// shownPath is the path for the manifest: as written, but without the secrets
// of an address, and without the folders of an absolute path, which say where
// a person works and not what was read.
func shownPath(written string) string {
	switch {
	case isAddress(written):
		return raster.Redact(written)
	case filepath.IsAbs(written):
		return filepath.Base(written)
	}
	return filepath.ToSlash(filepath.Clean(written))
}

// hashing computes the check sums of the inputs while the survey runs.
type hashing struct {
	done   chan struct{}
	inputs []reports.Input
	err    error
}

// startHashing begins to read the files. The context ends it early.
func startHashing(ctx context.Context, files []inputFile) *hashing {
	h := &hashing{done: make(chan struct{})}
	go func() {
		defer close(h.done)
		for _, f := range files {
			in, err := hashInput(ctx, f)
			if err != nil {
				h.err = err
				return
			}
			h.inputs = append(h.inputs, in)
		}
	}()
	return h
}

// wait returns the inputs in the order of the files.
func (h *hashing) wait() ([]reports.Input, error) {
	<-h.done
	return h.inputs, h.err
}

func hashInput(ctx context.Context, f inputFile) (reports.Input, error) {
	in := reports.Input{Role: f.role, Path: shownPath(f.written)}
	if isAddress(f.path) {
		return in, nil // its bytes are read in parts only
	}
	r, err := os.Open(f.path)
	if err != nil {
		return in, inputFault(err, "")
	}
	defer r.Close()
	sum := sha256.New()
	buf := make([]byte, 1<<20)
	for {
		if err := ctx.Err(); err != nil {
			return in, err
		}
		n, err := r.Read(buf)
		sum.Write(buf[:n])
		in.Bytes += int64(n)
		if errors.Is(err, io.EOF) {
			in.SHA256 = hex.EncodeToString(sum.Sum(nil))
			return in, nil
		}
		if err != nil {
			return in, inputFault(err, "")
		}
	}
}

// ready reports whether the sums are there.
func (h *hashing) ready() bool {
	select {
	case <-h.done:
		return true
	default:
		return false
	}
}
