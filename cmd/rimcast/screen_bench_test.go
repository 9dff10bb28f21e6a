//go:build unix

package main

import (
	"errors"
	"flag"
	"io"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"rimcast/raster"
)

var screenSurvey = flag.String("screen.survey", "", "folder made by rimcast synth big, for BenchmarkScreen in place of a small survey")

// BenchmarkScreen sets screening a survey, whole and with a sieve, against decoding
// every block of its layers once, with the same workers and one after the other.
// most-MB is the most memory of the process so far.
func BenchmarkScreen(b *testing.B) {
	dir := *screenSurvey
	if dir == "" {
		dir = b.TempDir()
		big := bigSurvey{width: 2000, height: 1000, craters: 200, seed: 1}
		if _, err := big.write(dir, &silentProgress{newMessages(io.Discard)}); err != nil {
			b.Fatal(err)
		}
	}
	survey := filepath.Join(dir, "survey.toml")
	for b.Loop() {
		decode := timed(func() { decodeOnce(b, survey) })
		b.ReportMetric(decode, "decode-cpu-s")
		for _, share := range []string{"0.02", "0.1", "1"} {
			cpu := timed(func() { screenQuietly(b, survey, share) })
			b.ReportMetric(cpu, "screen-"+share+"-cpu-s")
			b.ReportMetric(cpu/decode, "screen-"+share+"/decode")
			b.ReportMetric(mostMemory()/1e6, "most-"+share+"-MB")
		}
	}
}

// timed is the processor time of some work, seconds.
func timed(work func()) float64 {
	before := processorTime()
	work()
	return processorTime() - before
}

// mostMemory is the most memory that this process has used, bytes.
func mostMemory() float64 {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return 1024 * float64(u.Maxrss)
}

func screenQuietly(b *testing.B, survey, share string) {
	var log strings.Builder
	code := run(b.Context(), []string{"screen", survey, "-o", filepath.Join(b.TempDir(), "out"), "-q", "--top", "0", "--sieve", share}, nil, io.Discard, &log)
	if code != 0 && code != exitPartial {
		b.Fatalf("exit %d: %s", code, log.String())
	}
}

// decodeOnce decodes the layers of a survey in bands of rows.
func decodeOnce(b *testing.B, survey string) {
	p := openedSurvey(b, survey)
	defer p.close()
	for _, g := range p.groups {
		faults := make([]error, len(g.set.Layers))
		crash := parallel(p.workers(), len(faults), func(i int) { faults[i] = decodeLayer(g.set.Layers[i]) })
		if err := errors.Join(append(faults, crash)...); err != nil {
			b.Fatal(err)
		}
	}
}

func decodeLayer(l *raster.Layer) error {
	const rows = 512
	c, err := l.Clone()
	if err != nil {
		return err
	}
	defer c.Close()
	g := c.Grid()
	band := make([]float32, rows*g.Width)
	for y := 0; y < g.Height; y += rows {
		if err := c.Read(0, y, g.Width, min(rows, g.Height-y), band); err != nil {
			return err
		}
	}
	return nil
}
