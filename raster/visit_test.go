package raster

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"sync"
	"testing"

	"rimcast/geom"
)

func visitJobs(n int) []Job {
	rng := rand.New(rand.NewPCG(1, 2))
	jobs := make([]Job, n)
	for i := range jobs {
		jobs[i] = Job{ID: i, Centre: geom.LonLat{Lon: rng.Float64()*360 - 180, Lat: rng.Float64()*178 - 89}, Reach: 2e4 + 1e5*rng.Float64(), Level: i % 2}
	}
	return jobs
}

func visitFile(t testing.TB) *Layer {
	g, err := GlobalGrid(moon, 512, 0)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "map.tif")
	if err := WriteGeoTIFF(path, &g, []Band{{Name: "n", Values: numbered(t, g)}}, WriteOptions{BlockSize: 64}); err != nil {
		t.Fatal(err)
	}
	l, err := Open(Spec{Path: path, Body: moon})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	return l
}

// TestVisit: every job once, and the same values whatever the number of
// workers.
func TestVisit(t *testing.T) {
	jobs := visitJobs(200)
	var want []string
	for _, workers := range []int{1, 2, 5, 1000} {
		s := &LayerSet{Layers: []*Layer{visitFile(t)}}
		got := make([]string, len(jobs))
		err := Visit(context.Background(), s, jobs, workers, func(_ int, job Job, p *Patch, err error) error {
			if err != nil {
				return err
			}
			if got[job.ID] != "" {
				return fmt.Errorf("job %d came twice", job.ID)
			}
			sum := 0.0
			for i, v := range p.Values[0] {
				sum += float64(v) + p.R[i] + p.Az[i] + p.Area[i]
			}
			got[job.ID] = fmt.Sprint(p.Len(), sum)
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		for i := range got {
			if got[i] == "" {
				t.Fatalf("%d workers: job %d was left out", workers, i)
			}
			if want != nil && got[i] != want[i] {
				t.Fatalf("%d workers: job %d gave %s, want %s", workers, i, got[i], want[i])
			}
		}
		want = got
	}
}

func TestVisitStops(t *testing.T) {
	s := &LayerSet{Layers: []*Layer{visitFile(t)}}
	stop := errors.New("stop")
	var mu sync.Mutex
	n := 0
	err := Visit(context.Background(), s, visitJobs(300), 2, func(int, Job, *Patch, error) error {
		mu.Lock()
		defer mu.Unlock()
		if n++; n == 10 {
			return stop
		}
		return nil
	})
	if !errors.Is(err, stop) || n > 20 {
		t.Errorf("error %v after %d jobs", err, n)
	}
	ctx, cancel := context.WithCancel(context.Background())
	n = 0
	err = Visit(ctx, s, visitJobs(300), 2, func(int, Job, *Patch, error) error {
		mu.Lock()
		defer mu.Unlock()
		if n++; n == 10 {
			cancel()
		}
		return nil
	})
	if !errors.Is(err, context.Canceled) || n > 20 {
		t.Errorf("error %v after %d jobs", err, n)
	}
}

// TestVisitDamagedFile: jobs on good tiles go on.
func TestVisitDamagedFile(t *testing.T) {
	l := mustOpen(t, Spec{Path: truncated(t), Body: moon})
	jobs := []Job{
		{ID: 0, Centre: geom.LonLat{Lon: 0.8, Lat: 9.2}, Reach: 1e4},
		{ID: 1, Centre: geom.LonLat{Lon: 5.6, Lat: 4.4}, Reach: 1e4}, // last tile
		{ID: 2, Centre: geom.LonLat{Lon: 2.4, Lat: 9.2}, Reach: 1e4},
	}
	failed := map[int]error{}
	err := Visit(context.Background(), &LayerSet{Layers: []*Layer{l}}, jobs, 1, func(_ int, job Job, p *Patch, err error) error {
		failed[job.ID] = err
		return nil
	})
	if err != nil || len(failed) != 3 || failed[0] != nil || failed[2] != nil {
		t.Fatalf("error %v, jobs %v", err, failed)
	}
	refusal(t, failed[1], Corrupt, "block column 3, row 3", "band 1")
}

func TestVisitManyLayers(t *testing.T) {
	l := visitFile(t)
	g := *l.Grid()
	s := &LayerSet{Layers: []*Layer{l, NewMemory("copy", "1", g, numbered(t, g))}}
	err := Visit(context.Background(), s, visitJobs(50), 2, func(_ int, job Job, p *Patch, err error) error {
		if err != nil {
			return err
		}
		for i, v := range p.Values[0] {
			if w := p.Values[1][i]; v != w && (v == v || w == w) {
				return fmt.Errorf("job %d pixel %d: %g and %g", job.ID, i, v, w)
			}
		}
		return nil
	})
	if err != nil {
		t.Error(err)
	}
}
