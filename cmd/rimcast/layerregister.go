package main

import (
	"fmt"
	"math"

	"rimcast/geom"
	"rimcast/raster"
)

// Limits of the look at registration. Maps that are hardly alike cannot be laid
// on each other.
const (
	alikeLimit  = 0.2  // correlation, of either sign
	offsetLimit = 0.25 // pixels
)

// register lays every species on every albedo layer of its grid, and tells by
// how much their pixels are shifted.
func (r *inspection) register(sv *surveyFile, body geom.Body) {
	for _, k := range r.looks {
		for i := range sv.Covariates {
			albedo := &sv.Covariates[i]
			if albedo.Kind == "albedo" && k.n.section == "species" && !k.sigma {
				k.registerOn(sv, albedo, body)
			}
		}
	}
}

func (k *layerLook) registerOn(sv *surveyFile, albedo *layerSection, body geom.Body) {
	own, err := sv.openLayer(k.n.layer, body)
	if err != nil {
		return // said already
	}
	defer own.Close()
	other, err := sv.openLayer(albedo, body)
	if err != nil {
		return
	}
	defer other.Close()
	if !own.Grid().Same(other.Grid()) {
		return // lookAtOffset has spoken
	}
	k.sayRegistered(albedo.Name, own, other)
}

func (k *layerLook) sayRegistered(name string, own, other *raster.Layer) {
	right, down, alike, ok := raster.Registration(own, other)
	switch {
	case !ok || math.Abs(alike) < alikeLimit:
		k.info.Notes = append(k.info.Notes, fmt.Sprintf("too unlike %s to tell whether the two are shifted", name))
	case math.Hypot(right, down) > offsetLimit:
		k.warn("possible_half_pixel: the pixels of %s look shifted by %.2f to the right and %.2f down against it (correlation %.2f)", name, right, down, alike)
	default:
		k.info.Notes = append(k.info.Notes, fmt.Sprintf("lies on %s to %.2f pixels (correlation %.2f)", name, math.Hypot(right, down), alike))
	}
}
