package main

import (
	"slices"
	"testing"

	"rimcast/ejecta"
)

func TestNotRunLines(t *testing.T) {
	alarms := []ejecta.Alarm{
		{Name: "terrain_contact", NotRun: "no direction was found"},
		{Name: "thermal", NotRun: "no such layer: temperature or local time"},
		{Name: "uneven_ground", NotRun: "no direction was found"},
		{Name: "null_scale", Raised: true},
		{Name: "albedo", NotRun: "no such layer: albedo"},
		{Name: "rim_elliptical", NotRun: "the catalogue gives no rim ellipse"},
	}
	want := []string{
		"no direction was found: terrain_contact, uneven_ground",
		"no such layer: thermal (temperature or local time), albedo (albedo)",
		"the catalogue gives no rim ellipse: rim_elliptical",
	}
	if got := notRunLines(alarms); !slices.Equal(got, want) {
		t.Errorf("lines %q, want %q", got, want)
	}
	if got := notRunLines(alarms[3:4]); got != nil {
		t.Errorf("lines %q of an alarm that ran", got)
	}
}
