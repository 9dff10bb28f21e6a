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
	if err == nil && info.IsDir() {
		err = fmt.Errorf("%s is a directory", path)
	}
	if err == nil && !info.Mode().IsRegular() && !standardInput(info) {
		err = fmt.Errorf("%s is a device or a pipe; save it in a file first", path)
	}
	if err != nil {
		return nil, err
	}
	return os.Open(path)
}

// standardInput reports whether a file is what this process reads by default.
func standardInput(info os.FileInfo) bool {
	own, err := os.Stdin.Stat()
	return err == nil && os.SameFile(own, info)
}
