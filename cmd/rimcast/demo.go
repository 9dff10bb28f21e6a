package main

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"rimcast/ejecta/testblanket"
	"rimcast/reports"
)

const demoLong = `Demo invents a survey of an invented body, water and hydroxyl maps with the
noise, stripes and holes of real ones, screens it, and says in about ten lines
what it found and whether that is what was planted.

It writes DIR/survey, with a survey file to play with, and DIR/result, with
report.html to begin with. A demo that is there already is replaced.`

// demoDir is where the demo goes when nothing else is said.
const demoDir = "rimcast-demo"

// newDemo makes the command for a first look.
func newDemo(a *app) *cobra.Command {
	out, seed := demoDir, uint64(1)
	cmd := &cobra.Command{
		Use:     "demo",
		Short:   "invent a survey, screen it, and compare with the truth",
		Long:    demoLong + exitStatus(exitOutput, exitInterrupted),
		Example: example("rimcast demo", "rimcast demo --seed 5 -o /tmp/demo"),
		Args:    argCount(0, 0, "no argument"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return a.demo(cmd.Context(), out, seed)
		},
	}
	cmd.Flags().StringVarP(&out, "out", "o", demoDir, "directory to write")
	cmd.Flags().Uint64Var(&seed, "seed", 1, "seed of every random draw")
	return cmd
}

func (a *app) demo(ctx context.Context, out string, seed uint64) error {
	d, err := newOwnDir(out, filepath.Join("survey", scenarioFile), true)
	if err != nil {
		return err
	}
	defer d.discard()
	v, s, err := a.makeDemo(ctx, d.partial, seed)
	if err != nil {
		return err
	}
	if err := d.commit(); err != nil {
		return err
	}
	j := judge(v, s)
	if a.json {
		return printJSON(a.stdout, demoOutcome{out, j})
	}
	return outputFault(j.print(a, v, s, out))
}

// makeDemo writes the survey and its result below a directory.
func (a *app) makeDemo(ctx context.Context, dir string, seed uint64) (*testblanket.Survey, *reports.Survey, error) {
	surveyDir, resultDir := filepath.Join(dir, "survey"), filepath.Join(dir, "result")
	for _, sub := range []string{surveyDir, resultDir} {
		if err := os.Mkdir(sub, 0o777); err != nil {
			return nil, nil, outputFault(err)
		}
	}
	a.msg.say("inventing maps and craters")
	v, err := writeInvented(surveyDir, testblanket.Demo(), seed)
	if err != nil {
		return nil, nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, nil, err
	}
	sv, err := readSurvey(filepath.Join(surveyDir, "survey.toml"), a.stdin)
	if err != nil {
		return nil, nil, err
	}
	sv.args, sv.Output.Dir, sv.Tests.Seed = a.args, resultDir, seed
	if err := sv.check(); err != nil {
		return nil, nil, err
	}
	defer sv.limitMemory()()
	if err := sv.openDetails(dir); err != nil {
		return nil, nil, err
	}
	defer sv.closeDetails()
	s, err := a.measure(ctx, sv)
	if err != nil {
		return nil, nil, err
	}
	a.msg.say("writing report, tables and overlay")
	return v, s, a.writeResult(ctx, resultDir, sv, s)
}

// demoOutcome is the demo as JSON.
type demoOutcome struct {
	Demo      string    `json:"demo"`
	Judgement judgement `json:"judgement"`
}

// print says what was found, whether it agrees, and where to look.
func (j judgement) print(a *app, v *testblanket.Survey, s *reports.Survey, out string) error {
	w := bufio.NewWriter(a.stdout)
	fmt.Fprintf(w, "%s: %d maps of %d x %d pixels, %d craters, of which %d have a rich blanket planted\n",
		v.Title, len(v.Species), v.Grid.Width, v.Grid.Height, len(v.Craters), j.PlantedCraters)
	fmt.Fprintf(w, "enrichment:  %d of %d planted blankets found; %d of %d bare grounds called rich\n", j.Found, j.Planted, j.FalseRich, j.Bare)
	fmt.Fprintf(w, "pattern:     %d of %d blankets given the pattern that was planted; %d bare or symmetric ones given a direction\n", j.PatternRight, j.Planted, j.FalseDirection)
	if j.Axes > 0 {
		fmt.Fprintf(w, "direction:   off by %.0f degrees in the middle case, %.0f at worst, of %d\n", j.AxisMedian, j.AxisWorst, j.Axes)
	}
	fmt.Fprintf(w, "ranking:     %d of the first ten targets are rich ones\n", j.TopTen)
	for _, line := range j.Lines {
		fmt.Fprintf(w, "  %s\n", line)
	}
	for i, file := range []string{"report.html", "targets.csv", "overlay.geojson"} {
		fmt.Fprintf(w, "%-12s %s\n", []string{"look at", "", ""}[i], filepath.Join(out, "result", file))
	}
	fmt.Fprintf(w, "%-12s %s\n", "the truth", filepath.Join(out, "survey", "truth.csv"))
	fmt.Fprintf(w, "%-12s rimcast profile %s --result %s\n", "then try", j.Example, filepath.Join(out, "result"))
	fmt.Fprintf(w, "%-12s rimcast synth day -o day, to screen a survey of three times of day\n", "and then")
	return w.Flush()
}
