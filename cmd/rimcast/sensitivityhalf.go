package main

import "math"

// nullsOf are the numbers of the null positions of a key that hold products.
func (p *pipeline) nullsOf(key scaleKey) (places []int) {
	for i, n := range p.nulls {
		if r := n.result[key.species]; n.level == key.level && n.class == key.class && r.ok {
			places = append(places, i)
		}
	}
	return places
}

// halfScales are the null scales that fit each half of some null positions, even
// and odd by turns; a position is judged by the scale of the other half.
func (p *pipeline) halfScales(key scaleKey, places []int) [2]float64 {
	var half [2]nullScale
	for k, i := range places {
		q := p.nulls[i].result[key.species].evidence.Probe(p.set)
		s := &half[k%2]
		if !math.IsNaN(q.Omnibus) {
			s.omnibus = append(s.omnibus, q.Omnibus/12)
		}
		if !math.IsNaN(q.Z) {
			s.excess = append(s.excess, q.Z*q.Z)
		}
	}
	for k := range half {
		half[k].settle()
	}
	return [2]float64{half[0].lambda, half[1].lambda}
}

// splitHalves are the p-values at the null positions of a key, each with the null
// scale of the half that it is not in.
func (p *pipeline) splitHalves(key scaleKey) (direction, excess []float64, err error) {
	places := p.nullsOf(key)
	scales := p.halfScales(key, places)
	found := make([][2]float64, len(places))
	err = parallel(p.workers(), len(places), func(k int) {
		i := places[k]
		f := p.nulls[i].result[key.species].evidence.Measure(p.set, scales[1-k%2], p.sv.Tests.Seed+uint64(i)).Finding
		found[k] = [2]float64{f.AsymmetryP, f.ExcessP}
	})
	for _, f := range found {
		if !math.IsNaN(f[0]) {
			direction = append(direction, f[0])
		}
		if !math.IsNaN(f[1]) {
			excess = append(excess, f[1])
		}
	}
	return direction, excess, err
}
