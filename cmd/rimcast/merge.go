package main

import (
	"context"
	"errors"
	"io/fs"

	"github.com/spf13/cobra"

	"rimcast/reports"
)

const mergeLong = `Merge makes the result of a survey that was screened in shards. It takes the
part of every shard, and the result is the one that screen would have written
without --shard, byte for byte.

Parts that are missing or given twice, that were made from other files or with
other settings are refused. The maps are opened for the pictures of the best
targets only; run merge where screen was run. Where they are gone the result is
written without these pictures.`

// mergeOpts are the flags of merge.
type mergeOpts struct {
	out   string
	force bool
}

// newMerge makes the command that puts shards together.
func newMerge(a *app) *cobra.Command {
	var o mergeOpts
	cmd := &cobra.Command{
		Use:     "merge PART...",
		Short:   "make the result of a survey that was screened in shards",
		Long:    mergeLong + exitStatus(exitRefused, exitCorrupt, exitPartial, exitOutput, exitGate, exitInterrupted),
		Example: example("rimcast merge parts/*.part -o result"),
		Args:    argCount(1, maxShards, "the parts of all shards"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.merge(cmd.Context(), args, o)
		},
	}
	f := cmd.Flags()
	f.StringVarP(&o.out, "out", "o", "", "directory for the results; must not exist")
	f.BoolVar(&o.force, "force", false, "replace an existing result directory when the new one is whole")
	return cmd
}

func (a *app) merge(ctx context.Context, names []string, o mergeOpts) error {
	if err := spareInputs(o.out, names); err != nil {
		return err
	}
	d, err := newResultDir(o.out, o.force)
	if err != nil {
		return err
	}
	defer d.discard()
	defer holdClose()()
	sv, s, err := a.mergeParts(ctx, names, d.partial)
	if err != nil {
		return err
	}
	defer sv.closeDetails()
	sv.Output.Dir = o.out
	if sv.Output.Strict {
		if err := strictFault(s); err != nil {
			return err
		}
	}
	if err := a.writeResult(ctx, d.partial, sv, s); err != nil {
		return err
	}
	sv.closeDetails()
	if err := d.commit(); err != nil {
		return err
	}
	if err := a.printScreened(sv, s); err != nil {
		return err
	}
	return a.conclude(sv, s)
}

// mergeParts reads the parts and finishes the survey over all craters. Details of
// its findings are kept in a scratch directory.
func (a *app) mergeParts(ctx context.Context, names []string, scratch string) (*surveyFile, *reports.Survey, error) {
	parts, err := openParts(ctx, names)
	if err != nil {
		return nil, nil, err
	}
	prog := newProgress(a.msg)
	defer prog.Done()
	p, err := pipelineOf(parts[0].shared, prog)
	if err != nil {
		return nil, nil, err
	}
	defer p.close()
	if err := p.sv.ownMachine(scratch); err != nil {
		return nil, nil, err
	}
	p.details = p.sv.details
	p.sv.limitMemory() // until holdClose ends
	if err := p.fillFrom(names, parts); err != nil {
		return nil, nil, err
	}
	p.label()
	if err := p.openForPictures(ctx, parts[0].header.Inputs); err != nil {
		return nil, nil, err
	}
	s, err := p.finish()
	if err != nil {
		return nil, nil, err
	}
	fillManifest(p.sv, s, parts[0].header.Inputs)
	return p.sv, s, nil
}

func openParts(ctx context.Context, names []string) ([]*part, error) {
	var parts []*part
	for _, name := range names {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		p, err := openPart(name)
		if err != nil {
			return nil, err
		}
		if len(parts) > 0 {
			p.shared = nil // it is in its sum; one is enough to go on with
		}
		parts = append(parts, p)
	}
	return parts, checkParts(names, parts)
}

// openForPictures opens the species maps, when they are there. Maps that
// changed since they were measured are refused: their pictures would show
// something else than the numbers say.
func (p *pipeline) openForPictures(ctx context.Context, measured []reports.Input) error {
	if p.sv.Output.Top == 0 {
		return nil
	}
	if err := p.lookForMaps(ctx, measured); err != nil {
		if !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		p.prog.Warn("the maps are not there, so that the report has no pictures of them: %v", err)
		p.blind = true
		return nil
	}
	return p.openSpecies()
}

// lookForMaps compares the files of the survey with those that were measured.
func (p *pipeline) lookForMaps(ctx context.Context, measured []reports.Input) error {
	files, err := inputFiles(p.sv)
	if err != nil {
		return err
	}
	now, err := startHashing(ctx, files).wait()
	if err != nil {
		return err
	}
	return sameInputs("the parts", measured, "now", now)
}
