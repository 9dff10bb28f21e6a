//go:build unix

package raster

import (
	"syscall"
	"unsafe"
)

// newPages returns memory for n values outside the Go heap, which would grow to
// twice what is in use, and how to give it back. The memory is zero.
func newPages(n int) (values []float32, release func()) {
	if n == 0 {
		return nil, func() {}
	}
	b, err := syscall.Mmap(-1, 0, 4*n, syscall.PROT_READ|syscall.PROT_WRITE, syscall.MAP_ANON|syscall.MAP_PRIVATE)
	if err != nil {
		return make([]float32, n), func() {}
	}
	return unsafe.Slice((*float32)(unsafe.Pointer(&b[0])), n), func() { syscall.Munmap(b) }
}
