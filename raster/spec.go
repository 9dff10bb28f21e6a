package raster

import "rimcast/geom"

// Spec names one band of one raster file and says what the file does not, or
// says wrongly. Only Path is required, and Body unless the map's own is to be
// taken.
type Spec struct {
	Path     string
	Band     int    // from 1; 0 = the only band, or the one called BandName
	BandName string // description of the band; letter case does not matter

	NoData     []float64 // more values that stand for missing, as stored in the file
	KeepValues []float64 // when given, all other stored values are missing
	Scale      *float64  // value = stored * Scale + Offset; nil = as the file says
	Offset     *float64
	Unit       string // replaces the unit of the file

	CRS           string    // replaces the CRS of the file: a code, PROJ string or WKT
	Body          geom.Body // the body of the survey; zero = that of the CRS
	AssumeBodyCRS bool      // the CRS names another body by mistake: keep its longitudes and latitudes
	LonWest       bool      // longitudes of the map count positive west
	AllowVSI      bool      // Path may be an address or another name that GDAL knows
}

// Info is what was found in a file and every guess that was made, for inspect.
type Info struct {
	Path          string // without secrets
	Driver        string
	Width, Height int
	BlockWidth    int
	BlockHeight   int
	DataType      string
	Palette       bool // pixels are numbers of a colour table
	Overviews     int

	Band      int // from 1
	BandName  string
	BandNames []string

	CRSName   string
	CRSSource string // "file" or "option"
	CRS       string // WKT
	Earth     bool   // the CRS is one of the Earth
	FileBody  geom.Body
	Body      geom.Body
	// RadiusShift is how far, in pixels, the worst place of the map moves when
	// the radius of the body is taken instead of that of the CRS.
	RadiusShift  float64
	Projection   string // method and parameters
	Geo          [6]float64
	PixelSize    float64 // metres, in the middle of the map
	PixelIsPoint bool    // coordinates were given for pixel centres; GDAL has shifted them
	LonDomain    string  // "-180..180", "0..360", "regional" or "" for other projections
	LonWest      bool
	Global       bool
	Rotated      bool

	NoData        []float64 // all values that stand for missing, as stored
	NoDataTag     *float64  // the one the file declares
	MaskBand      bool      // a mask or alpha band decides; the declared value is ignored
	Scale, Offset float64
	Unit          string
	UnitSource    string // "file", "option" or "none"
	Lossy         string // compression of the file that changes its values, "" for none
	FileUnit      string // the unit that the file gives, also when the option replaces it
	Notes         []string
}
