package main

import (
	"fmt"
	"os"
)

// openInput opens a file to read. A pipe would wait for a writer for ever, where
// no signal ends it, and a device may never end: both are refused. What stands
// for standard input is let through.
func openInput(path string) (*os.File, error) {
	info, err := os.Stat(path)
	switch {
	case err != nil: // opening it says why
	case info.IsDir():
		return nil, fmt.Errorf("%s is a directory", path)
	case !info.Mode().IsRegular() && !standardInput(info):
		return nil, fmt.Errorf("%s is a device or a pipe; save it in a file first", path)
	}
	return os.Open(path)
}

// standardInput reports whether a file is what this process reads by default.
func standardInput(info os.FileInfo) bool {
	own, err := os.Stdin.Stat()
	return err == nil && os.SameFile(own, info)
}
