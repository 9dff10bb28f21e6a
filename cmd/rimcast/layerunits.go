package main

import (
	"fmt"
	"strings"
)

// This file sees to it that amounts which are compared mean the same.

// massUnits are the names of shares by mass, as parts per million.
var massUnits = map[string]float64{
	"ppm": 1, "ppmw": 1, "mg/kg": 1, "ug/g": 1, "µg/g": 1, "ppb": 1e-3, "g/kg": 1e3,
	"wt%": 1e4, "wt.%": 1e4, "wt %": 1e4, "weight%": 1e4, "weight percent": 1e4, "weight per cent": 1e4, "mass%": 1e4,
}

func massUnit(unit string) (ppm float64, ok bool) {
	ppm, ok = massUnits[strings.ToLower(strings.TrimSpace(unit))]
	return ppm, ok
}

// checkUnitLabel refuses a unit that contradicts the file's own without a word
// on the values: a label alone would make them wrong by the factor between.
func checkUnitLabel(k *layerLook) error {
	i := &k.info
	if i.UnitSource != "option" || k.n.layer.Scale != nil {
		return nil
	}
	from, known := massUnit(i.FileUnit)
	to, asked := massUnit(i.Unit)
	if !known || !asked || from == to {
		return nil
	}
	return refuse(
		fmt.Sprintf("%s: %s is in %s by its own account, and unit = %s is asked for", k.n.label(), k.n.layer.written, i.FileUnit, i.Unit),
		fmt.Sprintf("to convert the values add scale=%s; if only the label of the file is wrong add scale=%s",
			number(i.Scale*from/to), number(i.Scale)))
}

// checkUnits refuses species in units that cannot be compared as they are.
func checkUnits(looks []*layerLook) error {
	for i, k := range looks {
		if err := checkUnitLabel(k); err != nil {
			return err
		}
		for _, other := range looks[:i] {
			if err := compareUnits(other, k); err != nil {
				return err
			}
		}
	}
	return nil
}

func compareUnits(a, b *layerLook) error {
	if a.n.section != "species" || b.n.section != "species" || a.sigma || b.sigma {
		return nil
	}
	if (a.info.Unit == "") != (b.info.Unit == "") {
		if a.info.Unit == "" {
			a, b = b, a
		}
		return refuse(
			fmt.Sprintf("%s is in %s, and nothing says in which unit %s (%s) is", a.n.label(), a.info.Unit, b.n.label(), b.n.layer.written),
			fmt.Sprintf("add unit=... to it, such as %s=%s,unit=%s", b.n.layer.Name, b.n.layer.written, a.info.Unit))
	}
	from, known := massUnit(b.info.Unit)
	to, too := massUnit(a.info.Unit)
	if !known || !too || from == to {
		return nil
	}
	return refuse(
		fmt.Sprintf("%s is in %s and %s in %s", a.n.label(), a.info.Unit, b.n.label(), b.info.Unit),
		fmt.Sprintf("to convert add unit=%s,scale=%s to %s", a.info.Unit, number(b.info.Scale*from/to), b.n.label()))
}

// checkBasis refuses amounts of which only one says what it counts, and epochs
// of one species that count different things: water counted as hydroxyl is off
// by 6 %, or by a factor of two.
func (sv *surveyFile) checkBasis() error {
	for i := range sv.Species {
		for j := range i {
			a, b := &sv.Species[j], &sv.Species[i]
			same := strings.EqualFold(a.Basis, b.Basis)
			if same || a.Basis != "" && b.Basis != "" && a.Name != b.Name {
				continue
			}
			return refuse(
				fmt.Sprintf("species %s counts %s and species %s counts %s", a.shownName(), basisText(a), b.shownName(), basisText(b)),
				"say for both what the amounts count, with basis=H2O or basis=OH, and convert the maps of one species to one basis")
		}
	}
	return nil
}

func basisText(l *layerSection) string {
	if l.Basis == "" {
		return "nobody knows what"
	}
	return l.Basis
}
