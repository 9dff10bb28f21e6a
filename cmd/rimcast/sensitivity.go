package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"rimcast/reports"
)

const sensitivityLong = `Sensitivity plants blankets of known size on the survey's own maps, at null
positions without a catalogued crater, and counts how many are found: what
would have been seen had it been there. It plants five patterns at amplitudes
round the detection limits of each size class. The same positions with nothing
planted tell how often the tests claim something where nothing is: they should
do so as often as their level says. Each half of them is judged with the null
scale of the other half, so that none has fixed its own.

At every crater of the catalogue it plants blankets of the size of its limits
into draws of noise with the crater's own mask, cells and covariates, and counts
how often they are found; the blanket that the crater may have plays no part.
The craters named by --crater get that for all patterns and amplitudes.

It writes a directory, whole or not at all: completeness.csv, calibration.csv,
both drawn in figures/, limits.csv, craters.csv when craters are named, and
sensitivity.json, the record of the run. No crater is measured.`

// sensitivityMark is the file by which a directory of sensitivity is known.
const sensitivityMark = "sensitivity.json"

// newSensitivity makes the command of injection and recovery.
func newSensitivity(a *app) *cobra.Command {
	sf := &surveyFlags{}
	var craters []string
	cmd := &cobra.Command{
		Use:   "sensitivity [SURVEY.toml]",
		Short: "plant blankets on the maps and count how many are found",
		Long:  sensitivityLong + exitStatus(exitRefused, exitCorrupt, exitOutput, exitInterrupted),
		Example: example("rimcast sensitivity survey.toml -o sensitivity",
			"rimcast sensitivity survey.toml -o sensitivity --nulls 400 --force",
			"rimcast sensitivity survey.toml -o sensitivity --crater N01 --crater N02"),
		Args: argCount(0, 1, "one survey file, or none"),
		RunE: func(cmd *cobra.Command, args []string) error {
			sv, err := a.surveyOf(sf, args)
			if err != nil {
				return err
			}
			return a.sensitivity(cmd.Context(), sv, craters)
		},
	}
	sf.register(cmd.Flags(), sensitivityKeys...)
	sf.registerRun(cmd.Flags())
	cmd.Flags().StringArrayVar(&craters, "crater", nil, "id of a crater at which all patterns and amplitudes are planted; may be given again; limits are then those of these craters only")
	return cmd
}

func (a *app) sensitivity(ctx context.Context, sv *surveyFile, craters []string) error {
	if err := spareInputs(sv.Output.Dir, sv.inputPaths()); err != nil {
		return err
	}
	d, err := newOwnDir(sv.Output.Dir, sensitivityMark, sv.Output.Force)
	if err != nil {
		return err
	}
	defer d.discard()
	r, err := a.recover(ctx, sv, craters)
	if err != nil {
		return err
	}
	if err := outputFault(r.write(d.partial)); err != nil {
		return err
	}
	if err := d.commit(); err != nil {
		return err
	}
	if a.json {
		return printJSON(a.stdout, plain(r.Completeness))
	}
	return outputFault(r.print(a, d.final))
}

// sensitivityKeys are the keys that planting listens to: a flag that would change
// nothing is not taken.
var sensitivityKeys = []string{"title", "body.", "catalogue.", "rasters.", "sampling.",
	"tests.seed", "tests.alpha", "tests.nulls", "tests.centre_sigma", "output.dir", "output.redact", "run."}

// recover measures noise and null positions, plants and counts.
func (a *app) recover(ctx context.Context, sv *surveyFile, craters []string) (r *recoveries, err error) {
	inputs, err := a.withInputs(ctx, sv, func(ctx context.Context, _ *hashing, prog progress) error {
		r, err = plantOn(ctx, sv, craters, prog)
		return err
	})
	if err != nil {
		return nil, err
	}
	fillManifest(sv, r.record, inputs)
	return r, nil
}

// plantOn runs the stages of a screening up to the null positions.
func plantOn(ctx context.Context, sv *surveyFile, craters []string, prog progress) (*recoveries, error) {
	p := &pipeline{sv: sv, prog: prog, keepNulls: true}
	defer p.close()
	defer sv.limitMemory()()
	if err := p.open(); err != nil {
		return nil, err
	}
	chosen, err := p.chosenCraters(craters)
	if err != nil {
		return nil, err
	}
	for _, step := range []func(context.Context) error{p.measureNoise, p.measureNulls} {
		if err := errors.Join(step(ctx), ctx.Err()); err != nil {
			return nil, err
		}
	}
	r, err := p.recoverAll(ctx)
	if err != nil {
		return nil, err
	}
	if err := p.checkCraters(ctx, chosen, r); err != nil {
		return nil, err
	}
	r.record = &reports.Survey{Title: sv.Title, Body: p.body, BodyCode: p.body.Code(), Species: p.speciesInfo(), Catalogue: p.cat, Notes: p.notes}
	return r, nil
}

// write writes the directory.
func (r *recoveries) write(dir string) error {
	tables := map[string][][]string{"completeness.csv": r.completenessRows(), "calibration.csv": r.calibrationRows(), "limits.csv": r.limitRows()}
	if r.Craters != nil {
		tables["craters.csv"] = r.craterRows()
	}
	for name, rows := range tables {
		if err := writeRows(filepath.Join(dir, name), rows); err != nil {
			return err
		}
	}
	if err := r.writeFigures(dir); err != nil {
		return err
	}
	f, err := os.Create(filepath.Join(dir, sensitivityMark))
	if err != nil {
		return err
	}
	return errors.Join(reports.WriteManifest(f, r.record), f.Close())
}

// print shows, for each species, class and pattern, the smallest planted
// amplitude that was found in half of the places.
func (r *recoveries) print(a *app, dir string) error {
	t := tabwriter.NewWriter(a.stdout, 0, 4, 2, ' ', 0)
	fmt.Fprintln(t, "species\tradius, pixels\tpattern\tplaces\thalf found at\tdirection at")
	for _, g := range r.groups() {
		fmt.Fprintf(t, "%s\t%.1f-%.1f\t%s\t%d\t%s\t%s\n", g[0].Species, g[0].RadiusLo, g[0].RadiusHi, g[0].Pattern, g[0].Trials,
			halfAt(g, func(c recovered) (int, int) { return c.Excess, c.Trials }), halfAt(g, func(c recovered) (int, int) { return c.Direction, c.Directional }))
	}
	fmt.Fprintf(t, "completeness.csv, calibration.csv and limits.csv in %s\n", dir)
	return t.Flush()
}
