package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"rimcast/reports"
)

const explainLong = `Explain says in plain words what a verdict, status, pattern, alarm, rule, flag
or number in the results means, what it needs, and what would settle it. Without
a word it lists all it knows.`

// newExplain makes the command that explains the words of the results.
func newExplain(a *app) *cobra.Command {
	return &cobra.Command{
		Use:     "explain [WORD]",
		Short:   "say what a verdict, status, alarm or number means",
		Long:    explainLong + exitStatus(),
		Example: example("rimcast explain", "rimcast explain bilateral", "rimcast explain coverage_can_fake"),
		Args:    argCount(0, 1, "one word"),
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return reports.Terms(""), cobra.ShellCompDirectiveNoFileComp
		},
		RunE: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				return a.listTerms()
			}
			return a.explainTerm(args[0])
		},
	}
}

// explained is one word as JSON.
type explained struct {
	Term  string `json:"term"`
	Kind  string `json:"kind"`
	Short string `json:"short"`
	Long  string `json:"long"`
}

func explainedTerm(term string) (explained, bool) {
	short, long, ok := reports.Explain(term)
	return explained{Term: term, Kind: reports.ExplainKind(term), Short: short, Long: long}, ok
}

func (a *app) explainTerm(term string) error {
	e, ok := explainedTerm(term)
	if !ok {
		known := reports.Terms("")
		hint := `"rimcast explain" lists the words`
		if c := closest(term, known); c != "" {
			hint = "did you mean " + c
		}
		return usage("there is no explanation of "+printable(term), hint)
	}
	if a.json {
		return printJSON(a.stdout, e)
	}
	fmt.Fprintf(a.stdout, "%s (%s): %s\n\n", e.Term, e.Kind, e.Short)
	wrapText(a.stdout, e.Long, 78)
	return nil
}

func (a *app) listTerms() error {
	var all []explained
	for _, kind := range reports.TermKinds() {
		for _, t := range reports.Terms(kind) {
			e, _ := explainedTerm(t)
			all = append(all, e)
		}
	}
	if a.json {
		return printJSON(a.stdout, all)
	}
	kind := ""
	for _, e := range all {
		if e.Kind != kind {
			kind = e.Kind
			fmt.Fprintf(a.stdout, "%s\n", strings.ToUpper(kind))
		}
		fmt.Fprintf(a.stdout, "  %-22s %s\n", e.Term, e.Short)
	}
	return nil
}

// wrapText prints a paragraph in lines of at most width characters. Longer
// words stand alone.
func wrapText(w io.Writer, text string, width int) {
	n := 0
	for _, word := range strings.Fields(text) {
		size := len([]rune(word))
		switch {
		case n == 0:
		case n+1+size > width:
			fmt.Fprintln(w)
			n = 0
		default:
			fmt.Fprint(w, " ")
			n++
		}
		fmt.Fprint(w, word)
		n += size
	}
	fmt.Fprintln(w)
}
