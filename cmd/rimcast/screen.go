package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"rimcast/reports"
)

const screenLong = `Screen measures every crater of a catalogue on every map of a survey and writes
a result directory: tables, overlay, figures, and report.html to begin with.

The survey is described by a file, by flags, or by a file that flags overrule;
"rimcast inspect --keys" lists the keys. Run "rimcast inspect" on the same
arguments first: it shows every guess and runs nothing.

The result directory appears whole or not at all. An existing one is replaced
only with --force, and only when the new one is complete.

A run that was stopped continues with the same command and --resume. With
--shard i/n only a share of the craters is measured, into one file with -o;
"rimcast merge" makes the result of all n.`

// newScreen makes the command that does the main job.
func newScreen(a *app) *cobra.Command {
	sf, so := &surveyFlags{}, &shardFlags{}
	cmd := &cobra.Command{
		Use:   "screen [SURVEY.toml]",
		Short: "measure every crater of a catalogue",
		Long: screenLong + exitStatus(exitRefused, exitCorrupt, exitPartial, exitOutput,
			exitGate, exitInterrupted),
		Example: example(
			"rimcast screen survey.toml -o result",
			"rimcast screen --species water=water.tif --species hydroxyl=oh.tif \\",
			"    --craters craters.geojson -o result",
			"rimcast screen survey.toml -o result --force --seed 7 --top 20",
			"rimcast screen survey.toml --shard 3/17 -o parts/3.part"),
		Args: argCount(0, 1, "one survey file, or none"),
		RunE: func(cmd *cobra.Command, args []string) error {
			sv, err := a.surveyOf(sf, args)
			if err != nil {
				return err
			}
			if err := so.into(sv); err != nil {
				return err
			}
			if sv.shard.of > 0 {
				return a.screenShard(cmd.Context(), sv)
			}
			s, err := a.screenInto(cmd.Context(), sv)
			if err != nil {
				return err
			}
			if err := a.printScreened(sv, s); err != nil {
				return err
			}
			return a.conclude(sv, s)
		},
	}
	sf.register(cmd.Flags())
	sf.registerRun(cmd.Flags())
	so.register(cmd.Flags())
	return cmd
}

// surveyOf builds and checks the survey of a command line.
func (a *app) surveyOf(sf *surveyFlags, args []string) (*surveyFile, error) {
	path := ""
	if len(args) > 0 {
		path = args[0]
	}
	sv, err := sf.build(path, a.stdin)
	if err != nil {
		return nil, err
	}
	sv.args = a.args
	return sv, sv.check()
}

// screenInto screens a survey into its result directory.
func (a *app) screenInto(ctx context.Context, sv *surveyFile) (*reports.Survey, error) {
	if err := spareInputs(sv.Output.Dir, sv.inputPaths()); err != nil {
		return nil, err
	}
	d, err := newResultDir(sv.Output.Dir, sv.Output.Force)
	if err != nil {
		return nil, err
	}
	defer d.discard()
	defer sv.limitMemory()()
	if err := sv.openDetails(d.partial); err != nil {
		return nil, err
	}
	defer sv.closeDetails()
	s, err := a.measure(ctx, sv)
	if err != nil {
		return nil, err
	}
	if sv.Output.Strict {
		if err := strictFault(s); err != nil {
			return nil, err
		}
	}
	if err := a.writeResult(ctx, d.partial, sv, s); err != nil {
		return nil, err
	}
	sv.closeDetails()
	if err := d.commit(); err != nil {
		return nil, err
	}
	a.keep.remove()
	return s, nil
}

// measure runs the pipeline, and the check sums of its inputs beside it.
func (a *app) measure(ctx context.Context, sv *surveyFile) (s *reports.Survey, err error) {
	inputs, err := a.measureThen(ctx, sv, func(p *pipeline) error {
		s, err = p.finish()
		return err
	})
	if err != nil {
		return nil, err
	}
	fillManifest(sv, s, inputs)
	return s, nil
}

// measureThen measures, hands the pipeline to finish, and returns the inputs
// with their check sums.
func (a *app) measureThen(ctx context.Context, sv *surveyFile, finish func(*pipeline) error) ([]reports.Input, error) {
	return a.withInputs(ctx, sv, func(ctx context.Context, sums *hashing, prog progress) error {
		a.keep = newKeeper(sv, sums, prog)
		defer a.keep.close()
		return measureSurvey(ctx, sv, prog, a.keep, finish)
	})
}

// withInputs looks at the inputs of a survey, runs what reads them with their
// check sums, and returns these when no file has changed meanwhile.
func (a *app) withInputs(ctx context.Context, sv *surveyFile, run func(context.Context, *hashing, progress) error) (inputs []reports.Input, err error) {
	err = a.withFiles(ctx, sv, func(ctx context.Context, files []inputFile, prog progress) error {
		sums := startHashing(ctx, files)
		if err := run(ctx, sums, prog); err != nil {
			return err
		}
		prog.Done()
		inputs, err = sums.wait()
		return err
	})
	return inputs, err
}

// withFiles looks at the inputs of a survey, runs what reads them, and makes sure
// that no file has changed meanwhile.
func (a *app) withFiles(ctx context.Context, sv *surveyFile, run func(context.Context, []inputFile, progress) error) error {
	files, err := inputFiles(sv)
	if err != nil {
		return err
	}
	if err := a.precheck(sv); err != nil {
		return err
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	prog := newProgress(a.msg)
	err = run(ctx, files, prog)
	prog.Done()
	if err != nil {
		return err
	}
	return allUnchanged(files)
}

func allUnchanged(files []inputFile) error {
	for i := range files {
		if err := files[i].unchanged(); err != nil {
			return err
		}
	}
	return nil
}

// writeResult writes every file of the result directory.
func (a *app) writeResult(ctx context.Context, dir string, sv *surveyFile, s *reports.Survey) error {
	return writeReports(ctx, dir, s, sv.reportOptions())
}

// writersAtOnce is how many files of a result are written at the same time.
const writersAtOnce = 4

// writeReports writes what people read and what rimcast itself reads again, all
// at once: nothing of it changes the survey.
func writeReports(ctx context.Context, dir string, s *reports.Survey, opt reports.Options) error {
	steps := append(reports.Steps(dir, s, opt),
		func() error { return writeSaved(dir, s) },
		func() error { return writeVector(dir, s, opt) })
	faults := make([]error, len(steps))
	if err := parallel(writersAtOnce, len(steps), func(i int) { faults[i] = steps[i]() }); err != nil {
		return err
	}
	for _, err := range faults {
		if err != nil {
			return outputFault(err)
		}
	}
	return errors.Join(outputFault(s.Lost()), ctx.Err())
}

// overlayTop is the least number of targets with a full overlay.
const overlayTop = 50

// reportOptions says how much is drawn for the best top targets: sheets and
// figures for so many, none for 0, for all when negative.
func reportOptions(top int) reports.Options {
	switch {
	case top == 0:
		return reports.Options{SheetTop: -1, OverlayTop: overlayTop, Styles: true, Vector: []string{"gpkg"}}
	case top < 0:
		return reports.Options{SheetTop: math.MaxInt, OverlayTop: -1, Styles: true, Vector: []string{"gpkg"}}
	}
	return reports.Options{SheetTop: top, OverlayTop: max(top, overlayTop), Styles: true, Vector: []string{"gpkg"}}
}

// screened is the outcome of a screening as JSON.
type screened struct {
	Result  string         `json:"result"`
	Counts  map[string]int `json:"counts"`
	Missing []missingPart  `json:"missing"`
	Top     []topTarget    `json:"top"`
}

type topTarget struct {
	Rank    int    `json:"rank"`
	ID      string `json:"crater_id"`
	Name    string `json:"name"`
	Score   any    `json:"score"` // null when there is none
	Verdict string `json:"verdict"`
}

// topTargets returns the best n targets, all for n < 0.
func topTargets(s *reports.Survey, n int) []topTarget {
	if n < 0 || n > len(s.Targets) {
		n = len(s.Targets)
	}
	list := make([]topTarget, 0, n)
	for _, t := range s.Targets[:n] {
		c := s.Catalogue.Craters[t.CraterIndex]
		list = append(list, topTarget{t.Rank, c.ID, c.Name, plain(t.Score), t.Verdict})
	}
	return list
}

// printScreened prints the best targets and where to look.
func (a *app) printScreened(sv *surveyFile, s *reports.Survey) error {
	top := topTargets(s, sv.Output.Top)
	if a.json {
		return printJSON(a.stdout, screened{sv.Output.Dir, s.Manifest.Counts, missingParts(s), top})
	}
	t := tabwriter.NewWriter(a.screen(), 0, 4, 2, ' ', 0)
	printTop(t, s, top)
	if err := t.Flush(); err != nil {
		return outputFault(err)
	}
	for _, line := range controlLines(&s.Controls) {
		fmt.Fprintln(a.stdout, line)
	}
	_, err := fmt.Fprintf(a.stdout, "%s%d craters, %d findings%s in %s; begin with report.html\n",
		lineOf(s.FalseSentence(falseAmong)), len(s.Catalogue.Craters), s.Count(), withoutNumbers(s), sv.Output.Dir)
	return outputFault(err)
}

// mostVerdicts is how many species a line for each crater can speak of.
const mostVerdicts = 3

// printTop writes a line for each target: its verdict, or where that would be
// long for the number of species, the reason for its rank.
func printTop(w io.Writer, s *reports.Survey, top []topTarget) {
	last := "verdict"
	if len(s.Species) > mostVerdicts {
		last = "why"
	}
	if len(top) > 0 {
		fmt.Fprintf(w, "rank\tid\tname\t%s\n", last)
	}
	for i, c := range top {
		words := c.Verdict
		if last == "why" {
			words = s.Targets[i].Why
		}
		fmt.Fprintf(w, "%d\t%s\t%s\t%s\n", c.Rank, tableText(c.ID), tableText(c.Name), printable(words))
	}
}

// falseAmong is the length of the list whose false ones are told.
const falseAmong = 10

// lineOf ends a sentence that is not empty with a line feed.
func lineOf(sentence string) string {
	if sentence == "" {
		return ""
	}
	return sentence + "\n"
}
