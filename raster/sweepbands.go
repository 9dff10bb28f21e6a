package raster

import "slices"

// A sweep that would hold too much divides its jobs into bands of columns, which
// are swept one after another: fewer cells then wait for the next row of blocks.
// Cells under the jobs of two bands are read for both.

// mostBands is the largest number of bands that is tried: each costs some cells
// that are read twice.
const mostBands = 8

// settle decides which jobs take part in the sweep, and in how many bands, so that
// no more is held than the cache may take.
func (v *sweep) settle() {
	holds, places := v.holds(), v.places()
	limit := int64(0)
	for _, h := range holds {
		limit = max(limit, h)
	}
	for ; ; limit /= 2 {
		for v.bands = 1; v.bands <= mostBands; v.bands *= 2 {
			v.divide(holds, limit, places)
			if v.fits() || limit == 0 {
				return
			}
		}
	}
}

// places is how far from the left edge the centre of each job lies, as a share of
// the map.
func (v *sweep) places() []float32 {
	out := make([]float32, len(v.jobs))
	for i := range v.jobs {
		if x, _, ok := v.grid.Pixel(v.jobs[i].Centre); ok {
			out[i] = float32(min(max(0, x/float64(v.grid.Width)), 1))
		}
	}
	return out
}

// divide gives every job its band. Jobs that hold more than a limit, or cannot
// take part, are left to windows.
func (v *sweep) divide(holds []int64, limit int64, places []float32) {
	v.bandOf = sized(v.bandOf, len(v.jobs))
	for i, h := range holds {
		v.bandOf[i] = int8(min(v.bands-1, int(places[i]*float32(v.bands))))
		if h < 0 || h > limit {
			v.bandOf[i] = -1
		}
	}
}

// fits reports whether no band holds more than the cache may take.
func (v *sweep) fits() bool {
	for band := range v.bands {
		v.index(band)
		if v.peak() > v.cache {
			return false
		}
	}
	return true
}

// begin makes all ready for a band; with the last come the windows.
func (v *sweep) begin(s *LayerSet, band int) {
	v.index(band)
	v.planes = make([][]plane, len(v.sheetOf)*levels)
	v.order = slices.DeleteFunc(slices.Clone(v.inOrder), func(c int32) bool { return v.toRead[c] == 0 })
	v.ready, v.head, v.windows = v.ready[:0], 0, nil
	for i, b := range v.bandOf {
		switch {
		case b < 0 && band == v.bands-1:
			v.windows = append(v.windows, int32(i))
		case int(b) == band && v.missing[i] == 0:
			v.ready = append(v.ready, int32(i))
		}
	}
	sortJobs(s.Layers[0], v.jobs, v.windows)
}
