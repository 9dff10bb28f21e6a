package raster

import (
	"cmp"
	"context"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"rimcast/geom"

	"github.com/airbusgeo/godal"
)

// Sampling is measured against the least that it can cost: decoding every
// block that the craters need, of all layers, once, with as many workers.
var (
	sweepSurvey  = flag.String("sweep.survey", "", "folder made by rimcast synth big, to measure on in place of a small invented survey")
	sweepCodecs  = flag.String("sweep.codecs", "NONE,DEFLATE,ZSTD", "compression of the maps, separated by commas; SAME leaves them as they are")
	sweepWorkers = flag.Int("sweep.workers", 2, "workers")
	sweepRounds  = flag.Int("sweep.rounds", 3, "rounds of decoding and sampling in turn; medians are reported")
	sweepCraters = flag.Int("sweep.craters", 0, "craters to draw on the maps of the survey in place of its own")
	sweepRadius  = flag.Float64("sweep.radius", 24, "largest rim radius in pixels read at full resolution")
)

// BenchmarkSweep reports the time of sampling over that of decoding.
func BenchmarkSweep(b *testing.B) {
	paths, jobs := sweepInput(b)
	jobs = slices.DeleteFunc(jobs, stretched)
	for _, codec := range strings.Split(*sweepCodecs, ",") {
		b.Run(codec, func(b *testing.B) { benchmarkSweep(b, recoded(b, paths, codec), jobs) })
	}
}

func benchmarkSweep(b *testing.B, paths []string, jobs []Job) {
	set := openSweep(b, paths)
	blocks, pixels := neededBlocks(b, set.Layers[0], jobs)
	var decode, sample, ratio, work, decodeCPU, sampleCPU []float64
	b.ResetTimer()
	for range max(b.N, *sweepRounds) {
		d, dc := seconds(func() { decodeOnce(b, set, blocks, *sweepWorkers) })
		s, sc := seconds(func() { sampleAll(b, set, jobs, *sweepWorkers) })
		decode, sample = append(decode, d), append(sample, s)
		ratio, work = append(ratio, s/d), append(work, sc/dc)
		decodeCPU, sampleCPU = append(decodeCPU, dc), append(sampleCPU, sc)
	}
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(middle(ratio), "sample/decode")
	b.ReportMetric(middle(work), "sample/decode-cpu")
	b.ReportMetric(middle(decode), "decode-s")
	b.ReportMetric(middle(sample), "sample-s")
	b.ReportMetric(middle(decodeCPU), "decode-cpu-s")
	b.ReportMetric(middle(sampleCPU), "sample-cpu-s")
	b.ReportMetric(float64(len(blocks)*len(paths)), "blocks")
	b.ReportMetric(float64(pixels)/1e6, "Mpx")
	b.ReportMetric(float64(len(jobs)), "craters")
	b.ReportMetric(peakMemory()/1e6, "peak-MB")
}

// seconds is how long a function takes, by the clock and of processor time: the
// latter says more on a machine that others use too.
func seconds(fn func()) (wall, cpu float64) {
	start, used := time.Now(), cpuTime()
	fn()
	return time.Since(start).Seconds(), float64(cpuTime()-used) / 1e9
}

func middle(v []float64) float64 {
	v = slices.Sorted(slices.Values(v))
	return v[len(v)/2]
}

// sweepInput are the maps and craters to measure on.
func sweepInput(b *testing.B) ([]string, []Job) {
	if *sweepSurvey == "" {
		return inventSweep(b, 4096, 3, 840)
	}
	paths, err := filepath.Glob(filepath.Join(*sweepSurvey, "*.tif"))
	if err != nil || len(paths) == 0 {
		b.Fatalf("no maps in %s: %v", *sweepSurvey, err)
	}
	l := openAs(b, paths[0])
	if *sweepCraters > 0 {
		return paths, inventJobs(l.Grid(), *sweepCraters)
	}
	craters := readCraters(b, *sweepSurvey, l.grid.Body)
	jobs := make([]Job, len(craters))
	for i, c := range craters {
		jobs[i] = sweepJob(l.Grid(), i, c.Centre, c.Radius)
	}
	return paths, jobs
}

// stretched reports whether the pixels of a crater are stretched six to one, when
// a screening refuses it: near the poles of these maps.
func stretched(j Job) bool {
	return math.Cos(math.Min(math.Pi/2, math.Abs(j.Centre.Lat)*degree+j.Reach/1e6)) < 1./6
}

// sweepJob is a crater with its level, as a screening chooses it.
func sweepJob(g *Grid, id int, at geom.LonLat, radius float64) Job {
	j := Job{ID: id, Centre: at, Reach: 8 * radius}
	for side := radius / g.PixelSize(geom.LonLat{}); side > *sweepRadius && j.Level < MaxLevel; side /= 2 {
		j.Level++
	}
	return j
}

// inventSweep writes maps of noise in steps of 1/16, with holes, and draws
// craters on them.
func inventSweep(t testing.TB, width, layers, craters int) ([]string, []Job) {
	g, err := GlobalGrid(moon, width, 0)
	if err != nil {
		t.Fatal(err)
	}
	dir, rng := t.TempDir(), rand.New(rand.NewPCG(uint64(width), uint64(craters)))
	var paths []string
	values := make([]float32, g.Width*g.Height)
	for k := range layers {
		for i := range values {
			wave := math.Sin(float64(i%g.Width)/40) * math.Cos(float64(i/g.Width)/30)
			values[i] = float32(math.Round(16*(200+30*wave+12*(rng.Float64()+rng.Float64()-1))) / 16)
			if rng.Float64() < 0.01 {
				values[i] = float32(math.NaN())
			}
		}
		paths = append(paths, filepath.Join(dir, fmt.Sprintf("map%d.tif", k)))
		if err := WriteGeoTIFF(paths[k], &g, []Band{{Name: "n", Values: values}}, WriteOptions{Compress: "NONE"}); err != nil {
			t.Fatal(err)
		}
	}
	return paths, inventJobs(&g, craters)
}

// inventJobs draws craters evenly over the body with a power law of sizes, from
// 2 to 200 pixels.
func inventJobs(g *Grid, n int) []Job {
	rng := rand.New(rand.NewPCG(1, uint64(n)))
	jobs := make([]Job, n)
	for i := range jobs {
		size := 2 / math.Sqrt(1-rng.Float64()*(1-1e-4))
		at := geom.LonLat{Lon: 360*rng.Float64() - 180, Lat: math.Asin(2*rng.Float64()-1) / degree}
		jobs[i] = sweepJob(g, i, at, size*g.PixelSize(geom.LonLat{}))
	}
	return jobs
}

// recoded returns copies of maps in tiles with another compression.
func recoded(b *testing.B, paths []string, codec string) (out []string) {
	if codec == "SAME" {
		return paths
	}
	switches := []string{"-q", "-co", "TILED=YES", "-co", "BLOCKXSIZE=512", "-co", "BLOCKYSIZE=512", "-co", "COMPRESS=" + codec, "-co", "BIGTIFF=IF_SAFER"}
	if codec != "NONE" {
		switches = append(switches, "-co", "PREDICTOR=3")
	}
	for _, p := range paths {
		ds, err := openDataset(p, &journal{})
		if err != nil {
			b.Fatal(err)
		}
		to := filepath.Join(b.TempDir(), filepath.Base(p))
		c, err := ds.Translate(to, switches)
		if err != nil {
			b.Fatal(err)
		}
		if err := cmp.Or(c.Close(), ds.Close()); err != nil {
			b.Fatal(err)
		}
		out = append(out, to)
	}
	return out
}

func openAs(t testing.TB, path string) *Layer {
	l, err := Open(Spec{Path: path})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	return l
}

func openSweep(t testing.TB, paths []string) *LayerSet {
	s := &LayerSet{}
	for _, p := range paths {
		s.Layers = append(s.Layers, openAs(t, p))
	}
	return s
}

// neededBlocks lists the blocks of the file that hold a pixel within reach of a
// crater, and counts those pixels.
func neededBlocks(t testing.TB, l *Layer, jobs []Job) (blocks [][2]int, pixels int) {
	bw, bh := l.info.BlockWidth, l.info.BlockHeight
	across := (l.grid.Width + bw - 1) / bw
	need := make([]bool, across*((l.grid.Height+bh-1)/bh))
	var p Patch
	for _, j := range jobs {
		if err := l.grid.Ranges(l.grid.Body, j.Centre, j.Reach, j.Level, &p, Window{X: -1 << 40, Y: -1 << 40, Width: 1 << 41, Height: 1 << 41}); err != nil {
			t.Fatal(err)
		}
		pixels += p.Len()
		for i := range p.X {
			x, y := floorMod(p.Column(i)*p.Block, l.grid.Width), p.Row(i)*p.Block
			if y >= 0 && y < l.grid.Height {
				need[y/bh*across+x/bw] = true
			}
		}
	}
	for i, n := range need {
		if n {
			blocks = append(blocks, [2]int{i % across, i / across})
		}
	}
	return blocks, pixels
}

// decodeOnce reads blocks of all layers through GDAL and does nothing with them.
func decodeOnce(b *testing.B, s *LayerSet, blocks [][2]int, workers int) {
	sets, err := cloneSets(s, workers)
	if err != nil {
		b.Fatal(err)
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for _, set := range sets {
		wg.Go(func() {
			info := &set.Layers[0].info
			buf := make([]float32, info.BlockWidth*info.BlockHeight)
			for i := int(next.Add(1)) - 1; i < len(blocks)*len(set.Layers); i = int(next.Add(1)) - 1 {
				l, at := set.Layers[i%len(set.Layers)], blocks[i/len(set.Layers)]
				x, y := at[0]*info.BlockWidth, at[1]*info.BlockHeight
				w, h := min(info.BlockWidth, info.Width-x), min(info.BlockHeight, info.Height-y)
				if err := l.band.Read(x, y, buf, w, h, godal.ErrLogger(l.j.handle)); err != nil {
					b.Error(err)
				}
			}
		})
	}
	wg.Wait()
	for _, set := range sets[1:] {
		set.Close()
	}
}

// sampleAll visits all craters and sums their layers by ring and sector.
func sampleAll(b *testing.B, s *LayerSet, jobs []Job, workers int) {
	err := VisitCells(context.Background(), s, jobs, testLayout(), workers, func(_ int, _ Job, _ *CellSums, err error) error { return err })
	if err != nil {
		b.Fatal(err)
	}
}
