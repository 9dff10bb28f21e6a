package raster_test

import (
	"fmt"
	"math"

	"rimcast/geom"
	"rimcast/raster"
)

// The pixels round a crater near the edge of a global map: columns run on, and
// the areas add up to the area of the cap.
func ExampleGrid_Geometry() {
	body := geom.Sphere("Demo", 1000e3)
	grid, err := raster.GlobalGrid(body, 3600, 0)
	if err != nil {
		fmt.Println(err)
		return
	}
	var p raster.Patch
	if err := grid.Geometry(body, geom.LonLat{Lon: 179.9, Lat: 60}, 50e3, 0, &p); err != nil {
		fmt.Println(err)
		return
	}
	area, farthest := 0.0, 0.0
	for i := range p.R {
		area += p.Area[i]
		farthest = math.Max(farthest, p.R[i])
	}
	fmt.Printf("%d pixels, %.1f %% of pi r^2, farthest %.1f km\n", p.Len(), 100*area/(math.Pi*50e3*50e3), farthest/1000)
	// Output: 5166 pixels, 100.1 % of pi r^2, farthest 50.0 km
}

// A layer in memory reads like one from a file: columns beyond the edge of a
// global map come from the other side.
func ExampleNewMemory() {
	grid, err := raster.GlobalGrid(geom.Sphere("Demo", 1000e3), 4, 0)
	if err != nil {
		fmt.Println(err)
		return
	}
	l := raster.NewMemory("water", "ppm", grid, []float32{1, 2, 3, 4, 5, 6, 7, 8})
	row := make([]float32, 6)
	if err := l.Read(3, 0, 6, 1, row); err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(row)
	// Output: [4 1 2 3 4 1]
}
