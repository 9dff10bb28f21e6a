package main

import (
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// exitTexts describes the exit codes in the help texts.
var exitTexts = map[int]string{
	exitComplete:    "0    complete",
	exitUsage:       "2    the command line or the survey file is wrong",
	exitRefused:     "3    an input cannot be read safely; the message says what to add",
	exitCorrupt:     "4    an input cannot be read",
	exitPartial:     "5    results are written, but some craters of the list have none; they\n       are listed",
	exitOutput:      "6    the output cannot be written; what was there before is intact",
	exitGate:        "7    results are written, and the condition of --fail-on holds",
	exitInternal:    "70   a fault of rimcast itself",
	exitInterrupted: "130  interrupted; no result directory was touched",
}

// exitStatus returns the EXIT STATUS paragraph of a help text. Code 0, 2 and
// 70 go without saying: every command has them.
func exitStatus(codes ...int) string {
	all := append([]int{exitComplete, exitUsage}, codes...)
	var b strings.Builder
	b.WriteString("\n\nEXIT STATUS\n")
	for _, c := range append(all, exitInternal) {
		b.WriteString("  " + exitTexts[c] + "\n")
	}
	return strings.TrimRight(b.String(), "\n")
}

// example indents the lines of an example as cobra's help wants them.
func example(lines ...string) string { return "  " + strings.Join(lines, "\n  ") }

// flagNames lists the flags of a command.
func flagNames(cmd *cobra.Command) []string {
	var names []string
	cmd.Flags().VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
	cmd.InheritedFlags().VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
	return names
}

// argCount returns a check of the number of arguments that says what they are.
func argCount(least, most int, what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		switch {
		case len(args) < least:
			return usage(cmd.CommandPath()+" needs "+what, `see "`+cmd.CommandPath()+` --help"`)
		case len(args) > most:
			return usage(cmd.CommandPath()+" does not take "+printable(args[most])+" as well", `it takes `+what+`; see "`+cmd.CommandPath()+` --help"`)
		}
		return nil
	}
}
