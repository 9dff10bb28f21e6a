package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// resultDir is a result directory in the making. It is filled under a
// temporary name beside its final place, so that at any moment the final place
// holds either what was there before or a whole new result, never a part.
//
// The life of one is
//
//	d, err := newResultDir(path, force)
//	defer d.discard()
//	... write into d.partial ...
//	err = d.commit()
type resultDir struct {
	mark    string // the file by which such a directory is known to be ours
	final   string
	partial string
	lock    *os.File // the open partial directory, locked while this run lives
	replace bool     // final exists, is ours, and --force was given
}

// resultMark is the file by which a result directory is known.
const resultMark = "manifest.json"

// newResultDir makes a directory for the results of a screening.
func newResultDir(path string, force bool) (*resultDir, error) {
	return newOwnDir(path, resultMark, force)
}

// newOwnDir checks the final place and makes the partial directory. A directory
// that holds the mark is ours, and is refused without force; anything else that
// exists is always refused, unless it is an empty directory, because it is not
// ours to remove.
func newOwnDir(path, mark string, force bool) (*resultDir, error) {
	if path == "" {
		return nil, usage("there is no place for the output", "name a directory with -o DIR")
	}
	final := filepath.Clean(path)
	if base := filepath.Base(final); base == "." || base == ".." {
		abs, err := filepath.Abs(final) // it needs a name of its own to be exchanged
		if err != nil {
			return nil, outputFault(err)
		}
		final = abs
	}
	d := &resultDir{final: final, mark: mark}
	if err := d.checkFinal(force); err != nil {
		return nil, err
	}
	parent := filepath.Dir(final)
	if err := os.MkdirAll(parent, 0o777); err != nil {
		return nil, outputFault(err)
	}
	d.sweep()
	partial, err := os.MkdirTemp(parent, d.prefix()+"*")
	if err != nil {
		return nil, outputFault(err)
	}
	d.partial = partial
	// MkdirTemp is for secrets; a result has the rights of any new directory.
	if err := os.Chmod(partial, 0o755); err != nil {
		return nil, errors.Join(outputFault(err), os.Remove(partial))
	}
	d.lock = lockDir(partial)
	return d, nil
}

func (d *resultDir) checkFinal(force bool) error {
	info, err := os.Lstat(d.final)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return outputFault(err)
	case !info.IsDir():
		return usage(d.final+" exists and is not a directory", "choose another name with -o")
	}
	entries, err := os.ReadDir(d.final)
	if err != nil {
		return outputFault(err)
	}
	if len(entries) == 0 {
		d.replace = true
		return nil
	}
	if !hasMark(d.final, d.mark) {
		return usage(d.final+" exists and holds no "+d.mark+", so it was not written by this command", "choose another name with -o; it is left alone, also with --force")
	}
	if !force {
		return usage(d.final+" exists already", "choose another name with -o, or replace it with --force")
	}
	d.replace = true
	return outputFault(removable(d.final))
}

// removable refuses a directory in which something may not be removed, such as
// the result of another user.
func removable(dir string) error {
	return filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil || !e.IsDir() {
			return err
		}
		return mayWrite(path)
	})
}

// isResult reports whether a directory looks like the result of a screening.
func isResult(dir string) bool { return hasMark(dir, resultMark) }

func hasMark(dir, mark string) bool {
	info, err := os.Lstat(filepath.Join(dir, mark))
	return err == nil && info.Mode().IsRegular()
}

// prefix starts the names of partial directories for this final name.
func (d *resultDir) prefix() string { return "." + filepath.Base(d.final) + ".partial-" }

// sweep removes the partial directories that killed runs left for the same
// final name. One whose run still lives is locked and stays.
func (d *resultDir) sweep() {
	parent := filepath.Dir(d.final)
	entries, err := os.ReadDir(parent)
	if err != nil {
		return // the next step fails with a better message
	}
	for _, e := range entries {
		if !e.IsDir() || !strings.HasPrefix(e.Name(), d.prefix()) {
			continue
		}
		stale := filepath.Join(parent, e.Name())
		if l := lockDir(stale); l != nil {
			_ = os.RemoveAll(stale) // what cannot be removed does no harm
			l.Close()
		}
	}
}

// commit makes the partial directory durable and moves it to its final place.
// The old result is removed last, when the new one stands.
func (d *resultDir) commit() error {
	if err := syncTree(d.partial); err != nil {
		return outputFault(err)
	}
	parent := filepath.Dir(d.final)
	if !d.replace {
		if _, err := os.Lstat(d.final); err == nil {
			return outputFault(fmt.Errorf("%s appeared while the run went on", d.final))
		}
		if err := os.Rename(d.partial, d.final); err != nil {
			return outputFault(err)
		}
		d.close()
		return outputFault(syncDir(parent))
	}
	if err := exchange(d.partial, d.final); err != nil {
		return outputFault(err)
	}
	old := d.partial
	d.close()
	if err := syncDir(parent); err != nil {
		return outputFault(err)
	}
	_ = os.RemoveAll(old) // the new result stands; the next run sweeps what is left
	return nil
}

// close ends the life of d after its directory has moved.
func (d *resultDir) close() {
	d.partial = ""
	if d.lock != nil {
		d.lock.Close()
		d.lock = nil
	}
}

// discard removes the partial directory, if it was not committed.
func (d *resultDir) discard() {
	if d.partial != "" {
		_ = os.RemoveAll(d.partial) // the next run sweeps what is left
		d.close()
	}
}

// syncTree flushes every file and directory below root to the disk.
func syncTree(root string) error {
	return filepath.WalkDir(root, func(path string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if !e.IsDir() && !e.Type().IsRegular() {
			return nil
		}
		return syncDir(path)
	})
}

// syncDir flushes one file or directory.
func syncDir(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
