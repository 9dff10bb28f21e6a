package main

import (
	"path/filepath"
	"strings"
)

// spareInputs refuses an output directory that holds a file which the run
// reads: with --force the old result goes, and all that lies in it.
func spareInputs(out string, inputs []string) error {
	place, ok := realPath(out)
	if !ok {
		return nil // it does not exist
	}
	for _, name := range inputs {
		if path, ok := realPath(name); ok && within(place, path) {
			return usage(out+" holds "+name+", which this run reads and which would be removed with the old result", "choose another place with -o, or move the file")
		}
	}
	return nil
}

// realPath is a path with all links followed; false when there is nothing.
func realPath(path string) (string, bool) {
	if path == "" || path == "-" || isAddress(path) {
		return "", false
	}
	real, err := filepath.EvalSymlinks(path)
	if err != nil {
		return "", false
	}
	real, err = filepath.Abs(real)
	return real, err == nil
}

// within reports whether a path is a directory or lies in it.
func within(dir, path string) bool {
	rel, err := filepath.Rel(dir, path)
	return err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator))
}

// inputPaths are the files that a survey names, and its own.
func (sv *surveyFile) inputPaths() []string {
	list := []string{sv.source, sv.Catalogue.Path}
	for _, n := range sv.layers() {
		list = append(list, n.layer.Path, n.layer.Sigma)
	}
	return list
}
