package geom

// Crater is one catalogue entry. Angles are degrees (east positive,
// planetocentric), lengths metres. Sigmas are 1-sigma, 0 when unknown.
type Crater struct {
	Index  int    // position of the feature in the catalogue file, from 0
	ID     string // always text, as written in the file
	Name   string
	Centre LonLat
	Radius float64 // rim radius R

	SigmaCentre float64 // per axis
	SigmaRadius float64

	// Elliptical rim; SemiMajor == 0 means circular with radius Radius.
	SemiMajor, SemiMinor float64
	RimAzimuth           float64 // degrees clockwise from north of the long axis, 0..180

	Age       float64 // as the catalogue gives it, NaN when it gives none
	Freshness float64 // as the catalogue gives it, NaN when it gives none
	Class     string  // class of age or rays, as the catalogue writes it; empty when it gives none

	// RimResidual is the root mean square of (r-R)/R along a rim that was drawn
	// as a polygon, 0 for a crater given as a point.
	RimResidual float64
}

// Extent returns the largest distance of the rim from the centre in metres: the
// long semi-axis, or the radius of a circular rim.
func (c *Crater) Extent() float64 { return max(c.Radius, c.SemiMajor) }

// Refusal is a catalogue feature that cannot be screened, and why.
type Refusal struct {
	Index  int // feature index in the file, from 0
	ID     string
	Reason string
}

// Catalogue is the craters of a survey in file order.
type Catalogue struct {
	Craters []Crater
	Refused []Refusal
	Notes   []string // what was guessed or converted, one sentence each
	Source  string   // file name, for messages

	Body           Body       // what the coordinates were read on
	CRS            string     // what the file declares, "" when it declares nothing
	NearDuplicates []NearPair // probably the same crater under two names
}
