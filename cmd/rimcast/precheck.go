package main

import (
	"fmt"

	"rimcast/geom"
	"rimcast/raster"
)

// precheck looks at a sample of every layer before the long run and refuses
// what would give wrong numbers silently.
func (a *app) precheck(sv *surveyFile) error {
	body, _, err := sv.settleBody()
	if err != nil {
		return err
	}
	var looks []*layerLook
	for _, n := range sv.layers() {
		list, err := sv.lookAtLayer(n, body)
		if err != nil {
			return err
		}
		looks = append(looks, list...)
	}
	if err := sv.lookTogether(looks, body); err != nil {
		return err
	}
	for _, k := range looks {
		for _, w := range k.warnings {
			a.msg.warn("%s: %s", k.n.label(), w)
		}
	}
	return nil
}

// lookAtLayer examines a layer and its error map.
func (sv *surveyFile) lookAtLayer(n namedLayer, body geom.Body) ([]*layerLook, error) {
	l, err := sv.openLayer(n.layer, body)
	if err != nil {
		return nil, err
	}
	defer l.Close()
	k, err := examine(sv, n, l)
	if err != nil {
		return nil, err
	}
	sigma, err := sv.openSigma(n.layer, body)
	if sigma == nil || err != nil {
		return []*layerLook{k}, err
	}
	defer sigma.Close()
	e, err := examineSigma(n, sigma, k)
	return []*layerLook{k, e}, err
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

func checkMask(n namedLayer, share float64) error {
	if share < minMaskShare {
		return refuse(
			fmt.Sprintf("%s: %s keeps %.2g %% of the pixels", n.label(), n.layer.written, 100*share),
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
