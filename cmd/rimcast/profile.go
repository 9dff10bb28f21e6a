package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/reports"
)

const profileLong = `Profile shows one crater of a result directory in depth: where it lies, what was
found in each species, the radial profile and the rose of directions drawn in
characters, the tests and the alarms. It needs no maps.

The crater is named by its id, or by its name when only one has that name. With
-o it also writes the crater's own directory: tables, overlay, a report of one
sheet, and figures as SVG, PDF and PNG. With --excess, which needs the maps, a
GeoTIFF of each species on its own pixels goes with them: the value less the
background and less the fitted symmetric blanket, which shows lobes, rays and
gaps as they lie.`

// profileOpts are the flags of profile.
type profileOpts struct {
	result, out, excess string
	force               bool
}

// newProfile makes the command that shows one crater.
func newProfile(a *app) *cobra.Command {
	var o profileOpts
	cmd := &cobra.Command{
		Use:   "profile ID",
		Short: "show one crater in depth",
		Long:  profileLong + exitStatus(exitRefused, exitCorrupt, exitOutput, exitInterrupted),
		Example: example("rimcast profile N01 --result result", "rimcast profile Kessary --result result -o kessary",
			"rimcast profile N01 --result result -o kessary --excess survey.toml"),
		Args: argCount(1, 1, "the id or the name of one crater"),
		RunE: func(cmd *cobra.Command, args []string) error { return a.profile(cmd.Context(), args[0], o) },
	}
	cmd.Flags().StringVarP(&o.result, "result", "r", "", "result directory to read")
	cmd.Flags().StringVarP(&o.out, "out", "o", "", "directory for figures, tables and report of the crater")
	cmd.Flags().StringVar(&o.excess, "excess", "", "survey file of the result: also write maps of the excess over the symmetric blanket; needs -o and the maps")
	cmd.Flags().BoolVar(&o.force, "force", false, "replace an existing directory of a crater")
	return cmd
}

func (a *app) profile(ctx context.Context, name string, o profileOpts) error {
	if o.result == "" {
		return usage("there is no result directory to read", "name it with --result DIR")
	}
	if o.excess != "" && o.out == "" {
		return usage("--excess writes maps, but there is no directory for them", "name one with -o DIR")
	}
	s, err := readResult(o.result)
	if err != nil {
		return err
	}
	one, err := oneCrater(s, name)
	if err != nil {
		return err
	}
	if o.out != "" {
		if err := a.writeCrater(ctx, s, one, o); err != nil {
			return err
		}
	}
	return a.printProfile(one, o.out)
}

func (a *app) writeCrater(ctx context.Context, whole, one *reports.Survey, o profileOpts) error {
	if err := spareInputs(o.out, []string{o.result, o.excess}); err != nil {
		return err
	}
	d, err := newResultDir(o.out, o.force)
	if err != nil {
		return err
	}
	defer d.discard()
	opt := reportOptions(1)
	opt.Formats = []string{"svg", "pdf", "png"}
	if err := writeReports(ctx, d.partial, one, opt); err != nil {
		return err
	}
	if o.excess != "" {
		if err := a.excessMaps(ctx, d.partial, whole, one, o.excess); err != nil {
			return err
		}
	}
	return d.commit()
}

// oneCrater returns the survey of a single crater. Ranks and false discovery
// rates stay those of the whole catalogue.
func oneCrater(s *reports.Survey, name string) (*reports.Survey, error) {
	index, err := findCrater(s.Catalogue, name)
	if err != nil {
		return nil, err
	}
	one := *s
	one.Catalogue.Craters = s.Catalogue.Craters[index : index+1]
	one.Catalogue.Refused = nil
	one.Findings = pick(s.FindingsOf(index), func(f *ejecta.Finding) *int { return &f.CraterIndex }, index)
	one.LeaveBare(nil)
	one.Contrasts = pick(s.Contrasts, func(c *ejecta.Contrast) *int { return &c.CraterIndex }, index)
	one.Targets = pick(s.Targets, func(t *ejecta.Target) *int { return &t.CraterIndex }, index)
	one.Cutouts = pick(s.Cutouts, func(c *reports.Cutout) *int { return &c.CraterIndex }, index)
	one.Epochs = pick(s.Epochs, func(e *ejecta.EpochFinding) *int { return &e.CraterIndex }, index)
	one.Persistence = pick(s.Persistence, func(p *ejecta.Persistence) *int { return &p.CraterIndex }, index)
	one.Seams = pick(s.Seams, func(m *reports.Seam) *int { return &m.CraterIndex }, index)
	one.Controls = ejecta.Controls{} // its pair is not in this survey
	one.Masked = nil                 // its neighbours are not in this survey
	if len(one.Targets) == 0 {
		one.Targets = []ejecta.Target{{CraterIndex: 0}}
	}
	return &one, nil
}

// pick returns the entries of one crater, which becomes crater 0.
func pick[T any](list []T, index func(*T) *int, crater int) []T {
	var out []T
	for _, e := range list {
		if p := index(&e); *p == crater {
			*p = 0
			out = append(out, e)
		}
	}
	return out
}

// findCrater looks a crater up by id, then by name in any letter case.
func findCrater(cat geom.Catalogue, name string) (int, error) {
	var byName, ids []string
	found := -1
	for i, c := range cat.Craters {
		if c.ID == name {
			return i, nil
		}
		if strings.EqualFold(c.Name, name) && name != "" {
			byName = append(byName, c.ID)
			found = i
		}
		ids = append(ids, c.ID)
		if c.Name != "" {
			ids = append(ids, c.Name)
		}
	}
	if len(byName) == 1 {
		return found, nil
	}
	if len(byName) > 1 {
		return 0, usage(fmt.Sprintf("%d craters are called %s", len(byName), printable(name)), "give one of the ids "+strings.Join(byName[:min(len(byName), maxListed)], ", "))
	}
	hint := "the ids are in findings.csv"
	if c := closest(name, ids); c != "" {
		hint = "did you mean " + c
	}
	for _, r := range cat.Refused {
		if r.ID == name {
			hint = "the catalogue entry was refused: " + r.Reason
		}
	}
	return 0, usage("there is no crater "+printable(name)+" in the result", hint)
}

// profiled is a crater as JSON.
type profiled struct {
	Crater    any    `json:"crater"`
	Target    any    `json:"target"`
	Findings  any    `json:"findings"`
	Contrasts any    `json:"contrasts"`
	Epochs    any    `json:"epochs,omitempty"`
	Day       any    `json:"persistence,omitempty"`
	Written   string `json:"written,omitempty"`
}

func (a *app) printProfile(one *reports.Survey, out string) error {
	c := one.Catalogue.Craters[0]
	if a.json {
		p := profiled{Crater: plain(c), Target: plain(one.Targets[0]), Findings: plain(one.Findings), Contrasts: plain(one.Contrasts), Written: out}
		if len(one.Persistence) > 0 {
			p.Epochs, p.Day = plain(one.Epochs), plain(one.Persistence)
		}
		return printJSON(a.stdout, p)
	}
	var b strings.Builder
	craterHead(&b, c, one.Targets[0], one.Findings)
	for _, f := range one.Findings {
		findingText(&b, f)
	}
	contrastText(&b, one.Contrasts)
	dayText(&b, one.Epochs, one.Persistence)
	if out != "" {
		fmt.Fprintf(&b, "\nfigures, tables and report are in %s\n", out)
	}
	_, err := fmt.Fprint(a.screen(), b.String())
	return outputFault(err)
}

// contrastText says which species differ, and which are not shown to.
func contrastText(w io.Writer, list []ejecta.Contrast) {
	lines := reports.ContrastLines(list)
	if len(lines) > 0 {
		fmt.Fprintln(w, "\nDo the species agree?")
	}
	for _, l := range lines {
		fmt.Fprintf(w, "  %s\n", printable(l))
	}
}
