//go:build !unix

package raster

// newPages returns memory for n values, and how to give it back.
func newPages(n int) (values []float32, release func()) { return make([]float32, n), func() {} }
