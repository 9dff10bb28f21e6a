package main

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// exchange swaps two directories in one step, so that at no moment the final
// name is missing. File systems without that step get two renames.
func exchange(partial, final string) error {
	err := unix.Renameat2(unix.AT_FDCWD, partial, unix.AT_FDCWD, final, unix.RENAME_EXCHANGE)
	if errors.Is(err, unix.EINVAL) || errors.Is(err, unix.ENOSYS) || errors.Is(err, unix.ENOTSUP) {
		return exchangeByRenames(partial, final)
	}
	if err != nil {
		return &os.LinkError{Op: "exchange", Old: partial, New: final, Err: err}
	}
	return nil
}

// lockDir opens a directory and locks it for the life of the process; nil when
// it cannot be had, because another run holds it.
func lockDir(path string) *os.File {
	f, err := os.Open(path)
	if err != nil {
		return nil
	}
	if err := unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB); err != nil {
		f.Close()
		return nil
	}
	return f
}

// lockFile locks an open file for the life of the process; false when another
// run holds it.
func lockFile(f *os.File) bool {
	return unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB) == nil
}

// mayWrite asks the system whether a directory takes new files.
func mayWrite(dir string) error {
	if err := unix.Access(dir, unix.W_OK|unix.X_OK); err != nil {
		return &os.PathError{Op: "write in", Path: dir, Err: err}
	}
	return nil
}
