package main

import (
	"math"

	"rimcast/raster"
)

// Error maps say where a species was measured better or worse. They do not
// weigh single pixels; they scale the variance of the map's own scatter from
// place to place.

// sigmaLayer is the error map of one species of a group.
type sigmaLayer struct {
	layer   int     // number within the group's set
	typical float64 // median variance over the map
	squared bool    // values are variances already
}

// sigmaRatio bounds how far an error map may move the local variance.
const sigmaRatio = 9.0

// openSigmas opens the error maps on their species' grids. Zeros are missing:
// no measurement is without error.
func (p *pipeline) openSigmas() error {
	for _, g := range p.groups {
		g.sigma = make([]*sigmaLayer, len(g.species))
		for k, species := range g.species {
			section := p.sv.Species[species]
			section.NoData = append(append([]float64(nil), section.NoData...), 0)
			l, err := p.sv.openSigma(&section, p.body)
			if err != nil {
				return err
			}
			if l == nil {
				continue
			}
			if !g.set.Layers[0].Grid().Same(l.Grid()) {
				l.Close()
				p.note("%s: the error map lies on another grid than the map and is not used", section.shownName())
				continue
			}
			if err := g.addSigma(k, l, section.SigmaIs == "variance"); err != nil {
				return err
			}
		}
	}
	return nil
}

func (g *group) addSigma(k int, l *raster.Layer, squared bool) error {
	g.set.Layers = append(g.set.Layers, l) // closed with the set
	s, err := l.Survey(0)
	if err != nil {
		return err
	}
	typical := s.Median
	if !squared {
		typical *= typical
	}
	g.sigma[k] = &sigmaLayer{len(g.set.Layers) - 1, typical, squared}
	return nil
}

// ratio is the mean variance round a place over the typical one of the map; 1
// where the error map has nothing to say.
func (s *sigmaLayer) ratio(values []float32) float64 {
	sum, n := 0.0, 0
	for _, v := range values {
		x := float64(v)
		if !s.squared {
			x *= x
		}
		if x > 0 && v > 0 && !math.IsInf(x, 0) {
			sum += x
			n++
		}
	}
	if n == 0 || !(s.typical > 0) {
		return 1
	}
	return math.Max(1/sigmaRatio, math.Min(sigmaRatio, sum/float64(n)/s.typical))
}
