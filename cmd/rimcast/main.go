// Rimcast looks round catalogued impact craters of airless bodies for ground
// that is richer in volatiles than its surroundings, and says whether the
// ejecta that carries it leaves the crater in all directions or in some.
//
// The commands are one file each, from [newDemo] to [newMan]. A run goes
//
//	flags and survey file -> surveyFile -> measureSurvey -> reports.Survey -> result directory
//
// where [surveyFile] is all that a run depends on, [measureSurvey] is the only
// place that joins maps to the science, and [resultDir] sees to it that a
// result directory is whole or absent.
package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"
)

// The exit codes. They are part of the file contract: scripts and schedulers
// depend on them, so a code is never given another meaning.
const (
	exitComplete    = 0   // all that was asked for was done
	exitUsage       = 2   // the command line or the survey file is wrong; nothing was read
	exitRefused     = 3   // an input cannot be read safely without an answer from the user; a retry will not help
	exitCorrupt     = 4   // an input cannot be read at all; a retry may help
	exitPartial     = 5   // results are written, but some craters of the list have none; they are listed
	exitOutput      = 6   // an output cannot be written; the old one is intact
	exitGate        = 7   // results are written, and a condition given with --fail-on holds
	exitInternal    = 70  // a fault of rimcast itself
	exitInterrupted = 130 // stopped by a signal; nothing half-written is left, and the run can be repeated or resumed
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	// After the first signal the second one kills at once.
	context.AfterFunc(ctx, stop)
	code := run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// run is the whole program: it carries out one command line and returns its
// exit code. It never calls os.Exit. The context ends it early.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) (code int) {
	a := newApp(args, stdin, stdout, stderr)
	defer func() {
		if p := recover(); p != nil {
			code = a.crashed(p, debug.Stack())
		}
	}()
	root := newRoot(a)
	root.SetArgs(args)
	return a.finish(root.ExecuteContext(ctx))
}

// crashed reports a panic. A fault of the program must not look like a fault
// of the data, so it has its own exit code and says where it happened.
func (a *app) crashed(p any, stack []byte) int {
	a.msg.fail(&cliError{
		code:    exitInternal,
		problem: fmt.Sprintf("internal error: %v", p),
		remedy:  "this is a fault of rimcast, not of the data; no result directory was touched; run again with -v and keep what it prints for the report",
	})
	if a.msg.verbosity > 0 {
		fmt.Fprintf(a.stderr, "%s", stack)
	}
	return exitInternal
}
