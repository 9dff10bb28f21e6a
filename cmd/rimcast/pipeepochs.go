package main

import (
	"math"
	"slices"

	"rimcast/ejecta"
	"rimcast/geom"
)

// Times of day: one species mapped several times. Each is measured like any
// species, and once more on the ground that all of them show.

// epochSet is a species with more than one time of day.
type epochSet struct {
	name    string
	species []int // numbers of its maps, in the order of the day where that is known
}

// gatherEpochs finds the species that were mapped several times.
func (p *pipeline) gatherEpochs() {
	p.epochSets = nil
	for i := range p.sv.Species {
		name := p.sv.Species[i].Name
		if k := slices.IndexFunc(p.epochSets, func(s epochSet) bool { return s.name == name }); k >= 0 {
			p.epochSets[k].species = append(p.epochSets[k].species, i)
			continue
		}
		p.epochSets = append(p.epochSets, epochSet{name, []int{i}})
	}
	p.epochSets = slices.DeleteFunc(p.epochSets, func(s epochSet) bool { return len(s.species) < 2 })
}

// epochsOf lists the maps of the species that a map is of; nil for a species
// mapped once.
func (p *pipeline) epochsOf(species int) []int {
	for _, s := range p.epochSets {
		if slices.Contains(s.species, species) {
			return s.species
		}
	}
	return nil
}

// openEpochs finds the times of day, and opens for each grid the maps of the
// other grids that its own species must share ground with.
func (p *pipeline) openEpochs() error {
	p.gatherEpochs()
	for _, g := range p.groups {
		for _, other := range p.elsewhere(g) {
			l, err := p.sv.openLayer(&p.sv.Species[other], p.body)
			if err != nil {
				return err
			}
			g.beside = append(g.beside, besideLayer{layer: l, section: &p.sv.Species[other], epoch: other + 1})
		}
	}
	return nil
}

// elsewhere lists the maps on other grids of the species of a group.
func (p *pipeline) elsewhere(g *group) (out []int) {
	here := func(i int) bool { return slices.Contains(g.species, i) }
	for _, s := range p.epochSets {
		if slices.ContainsFunc(s.species, here) {
			out = append(out, slices.DeleteFunc(slices.Clone(s.species), here)...)
		}
	}
	return out
}

// checkEpoch refuses times of day that cannot be.
func (sv *surveyFile) checkEpoch(n namedLayer) error {
	l := n.layer
	if n.section != "species" && (l.LocalTime != nil || l.Subsolar != nil) {
		return usage(n.label()+" has local_time_h or subsolar_lat_deg", "these belong to a [[species]] section")
	}
	if l.LocalTime != nil {
		if err := sv.within(n.label()+": local_time_h", *l.LocalTime, 0, 24, "a local time, in hours,"); err != nil {
			return err
		}
	}
	if l.Subsolar != nil {
		return sv.within(n.label()+": subsolar_lat_deg", *l.Subsolar, -90, 90, "the latitude of the subsolar point, in degrees,")
	}
	return nil
}

// dayTimes is what the layers round a place say about the time of day.
type dayTimes struct {
	hours, suns map[string]float64 // by epoch, "" for a layer without one
	elsewhere   [][]float64        // by species: its values where it lies on another grid
}

func (d *dayTimes) begin(species int) {
	d.hours, d.suns = map[string]float64{}, map[string]float64{}
	d.elsewhere = make([][]float64, species)
}

// addHours takes the mean of a layer of local times near the crater.
func (d *dayTimes) addHours(section *layerSection, rho, values []float64) {
	if d.hours != nil {
		d.hours[section.Epoch], _ = ejecta.HourMean(nearValues(rho, values), nil)
	}
}

// addSun takes the mean direction of a layer of the sun's azimuth.
func (d *dayTimes) addSun(section *layerSection, rho, values []float64) {
	near := nearValues(rho, values)
	for i, v := range near {
		near[i] = section.northAzimuth(v) * math.Pi / 180
	}
	if mean, _ := ejecta.CircularMean(near, nil); d.suns != nil {
		d.suns[section.Epoch] = mean * 180 / math.Pi
	}
}

func nearValues(rho, values []float64) (near []float64) {
	for i, v := range values {
		if rho[i] < azimuthReach && !math.IsNaN(v) {
			near = append(near, v)
		}
	}
	return near
}

// hourOf is the local time of a map at the last place: as the survey says, else
// by the layer of its epoch, else by one without an epoch. NaN when unknown.
func (b *siteBuilder) hourOf(species int) float64 {
	l := &b.p.sv.Species[species]
	if l.LocalTime != nil {
		return math.Mod(*l.LocalTime, 24)
	}
	return either(b.day.hours, l.Epoch)
}

func either(m map[string]float64, epoch string) float64 {
	for _, k := range []string{epoch, ""} {
		if v, ok := m[k]; ok {
			return v
		}
	}
	return math.NaN()
}

// epochSun is the azimuth of the sun for one time of day: by its own layer, else
// from its local time, else by a layer without an epoch.
func (b *siteBuilder) epochSun(species int, at geom.LonLat) float64 {
	l := &b.p.sv.Species[species]
	if v, ok := b.day.suns[l.Epoch]; ok && l.Epoch != "" {
		return v
	}
	if hour := b.hourOf(species); !math.IsNaN(hour) {
		subsolar := 0.0
		if l.Subsolar != nil {
			subsolar = *l.Subsolar
		}
		return ejecta.SunAzimuth(hour, at.Lat, subsolar)
	}
	return either(b.day.suns, "")
}

// sunOf is the azimuth for the alarm of the sun: a species whose time of day the
// survey names has its own.
func (b *siteBuilder) sunOf(species int, at geom.LonLat) float64 {
	if l := &b.p.sv.Species[species]; l.Epoch == "" && l.LocalTime == nil {
		return b.sun
	}
	if v := b.epochSun(species, at); !math.IsNaN(v) {
		return v
	}
	return b.sun
}

// comparable reports whether the shapes of two maps are worth a contrast: not
// those of two species at two different times of day.
func (p *pipeline) comparable(a, b int) bool {
	x, y := &p.sv.Species[a], &p.sv.Species[b]
	return x.Name == y.Name || x.Epoch == y.Epoch || x.Epoch == "" || y.Epoch == ""
}
