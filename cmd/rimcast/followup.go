package main

import (
	"fmt"
	"math"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"rimcast/ejecta"
	"rimcast/reports"
)

const followUpLong = `Followup turns the best targets of a result directory, or the craters named by
id, into requests for observations: what to cover, with which pixels, noise and
light, and what results would change the verdict. It writes followup.csv,
followup.geojson (kinds cover, reference and rim), followup.html with one page
to print for each crater, and schema.json. It needs no maps.

The noise that settles a question follows from the errors of the present map: a
score goes with one over the noise. --settle-sigma says how many standard errors
settle it.

--visible names a CSV file with the column crater_id and any of from, to,
min_incidence, max_incidence (degrees) and local_time (hours): one row for each
occasion on which a crater can be seen. Craters that it does not name are left
out, and each occasion is compared with the light asked for. --lat and --lon
keep craters in a box, written as two numbers; west may be larger than east.

A request for an observation says nothing about landing, traverse, life support
or resources.`

// followUpOpts are the flags of followup.
type followUpOpts struct {
	out      string
	top      int
	settle   float64
	visible  string
	lat, lon []float64
	rfc7946  bool
	force    bool
}

// newFollowUp makes the command that writes follow-up sheets.
func newFollowUp(a *app) *cobra.Command {
	var o followUpOpts
	cmd := &cobra.Command{
		Use:   "followup RESULT [ID...]",
		Short: "write requests for observations of the best targets",
		Long:  followUpLong + exitStatus(exitCorrupt, exitOutput),
		Example: example("rimcast followup result -o requests", "rimcast followup result -o requests --top 5 --lat -30,30 --lon 170,-170",
			"rimcast followup result N01 N07 -o requests --visible passes.csv"),
		Args: argCount(1, math.MaxInt, "one result directory"),
		RunE: func(_ *cobra.Command, args []string) error { return a.followUp(args[0], args[1:], o) },
	}
	f := cmd.Flags()
	f.StringVarP(&o.out, "out", "o", "", "directory to write (required)")
	f.IntVar(&o.top, "top", 10, "craters to ask for, best first, where no id is given; -1 is all")
	f.Float64Var(&o.settle, "settle-sigma", 5, "standard errors that settle a question")
	f.StringVar(&o.visible, "visible", "", "CSV file that says when craters can be seen; - is standard input")
	f.Float64SliceVar(&o.lat, "lat", nil, "keep latitudes from,to (degrees, planetocentric)")
	f.Float64SliceVar(&o.lon, "lon", nil, "keep longitudes west,east (degrees, east positive); west may be larger than east")
	f.BoolVar(&o.rfc7946, "rfc7946", false, "leave the crs member out of followup.geojson, for strict readers")
	f.BoolVar(&o.force, "force", false, "replace existing follow-up sheets")
	return cmd
}

func (a *app) followUp(dir string, ids []string, o followUpOpts) error {
	if err := o.check(); err != nil {
		return err
	}
	s, err := readResult(dir)
	if err != nil {
		return err
	}
	fu, err := a.newFollowUpList(s, dir, ids, o)
	if err != nil {
		return err
	}
	d, err := newOwnDir(o.out, reports.FollowUpMark, o.force)
	if err != nil {
		return err
	}
	defer d.discard()
	if err := reports.WriteFollowUp(d.partial, fu); err != nil {
		return outputFault(err)
	}
	if err := d.commit(); err != nil {
		return err
	}
	return a.printFollowUp(o, fu)
}

// check refuses flags that cannot be meant.
func (o *followUpOpts) check() error {
	switch {
	case !(o.settle > 0 && o.settle <= 30):
		return usage(fmt.Sprintf("--settle-sigma %g is not possible", o.settle), "give a number of standard errors above 0, at most 30, such as 5")
	case o.lat != nil && (len(o.lat) != 2 || !(o.lat[0] <= o.lat[1]) || !(o.lat[0] >= -90 && o.lat[1] <= 90)):
		return usage("--lat is not two latitudes", "write it as --lat -30,30, from south to north")
	case o.lon != nil && (len(o.lon) != 2 || !(math.Abs(o.lon[0]) <= 360 && math.Abs(o.lon[1]) <= 360)):
		return usage("--lon is not two longitudes", "write it as --lon 170,-170, from west to east")
	}
	return nil
}

// newFollowUpList chooses the craters and works out their requests.
func (a *app) newFollowUpList(s *reports.Survey, dir string, ids []string, o followUpOpts) (*reports.FollowUp, error) {
	fu := &reports.FollowUp{Survey: s, Level: o.settle, Alpha: alphaOf(s), Options: reports.Options{RFC7946: o.rfc7946},
		Citation: fmt.Sprintf("Source: %s, made by %s %s with seed %d.", dir, s.Manifest.Tool, s.Manifest.Version, s.Manifest.Seed)}
	filter, err := a.newVisibility(s, o)
	if err != nil {
		return nil, err
	}
	fu.Filter = filter.words
	asked, err := askedTargets(s, ids)
	if err != nil {
		return nil, err
	}
	most := o.top
	if most < 0 || len(ids) > 0 {
		most = len(asked)
	}
	epochs := epochsOf(s)
	for _, t := range asked {
		if len(fu.Craters) == most {
			break
		}
		r, ok := reports.NewCraterRequest(s, t, o.settle, fu.Alpha, epochs)
		if !ok || !filter.keeps(t.CraterIndex) {
			fu.LeftOut += count01(ok)
			continue
		}
		r.Windows = filter.windows[s.Catalogue.Craters[t.CraterIndex].ID]
		r.Judge()
		fu.Craters = append(fu.Craters, r)
	}
	return fu, nil
}

func count01(b bool) int {
	if b {
		return 1
	}
	return 0
}

// askedTargets are the targets of some ids, in rank order; all without ids.
func askedTargets(s *reports.Survey, ids []string) ([]ejecta.Target, error) {
	if len(ids) == 0 {
		return s.Targets, nil
	}
	wanted := map[int]bool{}
	for _, id := range ids {
		i, err := findCrater(s.Catalogue, id)
		if err != nil {
			return nil, err
		}
		if !measuredAt(s, i) {
			return nil, usage("nothing was measured at "+printable(id), "its status is in findings.csv; ask for other craters")
		}
		wanted[i] = true
	}
	var out []ejecta.Target
	for _, t := range s.Targets {
		if wanted[t.CraterIndex] {
			out = append(out, t)
		}
	}
	return out, nil
}

func measuredAt(s *reports.Survey, crater int) bool {
	for i := range s.Findings {
		if f := &s.Findings[i]; f.CraterIndex == crater && f.Status.Measured() {
			return true
		}
	}
	return false
}

// alphaOf is the level at which a result claims.
func alphaOf(s *reports.Survey) float64 {
	if v, ok := settingNumber(s.Manifest, "tests", "alpha"); ok {
		return v
	}
	return ejecta.DefaultAlpha
}

// epochsOf names the epoch of each species, where the survey gave one.
func epochsOf(s *reports.Survey) map[string]string {
	out := map[string]string{}
	list, _ := s.Manifest.Settings["species"].([]any)
	for _, entry := range list {
		if m, ok := entry.(map[string]any); ok {
			name, _ := m["name"].(string)
			out[name], _ = m["epoch"].(string)
		}
	}
	return out
}

// followedUp is one request as JSON.
type followedUp struct {
	Rank    int
	ID      string
	Species []askedSpecies
	Windows []reports.Window
}

type askedSpecies struct {
	Name    string
	Request ejecta.Request
}

func (a *app) printFollowUp(o followUpOpts, fu *reports.FollowUp) error {
	if a.json {
		return printJSON(a.stdout, plain(struct {
			Out      string
			LeftOut  int
			Filter   string
			Requests []followedUp
		}{o.out, fu.LeftOut, fu.Filter, followUpJSON(fu)}))
	}
	t := tabwriter.NewWriter(a.stdout, 0, 4, 2, ' ', 0)
	fmt.Fprintln(t, "rank\tid\tspecies\tnoise factor\tpixel, m\tlocal time")
	for _, r := range fu.Craters {
		c := fu.Survey.Catalogue.Craters[r.Target.CraterIndex]
		for _, q := range r.Species {
			fmt.Fprintf(t, "%d\t%s\t%s\t%.2g\t%.0f\t%s\n", r.Target.Rank, tableText(c.ID), tableText(q.Finding.Species), q.Settle.Alone, c.Radius*q.Pixel, printable(q.Light.LocalTime))
		}
	}
	if err := t.Flush(); err != nil {
		return outputFault(err)
	}
	_, err := fmt.Fprintf(a.stdout, "%d requests in %s, %d better ranked craters left out; print followup.html\n", len(fu.Craters), o.out, fu.LeftOut)
	return outputFault(err)
}

func followUpJSON(fu *reports.FollowUp) []followedUp {
	out := []followedUp{}
	for _, r := range fu.Craters {
		one := followedUp{Rank: r.Target.Rank, ID: fu.Survey.Catalogue.Craters[r.Target.CraterIndex].ID, Windows: r.Windows}
		for _, q := range r.Species {
			one.Species = append(one.Species, askedSpecies{q.Finding.Species, q.Request})
		}
		out = append(out, one)
	}
	return out
}
