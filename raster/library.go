package raster

import (
	"fmt"
	"math"

	"rimcast/geom"

	"github.com/airbusgeo/godal"
)

// library is a projection computed by PROJ. A transform is not safe for two
// goroutines, so each call takes one from a free list.
type library struct {
	c    *crs
	free chan *transforms
	tol  float64 // CRS units: a round trip must come back within this
}

type transforms struct{ fwd, inv *godal.Transform }

func newLibraryProjection(c *crs) (*library, error) {
	p := &library{c: c, free: make(chan *transforms, 64), tol: 1e-6 * c.a / c.unit}
	t, err := p.open()
	if err != nil {
		return nil, err
	}
	p.free <- t
	return p, nil
}

func (p *library) open() (*transforms, error) {
	var j journal
	setup()
	base := p.c.geogcs
	if base == "" {
		base = fmt.Sprintf("+proj=longlat +a=%.15g +rf=%.15g +no_defs", p.c.a, p.c.rf)
		if p.c.rf == 0 {
			base = fmt.Sprintf("+proj=longlat +R=%.15g +no_defs", p.c.a)
		}
	}
	src, err := godal.NewSpatialRef(base, godal.ErrLogger(j.handle))
	if err != nil {
		return nil, fmt.Errorf("%w: %s", errProjection, reason(err))
	}
	defer src.Close()
	dst, err := godal.NewSpatialRef(p.c.wkt, godal.ErrLogger(j.handle))
	if err != nil {
		return nil, fmt.Errorf("%w: %s", errProjection, reason(err))
	}
	defer dst.Close()
	fwd, err := godal.NewTransform(src, dst, godal.ErrLogger(j.handle))
	if err != nil {
		return nil, fmt.Errorf("%w: %s", errProjection, reason(err))
	}
	inv, err := godal.NewTransform(dst, src, godal.ErrLogger(j.handle))
	if err != nil {
		fwd.Close()
		return nil, fmt.Errorf("%w: %s", errProjection, reason(err))
	}
	return &transforms{fwd, inv}, nil
}

func (p *library) take() *transforms {
	select {
	case t := <-p.free:
		return t
	default:
	}
	t, err := p.open()
	if err != nil {
		// The same call succeeded when the projection was made.
		panic("raster: " + err.Error())
	}
	return t
}

func (p *library) give(t *transforms) {
	select {
	case p.free <- t:
	default:
		t.fwd.Close()
		t.inv.Close()
	}
}

// forward turns planetocentric degrees into map coordinates, in place.
func (p *library) forward(x, y []float64, ok []bool) {
	for i := range x {
		x[i] = wrap180(x[i] - p.c.prime)
		y[i] = toGraphic(y[i], p.c.rf)
	}
	t := p.take()
	// The error only repeats what ok says point by point.
	_ = t.fwd.TransformEx(x, y, nil, ok)
	p.give(t)
	for i := range x {
		ok[i] = ok[i] && finite(x[i]) && finite(y[i])
	}
}

// inverse turns map coordinates into planetocentric degrees, in place, and
// goes back again to find points outside the outline of the map.
func (p *library) inverse(x, y []float64, ok []bool) {
	n := len(x)
	u, v, ok2 := make([]float64, n), make([]float64, n), make([]bool, n)
	copy(u, x)
	copy(v, y)
	t := p.take()
	_ = t.inv.TransformEx(x, y, nil, ok)
	lon, lat := append([]float64(nil), x...), append([]float64(nil), y...)
	for i := range lon {
		if !ok[i] || !finite(lon[i]) || !finite(lat[i]) {
			lon[i], lat[i], ok[i] = 0, 0, false
		}
	}
	_ = t.fwd.TransformEx(lon, lat, nil, ok2)
	p.give(t)
	for i := range x {
		ok[i] = ok[i] && ok2[i] && math.Hypot(lon[i]-u[i], lat[i]-v[i]) <= p.tol
		if ok[i] {
			x[i] = wrap180(x[i] + p.c.prime)
			y[i] = toCentric(y[i], p.c.rf)
		}
	}
}

// Forward implements Projection.
func (p *library) Forward(q geom.LonLat) (x, y float64, ok bool) {
	if !(math.Abs(q.Lat) <= 90) || !finite(q.Lon) {
		return 0, 0, false
	}
	xs, ys, oks := []float64{q.Lon}, []float64{q.Lat}, []bool{false}
	p.forward(xs, ys, oks)
	return xs[0], ys[0], oks[0]
}

// Inverse implements Projection.
func (p *library) Inverse(x, y float64) (geom.LonLat, bool) {
	xs, ys, oks := []float64{x}, []float64{y}, []bool{false}
	p.inverse(xs, ys, oks)
	return geom.LonLat{Lon: xs[0], Lat: ys[0]}, oks[0]
}

// Name implements Projection.
func (p *library) Name() string { return p.c.describe() }

// WKT implements Projection.
func (p *library) WKT() string { return p.c.wkt }

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// inverseAll applies Inverse to many points, in one call where the projection
// can.
func inverseAll(p Projection, x, y []float64, ok []bool) {
	switch q := p.(type) {
	case *library:
		q.inverse(x, y, ok)
		return
	case *mirror:
		inverseAll(q.Projection, x, y, ok)
		for i := range x {
			x[i] = -x[i]
		}
		return
	}
	for i := range x {
		var q geom.LonLat
		q, ok[i] = p.Inverse(x[i], y[i])
		x[i], y[i] = q.Lon, q.Lat
	}
}

// forwardAll applies Forward to many places.
func forwardAll(p Projection, lon, lat []float64, ok []bool) {
	switch q := p.(type) {
	case *library:
		q.forward(lon, lat, ok)
		return
	case *mirror:
		for i := range lon {
			lon[i] = -lon[i]
		}
		forwardAll(q.Projection, lon, lat, ok)
		return
	}
	for i := range lon {
		lon[i], lat[i], ok[i] = p.Forward(geom.LonLat{Lon: lon[i], Lat: lat[i]})
	}
}
