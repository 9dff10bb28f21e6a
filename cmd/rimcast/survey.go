package main

import (
	"maps"
	"path/filepath"
	"runtime"
	"slices"
	"strings"

	"rimcast/ejecta"
	"rimcast/raster"
)

// surveyFile is all that a run depends on: the survey file with its defaults
// filled, overridden by the flags. The pipeline receives nothing else.
//
// Paths are ready to open: those of the file are joined to its folder, those of
// flags are as given. Lengths are in the unit that the key names, ranges in
// crater radii, angles in degrees.
type surveyFile struct {
	Title      string           `toml:"title"`
	Body       bodySection      `toml:"body"`
	Catalogue  catalogueSection `toml:"catalogue"`
	Rasters    rastersSection   `toml:"rasters"`
	Species    []layerSection   `toml:"species"`
	Covariates []layerSection   `toml:"covariate"`
	Masks      []layerSection   `toml:"mask"`
	Sampling   samplingSection  `toml:"sampling"`
	Tests      testsSection     `toml:"tests"`
	Ranking    rankingSection   `toml:"ranking"`
	Controls   controlsSection  `toml:"controls"`
	Output     outputSection    `toml:"output"`
	Run        runSection       `toml:"run"`

	source string   // the survey file as given, "" when there is none
	args   []string // the command line, for the manifest

	shard  shard // the craters to measure
	resume bool  // continue from a checkpoint

	details  *spool[ejecta.Detail] // of the findings, while a result is made; nil: in memory
	recorded *mapRecord            // in a merge: what the manifest says about the maps

	samples map[*layerSection]*raster.Sample // what the precheck saw
}

// bodySection says what the survey lies on. An empty one takes the body of the
// first species map.
type bodySection struct {
	CRS               string  `toml:"crs"`
	Name              string  `toml:"name"`
	RadiusM           float64 `toml:"radius_m"`
	SemiMajorM        float64 `toml:"semi_major_m"`
	InverseFlattening float64 `toml:"inverse_flattening"`
}

// catalogueSection says where the craters are and what their columns mean.
// Empty column names are found by their usual spellings.
type catalogueSection struct {
	Path          string `toml:"path"`
	Format        string `toml:"format"`
	CRS           string `toml:"crs"`
	ID            string `toml:"id"`
	Name          string `toml:"name"`
	Lon           string `toml:"lon"`
	Lat           string `toml:"lat"`
	Radius        string `toml:"radius"`
	RadiusUnit    string `toml:"radius_unit"`
	Diameter      string `toml:"diameter"`
	LonDirection  string `toml:"lon_direction"`
	Latitude      string `toml:"latitude"`
	SigmaCentre   string `toml:"sigma_centre"`
	SigmaRadius   string `toml:"sigma_radius"`
	SemiMajor     string `toml:"semi_major"`
	SemiMinor     string `toml:"semi_minor"`
	RimAzimuth    string `toml:"rim_azimuth"`
	Age           string `toml:"age"`
	Freshness     string `toml:"freshness"`
	Class         string `toml:"class"`
	FitEllipse    bool   `toml:"fit_ellipse"`
	Dedupe        string `toml:"dedupe"`
	AssumeBodyCRS bool   `toml:"assume_body_crs"`

	written string // the path as the user wrote it
}

// rastersSection holds what is true of all maps unless a layer says otherwise.
type rastersSection struct {
	CRS           string `toml:"crs"`
	LonPositive   string `toml:"lon_positive"`
	AssumeBodyCRS bool   `toml:"assume_body_crs"`
	AllowVSI      bool   `toml:"allow_vsi"`
	AcceptValues  bool   `toml:"accept_values"`
}

// layerSection is one band of one raster: a species, a covariate or a mask.
type layerSection struct {
	Name        string    `toml:"name"`
	Kind        string    `toml:"kind"`
	Path        string    `toml:"path"`
	Band        int       `toml:"band"`
	BandName    string    `toml:"band_name"`
	Unit        string    `toml:"unit"`
	Basis       string    `toml:"basis"`
	Sigma       string    `toml:"sigma"`
	SigmaIs     string    `toml:"sigma_is"`
	NoData      []float64 `toml:"nodata"`
	Scale       *float64  `toml:"scale"`
	Offset      *float64  `toml:"offset"`
	Epoch       string    `toml:"epoch"`
	CRS         string    `toml:"crs"`
	LonPositive string    `toml:"lon_positive"`
	Azimuth     string    `toml:"azimuth"`
	Keep        []float64 `toml:"keep"`
	Drop        []float64 `toml:"drop"`
	Bits        []int     `toml:"bits"`
	LocalTime   *float64  `toml:"local_time_h"`
	Subsolar    *float64  `toml:"subsolar_lat_deg"`

	written, writtenSigma string // the paths as the user wrote them
}

// samplingSection says which pixels round a crater are used, and how they are
// gathered. Zero values of Inner, Rings and Sectors mean "by crater size".
type samplingSection struct {
	Inner          float64 `toml:"inner"`
	Outer          float64 `toml:"outer"`
	Rings          int     `toml:"rings"`
	Sectors        int     `toml:"sectors"`
	NeighbourRadii float64 `toml:"neighbour_radii"`
	MinPixels      float64 `toml:"min_pixels"`
	MinCoverage    float64 `toml:"min_coverage"`
	LevelRadius    float64 `toml:"level_radius"`
	FullResolution bool    `toml:"full_resolution"`
}

// testsSection holds what the statistics need to be told.
type testsSection struct {
	Seed        uint64  `toml:"seed"`
	Alpha       float64 `toml:"alpha"`
	FDR         float64 `toml:"fdr"`
	Nulls       int     `toml:"nulls"`
	CentreSigma float64 `toml:"centre_sigma"`
	Sieve       float64 `toml:"sieve"`
}

// rankingSection weighs the components of the score of a target by name.
type rankingSection struct {
	Weights map[string]float64 `toml:"weights"`
}

// outputSection says where the results go and how much is drawn.
type outputSection struct {
	Dir    string `toml:"dir"`
	Top    int    `toml:"top"`
	Force  bool   `toml:"-"`
	FailOn string `toml:"fail_on"`
	Strict bool   `toml:"strict"`
	Redact bool   `toml:"redact"`

	Vector  string `toml:"vector"`
	RFC7946 bool   `toml:"rfc7946"`
	Sums    bool   `toml:"sums"`
}

// runSection says how the machine is used. It never changes a result, so the
// manifest leaves it out.
type runSection struct {
	Workers int   `toml:"workers"`
	Memory  int64 `toml:"-"` // bytes; the key "memory" is text such as "2GB"

	MemoryText string `toml:"memory"`
}

// defaultSurvey returns the settings of a survey that says nothing.
func defaultSurvey() *surveyFile {
	return &surveyFile{
		Sampling: samplingSection{
			Outer:          8,
			NeighbourRadii: 1,
			MinPixels:      1.5,
			MinCoverage:    0.3,
			LevelRadius:    24,
		},
		Ranking:  rankingSection{Weights: map[string]float64{}},
		Tests:    testsSection{Seed: 1, Alpha: 0.01, FDR: 0.1, Nulls: 200, CentreSigma: 0.03, Sieve: 1},
		Output:   outputSection{Top: 10, Vector: "gpkg"},
		Controls: controlsSection{Caliper: ejecta.DefaultCaliper},
		Run:      runSection{Workers: runtime.GOMAXPROCS(0)},
	}
}

// layers returns every layer with its section name, in the order of the file.
func (sv *surveyFile) layers() []namedLayer {
	all := named(nil, "species", sv.Species)
	all = named(all, "covariate", sv.Covariates)
	return named(all, "mask", sv.Masks)
}

func named(all []namedLayer, section string, layers []layerSection) []namedLayer {
	for i := range layers {
		all = append(all, namedLayer{section, &layers[i]})
	}
	return all
}

type namedLayer struct {
	section string
	layer   *layerSection
}

// shownName is the name of a species in the results: with its epoch when it has
// one, so that one quantity at several times of day stays apart.
func (l *layerSection) shownName() string {
	if l.Epoch == "" {
		return l.Name
	}
	return l.Name + " " + l.Epoch
}

// label names the layer in a message.
func (n namedLayer) label() string {
	if n.layer.Name == "" {
		return n.section + " " + n.layer.written
	}
	return n.section + " " + n.layer.Name
}

// resolve joins the relative paths of the file to its folder and remembers how
// they were written.
func (sv *surveyFile) resolve(dir string) {
	c := &sv.Catalogue
	c.written, c.Path = c.Path, joinPath(dir, c.Path)
	for _, n := range sv.layers() {
		l := n.layer
		l.written, l.Path = l.Path, joinPath(dir, l.Path)
		l.writtenSigma, l.Sigma = l.Sigma, joinPath(dir, l.Sigma)
	}
	sv.Output.Dir = joinPath(dir, sv.Output.Dir)
}

func joinPath(dir, path string) string {
	if path == "" || filepath.IsAbs(path) || isAddress(path) {
		return path
	}
	return filepath.Join(dir, path)
}

// isAddress reports whether a name is a URL or a virtual file rather than a
// local one.
func isAddress(path string) bool {
	return strings.HasPrefix(path, "/vsi") || strings.Contains(path, "://")
}

// sortedKeys returns the keys of a map in order, so that no output depends on
// the order of a map.
func sortedKeys[V any](m map[string]V) []string {
	return slices.Sorted(maps.Keys(m))
}
