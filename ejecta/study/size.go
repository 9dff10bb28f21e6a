package study

import (
	"rimcast/ejecta"
	"rimcast/ejecta/testblanket"
)

// levels are the nominal sizes.
var levels = []float64{0.05, 0.01, 0.001}

// sizes are the shares of p-values below each level.
type sizes struct {
	n     int
	below [3]int
}

func (s *sizes) add(p float64) {
	if !(p >= 0) {
		return
	}
	s.n++
	for i, l := range levels {
		if p < l {
			s.below[i]++
		}
	}
}

func (s *sizes) merge(o sizes) {
	s.n += o.n
	for i := range s.below {
		s.below[i] += o.below[i]
	}
}

func (s sizes) share(i int) float64 { return float64(s.below[i]) / float64(max(s.n, 1)) }

// sizeResult is what one world says about size.
type sizeResult struct {
	world            string
	radius           float64
	plain            sizes // direction, no blanket
	faint, strong    sizes // direction, under a blanket of 4 sigma_A and of 5 pixel sigma
	enrichment       sizes
	families         map[string]*sizes
	names            []string
	scaleLo, scaleHi float64
	untested         int
}

// symmetricBlanket is the blanket under which directions must not appear.
var symmetricBlanket = testblanket.Blanket{Pattern: "symmetric", Amplitude: 1, Interior: "filled"}

// sizeOf measures the false-alarm rates of a world; with blanket also under
// symmetric blankets.
func (w *world) sizeOf(blankets bool) sizeResult {
	r := sizeResult{world: w.name, radius: w.radius, families: map[string]*sizes{}, scaleLo: 9, scaleHi: 0}
	painted := w.bank(symmetricBlanket)
	found := make([][3]ejecta.Measurement, len(w.sites))
	each(len(w.sites), func(i int) {
		s := &w.sites[i]
		seed := w.seed + uint64(i)
		found[i][0] = s.evidence.Measure(ejecta.Settings{}, s.scale, seed)
		if !blankets || found[i][0].Direction == nil {
			return
		}
		found[i][1] = w.with(s, painted, 4*found[i][0].Blanket.Sigma).Measure(ejecta.Settings{}, s.scale, seed)
		found[i][2] = w.with(s, painted, 5).Measure(ejecta.Settings{}, s.scale, seed)
	})
	for i, f := range found {
		r.scaleLo, r.scaleHi = min(r.scaleLo, w.sites[i].scale), max(r.scaleHi, w.sites[i].scale)
		r.enrichment.add(f[0].Finding.ExcessP)
		if f[0].Direction == nil {
			r.untested++
			continue
		}
		r.plain.add(f[0].Finding.AsymmetryP)
		if blankets {
			r.faint.add(f[1].Finding.AsymmetryP)
			r.strong.add(f[2].Finding.AsymmetryP)
		}
		for _, q := range f[0].Finding.Families {
			if r.families[q.Name] == nil {
				r.families[q.Name] = &sizes{}
				r.names = append(r.names, q.Name)
			}
			r.families[q.Name].add(q.P)
		}
	}
	return r
}

// bank is a blanket of amplitude 1 ready for injection: pixel values by frame
// and, under full coverage, evidence by map and frame.
type bank struct {
	values   [][]float32
	evidence [][]*ejecta.Evidence
}

// bank prepares a blanket for all sites.
func (w *world) bank(b testblanket.Blanket) *bank {
	out := &bank{values: make([][]float32, len(w.frames))}
	for k, f := range w.frames {
		out.values[k] = f.paint(b)
	}
	if w.gaps() {
		return out
	}
	out.evidence = make([][]*ejecta.Evidence, len(w.maps))
	for m := range w.maps {
		out.evidence[m] = make([]*ejecta.Evidence, len(w.frames))
	}
	each(len(w.maps)*len(w.frames), func(i int) {
		m, k := i/len(w.frames), i%len(w.frames)
		out.evidence[m][k] = w.reduce(&site{m: m, frame: k}, w.noise[m], out.values[k])
	})
	return out
}

// with is the evidence of a site with a blanket of amplitude a.
func (w *world) with(s *site, b *bank, a float64) *ejecta.Evidence {
	if w.gaps() {
		return w.collect(s, w.noise[s.m], b.values[s.frame], a)
	}
	return s.evidence.Plus(b.evidence[s.m][s.frame], a)
}
