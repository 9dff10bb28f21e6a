package main

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
)

// checkPlace looks, without writing, whether a result could be written to a
// place: what is there would not be refused, and the nearest directory above it
// that exists is one that takes new files.
func checkPlace(path string, force bool) error {
	d := &resultDir{final: filepath.Clean(path), mark: resultMark}
	if err := d.checkFinal(force); err != nil {
		return err
	}
	parent := d.final
	for {
		next := filepath.Dir(parent)
		if next == parent {
			return nil
		}
		parent = next
		if info, err := os.Stat(parent); err == nil {
			return outputFault(writable(parent, info))
		} else if !errors.Is(err, fs.ErrNotExist) {
			return outputFault(err)
		}
	}
}

// writable refuses a directory whose rights or file system take no new files.
func writable(dir string, info fs.FileInfo) error {
	if !info.IsDir() {
		return &fs.PathError{Op: "make a directory in", Path: dir, Err: errors.New("it is not a directory")}
	}
	return mayWrite(dir)
}
