package reports

// Options says how much is written and in which form. The zero value writes
// every table, the overlay, figures as SVG and the report.
type Options struct {
	// RFC7946 leaves the crs member out of overlay.geojson, for readers that
	// insist on the standard. The foreign member reference_body stays.
	RFC7946 bool

	// OverlayTop is the number of best targets that get rings, sectors, lobes
	// and masked areas in the overlay; every crater gets its rim and axis.
	// 0 means 50, negative means all.
	OverlayTop int

	// SheetTop is the number of best targets that get figures and a sheet in
	// the report. 0 means 20, negative means none.
	SheetTop int

	// Formats lists the figure formats: "svg", "pdf", "png". Empty means
	// svg only.
	Formats []string

	// MaxChordError is the largest distance, in metres, between an outline
	// and the straight edges that draw it. 0 means a tenth of a map pixel where
	// the pixel size is known, but between 1/60 and 1/2000 of the radius.
	MaxChordError float64

	// Vector lists the formats of the overlay besides GeoJSON: "parquet", and
	// "gpkg" and "fgb", which need GDAL and are written by reports/gpkg.
	Vector []string

	NoFigures bool // leave the figures directory out
	NoReport  bool // leave report.html out
	Styles    bool // write styles/*.sld for the overlay
}

// overlayTop resolves OverlayTop against the number of craters.
func (o Options) overlayTop(n int) int { return resolveTop(o.OverlayTop, 50, n) }

// sheetTop resolves SheetTop against the number of targets.
func (o Options) sheetTop(n int) int {
	if o.SheetTop < 0 {
		return 0
	}
	return resolveTop(o.SheetTop, 20, n)
}

// formats resolves Formats.
func (o Options) formats() []string {
	if len(o.Formats) == 0 {
		return []string{"svg"}
	}
	return o.Formats
}

func resolveTop(asked, standard, n int) int {
	switch {
	case asked < 0:
		return n
	case asked == 0:
		return min(standard, n)
	}
	return min(asked, n)
}
