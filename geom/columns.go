package geom

import (
	"math"
	"strconv"
	"strings"
)

// role is what a column of a table or a property of a feature stands for.
type role int

const (
	roleNone role = iota
	roleID
	roleName
	roleLon
	roleLonWest
	roleLat
	roleLatGraphic
	roleRadius
	roleDiameter
	roleSigmaCentre
	roleSigmaRadius
	roleMajor
	roleMinor
	roleRimAzimuth
	roleAge
	roleFreshness
	roleClass
	roleUnclear // a radius or a diameter or something else: never used by itself
	roleKind
	roleCount
)

// ColumnSynonyms is a row of the list of names that ReadCatalogue recognises.
type ColumnSynonyms struct {
	Role    string   // what the column stands for
	Option  string   // field of CatalogueOptions that names a column for it
	Names   []string // in order of preference
	Remark  string
	role    role
	lengths bool // takes a unit: _km or _m at the end
}

// synonyms lists names in lower case with words joined by an underscore. A
// unit at the end of a length (_km, _m) or an angle (_deg) is taken off before
// the comparison.
var synonyms = []ColumnSynonyms{
	{Role: "identifier", Option: "ID", role: roleID,
		Names:  []string{"id", "crater_id", "craterid", "identifier", "feature_id", "featureid", "crater_no", "crater_number", "uid", "objectid", "fid"},
		Remark: "a feature's own id member comes first; kept as text"},
	{Role: "name", Option: "Name", role: roleName,
		Names: []string{"name", "crater_name", "cratername", "crater", "feature_name", "clean_name", "label", "title"}},
	{Role: "longitude, east positive", Option: "Lon", role: roleLon,
		Names: []string{"lon", "longitude", "long", "lng", "lon_e", "lone", "lon_east", "east_lon", "longitude_e", "longitude_east",
			"east_longitude", "lon_360", "lon360", "lon_180", "lon180", "lon_c", "lonc", "clon", "center_lon", "centre_lon",
			"center_longitude", "centre_longitude", "lon_circle_img", "lon_circ_img", "lon_dd", "x"},
		Remark: "CSV only; -180..180 or 0..360"},
	{Role: "longitude, west positive", Option: "Lon", role: roleLonWest,
		Names:  []string{"lon_w", "lonw", "lon_west", "west_lon", "longitude_w", "longitude_west", "west_longitude", "wlon"},
		Remark: "CSV only; read only when the direction is given too"},
	{Role: "latitude", Option: "Lat", role: roleLat,
		Names: []string{"lat", "latitude", "lat_n", "latn", "latitude_n", "lat_north", "latitude_north", "lat_c", "latc", "clat", "center_lat", "centre_lat", "center_latitude",
			"centre_latitude", "lat_circle_img", "lat_circ_img", "lat_dd", "planetocentric_latitude", "planetocentric_lat", "lat_centric", "y"},
		Remark: "CSV only"},
	{Role: "latitude, planetographic", Option: "Lat", role: roleLatGraphic,
		Names:  []string{"lat_g", "lat_graphic", "graphic_lat", "planetographic_latitude", "planetographic_lat", "lat_pg"},
		Remark: "CSV only; converted"},
	{Role: "rim radius", Option: "Radius", role: roleRadius, lengths: true,
		Names:  []string{"radius", "rad", "crater_radius", "rim_radius", "mean_radius", "radius_mean", "r"},
		Remark: "_km or _m at the end gives the unit; a bare r is not read without being named"},
	{Role: "rim diameter", Option: "Diameter", role: roleDiameter, lengths: true,
		Names: []string{"diameter", "diam", "dia", "crater_diameter", "rim_diameter", "mean_diameter", "diameter_mean",
			"diam_mean", "diam_circle_img", "diam_circ_img", "crater_diam", "d"},
		Remark: "halved; a bare d is not read without being named"},
	{Role: "1-sigma of the centre, each axis", Option: "SigmaCentre", role: roleSigmaCentre, lengths: true,
		Names: []string{"sigma_centre", "sigma_center", "centre_sigma", "center_sigma", "position_sigma", "sigma_position"}},
	{Role: "1-sigma of the radius", Option: "SigmaRadius", role: roleSigmaRadius, lengths: true,
		Names: []string{"sigma_radius", "radius_sigma", "radius_sd", "radius_error", "radius_err"}},
	{Role: "long semi-axis of the rim", Option: "EllipseMajor", role: roleMajor, lengths: true,
		Names: []string{"semi_major", "semimajor", "semi_major_axis", "rim_semi_major"}},
	{Role: "short semi-axis of the rim", Option: "EllipseMinor", role: roleMinor, lengths: true,
		Names: []string{"semi_minor", "semiminor", "semi_minor_axis", "rim_semi_minor"}},
	{Role: "azimuth of the long axis", Option: "EllipseAzimuth", role: roleRimAzimuth,
		Names:  []string{"rim_azimuth", "ellipse_azimuth", "major_axis_azimuth", "axis_azimuth"},
		Remark: "degrees clockwise from north"},
	{Role: "age", Option: "Age", role: roleAge, Names: []string{"age", "age_ma", "age_ga", "model_age", "model_age_ma"},
		Remark: "passed on as it is"},
	{Role: "freshness", Option: "Freshness", role: roleFreshness, Names: []string{"freshness", "fresh", "freshness_index", "omat"},
		Remark: "passed on as it is"},
	{Role: "class of age or rays", Option: "Class", role: roleClass, Names: []string{"class", "crater_class", "age_class", "ray_class", "degradation_class"},
		Remark: "text; passed on as it is"},
	{Role: "kind of outline", role: roleKind, Names: []string{"kind"},
		Remark: "in an overlay written by this program: only rims are read"},
	{Role: "unclear", role: roleUnclear, lengths: true,
		Names:  []string{"size", "crater_size", "width", "dimension", "scale"},
		Remark: "a radius or a diameter: never read unless named"},
}

// CatalogueColumns returns the names that [ReadCatalogue] recognises, for a
// manual.
func CatalogueColumns() []ColumnSynonyms {
	out := make([]ColumnSynonyms, len(synonyms))
	copy(out, synonyms)
	return out
}

// column is a recognised name.
type column struct {
	name   string  // as in the file
	factor float64 // metres per unit, 0 when the name gives no unit
	rank   int     // place in the list of synonyms
	bare   bool    // a single letter
}

// normalise brings a name to lower case with underscores between words.
func normalise(name string) string {
	if len(name) > 200 {
		name = name[:200]
	}
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool {
		return (r < 'a' || r > 'z') && (r < '0' || r > '9')
	})
	return strings.Join(words, "_")
}

var unitFactors = []struct {
	suffix string
	factor float64
}{
	{"_km", 1000}, {"_kilometer", 1000}, {"_kilometers", 1000}, {"_kilometre", 1000}, {"_kilometres", 1000},
	{"_m", 1}, {"_meter", 1}, {"_meters", 1}, {"_metre", 1}, {"_metres", 1},
}

// splitUnit takes a unit of length off a normalised name.
func splitUnit(norm string) (base string, factor float64) {
	for _, u := range unitFactors {
		if b, ok := strings.CutSuffix(norm, u.suffix); ok && b != "" {
			return b, u.factor
		}
	}
	return norm, 0
}

// withoutDegrees takes the unit off the name of an angle and keeps the direction
// that stands with it: "lon (deg E)" is lon_e, "latitude [degrees]" latitude.
func withoutDegrees(norm string) string {
	words := strings.Split(norm, "_")
	kept := words[:1]
	for _, w := range words[1:] {
		if w != "deg" && w != "degree" && w != "degrees" {
			kept = append(kept, w)
		}
	}
	return strings.Join(kept, "_")
}

func unitFactor(unit string) (float64, bool) {
	switch strings.ToLower(strings.TrimSpace(unit)) {
	case "km", "kilometre", "kilometres", "kilometer", "kilometers":
		return 1000, true
	case "m", "metre", "metres", "meter", "meters":
		return 1, true
	}
	return 0, false
}

// classify recognises a name.
func classify(name string) (role, column) {
	norm := normalise(name)
	for _, s := range synonyms {
		base, factor := norm, 0.0
		if s.lengths {
			base, factor = splitUnit(norm)
		} else {
			base = withoutDegrees(norm)
		}
		for i, n := range s.Names {
			if base == n || !s.lengths && norm == n {
				return s.role, column{name: name, factor: factor, rank: i, bare: len(n) == 1}
			}
		}
	}
	return roleNone, column{name: name}
}

// roles holds the columns of a file, one per role. Which column serves a role is
// decided once, so that no two features are read differently.
type roles struct {
	cols   [roleCount]column
	found  [roleCount]bool
	forced [roleCount]bool // named by an option
	hits   [roleCount]int  // features that had it
	seen   map[string]bool
	order  []string // names in order of appearance, for messages
}

const (
	maxNames     = 4096 // distinct property names looked at
	maxNamesTold = 20
)

// force names the column of a role by option.
func (r *roles) force(ro role, name string) {
	if name == "" {
		return
	}
	_, factor := splitUnit(normalise(name))
	r.cols[ro], r.found[ro], r.forced[ro] = column{name: name, factor: factor}, true, true
}

// learn classifies names not met before; the best synonym among new ones takes
// a free role, ties going to the first.
func (r *roles) learn(names []string) {
	var best [roleCount]column
	var have [roleCount]bool
	for _, n := range names {
		if r.seen[n] || len(r.seen) >= maxNames {
			continue
		}
		if r.seen == nil {
			r.seen = map[string]bool{}
		}
		r.seen[n] = true
		r.order = append(r.order, n)
		ro, c := classify(n)
		if ro != roleNone && (!have[ro] || c.rank < best[ro].rank) {
			best[ro], have[ro] = c, true
		}
	}
	for ro := range best {
		if have[ro] && !r.found[ro] {
			r.cols[ro], r.found[ro] = best[ro], true
		}
	}
}

// listed names the columns for a message.
func (r *roles) listed() string {
	if len(r.order) == 0 {
		return "none"
	}
	var parts []string
	for i, n := range r.order {
		if i == maxNamesTold {
			parts = append(parts, "and "+strconv.Itoa(len(r.order)-i)+" more")
			break
		}
		parts = append(parts, Quote(n))
	}
	return strings.Join(parts, ", ")
}

// missing reports whether text stands for no value.
func missing(s string) bool {
	switch strings.ToLower(s) {
	case "", "-", "--", "---", "n/a", "na", "nan", "null", "none", "?", "nodata":
		return true
	}
	return false
}

// parseNumber reads a finite decimal number: no hexadecimal, no words.
func parseNumber(s string) (float64, bool) {
	for i := range len(s) {
		c := s[i]
		if (c < '0' || c > '9') && c != '.' && c != '-' && c != '+' && c != 'e' && c != 'E' {
			return 0, false
		}
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil && !math.IsInf(v, 0)
}
