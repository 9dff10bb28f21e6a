package raster

import (
	"encoding/xml"
	"fmt"
	"io"
	"sync/atomic"

	"github.com/airbusgeo/godal"
)

var vrtSerial atomic.Int64

// bandUnit returns the unit of a band. The Go binding of GDAL has no call for
// it, but a virtual copy of the dataset spells it out.
func bandUnit(ds *godal.Dataset, band int) string {
	var j journal
	name := fmt.Sprintf("/vsimem/rimcast-unit-%d.vrt", vrtSerial.Add(1))
	v, err := ds.Translate(name, []string{"-of", "VRT", "-b", fmt.Sprint(band)}, godal.ErrLogger(j.handle))
	if err != nil {
		return ""
	}
	if err := v.Close(godal.ErrLogger(j.handle)); err != nil {
		return ""
	}
	defer godal.VSIUnlink(name, godal.ErrLogger(j.handle))
	f, err := godal.VSIOpen(name, godal.ErrLogger(j.handle))
	if err != nil {
		return ""
	}
	defer f.Close()
	var doc struct {
		Bands []struct {
			Unit string `xml:"UnitType"`
		} `xml:"VRTRasterBand"`
	}
	if xml.NewDecoder(io.LimitReader(f, maxXML)).Decode(&doc) != nil || len(doc.Bands) == 0 {
		return ""
	}
	return doc.Bands[0].Unit
}
