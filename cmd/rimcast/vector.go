package main

import (
	"path/filepath"
	"slices"
	"strings"

	"rimcast/reports"
	"rimcast/reports/gpkg"
)

// vectorFormats are the formats that the overlay can have besides GeoJSON.
var vectorFormats = []string{"gpkg", "fgb", "parquet"}

func checkVector(formats []string) error {
	for _, f := range formats {
		if f != "" && !slices.Contains(vectorFormats, f) {
			return usage("the overlay cannot have the format "+printable(f), didYouMean(f, vectorFormats))
		}
	}
	return nil
}

// reportOptions are those of a survey.
func (sv *surveyFile) reportOptions() reports.Options {
	opt := reportOptions(sv.Output.Top)
	opt.RFC7946 = sv.Output.RFC7946
	opt.Vector = strings.Split(sv.Output.Vector, ",")
	return opt
}

// writeVector writes the overlay in the formats that need GDAL: overlay.gpkg
// with a layer for each kind, and overlay_KIND.fgb, which holds one layer only.
func writeVector(dir string, s *reports.Survey, opt reports.Options) error {
	if slices.Contains(opt.Vector, "gpkg") {
		if err := gpkg.Write(filepath.Join(dir, "overlay.gpkg"), s, opt); err != nil {
			return err
		}
	}
	if slices.Contains(opt.Vector, "fgb") {
		return gpkg.WriteFlatGeobuf(dir, s, opt)
	}
	return nil
}
