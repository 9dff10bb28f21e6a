package main

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/raster"
	"rimcast/reports"
)

// The excess map of a crater is what its rings and sectors average: every pixel
// less the background and the fitted symmetric blanket. It has the pixels of
// the species' own map, so that nothing is resampled and it lies on top of it.

// excessMaps writes excess-SPECIES.tif for every measured species of a crater.
func (a *app) excessMaps(ctx context.Context, dir string, whole, one *reports.Survey, path string) error {
	sv, err := (&surveyFlags{}).build(path, a.stdin)
	if err != nil {
		return err
	}
	if err := sv.check(); err != nil {
		return err
	}
	if err := sameMaps(ctx, sv, whole.Manifest.Inputs); err != nil {
		return err
	}
	for i := range sv.Species {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := a.excessMap(dir, sv, &sv.Species[i], whole, one); err != nil {
			return err
		}
	}
	return nil
}

// sameMaps refuses species maps that are not those of the result: the excess
// would be taken over a background of another map.
func sameMaps(ctx context.Context, sv *surveyFile, measured []reports.Input) error {
	files, err := inputFiles(sv)
	if err != nil {
		return err
	}
	was := map[string]reports.Input{}
	for _, in := range measured {
		was[in.Role] = in
	}
	var maps []inputFile
	for _, f := range files {
		if strings.HasPrefix(f.role, "species ") {
			maps = append(maps, f)
		}
	}
	now, err := startHashing(ctx, maps).wait()
	if err != nil {
		return err
	}
	for _, in := range now {
		if old := was[in.Role]; old.SHA256 != in.SHA256 {
			return refuse(fmt.Sprintf("%s, %s, is not the map that the result was measured on", in.Role, in.Path), "give the survey file of the result, or screen again")
		}
	}
	return nil
}

// excessMap writes the map of one species; a crater without a measured
// background has none.
func (a *app) excessMap(dir string, sv *surveyFile, section *layerSection, whole, one *reports.Survey) error {
	f, ok := findingOf(one, section.shownName())
	if !ok || !f.Status.Measured() || math.IsNaN(f.Background) || len(f.Radial) == 0 {
		a.msg.warn("no excess map of %s: it has no measured background", section.shownName())
		return nil
	}
	l, err := sv.openLayer(section, whole.Body)
	if err != nil {
		return err
	}
	defer l.Close()
	c := one.Catalogue.Craters[0]
	m, err := newExcessMap(l, whole.Body, c, f, maskedOf(whole, c.ID))
	if err != nil {
		return err
	}
	return m.write(filepath.Join(dir, "excess-"+reports.SafeName(section.shownName())+".tif"), l.Info(), section)
}

func findingOf(one *reports.Survey, species string) (ejecta.Finding, bool) {
	for _, f := range one.Findings {
		if f.Species == species {
			return f, true
		}
	}
	return ejecta.Finding{}, false
}

// excessMap is a window of a species' map.
type excessMap struct {
	grid   raster.Grid
	values []float32
	crater geom.Crater
	f      ejecta.Finding
}

// newExcessMap reads the pixels within the rings. Those within the rim, where
// there is no blanket, and those of masked neighbours are missing.
func newExcessMap(l *raster.Layer, body geom.Body, c geom.Crater, f ejecta.Finding, discs []maskedDisc) (*excessMap, error) {
	var patch raster.Patch
	outer := f.Radial[len(f.Radial)-1].RhoHi
	if err := l.Grid().Geometry(body, c.Centre, outer*c.Radius, 0, &patch); err != nil {
		return nil, err
	}
	if err := (&raster.LayerSet{Layers: []*raster.Layer{l}}).Fill(&patch); err != nil {
		return nil, err
	}
	m := &excessMap{crater: c, f: f}
	x0, y0, err := m.window(l.Grid(), &patch)
	if err != nil {
		return nil, err
	}
	for i, v := range patch.Values[0] {
		rho := patch.R[i] / c.Radius
		if rho < 1 || anyDisc(discs, l.Grid(), &patch, i) {
			continue
		}
		m.values[(patch.Row(i)-y0)*m.grid.Width+patch.Column(i)-x0] = float32(float64(v) - f.Background - symmetricPart(f, rho))
	}
	return m, nil
}

// symmetricPart is the fitted blanket at a range, nothing where none was
// fitted.
func symmetricPart(f ejecta.Finding, rho float64) float64 {
	if v := f.RimExcess * math.Pow(rho, -f.Decay); !math.IsNaN(v) {
		return v
	}
	return 0
}

// window makes room for the pixels of a patch and returns its first column and
// row in the map. Columns run on across the edge of a map round the body.
func (m *excessMap) window(g *raster.Grid, patch *raster.Patch) (x0, y0 int, err error) {
	if patch.Len() == 0 {
		return 0, 0, usage("the crater is not on the map", "")
	}
	x0, y0 = math.MaxInt, math.MaxInt
	x1, y1 := math.MinInt, math.MinInt
	for i := range patch.Len() {
		x, y := patch.Column(i), patch.Row(i)
		x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x+1), max(y1, y+1)
	}
	geo := g.Geo
	geo[0] += float64(x0)*geo[1] + float64(y0)*geo[2]
	geo[3] += float64(x0)*geo[4] + float64(y0)*geo[5]
	if m.grid, err = raster.NewGrid(x1-x0, y1-y0, geo, g.Proj, g.Body); err != nil {
		return 0, 0, err
	}
	m.values = make([]float32, m.grid.Width*m.grid.Height)
	for i := range m.values {
		m.values[i] = float32(math.NaN())
	}
	return x0, y0, nil
}

// write writes a cloud-optimised GeoTIFF in the reference system of the map.
func (m *excessMap) write(path string, info raster.Info, section *layerSection) error {
	opt := raster.WriteOptions{COG: true, Metadata: map[string]string{
		"CRATER_ID": printable(m.crater.ID), "SPECIES": printable(section.shownName()),
		"MEANING":    "value less background less the fitted symmetric blanket; missing within the rim, beyond the rings and on masked neighbours",
		"BACKGROUND": number(m.f.Background), "RIM_EXCESS": number(m.f.RimExcess), "DECAY_EXPONENT": number(m.f.Decay),
	}}
	if !info.LonWest && !info.Earth {
		opt.CRS = info.CRS
	}
	band := raster.Band{Name: "excess of " + section.shownName() + " over the symmetric blanket", Unit: m.f.Unit, Values: m.values}
	return raster.WriteGeoTIFF(path, &m.grid, []raster.Band{band}, opt)
}

// maskedDisc is ground of a neighbour.
type maskedDisc struct {
	frame  *geom.Frame
	radius float64
}

// maskedOf are the neighbours' discs masked at a crater.
func maskedOf(s *reports.Survey, id string) (out []maskedDisc) {
	for _, m := range s.Masked {
		if s.Catalogue.Craters[m.CraterIndex].ID == id {
			out = append(out, maskedDisc{geom.NewFrame(s.Body, s.Catalogue.Craters[m.Neighbour].Centre), m.Radius})
		}
	}
	return out
}

func anyDisc(discs []maskedDisc, g *raster.Grid, patch *raster.Patch, i int) bool {
	if len(discs) == 0 {
		return false
	}
	q, ok := g.LonLat(float64(patch.Column(i))+0.5, float64(patch.Row(i))+0.5)
	return ok && slices.ContainsFunc(discs, func(d maskedDisc) bool { return d.covers(q) })
}

func (d maskedDisc) covers(q geom.LonLat) bool {
	r, _ := d.frame.Polar(q)
	return r < d.radius
}
