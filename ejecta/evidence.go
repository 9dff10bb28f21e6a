package ejecta

import (
	"math"
)

// Settings are the choices of a measurement. The zero value of each field
// takes the default in brackets.
type Settings struct {
	Outer        float64 // farthest range, crater radii [8]
	Rings        int     // [by size]
	Sectors      int     // [by size]
	MinCoverage  float64 // valid share of the ejecta range below which nothing is measured [0.3]
	MinPixels    int     // valid pixels needed in the ejecta range [12]
	Alpha        float64 // level at which an excess or a direction is claimed [0.01]
	Inner        float64 // nearest range of the tests, crater radii, no less than pixels allow [just outside the rim]
	CentreSigma  float64 // 1-sigma of the centre per axis when the catalogue gives none, crater radii [0.03]
	NoCovariates bool    // leave the covariates out of the nuisance
	NoStrips     bool    // leave the levels of the strips out of the nuisance
}

// WithDefaults fills the zero fields.
func (s Settings) WithDefaults() Settings {
	set := func(p *float64, v float64) {
		if *p == 0 {
			*p = v
		}
	}
	set(&s.Outer, 8)
	set(&s.MinCoverage, 0.3)
	set(&s.CentreSigma, 0.03)
	set(&s.Alpha, DefaultAlpha)
	if s.MinPixels == 0 {
		s.MinPixels = 12
	}
	return s
}

// Field is a quantity on the pixels of a site: a neighbour's blanket template
// or a covariate.
type Field struct {
	Name   string
	Kind   string    // of a covariate, as the survey names it
	Values []float64 // NaN where unknown
	Slope  *Slope    // of a covariate, as the map knows it; nil leaves it free
	Disc   Disc      // of a neighbour: where its rim lies; the zero value when unknown
}

// Site is one crater as one species sees it.
type Site struct {
	Samples     *Samples
	Values      []float32 // NaN = missing
	Masked      []bool    // neighbours; nil when none
	Neighbours  []Field   // rho_n^-3 outside each neighbour's rim
	Covariates  []Field
	Strips      []Field // from [StripFields]
	Noise       *Noise
	Variance    float64 // pixel variance here
	CentreSigma float64 // crater radii; 0 = the default of the settings
	RadiusSigma float64 // relative; 0 = exact

	// Shared is what the species at this place have in common; nil when none is.
	Shared *Shared

	// KeepGround lets the evidence hold the whitened columns, a megabyte, for
	// the alarm of a terrain contact.
	KeepGround bool
}

// Evidence is a site reduced to what every later question needs: the whitened
// products of values, templates and nuisance, and the plain means. The map is
// not needed again.
type Evidence struct {
	Status Status
	Note   string

	Layout      Layout
	PixelsPer   float64
	Pixels      int
	Spikes      int     // pixels that were left out
	Coverage    float64 // of the ejecta range, by area
	MaskShare   float64
	LargestHole float64 // widest azimuth range without cells near the rim, degrees
	FullShare   float64 // share of the ejecta range's cells that are complete
	Variance    float64
	CentreSigma float64
	RadiusSigma float64 // relative

	Gram       *Gram
	Offset     float64 // subtracted from the values before whitening
	Neighbours []string
	Covariates []string
	Strips     []string
	Rings      []RingSum
	Sectors    []SectorSum

	kinds  []string // of the covariates
	discs  []Disc   // of the neighbours
	sides  sidedNeighbours
	ground *ground // nil unless the site asked to keep it
}

// RingSum is the plain mean of a ring.
type RingSum struct {
	RhoLo, RhoHi float64
	Mean         float64
	Variance     float64 // of the mean, in units of the pixel variance
	Pixels, Full int
}

// SectorSum is the plain mean of a sector of the ejecta range and the mean
// place of its pixels.
type SectorSum struct {
	AzLo, AzHi  float64 // degrees
	Mean        float64
	Variance    float64
	Own         float64 // of Variance, what the sectors do not share
	East, North float64 // crater radii
	Pixels      int
	Full        int
}

// Collect reduces a site to its evidence. A site that cannot be measured
// carries the reason in Status and Note and no Gram matrix.
func Collect(site Site, set Settings) *Evidence {
	set = set.WithDefaults()
	site.Samples = site.Samples.withUnits()
	s := site.Samples
	e := &Evidence{Status: StatusOK, PixelsPer: s.PixelsPerRadius, Variance: site.Variance, CentreSigma: site.CentreSigma, RadiusSigma: site.RadiusSigma}
	if e.CentreSigma == 0 {
		e.CentreSigma = set.CentreSigma
	}
	if !(s.PixelsPerRadius >= MinRadialPixels) {
		return e.fail(StatusTooSmall, "rim radius %.2f pixels; a profile needs %.1f", s.PixelsPerRadius, MinRadialPixels)
	}
	e.Layout = NewLayout(s.PixelsPerRadius, set.Inner, set.Outer, set.Rings, set.Sectors)
	valid := e.validPixels(site)
	e.dropSpikes(site, valid)
	if !e.covered(s, valid, set) {
		return e
	}
	k := site.Shared.of(testCells, s, &e.Layout, valid)
	c := k.cells
	w := e.whitener(site, k, valid)
	if w == nil {
		return e
	}
	e.judgeCoverage(s, c, valid)
	e.ringSums(site, valid, w.rings)
	e.sectorSums(site, valid)
	return e
}

func (e *Evidence) validPixels(site Site) []bool {
	valid := make([]bool, len(site.Values))
	masked, inside := 0, 0
	for i, v := range site.Values {
		valid[i] = v == v && !math.IsInf(float64(v), 0)
		in := site.Samples.Rho[i] < e.Layout.Outer
		if in {
			inside++
		}
		if site.Masked != nil && site.Masked[i] {
			valid[i] = false
			if in {
				masked++
			}
		}
		if valid[i] && in {
			e.Pixels++
		}
	}
	if inside > 0 {
		e.MaskShare = float64(masked) / float64(inside)
	}
	return valid
}

// covered fails a site without enough valid ground near the rim.
func (e *Evidence) covered(s *Samples, valid []bool, set Settings) bool {
	good, all, near := 0.0, 0.0, 0
	for i, r := range s.Rho {
		if r < e.Layout.Inner || r > math.Max(excessOuter, 1.3*e.Layout.Inner) {
			continue
		}
		all += s.Area[i]
		if valid[i] {
			good += s.Area[i]
			near++
		}
	}
	if e.Pixels == 0 {
		e.fail(StatusNotCovered, "no valid pixel within %g radii", set.Outer)
		return false
	}
	if all > 0 {
		e.Coverage = good / all
	}
	if near < set.MinPixels {
		e.fail(StatusLowCoverage, "%d valid pixels near the rim; %d are needed", near, set.MinPixels)
		return false
	}
	if e.Coverage < set.MinCoverage {
		e.fail(StatusLowCoverage, "%.0f %% of the ground near the rim is valid; %.0f %% is needed", 100*e.Coverage, 100*set.MinCoverage)
		return false
	}
	return true
}

// whitener whitens the design into the Gram matrix and returns what it used;
// nil when that cannot be done.
func (e *Evidence) whitener(site Site, k *sharedCells, valid []bool) *whitener {
	c := k.cells
	values, spread := e.centred(site, valid)
	switch {
	case !spread:
		e.fail(StatusNoVariance, "all %d valid pixels have the same value", e.Pixels)
		return nil
	case site.Noise == nil || !(site.Variance > 0):
		e.fail(StatusNoVariance, "the noise of the map could not be measured here")
		return nil
	case c.N < 3*e.Layout.Rings:
		e.fail(StatusLowCoverage, "%d cells hold enough valid pixels; %d are needed", c.N, 3*e.Layout.Rings)
		return nil
	}
	var extra []extraColumn
	for _, f := range site.Neighbours {
		e.Neighbours, e.discs = append(e.Neighbours, f.Name), append(e.discs, f.Disc)
		extra = append(extra, filled(f.Values, valid))
	}
	for _, f := range site.Covariates {
		e.Covariates, e.kinds = append(e.Covariates, f.Name), append(e.kinds, f.Kind)
		extra = append(extra, filled(f.Values, valid))
	}
	for _, f := range site.Strips {
		e.Strips = append(e.Strips, f.Name)
		extra = append(extra, extraColumn{values: f.Values})
	}
	w, err := newWhitener(c, site.Noise)
	if err != nil {
		e.fail(StatusNoVariance, "%v", err)
		return nil
	}
	d := k.templates(len(extra)).average(site.Samples, c, values, extra)
	strips := d.columns(colRings+d.rings+len(extra)-len(site.Strips), d.p)
	e.Gram = w.gram(d)
	e.Gram.pulls = e.pullsOf(site.Covariates)
	if site.KeepGround {
		e.ground = newGround(w, d, c, strips)
		e.ground.samples = site.Samples
	}
	return w
}

// centred returns the values less their mean, and whether they vary.
func (e *Evidence) centred(site Site, valid []bool) (values []float64, spread bool) {
	values = make([]float64, len(site.Values))
	sum, n := 0.0, 0
	first := math.NaN()
	for i, v := range site.Values {
		if !valid[i] || site.Samples.Rho[i] >= e.Layout.Outer {
			continue
		}
		x := float64(v)
		if n == 0 {
			first = x
		}
		spread = spread || x != first
		sum += x
		n++
	}
	e.Offset = sum / float64(n)
	for i, v := range site.Values {
		if valid[i] {
			values[i] = float64(v) - e.Offset
		}
	}
	return values, spread
}

// extraColumn is a further nuisance column, by pixel: values less a mean, and
// nothing where they are unknown.
type extraColumn struct {
	values []float64
	mean   float64
}

func (c *extraColumn) at(i int) float64 {
	if v := c.values[i]; v == v {
		return v - c.mean
	}
	return 0
}

// filled replaces unknown values by the mean of the known and takes out the
// mean, so that a gap in a covariate carries no signal.
func filled(v []float64, valid []bool) extraColumn {
	sum, n := 0.0, 0
	for i, x := range v {
		if valid[i] && x == x {
			sum += x
			n++
		}
	}
	if n == 0 {
		return extraColumn{v, 0}
	}
	return extraColumn{v, sum / float64(n)}
}

// Limits of the directional tests.
const (
	minDirectionalShare = 0.6 // of the cells near the rim
	maxHole             = 150 // degrees
	fullCoverage        = 0.8 // below it families are combined by Bonferroni
)

// judgeCoverage finds how complete the near cells are in azimuth and forbids
// the directional tests where coverage alone could make a pattern.
func (e *Evidence) judgeCoverage(s *Samples, c *Cells, valid []bool) {
	const bins = 72
	var good, all [bins]int
	for i, r := range s.Rho {
		if r < e.Layout.Inner || r >= excessOuter {
			continue
		}
		b := int(s.Az[i]/(2*math.Pi)*bins+bins) % bins
		all[b]++
		if valid[i] {
			good[b]++
		}
	}
	full, used, run, longest := 0, 0, 0, 0
	for i := range 2 * bins {
		b := i % bins
		if all[b] > 0 && 2*good[b] < all[b] {
			run++
			longest = max(longest, run)
		} else if all[b] > 0 {
			run = 0
		}
		if i < bins && all[b] > 0 {
			used++
			if 2*good[b] >= all[b] {
				full++
			}
		}
	}
	e.FullShare = float64(full) / float64(max(used, 1))
	e.LargestHole = math.Min(float64(longest)*360/bins, 360)
	switch {
	case e.PixelsPer < MinDirectionalPixels:
		e.fail(StatusRadialOnly, "rim radius %.1f pixels; a direction needs %.0f", e.PixelsPer, MinDirectionalPixels)
	case e.FullShare < minDirectionalShare:
		e.fail(StatusNotTestable, "%.0f %% of the directions near the rim are covered; %.0f %% is needed", 100*e.FullShare, 100*minDirectionalShare)
	case e.LargestHole > maxHole:
		e.fail(StatusNotTestable, "a hole of %.0f degrees near the rim; at most %d is allowed", e.LargestHole, maxHole)
	}
}
