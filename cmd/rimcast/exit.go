package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strings"
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
	e := &cliError{code: exitOutput, problem: "cannot write the output", err: plainPath(err)}
	switch {
	case errors.Is(err, syscall.ENOSPC):
		e.remedy = "the disk is full, or has no room for more files; free space or choose another place with -o; what was there before is intact"
	case errors.Is(err, syscall.ENAMETOOLONG):
		e.remedy = "choose a shorter name with -o; results are made beside it under a name that is 20 characters longer"
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS), errors.Is(err, syscall.ENOTDIR), errors.Is(err, syscall.ELOOP):
		e.remedy = "choose a place that can be written with -o; what was there before is intact"
	}
	return e
}

// plainPath leaves the name of the system call out of an error where it only
// looked at a path.
func plainPath(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) && (p.Op == "lstat" || p.Op == "stat") {
		return fmt.Errorf("%s: %w", p.Path, p.Err)
	}
	return err
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

// remedyOf returns what to do about an error, or "". The packages say it in
// their own words, in the message; here the flag that does it is added.
func remedyOf(err error) string {
	var cli *cliError
	var in *geom.InputError
	var ras *raster.Error
	switch {
	case errors.As(err, &cli):
		return cli.remedy
	case errors.As(err, &in):
		return flagFor(in.Remedy)
	case errors.As(err, &ras):
		return flagFor(ras.Remedy)
	}
	return ""
}

// remedyFlags gives the flag for what the packages advise. The first row whose
// words occur counts; the keys of the survey file have the same names.
var remedyFlags = []struct{ words, flag string }{
	{"assume_body_crs", "the flag is --assume-body-crs"},
	{"allow_vsi", "the flag is --allow-vsi"},
	{"dedupe", "the flag is --dedupe first"},
	{"radius_unit", "the flag is --radius-unit km, or m"},
	{"CRS of the catalogue", "the flag is --crater-crs, such as --crater-crs IAU_2015:30100"},
	{"or give its CRS", "the flag is --crater-crs map where they are metres of the map itself, else a code such as --crater-crs IAU_2015:30110"},
	{"body of the survey", "the flag is --body, such as --body Moon"},
	{"longitude direction", "the flag is --lon-positive west, or east"},
	{"planetographic", "the flag is --lat-type planetocentric, or planetographic"},
	{"positive west", "the flag is --raster-lon-positive west"},
	{"catalogue.radius", "the flags are --crater-radius COLUMN and --crater-diameter COLUMN"},
	{"the properties are", "the columns are named with --crater-id, --crater-radius, --crater-diameter and the like"},
	{"the columns are", "the columns are named with --crater-id, --crater-lon, --crater-lat, --crater-radius and the like"},
	{"choose one by name or number", "write it as name=path:2, or name=path,band=NAME"},
	{"give a band", "write it as name=path:2, or name=path,band=NAME"},
	{"give the CRS", "the flag is --raster-crs, such as --raster-crs IAU_2015:30100, or crs=CODE for one map"},
}

func flagFor(remedy string) string {
	for _, r := range remedyFlags {
		if strings.Contains(remedy, r.words) {
			return r.flag
		}
	}
	return ""
}
