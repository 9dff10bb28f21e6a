package main

import (
	"fmt"
	"io"
	"reflect"
	"slices"
	"strings"
	"text/tabwriter"
)

// surveyKey documents one key of the survey file. The default is read from
// defaultSurvey, the type from the struct, so neither can disagree with what
// the program does; a test sees to it that every key has its row.
type surveyKey struct {
	key  string // section.key
	flag string // the flag that sets the same, "" when there is none
	help string // one line: meaning, unit, range
}

// The keys of [[species]], [[covariate]] and [[mask]] are those of one struct;
// their rows are under "species" unless only another section uses them.
var surveyKeys = []surveyKey{
	{"title", "title", "what the survey is, for the report"},

	{"body.crs", "body", "code of the reference surface, such as IAU_2015:30100; a name such as Moon also does"},
	{"body.name", "", "name of the body, for labels"},
	{"body.radius_m", "body-radius", "radius of a spherical body, metres"},
	{"body.semi_major_m", "", "equatorial radius of an ellipsoid, metres"},
	{"body.inverse_flattening", "", "a/(a-b) of an ellipsoid"},

	{"catalogue.path", "craters", "crater catalogue: GeoJSON, or CSV with a header"},
	{"catalogue.format", "catalogue-format", "geojson or csv, when the file does not show it"},
	{"catalogue.crs", "crater-crs", "reference system of the coordinates, in place of what the file says; map for that of the first species map"},
	{"catalogue.id", "crater-id", "column of the crater id, kept as text"},
	{"catalogue.name", "crater-name", "column of the crater name"},
	{"catalogue.lon", "crater-lon", "column of the longitude in a CSV, degrees"},
	{"catalogue.lat", "crater-lat", "column of the latitude in a CSV, degrees"},
	{"catalogue.radius", "crater-radius", "column of the rim radius"},
	{"catalogue.radius_unit", "radius-unit", "km or m, unit of radius and diameter"},
	{"catalogue.diameter", "crater-diameter", "column of the rim diameter, instead of radius"},
	{"catalogue.lon_direction", "lon-positive", "east or west: where the longitudes of the catalogue grow; east unless its columns say otherwise"},
	{"catalogue.latitude", "lat-type", "planetocentric or planetographic; needed on an ellipsoid"},
	{"catalogue.sigma_centre", "", "column of the 1-sigma error of the centre, in radius_unit"},
	{"catalogue.sigma_radius", "", "column of the 1-sigma error of the radius, in radius_unit"},
	{"catalogue.semi_major", "", "column of the long semi-axis of an elliptical rim"},
	{"catalogue.semi_minor", "", "column of the short semi-axis of an elliptical rim"},
	{"catalogue.rim_azimuth", "", "column of the azimuth of the long axis, degrees clockwise from north"},
	{"catalogue.fit_ellipse", "", "give rims drawn as polygons the ellipse that fits them"},
	{"catalogue.age", "", "column of the age"},
	{"catalogue.freshness", "", "column of the freshness or ray class, a number"},
	{"catalogue.class", "", "column of a class of age or rays, text"},
	{"catalogue.dedupe", "dedupe", "first or last: which of several craters with one id to keep; without it they stop the run"},
	{"catalogue.assume_body_crs", "", "read the coordinates as of the body although the file says Earth"},

	{"rasters.crs", "raster-crs", "reference system of the maps, in place of what they carry"},
	{"rasters.lon_positive", "raster-lon-positive", "east or west: where the longitudes of the maps grow; east unless said"},
	{"rasters.assume_body_crs", "", "read the maps as of the body although they say Earth"},
	{"rasters.accept_values", "accept-values", "do not stop at values that look like undeclared special values"},
	{"rasters.allow_vsi", "allow-vsi", "allow GDAL's virtual files and addresses as paths"},

	{"species.name", "species", "name of the mapped quantity, such as water (required)"},
	{"species.path", "", "raster file (required)"},
	{"species.band", "", "band number from 1; needed when the file has several and band_name is not given"},
	{"species.band_name", "", "band by its description"},
	{"species.unit", "", "unit of the values, when the file does not say or to overrule it"},
	{"species.basis", "", "what the amount counts, such as H2O or OH; recorded, never converted"},
	{"species.sigma", "", "raster of the 1-sigma error of each pixel, same unit; its mean round a crater scales the local variance; zeros are missing"},
	{"species.sigma_is", "", "sigma or variance"},
	{"species.nodata", "nodata", "values that mean missing, besides the file's own"},
	{"species.scale", "", "factor from stored to true values, overrules the file's; with -1 times it less counts as more, as in maps of absorption below zero"},
	{"species.offset", "", "added after the factor, overrules the file's"},
	{"species.epoch", "", "time of day or campaign of this map, a label that becomes part of the name in the results"},
	{"species.local_time_h", "", "local time of this map, hours 0 to 24, where no layer of local time with the same epoch tells it"},
	{"species.subsolar_lat_deg", "", "latitude of the subsolar point when this map was taken, degrees; 0 when not given"},
	{"species.crs", "", "reference system of this map, overrules the file's"},
	{"species.lon_positive", "", "east or west for this map"},

	{"covariate.name", "covariate", "name of what could fake a signal (required)"},
	{"covariate.kind", "", "one of " + strings.Join(covariateKinds, ", ")},
	{"covariate.azimuth", "", "how a layer of azimuths counts: north-clockwise, which is the default, or east-counterclockwise"},

	{"mask.path", "mask", "raster whose values say which pixels are good (required)"},
	{"mask.keep", "", "values of good pixels; others are dropped"},
	{"mask.drop", "", "values of bad pixels; others are kept"},
	{"mask.bits", "", "numbers of bits, from 0, that mark a bad pixel when set"},

	{"sampling.inner", "inner", "range where the tests begin, crater radii; 0 is just outside the rim by pixel size"},
	{"sampling.outer", "outer", "range where the background ends, crater radii"},
	{"sampling.rings", "rings", "number of rings of the tests, for craters of 5 pixels or more; 0 is by crater size"},
	{"sampling.sectors", "sectors", "number of sectors of the tests, for craters of 5 pixels or more; 0 is by crater size"},
	{"sampling.neighbour_radii", "neighbour-radii", "pixels within so many radii of another crater are left out; 0 leaves none out"},
	{"sampling.min_pixels", "min-pixels", "smallest rim radius that is measured, pixels"},
	{"sampling.min_coverage", "min-coverage", "smallest valid share of the ejecta range that is measured, 0 to 1"},
	{"sampling.level_radius", "level-radius", "larger craters are read in block means until their radius is so many pixels"},
	{"sampling.full_resolution", "full-resolution", "never read in block means"},

	{"tests.seed", "seed", "seed of every random draw"},
	{"tests.alpha", "alpha", "level at which an excess or a direction of one crater is claimed, 0 to 1"},
	{"tests.fdr", "fdr", "accepted share of false ones among the findings of the catalogue, 0 to 1"},
	{"tests.nulls", "nulls", "crater-free places that set the scale of the tests"},
	{"tests.centre_sigma", "centre-sigma", "error of a catalogue centre per axis, crater radii, where the catalogue gives none"},

	{"tests.sieve", "sieve", "measure only this share of the craters, the most promising by a quick look at all; 1 is all of them"},

	{"ranking.weights", "", "weight of each named component of the score of a target"},

	{"controls.young", "young", "class of the craters to compare with old ones like them; other classes are old"},
	{"controls.young_below", "young-below", "age below which a crater is young, in the unit of the catalogue"},
	{"controls.young_above", "young-above", "freshness above which a crater is young"},
	{"controls.old_above", "", "age from which a crater is old; young_below when not given"},
	{"controls.unknown_is_old", "unknown-is-old", "take craters without an age, freshness or class as old"},
	{"controls.caliper", "caliper", "largest difference of a pair in any covariate, in standard deviations"},

	{"output.dir", "out", "result directory"},
	{"output.top", "top", "craters with a sheet in the report and a full overlay"},
	{"output.fail_on", "fail-on", "exit with 7 when it holds: partial, no-finding, alarm or alarm:NAME"},
	{"output.strict", "strict", "write nothing when a crater of the list cannot be measured"},
	{"output.redact", "redact", "keep names of input files out of the manifest"},
	{"output.vector", "vector", "formats of the overlay besides GeoJSON, separated by commas: gpkg, fgb, parquet"},
	{"output.sums", "sums", "keep the sums that a re-test at another level needs (report --alpha), about 5 kB for each crater and species"},
	{"output.rfc7946", "rfc7946", "leave the crs member out of overlay.geojson, for strict readers"},

	{"run.workers", "workers", "craters measured at a time"},
	{"run.memory", "memory", "memory that the program tries to stay within, GDAL apart, such as 600MB or 4GB; default half of what there is"},
}

// covariateKinds are the kinds of layers that the alarms know how to use.
var covariateKinds = []string{
	"temperature", "incidence", "emission", "phase", "albedo", "local_time",
	"slope", "elevation", "sun_azimuth", "track_azimuth", "strip", "other",
}

// sections lists the sections of the survey file in the order of the table.
func sections() []string {
	var names []string
	for _, k := range surveyKeys {
		section, _, ok := strings.Cut(k.key, ".")
		if ok && !slices.Contains(names, section) {
			names = append(names, section)
		}
	}
	return names
}

// keysOf lists the keys of a section, or of the top of the file for "".
func keysOf(section string) []string {
	t := reflect.TypeFor[surveyFile]()
	if section == "" {
		return tags(t)
	}
	f, ok := fieldByTag(t, section)
	if !ok {
		return nil
	}
	t = f.Type
	if t.Kind() == reflect.Slice {
		t = t.Elem()
	}
	return tags(t)
}

// tags returns the TOML keys of a struct in order.
func tags(t reflect.Type) []string {
	var names []string
	for i := range t.NumField() {
		if tag := t.Field(i).Tag.Get("toml"); tag != "" && tag != "-" {
			names = append(names, tag)
		}
	}
	return names
}

func fieldByTag(t reflect.Type, tag string) (reflect.StructField, bool) {
	for i := range t.NumField() {
		if f := t.Field(i); f.Tag.Get("toml") == tag {
			return f, true
		}
	}
	return reflect.StructField{}, false
}

// valueOf returns the field of sv that a dotted key names. Keys of layers have
// no single field; for them ok is false.
func valueOf(sv *surveyFile, key string) (v reflect.Value, ok bool) {
	v = reflect.ValueOf(sv).Elem()
	for part := range strings.SplitSeq(key, ".") {
		if v.Kind() != reflect.Struct {
			return reflect.Value{}, false
		}
		f, found := fieldByTag(v.Type(), part)
		if !found {
			return reflect.Value{}, false
		}
		v = v.FieldByIndex(f.Index)
	}
	return v, true
}

// defaultText shows the default of a key, "" when it is empty.
func defaultText(key string) string {
	if key == "run.workers" {
		return "all" // not this machine's number
	}
	v, ok := valueOf(defaultSurvey(), key)
	if !ok || v.IsZero() && v.Kind() != reflect.Float64 && v.Kind() != reflect.Int {
		return ""
	}
	return fmt.Sprint(v.Interface())
}

// printKeys prints the table of all keys: `rimcast inspect --keys`.
func printKeys(w io.Writer) error {
	t := tabwriter.NewWriter(w, 0, 4, 2, ' ', 0)
	fmt.Fprintln(t, "KEY\tFLAG\tDEFAULT\tMEANING")
	for _, k := range surveyKeys {
		flag := k.flag
		if flag != "" {
			flag = "--" + flag
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\n", k.key, flag, defaultText(k.key), k.help)
	}
	return t.Flush()
}
