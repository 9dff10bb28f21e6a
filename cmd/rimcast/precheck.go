package main

import (
	"fmt"

	"rimcast/raster"
)

// precheck looks at a sample of every layer before the long run and refuses
// what would give wrong numbers silently.
func (a *app) precheck(sv *surveyFile) error {
	body, _, err := sv.settleBody()
	if err != nil {
		return err
	}
	for _, n := range sv.layers() {
		l, err := sv.openLayer(n.layer, body)
		if err != nil {
			return err
		}
		err = checkLayer(sv, n, l)
		l.Close()
		if err != nil {
			return err
		}
	}
	return nil
}

func checkLayer(sv *surveyFile, n namedLayer, l *raster.Layer) error {
	if n.section == "mask" {
		return checkMask(n, l)
	}
	s, err := l.Survey(0)
	if err != nil {
		return err
	}
	if sv.Rasters.AcceptValues {
		return nil
	}
	for _, spike := range s.Spikes {
		if spike.Suspect {
			return suspectValue(n, spike)
		}
	}
	return nil
}

// suspectValue refuses a value that looks like an undeclared special value.
func suspectValue(n namedLayer, spike raster.Spike) error {
	return refuse(
		fmt.Sprintf("%s: %s: %.2g %% of the valid pixels equal %g, far from all others",
			n.label(), n.layer.written, 100*spike.Share, spike.Value),
		fmt.Sprintf("if that means missing, add --nodata %s=%g; if it is a value, add --accept-values", n.layer.Name, spike.Stored))
}

// minMaskShare is the least share of good pixels that a mask may leave.
const minMaskShare = 0.05

func checkMask(n namedLayer, l *raster.Layer) error {
	good, all := maskShare(n.layer, l)
	if all > 0 && float64(good) < minMaskShare*float64(all) {
		return refuse(
			fmt.Sprintf("%s: %s keeps %.2g %% of the pixels", n.label(), n.layer.written, 100*float64(good)/float64(all)),
			"is it the other way round? keep lists the values of good pixels, drop those of bad ones")
	}
	return nil
}

// The sample of a mask: windows of maskSide pixels at maskPlaces by maskPlaces
// places.
const (
	maskPlaces = 10
	maskSide   = 64
)

// maskShare counts the good pixels in a sample of a mask. Parts that cannot be
// read are left out: the sweep reports them with the craters that need them.
func maskShare(layer *layerSection, l *raster.Layer) (good, all int) {
	g := l.Grid()
	buf := make([]float32, maskSide*maskSide)
	for _, y := range lattice(g.Height) {
		for _, x := range lattice(g.Width) {
			w, h := min(maskSide, g.Width-x), min(maskSide, g.Height-y)
			if l.Read(x, y, w, h, buf) != nil {
				continue
			}
			all += w * h
			for _, v := range buf[:w*h] {
				if !layer.badPixel(v) {
					good++
				}
			}
		}
	}
	return good, all
}

// lattice returns the starts of windows spread evenly over n pixels.
func lattice(n int) []int {
	var starts []int
	room := max(n-maskSide, 0)
	for i := range maskPlaces {
		at := room * i / (maskPlaces - 1)
		if len(starts) == 0 || at >= starts[len(starts)-1]+maskSide {
			starts = append(starts, at)
		}
	}
	return starts
}
