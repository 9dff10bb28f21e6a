package main

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/reports"
)

const compareLong = `Compare sets two result directories side by side: releases of a map, settings,
or instruments. Craters are matched by id, species by name; their units must be
the same. It lists the changes of each crater and species, the most important
first, and says for each species whether the two agree: bias, slope with errors
in both, and scatter against the stated errors. It needs no maps.

The errors of two maps made of the same observations are correlated, and then
differences are smaller than independent errors say; --correlation tells it.

With -o the comparison is written as files: compare.csv with a row for each
crater and species, agreement.csv, compare.json, and a figure for each species.`

// compareOpts are the flags of compare.
type compareOpts struct {
	top         int
	correlation float64
	out         string
	force       bool
	formats     []string
}

// newCompare makes the command that compares two results.
func newCompare(a *app) *cobra.Command {
	var o compareOpts
	cmd := &cobra.Command{
		Use:   "compare A B",
		Short: "say what differs between two result directories",
		Long:  compareLong + exitStatus(exitRefused, exitCorrupt, exitOutput),
		Example: example("rimcast compare release3 release4", "rimcast compare release3 release4 --correlation 0.8 --top 50",
			"rimcast compare release3 release4 -o compared --format pdf,svg"),
		Args: argCount(2, 2, "two result directories"),
		RunE: func(_ *cobra.Command, args []string) error { return a.compare(args[0], args[1], o) },
	}
	cmd.Flags().IntVar(&o.top, "top", 20, "changes to list; -1 is all")
	cmd.Flags().StringVarP(&o.out, "out", "o", "", "directory for tables and figures; none are written without")
	cmd.Flags().BoolVar(&o.force, "force", false, "replace the directory of an earlier comparison")
	cmd.Flags().StringSliceVar(&o.formats, "format", []string{"svg"}, "formats of the figures: svg, pdf, png")
	cmd.Flags().Float64Var(&o.correlation, "correlation", 0, "correlation of the errors of the two maps, from 0 to below 1")
	return cmd
}

func (a *app) compare(dirA, dirB string, o compareOpts) error {
	if !(o.correlation >= 0 && o.correlation < 1) {
		return usage("--correlation is not from 0 to below 1", "0 is for maps that share nothing")
	}
	if err := checkFormats(o.formats); err != nil {
		return err
	}
	sa, err := readResult(dirA)
	if err != nil {
		return err
	}
	sb, err := readResult(dirB)
	if err != nil {
		return err
	}
	c, err := compareSurveys(sa, sb, o.correlation)
	if err != nil {
		return err
	}
	if err := c.write(dirA, dirB, o); err != nil {
		return err
	}
	if a.json {
		return printJSON(a.stdout, plain(c))
	}
	return outputFault(c.print(a, dirA, dirB, o.top))
}

// comparison is what differs between two results.
type comparison struct {
	Craters, CratersA, CratersB int // matched, in A, in B
	OnlyA, OnlyB                []string
	Moved                       []string // same id, another centre or radius
	SpeciesOnlyA, SpeciesOnlyB  []string
	Correlation                 float64
	Agreements                  []comparedSpecies
	Changes                     []craterChange // most important first; with something that changed

	rows []reports.ComparedCrater // all craters in both, for the table
}

type comparedSpecies struct {
	ejecta.Agreement
	Sentence string
}

// craterChange is a change with the crater it belongs to.
type craterChange struct {
	CraterID, Name string
	ejecta.Change
}

// compareSurveys matches craters by id and species by name.
func compareSurveys(a, b *reports.Survey, correlation float64) (*comparison, error) {
	c := &comparison{CratersA: len(a.Catalogue.Craters), CratersB: len(b.Catalogue.Craters), Correlation: correlation}
	c.SpeciesOnlyA, c.SpeciesOnlyB = apart(speciesNames(a), speciesNames(b))
	c.OnlyA, c.OnlyB = apart(craterIDs(a), craterIDs(b))
	c.Craters = c.CratersA - len(c.OnlyA)
	c.Moved = moved(a, b)
	if err := c.check(a, b); err != nil {
		return nil, err
	}
	for _, sp := range a.Species {
		if !slices.Contains(c.SpeciesOnlyA, sp.Name) {
			c.addSpecies(a, b, sp)
		}
	}
	slices.SortStableFunc(c.Changes, func(x, y craterChange) int { return cmp.Compare(y.Importance, x.Importance) })
	return c, nil
}

// check refuses what cannot be compared safely.
func (c *comparison) check(a, b *reports.Survey) error {
	switch {
	case !a.Body.SameShape(b.Body, 0.005):
		return refuse(fmt.Sprintf("the results lie on different bodies: %s and %s", printable(a.Body.Name), printable(b.Body.Name)), "compare results of one body")
	case len(c.SpeciesOnlyA) == len(a.Species):
		return refuse("no species has the same name in both results", "screen one of them again with the same names")
	case c.Craters == 0:
		return refuse("no crater id is in both results", "screen both with one catalogue, or with catalogues that share ids")
	}
	for _, x := range a.Species {
		for _, y := range b.Species {
			if x.Name == y.Name && x.Unit != y.Unit {
				return refuse(fmt.Sprintf("%s has the unit %s in one result and %s in the other", printable(x.Name), strconv.Quote(x.Unit), strconv.Quote(y.Unit)), "screen one of them again with unit and scale as in the other")
			}
		}
	}
	return nil
}

func (c *comparison) addSpecies(a, b *reports.Survey, sp reports.SpeciesInfo) {
	inB := findingsByID(b, sp.Name)
	rateA, rateB := rateOf(a), rateOf(b)
	var pairs []ejecta.Pair
	for _, fa := range a.All() {
		crater := a.Catalogue.Craters[fa.CraterIndex]
		fb := inB(crater.ID)
		if fa.Species != sp.Name || fb == nil {
			continue
		}
		ch := ejecta.NewChange(fa, fb, rateA, rateB, c.Correlation)
		c.rows = append(c.rows, reports.ComparedCrater{ID: crater.ID, Name: crater.Name, Change: ch})
		pairs = append(pairs, ejecta.Pair{A: ch.ExcessA, SEA: ch.ExcessSEA, B: ch.ExcessB, SEB: ch.ExcessSEB})
		if ch.Changed() {
			c.Changes = append(c.Changes, craterChange{crater.ID, crater.Name, ch})
		}
	}
	g := ejecta.NewAgreement(pairs, c.Correlation)
	for i, d := range g.Departures(pairs) {
		c.rows[len(c.rows)-len(pairs)+i].Departure = d
	}
	g.Species, g.Unit, g.Quantity = sp.Name, sp.Unit, "excess"
	c.Agreements = append(c.Agreements, comparedSpecies{g, g.Sentence()})
}

// moved lists the ids whose centre lies more than a quarter of a radius apart in
// the two catalogues, or whose radii differ by more than a fifth: the same id,
// perhaps of another crater.
func moved(a, b *reports.Survey) []string {
	there := map[string]geom.Crater{}
	for _, c := range b.Catalogue.Craters {
		there[c.ID] = c
	}
	out := []string{}
	for _, c := range a.Catalogue.Craters {
		o, ok := there[c.ID]
		if !ok {
			continue
		}
		apart, _ := a.Body.Inverse(c.Centre, o.Centre)
		if apart > c.Radius/4 || max(c.Radius, o.Radius) > 1.2*min(c.Radius, o.Radius) {
			out = append(out, c.ID)
		}
	}
	return out
}

// findingsByID returns what finds a finding of a species by crater id; nil where
// there is none.
func findingsByID(s *reports.Survey, species string) func(id string) *ejecta.Finding {
	index := make(map[string]int, len(s.Catalogue.Craters))
	for i := range s.Catalogue.Craters {
		index[s.Catalogue.Craters[i].ID] = i
	}
	return func(id string) *ejecta.Finding {
		i, ok := index[id]
		if !ok {
			return nil
		}
		list := s.FindingsOf(i)
		for k := range list {
			if list[k].Species == species {
				return &list[k]
			}
		}
		return nil
	}
}

// rateOf is the false discovery rate that a result was made with.
func rateOf(s *reports.Survey) float64 {
	if tests, ok := s.Manifest.Settings["tests"].(map[string]any); ok {
		if v, err := strconv.ParseFloat(fmt.Sprint(tests["fdr"]), 64); err == nil {
			return v
		}
	}
	return defaultSurvey().Tests.FDR
}

func speciesNames(s *reports.Survey) (names []string) {
	for _, sp := range s.Species {
		names = append(names, sp.Name)
	}
	return names
}

func craterIDs(s *reports.Survey) (ids []string) {
	for _, c := range s.Catalogue.Craters {
		ids = append(ids, c.ID)
	}
	return ids
}

// apart returns what is only in a and what is only in b, in their order.
func apart(a, b []string) (onlyA, onlyB []string) { return notIn(a, b), notIn(b, a) }

func notIn(list, other []string) []string {
	there := map[string]bool{}
	for _, s := range other {
		there[s] = true
	}
	out := []string{}
	for _, s := range list {
		if !there[s] {
			out = append(out, s)
		}
	}
	return out
}

// print writes the comparison as text.
func (c *comparison) print(a *app, dirA, dirB string, top int) error {
	w := tabwriter.NewWriter(a.screen(), 0, 4, 2, ' ', 0)
	fmt.Fprintf(w, "A %s: %d craters; B %s: %d craters; %d in both\n", printable(dirA), c.CratersA, printable(dirB), c.CratersB, c.Craters)
	for _, l := range []struct {
		what string
		list []string
	}{{"craters only in A", c.OnlyA}, {"craters only in B", c.OnlyB}, {"same id, but another centre or radius", c.Moved}, {"species only in A", c.SpeciesOnlyA}, {"species only in B", c.SpeciesOnlyB}} {
		if len(l.list) > 0 {
			fmt.Fprintf(w, "%s: %s\n", l.what, listed(l.list))
		}
	}
	fmt.Fprintf(w, "errors are taken as correlated by %g; maps that share observations share noise\n\nAGREEMENT of the excess\n", c.Correlation)
	for _, g := range c.Agreements {
		fmt.Fprintf(w, "%s\t%d pairs\tB-A %s %s\tslope %s\tchi2 %s of %d\n  %s\n", printable(g.Species), g.Pairs, plusMinus(g.Bias, g.BiasSE), printable(g.Unit),
			plusMinus(g.Line.Slope, g.Line.SlopeSE), short(g.Chi2), g.Freedom, g.Sentence)
	}
	c.printChanges(w, top)
	return w.Flush()
}

func (c *comparison) printChanges(w *tabwriter.Writer, top int) {
	list := c.Changes
	if top >= 0 && top < len(list) {
		list = list[:top]
	}
	fmt.Fprintf(w, "\nCHANGES, the most important first (%d of %d)\n", len(list), len(c.Changes))
	for _, x := range list {
		fmt.Fprintf(w, "%s\t%s\t%s to %s\t%s\n", printable(x.CraterID), printable(x.Species),
			plusMinus(x.ExcessA, x.ExcessSEA), plusMinus(x.ExcessB, x.ExcessSEB), printable(strings.Join(x.Why, "; ")))
	}
}

// listed writes the first names of a list and how many more there are.
func listed(list []string) string {
	n := min(len(list), maxListed)
	text := printable(strings.Join(list[:n], ", "))
	if more := len(list) - n; more > 0 {
		text += fmt.Sprintf(" and %d more", more)
	}
	return text
}
