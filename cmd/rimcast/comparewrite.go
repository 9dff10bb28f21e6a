package main

import (
	"os"
	"path/filepath"
	"slices"

	"rimcast/reports"
)

// comparedMark is the file by which the directory of a comparison is known.
const comparedMark = "compare.json"

// write writes the comparison as files when a place was named.
func (c *comparison) write(dirA, dirB string, o compareOpts) error {
	if o.out == "" {
		return nil
	}
	d, err := newOwnDir(o.out, comparedMark, o.force)
	if err != nil {
		return err
	}
	defer d.discard()
	all := c.forReports(dirA, dirB)
	if err := reports.WriteComparison(d.partial, all, o.formats); err != nil {
		return outputFault(err)
	}
	if err := c.writeJSON(filepath.Join(d.partial, comparedMark)); err != nil {
		return outputFault(err)
	}
	return d.commit()
}

// forReports is the comparison as the writers of reports take it.
func (c *comparison) forReports(dirA, dirB string) *reports.Comparison {
	all := &reports.Comparison{NameA: filepath.Base(dirA), NameB: filepath.Base(dirB), Rows: c.rows}
	for _, g := range c.Agreements {
		all.Agreements = append(all.Agreements, g.Agreement)
	}
	return all
}

func (c *comparison) writeJSON(path string) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	err = printJSON(f, plain(c))
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	return err
}

// checkFormats refuses formats that figures cannot have.
func checkFormats(formats []string) error {
	for _, f := range formats {
		if !slices.Contains(figureFormats, f) {
			return usage("figures cannot have the format "+printable(f), didYouMean(f, figureFormats))
		}
	}
	return nil
}
