package study

import (
	"slices"

	"rimcast/ejecta/testblanket"
)

// Plan is how much a study does.
type Plan struct {
	Seed       uint64
	Noise      []string  // types of noise, as testblanket names them
	Radius     float64   // of the craters, pixels
	Maps       int       // maps of each noise type
	PerMap     int       // sites of each map
	Blankets   bool      // size under symmetric blankets too
	Power      []string  // noise types of the power table
	PowerSites int       // sites of each line of it
	Centre     bool      // power with the default centre error too
	Points     []float64 // oracle powers at which amplitudes are set
	Depth      []string  // noise types of the tables of amplitude, class, contrast and catalogue
	SNR        []float64 // of the amplitude table
	Classes    int       // draws of each row of a confusion matrix
	Z          []float64 // of the confusion matrices and contrasts
	Pairs      int       // species pairs of each line
	Catalogues int
	// CatalogueMaps are maps of their own for the catalogues, with 400 sites
	// each; 0 takes the sites of the other tables, whose few extremes then come
	// back in every catalogue.
	CatalogueMaps int
	OtherRadii    []float64 // sizes at which the false-alarm rate is checked too
	Tables        []string  // kinds of tables to make, see [TableKinds]; empty makes all
}

// TableKinds are the kinds of tables that a plan can be cut down to.
func TableKinds() []string {
	return []string{"size", "power", "amplitude", "class", "contrast", "catalogue", "radius"}
}

// makes reports whether a plan has a kind of tables.
func (p Plan) makes(kind string) bool {
	return len(p.Tables) == 0 || contains(p.Tables, kind)
}

// worldSeed is the seed of the maps of a noise type: the same whichever other
// types are done.
func (p Plan) worldSeed(name string) uint64 {
	return p.Seed + uint64(max(0, slices.Index(testblanket.NoiseNames(), name)))
}

// Full is the whole study: half an hour on two processors.
func Full(seed uint64) Plan {
	names := testblanket.NoiseNames()
	return Plan{
		Seed: seed, Noise: names, Radius: 8, Maps: 6, PerMap: 350, Blankets: true,
		Power: names, PowerSites: 300, Centre: true, Points: []float64{0.5, 0.9},
		Depth: []string{"white", "exp5"}, SNR: []float64{3, 6, 12, 25}, Classes: 250, Z: []float64{5, 8, 12},
		Pairs: 2000, Catalogues: 60, CatalogueMaps: 8, OtherRadii: []float64{4, 6, 12},
	}
}

// Part is the plan with a share of its draws, at least a few of each.
func (p Plan) Part(share float64) Plan {
	for _, n := range []*int{&p.PerMap, &p.PowerSites, &p.Classes, &p.Pairs, &p.Catalogues} {
		*n = max(6, int(share*float64(*n)))
	}
	return p
}

// Quick is the small study that runs with every test: seconds.
func Quick(seed uint64) Plan {
	return Plan{
		Seed: seed, Noise: []string{"exp5-stripe"}, Radius: 6, Maps: 1, PerMap: 150,
		Power: []string{"exp5-stripe"}, PowerSites: 32, Points: []float64{0.9},
		Depth: []string{"exp5-stripe"}, SNR: []float64{12}, Classes: 15, Z: []float64{8}, Pairs: 100, Catalogues: 10,
	}
}

// Results are the tables of a study.
type Results struct {
	Plan       Plan
	Sizes      []sizeResult
	OtherSizes []sizeResult
	Powers     []powerResult
	Amplitudes []amplitudeResult
	Confusions []confusion
	Contrasts  []contrastResult
	Catalogues []catalogueResult
}

// Run does a study. progress is told what begins; it may be nil.
func Run(p Plan, progress func(string)) (*Results, error) {
	if progress == nil {
		progress = func(string) {}
	}
	r := &Results{Plan: p}
	for _, name := range p.Noise {
		progress(name)
		w, err := newWorld(name, p.Radius, p.Maps, p.PerMap, p.worldSeed(name))
		if err != nil {
			return nil, err
		}
		if err := r.tables(w, progress); err != nil {
			return nil, err
		}
	}
	if !p.makes("radius") {
		return r, nil
	}
	return r, r.others(progress)
}

func contains(list []string, name string) bool { return slices.Contains(list, name) }

// tables makes the tables of one world.
func (r *Results) tables(w *world, progress func(string)) error {
	p := r.Plan
	if p.makes("size") {
		r.Sizes = append(r.Sizes, w.sizeOf(p.Blankets))
	}
	if contains(p.Power, w.name) && p.makes("power") {
		progress(w.name + ": power")
		r.power(w)
	}
	if contains(p.Depth, w.name) {
		progress(w.name + ": amplitudes, classes, contrasts")
		r.depth(w)
	}
	if p.makes("catalogue") {
		return r.catalogues(w)
	}
	return nil
}

func (r *Results) power(w *world) {
	w.centreError = r.Plan.Centre
	for _, k := range kinds() {
		for _, target := range r.Plan.Points {
			r.Powers = append(r.Powers, w.powerOf(k, target, r.Plan.PowerSites))
		}
	}
}

func (r *Results) depth(w *world) {
	if r.Plan.makes("amplitude") {
		r.amplitudes(w)
	}
	if r.Plan.makes("class") {
		r.classes(w)
	}
	if r.Plan.makes("contrast") {
		r.contrasts(w)
	}
}

func (r *Results) amplitudes(w *world) {
	for _, snr := range r.Plan.SNR {
		r.Amplitudes = append(r.Amplitudes, w.amplitudeOf(snr))
	}
}

func (r *Results) classes(w *world) {
	shapes := w.shapes(max(10, r.Plan.Classes/5))
	for _, z := range r.Plan.Z {
		r.Confusions = append(r.Confusions, w.confuse(shapes, z, r.Plan.Classes))
	}
}

func (r *Results) contrasts(w *world) {
	for _, c := range contrastCases() {
		for _, z := range r.Plan.Z {
			r.Contrasts = append(r.Contrasts, w.contrastOf(c, z, r.Plan.Pairs))
		}
	}
}

// catalogues checks the false-discovery control under full coverage.
func (r *Results) catalogues(w *world) error {
	if w.gaps() {
		return nil
	}
	if n := r.Plan.CatalogueMaps; n > 0 {
		var err error
		if w, err = newWorld(w.name, w.radius, n, 400, w.seed+1000); err != nil {
			return err
		}
	}
	r.Catalogues = append(r.Catalogues, w.catalogueOf(r.Plan.Catalogues))
	return nil
}

// others checks the false-alarm rate at other crater sizes.
func (r *Results) others(progress func(string)) error {
	for _, radius := range r.Plan.OtherRadii {
		for i, name := range []string{"white", "exp5", "exp5-stripe"} {
			progress(name + " at other sizes")
			w, err := newWorld(name, radius, 2, r.Plan.PerMap, r.Plan.Seed+uint64(100+i))
			if err != nil {
				return err
			}
			r.OtherSizes = append(r.OtherSizes, w.sizeOf(false))
		}
	}
	return nil
}
