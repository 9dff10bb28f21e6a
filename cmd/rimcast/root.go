package main

import (
	"errors"
	"io"
	"strings"

	"github.com/spf13/cobra"
)

// app is what every command shares: the streams, the messages, and how the run
// ended if it ended neither well nor with an error.
type app struct {
	stdin          io.Reader
	stdout, stderr io.Writer
	msg            *messages
	args           []string
	json           bool
	quiet          bool
	verbose        bool
	started        bool // a command took over; errors before that are of the command line
	code           int  // exit code of a run that finished, such as exitPartial
	keep           *keeper
}

func newApp(args []string, stdin io.Reader, stdout, stderr io.Writer) *app {
	return &app{stdin: stdin, stdout: stdout, stderr: stderr, args: args, msg: newMessages(stderr)}
}

const rootLong = `Rimcast looks round catalogued impact craters of airless bodies for ground that
is richer in volatiles than its surroundings. For each crater and each mapped
species it measures the ejecta blanket: how rich, how far out, how fast it falls
off, and whether it leaves the crater in all directions or in some; with errors
that know how the pixels of a map depend on each other.

Begin with "rimcast demo", then "rimcast inspect" on your own maps.`

// newRoot builds the command tree.
func newRoot(a *app) *cobra.Command {
	root := &cobra.Command{
		Use:           "rimcast",
		Short:         "screen craters for volatile-rich ejecta",
		Long:          rootLong,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          cobra.ArbitraryArgs,
		RunE:          a.noCommand,
	}
	root.SetIn(a.stdin)
	root.SetOut(a.stdout)
	root.SetErr(a.stderr)
	root.CompletionOptions.DisableDefaultCmd = true
	root.PersistentFlags().BoolVar(&a.json, "json", false, "print the result as JSON on standard output")
	root.PersistentFlags().BoolVarP(&a.quiet, "quiet", "q", false, "print errors and warnings only")
	root.PersistentFlags().BoolVarP(&a.verbose, "verbose", "v", false, "print what was guessed and chosen")
	root.PersistentPreRunE = func(*cobra.Command, []string) error { return a.start() }
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return usage(err.Error(), flagHint(cmd, err))
	})
	root.AddCommand(a.commands()...)
	return root
}

// commands lists the commands in the order of a first acquaintance.
func (a *app) commands() []*cobra.Command {
	return []*cobra.Command{
		newDemo(a), newInspect(a), newScreen(a), newSample(a), newProfile(a), newReport(a), newFollowUp(a), newInventory(a), newCompare(a), newSensitivity(a), newMerge(a), newSynth(a), newExplain(a), newVersion(a), newCompletion(a), newMan(a),
	}
}

// start ends the reading of the command line.
func (a *app) start() error {
	a.started = true
	switch {
	case a.quiet && a.verbose:
		return usage("--quiet and --verbose exclude each other", "")
	case a.quiet:
		a.msg.verbosity = -1
	case a.verbose:
		a.msg.verbosity = 1
	}
	return nil
}

// noCommand runs when no command of that name exists.
func (a *app) noCommand(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return cmd.Help()
	}
	return noSuchCommand(cmd, args[0])
}

func noSuchCommand(root *cobra.Command, name string) error {
	var names []string
	for _, c := range pages(root)[1:] {
		names = append(names, c.Name())
	}
	return usage("there is no command "+printable(name), didYouMean(name, names))
}

// flagHint helps with a misspelt flag.
func flagHint(cmd *cobra.Command, err error) string {
	_, name, _ := strings.Cut(err.Error(), "unknown flag: --")
	if c := closest(name, flagNames(cmd)); c != "" {
		return "did you mean --" + c
	}
	return `"` + cmd.CommandPath() + ` --help" lists the flags`
}

// finish reports an error and returns the exit code of the run.
func (a *app) finish(err error) int {
	if err == nil {
		return a.code
	}
	if !a.started {
		err = asUsage(err)
	}
	code := exitCode(err)
	if code == exitInterrupted {
		err = &cliError{code: code, problem: "interrupted; no result directory was touched", remedy: a.keep.remedy()}
	}
	a.msg.fail(err)
	if a.json {
		a.printFailure(code, err)
	}
	return code
}

// asUsage makes an error of the flag library one of the command line.
func asUsage(err error) error {
	var cli *cliError
	if errors.As(err, &cli) {
		return err
	}
	return usage(err.Error(), `"rimcast help" lists the commands`)
}

// failure is what --json prints instead of a result.
type failure struct {
	Error struct {
		Exit    int    `json:"exit"`
		Message string `json:"message"`
		Hint    string `json:"hint,omitempty"`
	} `json:"error"`
}

func (a *app) printFailure(code int, err error) {
	var f failure
	f.Error.Exit, f.Error.Message, f.Error.Hint = code, printable(err.Error()), remedyOf(err)
	_ = printJSON(a.stdout, f) // the exit code says it too
}
