package main

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"rimcast/ejecta/testblanket"
)

const synthLong = `Synth makes an invented survey: GeoTIFF maps, a crater catalogue, a survey file
ready for screen, and truth.csv, which says what was planted where. The same
scenario and seed give the same files.

A scenario is a TOML file, or one of the built-in ones that --list shows; the
file scenario.toml in the output is one to start from. The scenario "big" is for
measuring speed: of any size, with nothing planted.`

// synthOptions are the flags of synth.
type synthOptions struct {
	out                    string
	seed                   uint64
	force, list            bool
	width, height, craters int
}

// newSynth makes the command that invents surveys.
func newSynth(a *app) *cobra.Command {
	var o synthOptions
	cmd := &cobra.Command{
		Use:   "synth [SCENARIO]",
		Short: "make an invented survey with known truth",
		Long:  synthLong + exitStatus(exitCorrupt, exitOutput, exitInterrupted),
		Example: example("rimcast synth demo -o survey", "rimcast synth my-scenario.toml --seed 4 -o survey",
			"rimcast synth big --width 20000 --height 10000 --craters 20000 -o big"),
		Args: argCount(0, 1, "one scenario"),
		RunE: func(cmd *cobra.Command, args []string) error {
			switch {
			case o.list:
				return a.listScenarios()
			case len(args) == 0:
				return usage("synth needs a scenario", "one of "+strings.Join(allScenarios(), ", ")+", or a TOML file")
			}
			return a.synth(cmd.Context(), args[0], o)
		},
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return allScenarios(), cobra.ShellCompDirectiveDefault
		},
	}
	f := cmd.Flags()
	f.StringVarP(&o.out, "out", "o", "", "directory to write")
	f.Uint64Var(&o.seed, "seed", 1, "seed of every random draw")
	f.BoolVar(&o.force, "force", false, "replace an invented survey that is there")
	f.BoolVar(&o.list, "list", false, "list the built-in scenarios")
	f.IntVar(&o.width, "width", 0, "columns of the maps; 0 as in the scenario")
	f.IntVar(&o.height, "height", 0, "rows of the maps; 0 is half the columns")
	f.IntVar(&o.craters, "craters", -1, "craters with nothing round them; -1 as in the scenario")
	return cmd
}

const bigName = "big"

func allScenarios() []string { return append(scenarioNames(), bigName) }

func (a *app) listScenarios() error {
	list := []map[string]string{}
	for _, s := range scenarios {
		list = append(list, map[string]string{"name": s.name, "what": s.help})
	}
	list = append(list, map[string]string{"name": bigName, "what": "for speed: any size, nothing planted"})
	if a.json {
		return printJSON(a.stdout, list)
	}
	for _, s := range list {
		fmt.Fprintf(a.stdout, "%-8s %s\n", s["name"], s["what"])
	}
	return nil
}

// limits of an invented survey.
const (
	maxSynthSide    = 200000
	maxSynthPixels  = 1 << 31
	maxSynthCraters = 10_000_000
)

func (o synthOptions) check() error {
	hint := fmt.Sprintf("sides are 8 to %d pixels, %d pixels in all, and at most %d craters", maxSynthSide, maxSynthPixels, maxSynthCraters)
	switch {
	case o.width < 0 || o.width > maxSynthSide || o.width > 0 && o.width < 8,
		o.height < 0 || o.height > maxSynthSide || o.height > 0 && o.height < 8,
		o.height > 0 && o.width == 0, o.width*max(o.height, o.width/2) > maxSynthPixels:
		return usage(fmt.Sprintf("a map of %d x %d pixels is not possible", o.width, o.height), hint)
	case o.craters < -1 || o.craters > maxSynthCraters:
		return usage(fmt.Sprintf("%d craters are not possible", o.craters), hint)
	}
	return nil
}

// madeSurvey is the outcome of synth as JSON.
type madeSurvey struct {
	Survey  string `json:"survey"`
	Title   string `json:"title"`
	Seed    uint64 `json:"seed"`
	Craters int    `json:"craters"`
}

func (a *app) synth(ctx context.Context, name string, o synthOptions) error {
	if err := o.check(); err != nil {
		return err
	}
	d, err := newOwnDir(o.out, scenarioFile, o.force)
	if err != nil {
		return err
	}
	defer d.discard()
	v, err := a.invent(d.partial, name, o)
	if err == nil {
		err = ctx.Err()
	}
	if err != nil {
		return err
	}
	if err := d.commit(); err != nil {
		return err
	}
	file := filepath.Join(o.out, "survey.toml")
	if a.json {
		return printJSON(a.stdout, madeSurvey{file, v.Title, o.seed, len(v.Craters)})
	}
	fmt.Fprintf(a.stdout, "%s: %d maps of %d x %d pixels, %d craters\nscreen it with: rimcast screen %s -o result\n",
		v.Title, len(v.Species)+len(v.Covariates), v.Grid.Width, v.Grid.Height, len(v.Craters), file)
	return nil
}

// invent writes the survey of a scenario into a directory.
func (a *app) invent(dir, name string, o synthOptions) (*testblanket.Survey, error) {
	if name == bigName {
		return inventBig(dir, o, newProgress(a.msg))
	}
	s, err := readScenario(name)
	if err != nil {
		return nil, err
	}
	if o.width > 0 {
		s.Grid.Width, s.Grid.Height, s.Grid.Step = o.width, o.height, 0
	}
	if o.craters >= 0 {
		s.Old.Count, s.Old.Neighbours = o.craters, min(s.Old.Neighbours, o.craters)
	}
	return writeInvented(dir, s, o.seed)
}

func inventBig(dir string, o synthOptions, prog progress) (*testblanket.Survey, error) {
	defer prog.Done()
	b := bigSurvey{o.width, o.height, o.craters, o.seed}
	if b.width == 0 {
		b.width = 8000
	}
	if b.height == 0 {
		b.height = b.width / 2
	}
	if b.craters < 0 {
		b.craters = 5000
	}
	if 2*b.height > b.width {
		return nil, usage("a global map is at most half as high as wide", "give --height of at most half of --width")
	}
	return b.write(dir, prog)
}
