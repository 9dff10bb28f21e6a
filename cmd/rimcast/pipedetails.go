package main

import (
	"os"
	"runtime/debug"

	"rimcast/ejecta"
	"rimcast/reports"
)

// While craters are measured the details of their findings go to a scratch file;
// what the catalogue needs stays in memory.

// openDetails makes the scratch file of a run in a directory of its output.
func (sv *surveyFile) openDetails(dir string) (err error) {
	sv.details, err = newSpool[ejecta.Detail](dir)
	return outputFault(err)
}

// ownMachine readies settings that come from another machine for this one.
func (sv *surveyFile) ownMachine(scratch string) error {
	if err := sv.fillMachine(); err != nil {
		return err
	}
	return sv.openDetails(scratch)
}

// closeDetails ends the scratch file, when nobody reads it any more.
func (sv *surveyFile) closeDetails() { _ = sv.details.close() } // nothing is kept in it

// limitMemory makes the collector work harder towards the limit of a run, or of
// the environment where that is lower, and returns what ends that.
func (sv *surveyFile) limitMemory() (end func()) {
	before := debug.SetMemoryLimit(-1) // what GOMEMLIMIT says
	debug.SetMemoryLimit(min(before, sv.Run.Memory))
	return func() { debug.SetMemoryLimit(before) }
}

// mergePercent is how much garbage a merge lets pass, in per cent of what it
// holds: nearly all of it stays to the end, and as much again would be garbage.
const mergePercent = 25

// holdClose makes the collector keep the memory of a merge close to what it holds,
// unless GOGC says otherwise, and returns what ends that and any limit set since.
func holdClose() (end func()) {
	percent, limit := debug.SetGCPercent(mergePercent), debug.SetMemoryLimit(-1)
	if os.Getenv("GOGC") != "" {
		debug.SetGCPercent(percent)
	}
	return func() {
		debug.SetGCPercent(percent)
		debug.SetMemoryLimit(limit)
	}
}

// putFinding sets a finding; its detail goes to the scratch file.
func (p *pipeline) putFinding(slot int, f ejecta.Finding) {
	if p.details != nil {
		d := f.Detach()
		p.details.put(p.at(slot), &d)
	}
	p.findings[p.at(slot)] = f
}

// wholeFinding is a finding with its detail.
func (p *pipeline) wholeFinding(slot int) (ejecta.Finding, error) {
	f := p.findings[p.at(slot)]
	if p.details == nil {
		return f, nil
	}
	var d ejecta.Detail
	err := p.details.get(p.at(slot), &d)
	f.Attach(&d)
	return f, err
}

// spooledDetails lets the writers of reports read the scratch file.
type spooledDetails struct{ *spool[ejecta.Detail] }

// Detail implements [reports.Details].
func (s spooledDetails) Detail(i int) (d ejecta.Detail, err error) {
	err = s.get(i, &d)
	return d, err
}

// handDetails tells a survey where the details of its findings are.
func (p *pipeline) handDetails(s *reports.Survey) {
	if p.details != nil {
		s.ReadDetails(spooledDetails{p.details})
	}
}
