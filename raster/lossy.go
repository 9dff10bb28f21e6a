package raster

import (
	"strings"

	"github.com/airbusgeo/godal"
)

// lossyCompression returns the name of a compression that does not keep the
// values, "" for others and for those that do not say.
func lossyCompression(ds *godal.Dataset) string {
	structure := ds.Metadatas(godal.Domain("IMAGE_STRUCTURE"))
	name := structure["COMPRESSION"]
	switch {
	case strings.Contains(name, "JPEG") && name != "JPEG2000" && name != "JPEG-LS",
		strings.HasPrefix(structure["COMPRESSION_REVERSIBILITY"], "LOSSY"):
		return name
	}
	return ""
}
