package raster

import (
	"cmp"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
)

// BenchmarkBeside is the processor time of reading windows of a map of half the
// resolution, ZSTD, round the craters of another map in the order of a sweep of that,
// over decoding each block that they need once: by handles that share cells, and by
// handles alone.
func BenchmarkBeside(b *testing.B) {
	paths, jobs := sweepInput(b)
	half := openAs(b, halved(b, paths[0]))
	order := make([]int32, len(jobs))
	for i := range jobs {
		order[i], jobs[i].Level = int32(i), max(0, jobs[i].Level-1)
	}
	sortJobs(openAs(b, paths[0]), jobs, order)
	blocks, _ := neededBlocks(b, half, jobs)
	var decode, shared, alone []float64
	b.ResetTimer()
	for range max(b.N, *sweepRounds) {
		_, c := seconds(func() { decodeOnce(b, &LayerSet{Layers: []*Layer{half}}, blocks, *sweepWorkers) })
		decode = append(decode, c)
		shared, alone = append(shared, besideSeconds(b, half, jobs, order, 256<<20)), append(alone, besideSeconds(b, half, jobs, order, 0))
	}
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(middle(decode), "decode-cpu-s")
	b.ReportMetric(middle(shared), "shared-cpu-s")
	b.ReportMetric(middle(alone), "alone-cpu-s")
	b.ReportMetric(float64(len(blocks)), "blocks")
	b.ReportMetric(float64(len(jobs)), "craters")
}

// halved writes a map at half its resolution.
func halved(b *testing.B, path string) string {
	ds, err := openDataset(path, &journal{})
	if err != nil {
		b.Fatal(err)
	}
	to := filepath.Join(b.TempDir(), "half.tif")
	c, err := ds.Translate(to, []string{"-q", "-r", "average", "-outsize", "50%", "50%", "-co", "TILED=YES", "-co", "BLOCKXSIZE=512", "-co", "BLOCKYSIZE=512", "-co", "COMPRESS=ZSTD", "-co", "PREDICTOR=3"})
	if err != nil {
		b.Fatal(err)
	}
	if err := cmp.Or(c.Close(), ds.Close()); err != nil {
		b.Fatal(err)
	}
	return to
}

// besideSeconds is the processor time of all windows, with some bytes of shared cells.
func besideSeconds(b *testing.B, l *Layer, jobs []Job, order []int32, bytes int64) float64 {
	_, cpu := seconds(func() {
		clones, err := l.Clones(*sweepWorkers, bytes)
		if err != nil {
			b.Fatal(err)
		}
		var next atomic.Int64
		var wg sync.WaitGroup
		for _, c := range clones {
			wg.Go(func() {
				set, p := &LayerSet{Layers: []*Layer{c}}, new(Patch)
				for i := int(next.Add(1)) - 1; i < len(order); i = int(next.Add(1)) - 1 {
					if err := set.window(jobs[order[i]], p); err != nil {
						b.Error(err)
					}
				}
			})
		}
		wg.Wait()
		closeAll(b, clones)
	})
	return cpu
}
