package reports

import (
	"fmt"
	"io"
	"iter"
	"math"
	"path/filepath"

	"rimcast/ejecta"
	"rimcast/geom"
)

// InventoryCaution is printed with every inventory.
const InventoryCaution = "Not for decisions about landing sites, life support, traverses or resources, which belong to licensed and qualified practitioners and their procedures: the maps see the top of the ground only, and depth, mixing and density are assumed, not measured."

// InventoryMark is the file by which a directory of an inventory is known.
const InventoryMark = "inventory.csv"

// InventoryList is an inventory of craters with what was assumed for it.
type InventoryList struct {
	Settings ejecta.InventorySettings
	Rows     []InventoryRow
}

// InventoryRow is the inventory of one crater and species.
type InventoryRow struct {
	Crater  geom.Crater
	Finding *ejecta.Finding
	Entry   ejecta.Inventory
	Note    string // why there is no mass
	set     *ejecta.InventorySettings
}

// Add appends a row.
func (l *InventoryList) Add(r InventoryRow) { l.Rows = append(l.Rows, r) }

// Assumptions are sentences for people.
func (l *InventoryList) Assumptions() []string {
	s := &l.Settings
	return []string{
		"Thickness of the blanket: " + s.Thickness.Source + ".",
		"Depth dug out: " + s.Depth.Source + ".",
		fmt.Sprintf("Density of the blanket: %g to %g kg/m3.", s.Density.Lo, s.Density.Hi),
		fmt.Sprintf("Share of the thickness that holds the excess seen at its surface: %g to %g. No map tells it.", s.Mixing.Lo, s.Mixing.Hi),
		fmt.Sprintf("The blanket ends at %g crater radii; the excess falls off as fitted, or with the third power where no exponent was.", s.Outer),
		fmt.Sprintf("Intervals: the middle 95 %% of %d draws (seed %d) of excess and exponent within their errors, density and share within their bounds, and thickness between all laws; values: the law named, the middle of the bounds.", s.Draws, s.Seed),
	}
}

var inventoryTable = table[InventoryRow]{
	file: InventoryMark, title: "one row per crater and species: what the blanket may hold, under the assumptions of the row",
	key:     []string{"crater_id", "species"},
	columns: append(inventoryNumbers(), inventoryAssumed()...),
}

func inventoryNumbers() []column[InventoryRow] {
	return []column[InventoryRow]{
		words("crater_id", "id of the crater", func(r InventoryRow) string { return r.Crater.ID }),
		words("name", "name of the crater", func(r InventoryRow) string { return r.Crater.Name }),
		amount("radius_m", "m", "rim radius", func(r InventoryRow) float64 { return r.Crater.Radius }),
		words("species", "species", func(r InventoryRow) string { return r.Finding.Species }),
		words("unit", "unit of the species", func(r InventoryRow) string { return r.Finding.Unit }),
		amount("rim_excess", "species", "fitted excess at the rim", func(r InventoryRow) float64 { return r.Finding.RimExcess }),
		amount("rim_excess_se", "species", "its standard error", func(r InventoryRow) float64 { return r.Finding.RimExcessSE }),
		amount("excavation_m", "m", "greatest depth dug out", func(r InventoryRow) float64 { return r.Entry.Depth }),
		amount("thickness_rim_m", "m", "thickness of the blanket at the rim", func(r InventoryRow) float64 { return r.Entry.ThicknessRim }),
		amount("thickness_rim_least_m", "m", "the least of all laws", func(r InventoryRow) float64 { return r.Entry.ThicknessAll[0] }),
		amount("thickness_rim_most_m", "m", "the largest of all laws", func(r InventoryRow) float64 { return r.Entry.ThicknessAll[1] }),
		amount("blanket_m3", "m3", "volume of the blanket", func(r InventoryRow) float64 { return r.Entry.Volume }),
		amount("excess_mass_kg", "kg", "mass of the excess in the blanket", func(r InventoryRow) float64 { return r.Entry.Mass }),
		amount("excess_mass_lo95_kg", "kg", "lower end of its 95 % interval", func(r InventoryRow) float64 { return r.Entry.Mass95[0] }),
		amount("excess_mass_hi95_kg", "kg", "upper end of its 95 % interval", func(r InventoryRow) float64 { return r.Entry.Mass95[1] }),
		words("note", "why there is no mass", func(r InventoryRow) string { return r.Note }),
	}
}

func inventoryAssumed() []column[InventoryRow] {
	return []column[InventoryRow]{
		words("thickness_law", "law of the thickness, with source", func(r InventoryRow) string { return r.set.Thickness.Source }),
		words("excavation_law", "law of the depth dug out, with source", func(r InventoryRow) string { return r.set.Depth.Source }),
		amount("density_lo", "kg/m3", "least density assumed", func(r InventoryRow) float64 { return r.set.Density.Lo }),
		amount("density_hi", "kg/m3", "largest density assumed", func(r InventoryRow) float64 { return r.set.Density.Hi }),
		amount("mixed_share_lo", "", "least share of the thickness assumed to hold the excess", func(r InventoryRow) float64 { return r.set.Mixing.Lo }),
		amount("mixed_share_hi", "", "largest share assumed", func(r InventoryRow) float64 { return r.set.Mixing.Hi }),
		amount("outer_radii", "crater radii", "where the blanket is taken to end", func(r InventoryRow) float64 { return r.set.Outer }),
		words("caution", "what this is not for", func(InventoryRow) string { return InventoryCaution }),
	}
}

func (l *InventoryList) rows() iter.Seq[InventoryRow] {
	return func(yield func(InventoryRow) bool) {
		for _, r := range l.Rows {
			r.set = &l.Settings
			if !yield(r) {
				return
			}
		}
	}
}

// WriteInventory writes table, text, JSON and schema into dir.
func WriteInventory(dir string, l *InventoryList, text func(io.Writer) error, asJSON func(io.Writer) error) error {
	for _, f := range []file{
		{InventoryMark, func(w io.Writer) error { return inventoryTable.write(w, l.rows()) }},
		{"inventory.txt", text},
		{"inventory.json", asJSON},
		{"schema.json", func(w io.Writer) error {
			return writeJSON(w, schemaFile{schemaText, []schemaResource{resource(inventoryTable)}})
		}},
	} {
		if err := writeFile(filepath.Join(dir, f.name), f.write); err != nil {
			return err
		}
	}
	return nil
}

// Tonnes is a mass for people; NaN is a dash.
func Tonnes(kg float64) string {
	if math.IsNaN(kg) {
		return "-"
	}
	return fmt.Sprintf("%.2g", kg/1000)
}
