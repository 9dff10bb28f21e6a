package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"rimcast/reports"
)

const reportLong = `Report writes the tables, the overlay, the figures and report.html of a result
directory again, without the maps: for more sheets, other figure formats, or an
overlay for strict readers. Numbers do not change, but for the ranks when
--weight gives other weights to the parts of the score, and the controls when
--young, --young-below or --young-above says who is young.

Without -o it replaces the directory itself, which needs --force.`

// figureFormats are those that the figures can have.
var figureFormats = []string{"svg", "pdf", "png"}

// reportOpts are the flags of report.
type reportOpts struct {
	out     string
	top     int
	formats []string
	rfc7946 bool
	force   bool
	weights []string
	young   controlsSection
	vector  []string

	levels levelOpts
}

// newReport makes the command that writes the reports of a result again.
func newReport(a *app) *cobra.Command {
	var o reportOpts
	cmd := &cobra.Command{
		Use:   "report RESULT",
		Short: "write the reports of a result directory again",
		Long:  reportLong + exitStatus(exitCorrupt, exitOutput, exitInterrupted),
		Example: example("rimcast report result --force --top 50",
			"rimcast report result -o for-the-paper --format pdf,svg",
			"rimcast report result -o by-direction --weight pattern=2,extent=0",
			"rimcast report result -o by-age --young-below 100"),
		Args: argCount(1, 1, "one result directory"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.report(cmd.Context(), args[0], o)
		},
	}
	f := cmd.Flags()
	f.StringVarP(&o.out, "out", "o", "", "directory to write; the result itself when not given")
	f.IntVar(&o.top, "top", 10, "craters with a sheet in the report; -1 is all")
	f.StringSliceVar(&o.formats, "format", []string{"svg"}, "formats of the figures: svg, pdf, png")
	f.BoolVar(&o.rfc7946, "rfc7946", false, "leave the crs member out of overlay.geojson, for strict readers")
	f.StringSliceVar(&o.vector, "vector", []string{"gpkg"}, "formats of the overlay besides GeoJSON: gpkg, fgb, parquet")
	f.StringSliceVar(&o.weights, "weight", nil, "rank again: component=weight, such as pattern=1; repeatable")
	o.levels.register(f)
	o.young.registerControls(f)
	f.BoolVar(&o.force, "force", false, "replace an existing result directory")
	return cmd
}

func (a *app) report(ctx context.Context, dir string, o reportOpts) error {
	if err := cmp.Or(checkFormats(o.formats), checkVector(o.vector)); err != nil {
		return err
	}
	s, err := readResult(dir)
	if err != nil {
		return err
	}
	if err := o.levels.retest(s, filepath.Join(dir, reports.SumsFile)); err != nil {
		return err
	}
	if err := rerank(s, o.weights); err != nil {
		return err
	}
	if err := o.young.compareAgain(s); err != nil {
		return err
	}
	if o.out == "" {
		o.out = dir
	}
	d, err := newResultDir(o.out, o.force)
	if err != nil {
		return err
	}
	defer d.discard()
	opt := reportOptions(o.top)
	opt.Formats, opt.RFC7946, opt.Vector = o.formats, o.rfc7946, o.vector
	if err := writeReports(ctx, d.partial, s, opt); err != nil {
		return err
	}
	if err := copyRest(dir, d.partial); err != nil {
		return outputFault(err)
	}
	if err := d.commit(); err != nil {
		return err
	}
	return a.printReported(o, s)
}

// copyRest copies the files of a result that no report writer makes, such as
// the saved sums, so that the new directory is as complete as the old one.
func copyRest(from, to string) error {
	entries, err := os.ReadDir(from)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if !e.Type().IsRegular() || strings.HasPrefix(e.Name(), "overlay") { // an overlay in a format not asked for
			continue
		}
		if err := copyNew(filepath.Join(from, e.Name()), filepath.Join(to, e.Name())); err != nil {
			return err
		}
	}
	return nil
}

// copyNew copies a file unless the target exists.
func copyNew(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if errors.Is(err, fs.ErrExist) {
		return nil
	}
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Close())
}

func (a *app) printReported(o reportOpts, s *reports.Survey) error {
	if a.json {
		return printJSON(a.stdout, map[string]any{"result": o.out, "craters": len(s.Catalogue.Craters), "formats": o.formats})
	}
	if o.young.rule() != "" {
		for _, line := range controlLines(&s.Controls) {
			fmt.Fprintln(a.stdout, line)
		}
	}
	_, err := fmt.Fprintf(a.stdout, "%s%d craters in %s, figures as %s; begin with report.html\n", lineOf(s.FalseSentence(falseAmong)), len(s.Catalogue.Craters), o.out, strings.Join(o.formats, ", "))
	return outputFault(err)
}
