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
	looks, err := sv.lookAtLayers(body)
	if err != nil {
		return err
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

// lookAtLayers examines all layers, several at a time, and keeps what their
// samples show; an error is that of the first layer that has one.
func (sv *surveyFile) lookAtLayers(body geom.Body) (looks []*layerLook, err error) {
	layers := sv.layers()
	lists, faults := make([][]*layerLook, len(layers)), make([]error, len(layers))
	if err := parallel(max(1, sv.Run.Workers), len(layers), func(i int) {
		lists[i], faults[i] = sv.lookAtLayer(layers[i], body)
	}); err != nil {
		return nil, err
	}
	sv.samples = map[*layerSection]*raster.Sample{}
	for i, list := range lists {
		if faults[i] != nil {
			return nil, faults[i]
		}
		looks = append(looks, list...)
		sv.samples[layers[i].layer] = list[0].sample
	}
	return looks, nil
}

// sampleOf is what a sample of a layer shows; that of the precheck when there was
// one.
func (sv *surveyFile) sampleOf(section *layerSection, l *raster.Layer) (*raster.Sample, error) {
	if s := sv.samples[section]; s != nil {
		return s, nil
	}
	return l.Survey(0)
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

// sampleMask counts the good pixels in a sample of a mask. Parts that cannot be
// read are left out: the sweep reports them with the craters that need them.
func sampleMask(layer *layerSection, l *raster.Layer) (s maskSample) {
	g := l.Grid()
	buf := make([]float32, maskSide*maskSide)
	for _, y := range lattice(g.Height) {
		for _, x := range lattice(g.Width) {
			w, h := min(maskSide, g.Width-x), min(maskSide, g.Height-y)
			if l.Read(x, y, w, h, buf) != nil {
				continue
			}
			s.add(layer, buf[:w*h])
		}
	}
	return s
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
