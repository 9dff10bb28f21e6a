package main

import "os"

// exchangeByRenames swaps two directories through a third name. Should the
// process die between the renames, the old one is there under that name.
func exchangeByRenames(partial, final string) error {
	aside := partial + ".old"
	if err := os.Rename(final, aside); err != nil {
		return err
	}
	if err := os.Rename(partial, final); err != nil {
		// Put the old one back; when that fails too, the error names it.
		if back := os.Rename(aside, final); back != nil {
			return back
		}
		return err
	}
	return os.Rename(aside, partial)
}
