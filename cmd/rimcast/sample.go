package main

import (
	"context"
	"fmt"
	"math"
	"runtime/debug"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"rimcast/ejecta"
	"rimcast/raster"
	"rimcast/reports"
)

const sampleLong = `Sample writes means over rings and sectors for every crater and layer of a
survey into one Parquet file, and makes no test: each block of the maps is
decoded once. It is for looking at a whole catalogue, for stacks, and for
statistics of your own.

A row has the mean and the standard deviation of the pixels by area; species,
and covariates that are amounts, are sampled. Masks are obeyed. Other craters
are not left out: the column neighbours counts those that reach into the
sectors. Errors that know how pixels depend on each other, backgrounds and
directions come from "rimcast screen".

Craters wider than sampling.level_radius pixels are sampled on block means;
numbers of pixels and deviations are those of the map all the same.`

// sampleOpts are the flags of sample beside those of a survey.
type sampleOpts struct {
	edges []float64
	given bool
}

// newSample makes the command that samples without tests.
func newSample(a *app) *cobra.Command {
	sf, o := &surveyFlags{}, &sampleOpts{}
	cmd := &cobra.Command{
		Use:   "sample [SURVEY.toml] -o FILE",
		Short: "means of rings and sectors of all craters, without tests",
		Long:  sampleLong + exitStatus(exitRefused, exitCorrupt, exitPartial, exitOutput, exitInterrupted),
		Example: example("rimcast sample survey.toml -o rings.parquet",
			"rimcast sample --species water=water.tif --craters craters.geojson -o rings.parquet --sectors 24"),
		Args: argCount(0, 1, "one survey file, or none"),
		RunE: func(cmd *cobra.Command, args []string) error {
			sv, err := a.surveyOf(sf, args)
			if err != nil {
				return err
			}
			raster.BlockCache(32)
			o.given = cmd.Flags().Changed("edges")
			l, err := o.layout(sv)
			if err != nil {
				return err
			}
			return a.sample(cmd.Context(), sv, l)
		},
	}
	sf.register(cmd.Flags(), sampleKeys...)
	sf.registerRun(cmd.Flags())
	f := cmd.Flags()
	f.Float64SliceVar(&o.edges, "edges", usualEdges, "ranges between the rings, in crater radii, rising; the usual ones end at outer")
	f.Lookup("out").Usage = "Parquet file to write"
	f.Lookup("force").Usage = "replace an existing Parquet file when the new one is whole"
	f.Lookup("outer").Usage = "farthest of the usual ranges, crater radii"
	f.Lookup("sectors").Usage = fmt.Sprintf("number of sectors over 1.1 to 2.5 radii; 0 is %d", usualSectors)
	return cmd
}

// sampleKeys begin the keys that sampling heeds.
var sampleKeys = []string{
	"body.", "catalogue.", "rasters.", "run.", "output.dir",
	"sampling.outer", "sampling.sectors", "sampling.min_pixels", "sampling.level_radius", "sampling.full_resolution",
}

// usualEdges hold the floor, the rim, the ejecta and the background apart.
var usualEdges = []float64{0, 1, 1.1, 1.5, 2, 2.5, 3, 4, 5, 6, 8}

// usualSectors is the number of sectors when nothing is said.
const usualSectors = 12

func edgesText(edges []float64) string {
	texts := make([]string, len(edges))
	for i, e := range edges {
		texts[i] = strconv.FormatFloat(e, 'g', -1, 64)
	}
	return strings.Join(texts, ",")
}

// layout settles the cells: the ranges given, or the usual ones out to
// sampling.outer; sectors over the ejecta, 1.1 to 2.5 radii.
func (o *sampleOpts) layout(sv *surveyFile) (reports.PlainLayout, error) {
	edges, sectors := o.edges, sv.Sampling.Sectors
	if !o.given {
		edges = clippedEdges(sv.Sampling.Outer)
	}
	if !rising(edges) || len(edges) < 2 || len(edges) > 200 {
		return reports.PlainLayout{}, usage("--edges "+edgesText(edges)+" are no ranges", "give 2 to 200 rising numbers from 0 on, such as --edges "+edgesText(usualEdges))
	}
	if sectors == 0 {
		sectors = usualSectors
	}
	return reports.NewPlainLayout(edges, sectors), nil
}

// clippedEdges are the usual ranges out to the farthest.
func clippedEdges(outer float64) []float64 {
	edges := slices.Clone(usualEdges)
	for edges[len(edges)-1] >= outer && len(edges) > 1 {
		edges = edges[:len(edges)-1]
	}
	return append(edges, outer)
}

func rising(edges []float64) bool {
	for i, e := range edges {
		if !(e >= 0) || math.IsInf(e, 0) || i > 0 && e <= edges[i-1] {
			return false
		}
	}
	return true
}

// sample samples a survey into its file.
func (a *app) sample(ctx context.Context, sv *surveyFile, l reports.PlainLayout) error {
	out := sv.Output.Dir
	if err := checkFilePlace(out, isParquet, "is not Parquet", sv.Output.Force); err != nil {
		return err
	}
	f, err := newPartFile(out)
	if err != nil {
		return err
	}
	defer f.discard()
	var told plainCount
	err = a.withFiles(ctx, sv, func(ctx context.Context, _ []inputFile, prog progress) error {
		defer sv.limitMemory()()
		defer collectOften()()
		s, err := newSampler(sv, prog, l, out)
		if err != nil {
			return err
		}
		defer s.close()
		if err := s.visit(ctx); err != nil {
			return err
		}
		told, err = s.write(ctx, f.file)
		return err
	})
	if err != nil {
		return err
	}
	if err := f.commit(); err != nil {
		return err
	}
	return a.printSampled(out, told)
}

// collectOften keeps the memory that the collector leaves lying small: sampling
// makes little rubbish once the catalogue is read.
func collectOften() (end func()) {
	before := debug.SetGCPercent(sampleGCPercent)
	if before >= 0 && before < sampleGCPercent {
		debug.SetGCPercent(before)
	}
	return func() { debug.SetGCPercent(before) }
}

// sampleGCPercent is by how much the heap may grow before it is collected.
const sampleGCPercent = 25

// printSampled says how many craters are in the file, and why some are not.
func (a *app) printSampled(out string, told plainCount) error {
	for _, status := range missingStatuses {
		if n := told.status[status]; n > 0 {
			a.code = exitPartial
			a.msg.warn("%s without sums, status %s", counted(n, "crater"), status)
		}
	}
	if a.json {
		return printJSON(a.stdout, map[string]any{"file": out, "craters": told.craters, "layers": told.layers, "rows": told.rows, "status": told.status})
	}
	_, err := fmt.Fprintf(a.stdout, "%d of %d craters sampled on %s in %s\n", told.status[ejecta.StatusOK], told.craters, counted(told.layers, "layer"), out)
	return outputFault(err)
}

func isParquet(path string) bool { return beginsWith(path, "PAR1") }

func counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
