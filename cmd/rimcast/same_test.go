package main

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// sameMain is a command of the scripts: it fails unless two directories hold
// the same files with the same bytes.
func sameMain() {
	diff, err := treeDifference(os.Args[1], os.Args[2])
	if err != nil || diff != "" {
		fmt.Fprintln(os.Stderr, "same:", diff, err)
		os.Exit(1)
	}
}

// treeDifference names the first file in which two directories differ.
func treeDifference(a, b string) (string, error) {
	x, errX := tree(a)
	y, errY := tree(b)
	if errX != nil || errY != nil {
		return "", fmt.Errorf("%v %v", errX, errY)
	}
	for name := range x {
		if !bytes.Equal(x[name], y[name]) {
			return name, nil
		}
	}
	if len(x) != len(y) || len(x) == 0 {
		return fmt.Sprintf("%d files and %d", len(x), len(y)), nil
	}
	return "", nil
}

func tree(dir string) (map[string][]byte, error) {
	files := map[string][]byte{}
	return files, filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		name, _ := filepath.Rel(dir, path)
		files[name], err = os.ReadFile(path)
		return err
	})
}
