//go:build !linux

package main

import "os"

// exchange swaps two directories.
func exchange(partial, final string) error { return exchangeByRenames(partial, final) }

// lockDir would lock a directory for the life of the process; without locks
// nothing that another run may own is ever swept.
func lockDir(string) *os.File { return nil }

// lockFile would lock an open file for the life of the process.
func lockFile(*os.File) bool { return true }

// mayWrite would ask the system whether a directory takes new files.
func mayWrite(string) error { return nil }
