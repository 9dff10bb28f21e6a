package raster

import (
	"bufio"
	"context"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"rimcast/geom"
)

var (
	sweepRings = flag.String("sweep.rings", "", "file for the ring means of the survey of -sweep.survey, for testdata/speed/window.py")
	sweepMost  = flag.Float64("sweep.most", 60, "largest rim radius in pixels in that file; all at full resolution")
)

// TestRingMeans writes the ring means of a survey and how long that took. For
// an invented survey it then runs the recipe in numpy, where there is numpy, and
// wants the same means.
func TestRingMeans(t *testing.T) {
	folder, out := *sweepSurvey, *sweepRings
	if folder == "" {
		folder = inventSurvey(t)
		out = filepath.Join(folder, "rings.csv")
	}
	if out == "" {
		t.Skip("no -sweep.rings")
	}
	writeRings(t, folder, out)
	if *sweepSurvey != "" {
		return
	}
	python := numpyPython()
	if python == "" {
		t.Skip("no python3 with numpy and osgeo")
	}
	text, err := exec.Command(python, "../testdata/speed/window.py", folder, out).CombinedOutput()
	if t.Logf("%s", text); err != nil {
		t.Error(err)
	}
}

// numpyPython finds a Python that has what the recipe needs.
func numpyPython() string {
	for _, p := range []string{"python3", "/usr/bin/python3"} {
		if exec.Command(p, "-c", "import numpy, osgeo.gdal").Run() == nil {
			return p
		}
	}
	return ""
}

// inventSurvey writes two small maps and a catalogue of ten craters.
func inventSurvey(t *testing.T) string {
	paths, _ := inventSweep(t, 1024, 2, 1)
	var b strings.Builder
	for i := range 10 {
		fmt.Fprintf(&b, `%s{"type":"Feature","id":"C%d","properties":{"radius_km":%d},"geometry":{"type":"Point","coordinates":[%g,%g]}}`,
			strings.Repeat(",", min(i, 1)), i, 15+8*i, -120+24.3*float64(i), 40-7.9*float64(i))
	}
	dir := filepath.Dir(paths[0])
	if err := os.WriteFile(filepath.Join(dir, "craters.geojson"), []byte(`{"type":"FeatureCollection","features":[`+b.String()+`]}`), 0o666); err != nil {
		t.Fatal(err)
	}
	return dir
}

// writeRings writes a row for each crater: number, radius, and twelve ring means
// for each map. The first row has the radius of the body and the seconds, by the
// clock and of processor time.
func writeRings(t *testing.T, folder, out string) {
	paths, err := filepath.Glob(filepath.Join(folder, "*.tif"))
	if err != nil || len(paths) == 0 {
		t.Fatalf("no maps in %s: %v", folder, err)
	}
	set := openSweep(t, paths)
	g := set.Layers[0].Grid()
	var jobs []Job
	for i, c := range readCraters(t, folder, g.Body) {
		if c.Radius <= *sweepMost*g.PixelSize(geom.LonLat{}) {
			jobs = append(jobs, Job{ID: i, Centre: c.Centre, Reach: 8 * c.Radius})
		}
	}
	rows := map[int][]float64{}
	for _, j := range jobs {
		rows[j.ID] = make([]float64, 12*len(paths))
	}
	layout := testLayout()
	layout.Edges[0], layout.Sectors = 0, 1 // the first ring of the recipe has the middle too
	wall, cpu := seconds(func() {
		err = VisitCells(context.Background(), set, jobs, layout, *sweepWorkers, func(_ int, job Job, sums *CellSums, err error) error {
			for i := range rows[job.ID] {
				rows[job.ID][i] = sums.Ring(i%12, i/12).Mean()
			}
			return err
		})
	})
	if err != nil {
		t.Fatal(err)
	}
	f, err := os.Create(out)
	if err != nil {
		t.Fatal(err)
	}
	w := bufio.NewWriter(f)
	fmt.Fprintf(w, "body,%v,seconds,%v,cpu,%v\n", g.Body.SemiMajor, wall, cpu)
	for _, j := range jobs {
		text := strings.ReplaceAll(strings.Trim(fmt.Sprint(rows[j.ID]), "[]"), " ", ",")
		fmt.Fprintf(w, "%d,%v,%s\n", j.ID, j.Reach/8, text)
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
}

// readCraters reads the catalogue of a survey.
func readCraters(t testing.TB, folder string, body geom.Body) []geom.Crater {
	f, err := os.Open(filepath.Join(folder, "craters.geojson"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	cat, err := geom.ReadCatalogue(f, "craters.geojson", geom.CatalogueOptions{Body: body})
	if err != nil {
		t.Fatal(err)
	}
	return cat.Craters
}
