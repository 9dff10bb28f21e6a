package raster

import (
	"testing"

	"github.com/airbusgeo/godal"
)

// TestLossyCompression: a compression that changes values is told from those
// that keep them.
func TestLossyCompression(t *testing.T) {
	for name, want := range map[string]string{"": "", "DEFLATE": "", "LZW": "", "JPEG": "JPEG"} {
		path := rawFile{w: 64, h: 32, types: godal.Byte, compress: name}.write(t)
		if got := mustOpen(t, Spec{Path: path, Body: moon}).Info().Lossy; got != want {
			t.Errorf("compression %q: %q, want %q", name, got, want)
		}
	}
}
