// Package raster is the door to GDAL for pixels: it opens maps, says every
// guess it makes about them, and delivers the pixels round a crater with their
// true distance, direction and ground area.
//
// The main types are Spec and Layer (one band of one file), Grid (how rows and
// columns lie on the body), Patch (the pixels within reach of a crater) and
// LayerSet (layers on one grid, read together). Visit carries a whole
// catalogue through a layer set.
//
// Longitudes and latitudes are degrees, east positive and planetocentric;
// lengths are metres; azimuths are radians clockwise from north. Pixels are
// never resampled before they are measured: each keeps its own value and gets
// the range and azimuth of its own centre, and columns run on across the edge
// of a map that goes round the body.
//
// A value that is missing for any reason (a nodata value, a mask, a place off
// the map, an infinite number) is NaN.
package raster
