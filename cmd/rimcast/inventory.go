package main

import (
	"fmt"
	"io"
	"math"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"rimcast/ejecta"
	"rimcast/reports"
)

const inventoryLong = `Inventory works out how much of a species the blankets of a result directory may
hold: depth dug out, thickness of the blanket, mass of the excess with its
interval, by published laws. It needs no maps and changes nothing in the result.

The craters named by id are taken, without ids those with a claimed excess. With
-o it writes inventory.csv, inventory.txt, inventory.json and schema.json. All
assumptions are printed with the numbers; choose them by the flags.

`

// inventoryOpts are the flags of inventory.
type inventoryOpts struct {
	out, thickness, depth string
	density, mixing       []float64
	set                   ejecta.InventorySettings
	force                 bool
}

// newInventory makes the command that works out masses.
func newInventory(a *app) *cobra.Command {
	o := inventoryOpts{set: ejecta.DefaultInventory()}
	cmd := &cobra.Command{
		Use:     "inventory RESULT [ID...]",
		Short:   "what the blankets may hold, under stated assumptions",
		Long:    inventoryLong + strings.Join(fold(reports.InventoryCaution, 79), "\n") + exitStatus(exitCorrupt, exitOutput),
		Example: example("rimcast inventory result", "rimcast inventory result N01 -o masses --thickness pike --mixing 0.3,0.6"),
		Args:    argCount(1, math.MaxInt, "one result directory"),
		RunE:    func(_ *cobra.Command, args []string) error { return a.inventory(args[0], args[1:], o) },
	}
	f, d := cmd.Flags(), &o.set
	f.StringVarP(&o.out, "out", "o", "", "directory to write; only printed when not given")
	f.StringVar(&o.thickness, "thickness", d.Thickness.Name, "law of the thickness: "+strings.Join(thicknessNames(), " or "))
	f.StringVar(&o.depth, "depth", d.Depth.Name, "law of the depth dug out: "+strings.Join(depthNames(), " or "))
	f.Float64SliceVar(&o.density, "density", []float64{d.Density.Lo, d.Density.Hi}, "density of the blanket from,to (kg/m3)")
	f.Float64SliceVar(&o.mixing, "mixing", []float64{d.Mixing.Lo, d.Mixing.Hi}, "share of the thickness that holds the excess, from,to")
	f.Float64Var(&d.Outer, "outer", d.Outer, "where the blanket ends (crater radii)")
	f.IntVar(&d.Draws, "draws", d.Draws, "draws behind an interval")
	f.Uint64Var(&d.Seed, "seed", d.Seed, "seed of the draws")
	f.BoolVar(&o.force, "force", false, "replace an existing inventory")
	return cmd
}

func thicknessNames() (out []string) {
	for _, l := range ejecta.ThicknessLaws {
		out = append(out, l.Name)
	}
	return out
}

func depthNames() (out []string) {
	for _, l := range ejecta.DepthLaws {
		out = append(out, l.Name)
	}
	return out
}

// settings turns the flags into assumptions.
func (o *inventoryOpts) settings() (ejecta.InventorySettings, error) {
	set := o.set
	i, j := indexOf(thicknessNames(), o.thickness), indexOf(depthNames(), o.depth)
	switch {
	case i < 0:
		return set, usage("--thickness "+printable(o.thickness)+" is no law", didYouMean(o.thickness, thicknessNames()))
	case j < 0:
		return set, usage("--depth "+printable(o.depth)+" is no law", didYouMean(o.depth, depthNames()))
	case len(o.density) != 2 || len(o.mixing) != 2:
		return set, usage("--density and --mixing are two numbers each", "write them as --density 1500,2000 --mixing 0.1,1")
	}
	set.Thickness, set.Depth = ejecta.ThicknessLaws[i], ejecta.DepthLaws[j]
	set.Density, set.Mixing = ejecta.Range{Lo: o.density[0], Hi: o.density[1]}, ejecta.Range{Lo: o.mixing[0], Hi: o.mixing[1]}
	if err := set.Check(); err != nil {
		return set, usage(err.Error(), `"rimcast inventory --help" shows the flags with their defaults`)
	}
	return set, nil
}

func indexOf(list []string, name string) int {
	for i, v := range list {
		if v == name {
			return i
		}
	}
	return -1
}

func (a *app) inventory(dir string, ids []string, o inventoryOpts) error {
	set, err := o.settings()
	if err != nil {
		return err
	}
	s, err := readResult(dir)
	if err != nil {
		return err
	}
	list, err := takeInventory(s, ids, set)
	if err != nil {
		return err
	}
	if o.out != "" {
		if err := a.writeInventory(list, o); err != nil {
			return err
		}
	}
	if a.json {
		return printJSON(a.stdout, inventoryJSON(list))
	}
	return inventoryText(a.stdout, list)
}

func (a *app) writeInventory(list *reports.InventoryList, o inventoryOpts) error {
	d, err := newOwnDir(o.out, reports.InventoryMark, o.force)
	if err != nil {
		return err
	}
	defer d.discard()
	err = reports.WriteInventory(d.partial, list,
		func(w io.Writer) error { return inventoryText(w, list) },
		func(w io.Writer) error { return printJSON(w, inventoryJSON(list)) })
	if err != nil {
		return outputFault(err)
	}
	return d.commit()
}

// takeInventory takes the craters named, or those with a claimed excess, in the
// order of the ranks.
func takeInventory(s *reports.Survey, ids []string, set ejecta.InventorySettings) (*reports.InventoryList, error) {
	targets, err := askedTargets(s, ids)
	if err != nil {
		return nil, err
	}
	list := &reports.InventoryList{Settings: set}
	by := findingsByCrater(s)
	for _, t := range targets {
		c := s.Catalogue.Craters[t.CraterIndex]
		for _, f := range by[t.CraterIndex] {
			if !f.Status.Measured() || len(ids) == 0 && !f.Claimed {
				continue
			}
			share, note := shareOf(f.Unit)
			list.Add(reports.InventoryRow{Crater: c, Finding: f, Entry: ejecta.TakeInventory(f, c.Radius, share, set), Note: note})
		}
	}
	return list, nil
}

func findingsByCrater(s *reports.Survey) map[int][]*ejecta.Finding {
	by := map[int][]*ejecta.Finding{}
	for i := range s.Findings {
		f := &s.Findings[i]
		by[f.CraterIndex] = append(by[f.CraterIndex], f)
	}
	return by
}

// shareOf is the share by mass that one of a unit is, or why it is none.
func shareOf(unit string) (share float64, note string) {
	ppm, ok := massUnit(unit)
	switch {
	case ok:
		return ppm * 1e-6, ""
	case unit == "":
		return math.NaN(), "nothing says the unit of the map, so no mass"
	}
	return math.NaN(), "the unit is no share by mass, so no mass"
}

// inventoryText is the inventory for people.
func inventoryText(w io.Writer, l *reports.InventoryList) error {
	t := tabwriter.NewWriter(w, 0, 4, 2, ' ', 0)
	fmt.Fprintln(t, "id\tspecies\tdug out, m\trim thickness, m\tall laws, m\texcess mass, t\t95 %, t")
	for _, r := range l.Rows {
		e := r.Entry
		fmt.Fprintf(t, "%s\t%s\t%.3g\t%.3g\t%.3g..%.3g\t%s\t%s..%s\n", tableText(r.Crater.ID), tableText(r.Finding.Species), e.Depth,
			e.ThicknessRim, e.ThicknessAll[0], e.ThicknessAll[1], reports.Tonnes(e.Mass), reports.Tonnes(e.Mass95[0]), reports.Tonnes(e.Mass95[1]))
	}
	if err := t.Flush(); err != nil {
		return outputFault(err)
	}
	_, err := fmt.Fprint(w, inventoryNotes(l))
	return outputFault(err)
}

func inventoryNotes(l *reports.InventoryList) string {
	var b strings.Builder
	notes := map[string]bool{}
	for _, r := range l.Rows {
		if r.Note != "" && !notes[r.Finding.Species] {
			notes[r.Finding.Species] = true
			fmt.Fprintf(&b, "%s: %s.\n", printable(r.Finding.Species), r.Note)
		}
	}
	for _, s := range l.Assumptions() {
		fmt.Fprintln(&b, s)
	}
	fmt.Fprintln(&b, reports.InventoryCaution)
	return b.String()
}

// inventoryEntry is one row as JSON.
type inventoryEntry struct {
	ID, Name, Species, Unit string
	RimExcess, RimExcessSE  float64
	Inventory               ejecta.Inventory
	Note                    string
}

func inventoryJSON(l *reports.InventoryList) any {
	out := struct {
		Caution     string
		Assumptions []string
		Craters     []inventoryEntry
	}{reports.InventoryCaution, l.Assumptions(), []inventoryEntry{}}
	for _, r := range l.Rows {
		out.Craters = append(out.Craters, inventoryEntry{printable(r.Crater.ID), printable(r.Crater.Name), printable(r.Finding.Species), r.Finding.Unit,
			r.Finding.RimExcess, r.Finding.RimExcessSE, r.Entry, r.Note})
	}
	return plain(out)
}
