package reports

import (
	"rimcast/ejecta"
	"rimcast/geom"
)

// Survey is a finished screening: what every writer in this package reads.
// Writers compute nothing; they lay out what is here.
type Survey struct {
	Title    string
	Body     geom.Body
	BodyCode string // such as "IAU:2015:30100"; empty when the body has none
	Species  []SpeciesInfo

	Catalogue geom.Catalogue
	Findings  []ejecta.Finding  // crater-major: all species of a crater, then of the next; without those of Bare
	Contrasts []ejecta.Contrast // crater order
	Targets   []ejecta.Target   // rank order
	Cutouts   []Cutout          // of the craters that get a figure
	Masked    []MaskedDisc      // crater order; for the overlay only
	Seams     []Seam            // crater order; for the overlay only
	Nulls     []NullSummary

	Epochs      []ejecta.EpochFinding // crater by crater, species by species, in the order of the day
	Persistence []ejecta.Persistence  // crater by crater
	Controls    ejecta.Controls       // of young craters; without a rule when none were asked for

	bare  *ejecta.Bare // craters without findings of their own; see All
	apart *detached    // where the details of the findings are; nil when these are whole

	Notes    []string // what the reader of the report must know first
	Manifest Manifest
}

// SpeciesInfo names a mapped quantity.
type SpeciesInfo struct {
	Name, Unit string
	Layer      string // file and band, for the report
}

// Cutout is a crater-centred resampled picture of one species, for figures
// only: nothing is measured on it.
type Cutout struct {
	CraterIndex int
	Species     string
	Unit        string
	Size        int       // pixels per side
	HalfWidth   float64   // crater radii from the centre to each edge
	Values      []float32 // row-major, north up, NaN where there is no data
	Masked      []bool    // true where a neighbour is masked; nil when none
}

// MaskedDisc is ground of a neighbour that was kept out of a crater's rings.
type MaskedDisc struct {
	CraterIndex int
	Neighbour   int     // crater index of the neighbour
	Radius      float64 // of the disc round the neighbour, metres
}

// Seam is where two strips of a mosaic meet near a crater.
type Seam struct {
	CraterIndex    int
	Layer          string  // of the strips
	StripA, StripB float64 // numbers in the layer, the smaller first
	Lines          [][]geom.LonLat
}

// NullSummary describes the null positions of one species and size class.
type NullSummary struct {
	Species       string
	RadiusLo      float64 // pixels
	RadiusHi      float64
	Count         int
	Scale         float64   // lambda
	PValues       []float64 // directional p at the null positions
	ExcessPValues []float64
}

// Manifest is the record of a run: enough to repeat it.
type Manifest struct {
	Tool     string            `json:"tool"`
	Version  string            `json:"version"`
	Command  []string          `json:"command"`
	Seed     uint64            `json:"seed"`
	Settings map[string]any    `json:"settings"`
	Inputs   []Input           `json:"inputs"`
	CRS      map[string]string `json:"crs"`
	Counts   map[string]int    `json:"counts"`
	Notes    []string          `json:"notes"`
}

// Input is one file that was read.
type Input struct {
	Role   string `json:"role"`
	Path   string `json:"path"`
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}
