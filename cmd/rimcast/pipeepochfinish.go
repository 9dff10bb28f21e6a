package main

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"rimcast/ejecta"
	"rimcast/geom"
)

// persistences tests every species with several times of day at every crater,
// and raises the alarms that need them.
func (p *pipeline) persistences() []ejecta.Persistence {
	p.labelEpochs()
	var out []ejecta.Persistence
	for k := range p.epochSets {
		p.orderEpochs(&p.epochSets[k])
		p.noteOrder(&p.epochSets[k])
	}
	noise := p.newEpochNoises()
	for i := range p.cat.Craters {
		for k := range p.epochSets {
			out = append(out, ejecta.NewPersistence(p.epochsAt(i, k), noise.at(i, k), p.set.Alpha))
		}
	}
	tested := ejecta.CorrectPersistence(out, p.sieved()*len(p.epochSets))
	if len(p.epochSets) > 0 {
		p.notes = append(p.notes, fmt.Sprintf("Whether blankets stay through the day was tested %d times; q is over these.", tested))
	}
	p.epochAlarms(out)
	return out
}

// labelEpochs writes into every time of day whose it is.
func (p *pipeline) labelEpochs() {
	for i := range p.epochs {
		e, species := &p.epochs[i], i%len(p.sv.Species)
		e.CraterIndex, e.Unit = i/len(p.sv.Species), p.unitOf(species)
		e.Species, e.Epoch = p.sv.Species[species].Name, p.sv.Species[species].Epoch
	}
}

// epochsAt are the times of day of a crater and set.
func (p *pipeline) epochsAt(crater, set int) (list []*ejecta.EpochFinding) {
	for _, species := range p.epochSets[set].species {
		list = append(list, p.epoch(crater, species))
	}
	return list
}

// epochList is all times of day, crater by crater, in the order of the sets.
func (p *pipeline) epochList() (list []ejecta.EpochFinding) {
	for i := range p.cat.Craters {
		for k := range p.epochSets {
			for _, e := range p.epochsAt(i, k) {
				list = append(list, *e)
			}
		}
	}
	return list
}

// orderEpochs puts the maps of a species into the order of the day by their mean
// local time over the craters, when all are known; the day begins at midnight.
func (p *pipeline) orderEpochs(s *epochSet) {
	hours := map[int]float64{}
	for _, species := range s.species {
		var list []float64
		for i := range p.cat.Craters {
			list = append(list, p.epoch(i, species).LocalTime)
		}
		hour, _ := ejecta.HourMean(list, nil)
		if math.IsNaN(hour) {
			return
		}
		hours[species] = hour
	}
	slices.SortStableFunc(s.species, func(a, b int) int {
		if hours[a] < hours[b] {
			return -1
		}
		return 1
	})
}

func (p *pipeline) noteOrder(s *epochSet) {
	var names []string
	for _, species := range s.species {
		names = append(names, p.sv.Species[species].Epoch)
	}
	p.notes = append(p.notes, fmt.Sprintf("%s was mapped %d times: %s.", s.name, len(names), strings.Join(names, ", ")))
}

// epochAlarms adds the alarms of the times of day to every finding.
func (p *pipeline) epochAlarms(list []ejecta.Persistence) {
	sets, none := len(p.epochSets), ejecta.EpochAlarms(nil, p.set.Alpha)
	for i := range p.findings {
		f := &p.findings[i]
		if !f.Status.Measured() {
			continue
		}
		var own *ejecta.Persistence
		for k, s := range p.epochSets {
			if slices.Contains(s.species, i%len(p.sv.Species)) {
				own = &list[i/len(p.sv.Species)*sets+k]
			}
		}
		p.addEpochAlarms(f, own, none)
	}
}

// addEpochAlarms adds those of one finding. All findings without times of day
// share what they have: it says only that nothing was run.
func (p *pipeline) addEpochAlarms(f *ejecta.Finding, own *ejecta.Persistence, none []ejecta.Alarm) {
	switch {
	case own != nil:
		f.Alarms = append(f.Alarms, ejecta.EpochAlarms(own, p.set.Alpha)...)
	case len(f.Alarms) == 0:
		f.Alarms = none[:len(none):len(none)]
	default:
		f.Alarms = append(f.Alarms, none...)
	}
}

// epochNoises holds the noise that the times of day of each set share, by class
// of sizes.
type epochNoises struct {
	p     *pipeline
	byKey []map[scaleKey]ejecta.EpochNoise // by set
	all   []ejecta.EpochNoise
}

func (p *pipeline) newEpochNoises() epochNoises {
	n := epochNoises{p: p}
	for k, s := range p.epochSets {
		places := map[scaleKey][][][]float64{}
		var all [][][]float64
		for i := range p.nulls {
			scores := p.scaledScores(&p.nulls[i], s.species)
			key := scaleKey{0, p.nulls[i].level, p.nulls[i].class}
			places[key], all = append(places[key], scores), append(all, scores)
		}
		apart := p.nullsApart(s.species)
		n.byKey = append(n.byKey, map[scaleKey]ejecta.EpochNoise{})
		for key, own := range places {
			one, _ := ejecta.NewEpochNoise(len(s.species), own, all)
			n.byKey[k][key] = one.AtMost(apart)
		}
		pooled, _ := ejecta.NewEpochNoise(len(s.species), nil, all)
		n.all = append(n.all, pooled.AtMost(apart))
	}
	return n
}

// apartRadii is how far apart null positions must be, in their radii, to count as
// two: the score of a blanket lives within less than half of that.
const apartRadii = 3

// nullsApart counts the null positions of a set that lie apart. On a small map
// many overlap, and know less than their number says.
func (p *pipeline) nullsApart(species []int) int {
	var kept []*nullSite
	for i := range p.nulls {
		n := &p.nulls[i]
		free := !slices.ContainsFunc(n.epochScores(species), func(s []float64) bool { return len(s) == 0 })
		for _, o := range kept {
			if !free {
				break
			}
			d, _ := p.body.Inverse(n.centre, o.centre)
			free = d > apartRadii*math.Max(n.radius, o.radius)
		}
		if free {
			kept = append(kept, n)
		}
	}
	return len(kept)
}

// scaledScores are the scores of a null position in the errors that a crater of
// its size has.
func (p *pipeline) scaledScores(n *nullSite, species []int) [][]float64 {
	out := n.epochScores(species)
	for k, scores := range out {
		root := 1.0
		if s := p.scales[scaleKey{species[k], n.level, n.class}]; s != nil {
			root = math.Sqrt(s.lambda)
		}
		out[k] = nil
		for _, x := range scores {
			out[k] = append(out[k], x/root)
		}
	}
	return out
}

func (n *nullSite) epochScores(species []int) (out [][]float64) {
	for _, s := range species {
		out = append(out, n.result[s].epoch)
	}
	return out
}

// at is the noise for a crater and set.
func (n epochNoises) at(crater, set int) ejecta.EpochNoise {
	site := n.p.sites[crater]
	if own, ok := n.byKey[set][scaleKey{0, site.level, sizeClass(site.pixels)}]; ok {
		return own
	}
	return n.all[set]
}

// savedNull is what a null position tells about the times of day.
type savedNull struct {
	Level, Class int
	Centre       geom.LonLat
	Radius       float64
	Scores       [][]float64 // by species
}

func (p *pipeline) saveEpochNulls() (out []savedNull) {
	for i := range p.nulls {
		if n := &p.nulls[i]; len(p.epochSets) > 0 {
			s := savedNull{Level: n.level, Class: n.class, Centre: n.centre, Radius: n.radius}
			for _, r := range n.result {
				s.Scores = append(s.Scores, r.epoch)
			}
			out = append(out, s)
		}
	}
	return out
}

func (p *pipeline) restoreEpochNulls(list []savedNull) {
	for i, s := range list {
		n := &p.nulls[i]
		n.level, n.class, n.centre, n.radius = s.Level, s.Class, s.Centre, s.Radius
		for k, scores := range s.Scores {
			n.result[k].epoch = scores
		}
	}
}

// checkEpochNulls refuses null positions that do not fit the survey.
func (s *partShared) checkEpochNulls(h partHeader) error {
	if len(s.Epochs) != 0 && len(s.Epochs) != len(s.Nulls) {
		return errors.New("its times of day do not fit its null positions")
	}
	for _, n := range s.Epochs {
		if len(n.Scores) != h.Species || !n.Centre.Valid() {
			return errors.New("a null position does not fit the times of day")
		}
		for _, scores := range n.Scores {
			if len(scores) != 0 && len(scores) != 5 {
				return errors.New("a null position has the wrong number of scores for a time of day")
			}
		}
	}
	return nil
}

// epochEntry is the time of day at a slot, for a part.
func (p *pipeline) epochEntry(slot int) *ejecta.EpochFinding {
	if p.epochs == nil || p.epochsOf(slot%len(p.sv.Species)) == nil {
		return nil
	}
	e := p.epochs[p.at(slot)]
	return &e
}

func (p *pipeline) restoreEpoch(e *partEntry) {
	if e.Epoch != nil && p.epochs != nil {
		p.epochs[p.at(e.Slot)] = *e.Epoch
	}
}
