package main

import (
	"context"
	"errors"
	"io/fs"
	"syscall"

	"rimcast/geom"
	"rimcast/raster"
)

// cliError is an error that knows its exit code and what to do about it.
type cliError struct {
	code    int
	problem string // lower case, no full stop
	remedy  string // may be empty
	err     error  // the cause; may be nil
}

func (e *cliError) Error() string {
	switch {
	case e.err == nil:
		return e.problem
	case e.problem == "":
		return e.err.Error()
	}
	return e.problem + ": " + e.err.Error()
}

func (e *cliError) Unwrap() error { return e.err }

// usage returns an error of the command line or the survey file.
func usage(problem, remedy string) error {
	return &cliError{code: exitUsage, problem: problem, remedy: remedy}
}

// refuse returns an error for input that cannot be read safely.
func refuse(problem, remedy string) error {
	return &cliError{code: exitRefused, problem: problem, remedy: remedy}
}

// inputFault wraps the failure to open or read an input file.
func inputFault(err error, remedy string) error {
	return &cliError{code: exitCorrupt, err: err, remedy: remedy}
}

// outputFault wraps the failure to write an output.
func outputFault(err error) error {
	if err == nil {
		return nil
	}
	e := &cliError{code: exitOutput, problem: "cannot write the output", err: err}
	switch {
	case errors.Is(err, syscall.ENOSPC):
		e.remedy = "the disk is full; free space or choose another place with -o; what was there before is intact"
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		e.remedy = "choose a place that can be written with -o; what was there before is intact"
	}
	return e
}

// exitCode maps an error to the exit code of the contract. The kind that a
// package gives its errors decides; an error of no known kind is a fault of
// the program.
func exitCode(err error) int {
	var cli *cliError
	var in *geom.InputError
	var ras *raster.Error
	switch {
	case err == nil:
		return exitComplete
	case errors.As(err, &cli):
		return cli.code
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return exitInterrupted
	case errors.As(err, &in):
		return exitOfCatalogue(in.Kind)
	case errors.As(err, &ras):
		return exitOfRaster(ras.Kind)
	case isFileError(err):
		return exitCorrupt
	}
	return exitInternal
}

func exitOfCatalogue(k geom.ErrorKind) int {
	if k == geom.Corrupt {
		return exitCorrupt
	}
	return exitRefused
}

func exitOfRaster(k raster.Kind) int {
	switch k {
	case raster.Corrupt:
		return exitCorrupt
	case raster.Output:
		return exitOutput
	}
	return exitRefused
}

func isFileError(err error) bool {
	var p *fs.PathError
	return errors.As(err, &p)
}

// remedyOf returns what to do about an error, or "".
func remedyOf(err error) string {
	var cli *cliError
	if errors.As(err, &cli) {
		return cli.remedy
	}
	return ""
}
