// Package geom knows places on a body without air: reference bodies, true
// distances and bearings, crater catalogues, the frame centred on a crater and
// the outlines of its rings.
//
// # Conventions
//
// Lengths are metres. Angles inside the package are radians, azimuths run
// clockwise from north; longitudes, latitudes and everything in a file are
// degrees. Longitude is positive to the east and latitude is planetocentric,
// in every [LonLat] and on every kind of [Body]: what comes in with other
// conventions is converted where it enters, in [ReadCatalogue].
//
// The poles and the 180 degree meridian are ordinary places. A longitude is
// never compared without reduction to one turn, and no formula here divides by
// the cosine of a latitude.
//
// # The way through
//
// [ReadCatalogue] makes a [Catalogue] of [Crater] out of GeoJSON or CSV.
// [NewFrame] centres a polar frame on one of them; [Frame.Polar] gives range and
// azimuth of a place, [PolarGrid.Cell] the cell it falls into. [CircleOutline]
// and its siblings draw the same rings as valid polygons for a map.
// [NewNeighbours] answers which other craters reach into the rings.
//
// The package reads no path and writes no file; it needs no projection library.
package geom
