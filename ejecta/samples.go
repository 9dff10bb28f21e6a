package ejecta

import "math"

// Samples is the pixels round one crater, as parallel slices of equal length.
// They are read, never changed.
type Samples struct {
	X, Y []int32   // column and row relative to the crater's centre pixel
	Rho  []float64 // geodesic range of the pixel centre, crater radii
	Az   []float64 // azimuth, radians clockwise from north
	Area []float64 // ground area, any one unit
	// Sin and Cos are those of Az; Collect computes them when they are nil.
	Sin, Cos []float64

	// PixelsPerRadius is the rim radius in pixels, by the longer pixel side.
	PixelsPerRadius float64
	// ColRho and RowRho are the ground length of one column and one row step
	// at the centre, crater radii, and Rotation the azimuth of map-up there in
	// radians: they place sub-samples inside a pixel.
	ColRho, RowRho, Rotation float64
}

// Len is the number of pixels.
func (s *Samples) Len() int { return len(s.X) }

// withUnits returns s with Sin and Cos.
func (s *Samples) withUnits() *Samples {
	if s.Sin != nil || len(s.Az) == 0 {
		return s
	}
	c := *s
	c.Sin, c.Cos = make([]float64, len(s.Az)), make([]float64, len(s.Az))
	for i, az := range s.Az {
		c.Sin[i], c.Cos[i] = math.Sincos(az)
	}
	return &c
}

// subRho returns range, and sine and cosine of the azimuth, of the point (fx, fy) of pixel i, in pixel
// units from its centre (fy down). The local map is taken as affine, which is
// exact enough inside one pixel.
func (s *Samples) subRho(i int, fx, fy float64) (rho, sin, cos float64) {
	east, north := s.Sin[i], s.Cos[i]
	sinR, cosR := math.Sincos(s.Rotation)
	dx, up := fx*s.ColRho, -fy*s.RowRho
	e := s.Rho[i]*east + dx*cosR + up*sinR
	n := s.Rho[i]*north - dx*sinR + up*cosR
	rho = math.Sqrt(e*e + n*n)
	if rho == 0 {
		return 0, 0, 1
	}
	return rho, e / rho, n / rho
}
