package ejecta

import "math"

// Samples is the pixels round one crater, as parallel slices of equal length.
// They are read, never changed.
type Samples struct {
	X, Y []int32   // column and row relative to the crater's centre pixel
	Rho  []float64 // geodesic range of the pixel centre, crater radii
	Az   []float64 // azimuth, radians clockwise from north
	Area []float64 // ground area, any one unit

	// PixelsPerRadius is the rim radius in pixels, by the longer pixel side.
	PixelsPerRadius float64
	// ColRho and RowRho are the ground length of one column and one row step
	// at the centre, crater radii, and Rotation the azimuth of map-up there in
	// radians: they place sub-samples inside a pixel.
	ColRho, RowRho, Rotation float64
}

// Len is the number of pixels.
func (s *Samples) Len() int { return len(s.X) }

// subRho returns range and azimuth of the point (fx, fy) of pixel i, in pixel
// units from its centre (fy down). The local map is taken as affine, which is
// exact enough inside one pixel.
func (s *Samples) subRho(i int, fx, fy float64) (rho, az float64) {
	east, north := math.Sincos(s.Az[i])
	sinR, cosR := math.Sincos(s.Rotation)
	dx, up := fx*s.ColRho, -fy*s.RowRho
	e := s.Rho[i]*east + dx*cosR + up*sinR
	n := s.Rho[i]*north - dx*sinR + up*cosR
	return math.Hypot(e, n), math.Atan2(e, n)
}
