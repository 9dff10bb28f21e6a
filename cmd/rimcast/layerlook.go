package main

import (
	"fmt"
	"math"

	"rimcast/geom"
	"rimcast/raster"
)

// layerLook is what a sample of one layer shows before the long run.
type layerLook struct {
	n        namedLayer
	sigma    bool // the error map of a species
	info     raster.Info
	grid     *raster.Grid
	sample   *raster.Sample // nil for a mask
	warnings []string       // what may make numbers wrong
}

func (k *layerLook) warn(format string, args ...any) {
	k.warnings = append(k.warnings, fmt.Sprintf(format, args...))
}

// examine looks at a sample of a layer. The look is worth showing also when an
// error refuses the layer.
func examine(sv *surveyFile, n namedLayer, l *raster.Layer) (*layerLook, error) {
	grid := *l.Grid()
	k := &layerLook{n: n, info: l.Info(), grid: &grid}
	k.lookAtBlocks()
	if n.section == "mask" {
		return k, k.examineMask(l)
	}
	s, err := l.Survey(0)
	if err != nil {
		return k, err
	}
	k.sample = s
	k.info = l.Info() // reading may have added notes
	k.lookAtDamage()
	k.lookAtValues()
	if sv.Rasters.AcceptValues {
		return k, nil
	}
	for _, spike := range s.Spikes {
		if spike.Suspect {
			return k, suspectValue(n, spike)
		}
	}
	return k, nil
}

// examineSigma looks at the error map of a species.
func examineSigma(n namedLayer, l *raster.Layer, species *layerLook) (*layerLook, error) {
	grid := *l.Grid()
	named := *n.layer
	named.Name, named.written = named.Name+", sigma", named.writtenSigma
	k := &layerLook{n: namedLayer{n.section, &named}, sigma: true, info: l.Info(), grid: &grid}
	s, err := l.Survey(0)
	if err != nil {
		return k, err
	}
	k.sample = s
	k.lookAtDamage()
	if s.NonPositive > 0 {
		k.warn("%.2g %% of the errors are zero or negative; such pixels have no known error", 100*s.NonPositive)
	}
	if species != nil && species.sample != nil && n.layer.SigmaIs == "" {
		k.lookForVariance(species.sample)
	}
	return k, nil
}

// lookForVariance compares the typical error with the scatter of the map: an
// error far larger than all scatter, whose root is not, is a variance.
func (k *layerLook) lookForVariance(s *raster.Sample) {
	scatter := (s.Quartiles[1] - s.Quartiles[0]) / 1.349
	if typical := k.sample.Median; typical > 5*scatter && math.Sqrt(typical) < 2*scatter && scatter > 0 {
		k.warn("the typical error is %s, the scatter of the whole map only %s: is it a variance? say sigma_is=variance, or sigma_is=sigma",
			number(typical), number(scatter))
	}
}

func (k *layerLook) lookAtDamage() {
	if n := len(k.sample.Damaged); n > 0 {
		k.warn("damaged: %d of the sampled windows cannot be read; %v", n, k.sample.Damaged[0])
	}
}

// unevenLimit is the ratio of scatters from which a map is called uneven, that
// of the alarm noise_nonuniform.
const unevenLimit = 2

// lookAtValues runs the alarms that concern a map as a whole.
func (k *layerLook) lookAtValues() {
	if k.n.section != "species" {
		return
	}
	if k.sample.Valid == 0 {
		k.warn("no_values: none of the sampled pixels has a value; are the missing values declared rightly?")
		return
	}
	if k.info.Palette {
		k.warn("palette: the pixels are numbers of a colour table, not amounts; give the map before it was coloured")
	}
	if k.info.Lossy != "" {
		k.warn("lossy: the %s compression of the file changes values, most beside holes and sharp edges, and ties pixels together in blocks; give the map as it was made", k.info.Lossy)
	}
	for _, a := range mapAlarms(k.sample, k.info.Unit) {
		if a.Raised && a.Name != "special_values_undeclared" {
			k.warn("%s: %s", a.Name, a.Detail)
		}
	}
	if u := k.sample.Uneven; u > unevenLimit {
		k.warn("noise_nonuniform: the scatter between neighbouring rows varies by a factor %.1f between the quartiles of the sample; was a part of the map smoothed or warped?", u)
	}
	if k.sample.Constant {
		k.warn("no_variance: all sampled pixels have the same value; there is nothing to test")
	}
}

// examineMask refuses a mask that keeps next to nothing.
func (k *layerLook) examineMask(l *raster.Layer) error {
	s := sampleMask(k.n.layer, l)
	if s.all == 0 {
		return nil
	}
	if err := s.checkBits(k.n); err != nil {
		return err
	}
	share := float64(s.good) / float64(s.all)
	k.info.Notes = append(k.info.Notes, fmt.Sprintf("the mask keeps %.3g %% of the sampled pixels", 100*share))
	return checkMask(k.n, share)
}

// Limits of the advice on blocks.
const (
	wideRow  = 4096    // pixels of a row from which whole rows are costly
	manyAway = 4 << 20 // bytes of a block that are read for one crater
)

// lookAtBlocks warns of files that must be read in far larger pieces than a
// crater needs.
func (k *layerLook) lookAtBlocks() {
	i := &k.info
	bytes := float64(i.BlockWidth) * float64(i.BlockHeight) * 4
	const window = 256
	rows := math.Ceil(window/float64(max(i.BlockHeight, 1))) * float64(i.BlockHeight)
	cost := math.Max(rows, float64(i.BlockHeight)) * float64(i.BlockWidth) * 4
	if i.BlockWidth < wideRow || i.BlockWidth < i.Width || math.Max(bytes, cost) < manyAway {
		return
	}
	k.warn("slow to read: the file is in strips of %d x %d pixels, so that a window of %d x %d pixels costs %.0f MB instead of %.2g; "+
		"gdal_translate -of COG makes it quick", i.BlockWidth, i.BlockHeight, window, window, cost/1e6, window*window*4/1e6)
}

// lookTogether compares layers with the first one, and refuses what cannot be
// compared.
func (sv *surveyFile) lookTogether(looks []*layerLook, body geom.Body) error {
	for i, k := range looks {
		if i > 0 {
			k.lookAtOffset(looks[0])
		}
	}
	sv.lookAtEpochs(looks)
	if err := checkUnits(looks); err != nil {
		return err
	}
	if err := sv.checkBasis(); err != nil {
		return err
	}
	return sv.checkSun(body)
}

// lookAtOffset tells how far a layer is shifted against the first one. Half a
// pixel is the mark of two readings of one file: centres or corners.
func (k *layerLook) lookAtOffset(first *layerLook) {
	right, down, ok := first.grid.Offset(k.grid)
	if !ok || math.Hypot(right, down) < 1e-3 {
		return
	}
	if nearHalf(right) || nearHalf(down) {
		k.warn("possible_half_pixel: shifted by %.3g pixels to the right and %.3g down against %s; was one of the two read by pixel centres?",
			right, down, first.n.label())
		return
	}
	k.info.Notes = append(k.info.Notes, fmt.Sprintf("shifted by %.3g pixels to the right and %.3g down against %s; each is sampled on its own grid", right, down, first.n.label()))
}

func nearHalf(x float64) bool { return math.Abs(math.Abs(x-math.Round(x))-0.5) < 0.1 }

// lookAtEpochs warns of a covariate from another epoch than a species.
func (sv *surveyFile) lookAtEpochs(looks []*layerLook) {
	for _, k := range looks {
		if k.n.section != "covariate" || k.n.layer.Epoch == "" {
			continue
		}
		for i := range sv.Species {
			s := &sv.Species[i]
			if s.Epoch != "" && s.Epoch != k.n.layer.Epoch && !sv.hasCovariate(k.n.layer.Kind, s.Epoch) {
				k.warn("covariate_mismatch: it is of %s, species %s of %s; it may explain nothing there", k.n.layer.Epoch, s.Name, s.Epoch)
			}
		}
	}
}

func (sv *surveyFile) hasCovariate(kind, epoch string) bool {
	for i := range sv.Covariates {
		if c := &sv.Covariates[i]; c.Kind == kind && c.Epoch == epoch {
			return true
		}
	}
	return false
}
