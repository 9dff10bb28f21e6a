package main

import (
	"fmt"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"

	"rimcast/geom"
	"rimcast/raster"
)

// The remote map of the test of ranges.
const (
	remoteWidth = 2048
	remoteTile  = 256
	remoteTiles = remoteWidth / remoteTile * remoteWidth / 2 / remoteTile
)

// countingServer serves the files of a folder by ranges and counts requests
// and bytes.
type countingServer struct {
	*httptest.Server
	requests, whole, bytes atomic.Int64
}

func serveRanges(t *testing.T, dir string) *countingServer {
	s := &countingServer{}
	s.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.requests.Add(1)
		if r.Method == http.MethodGet && r.Header.Get("Range") == "" {
			s.whole.Add(1)
		}
		http.ServeFile(countedWriter{w, &s.bytes}, r, filepath.Join(dir, filepath.Base(r.URL.Path)))
	}))
	t.Cleanup(s.Close)
	return s
}

type countedWriter struct {
	http.ResponseWriter
	bytes *atomic.Int64
}

// Write counts what goes out.
func (w countedWriter) Write(b []byte) (int, error) {
	w.bytes.Add(int64(len(b)))
	return w.ResponseWriter.Write(b)
}

// writeRemoteMap writes a cloud-optimised map and six craters.
func writeRemoteMap(t *testing.T, dir string) {
	t.Helper()
	body := geom.Sphere("Moon", 1737400)
	g, err := raster.GlobalGrid(body, remoteWidth, 0)
	if err != nil {
		t.Fatal(err)
	}
	r := &mapRecipe{w: g.Width, h: g.Height, one: map[string]string{}}
	values := make([]float32, g.Width*g.Height)
	for i, v := range r.values(0) {
		values[i] = float32(v)
	}
	opt := raster.WriteOptions{COG: true, BlockSize: remoteTile}
	if err := raster.WriteGeoTIFF(filepath.Join(dir, "water.tif"), &g, []raster.Band{{Name: "water", Unit: "ppm", Values: values}}, opt); err != nil {
		t.Fatal(err)
	}
	var features []string
	for i := range 6 {
		features = append(features, fmt.Sprintf(`{"type":"Feature","id":"C%d","properties":{"radius_km":30},"geometry":{"type":"Point","coordinates":[%d,%d]}}`, i, -150+60*i, 30-10*i))
	}
	put(t, filepath.Join(dir, "craters.geojson"), `{"type":"FeatureCollection","features":[`+strings.Join(features, ",")+`]}`)
}

// TestRangesOfRemoteMap: a map on a server is read by ranges, each tile about
// once, and never as a whole.
func TestRangesOfRemoteMap(t *testing.T) {
	tallied(t)
	dir := t.TempDir()
	writeRemoteMap(t, dir)
	server := serveRanges(t, dir)
	address := strings.Replace(server.URL, "://", "://user:secret@", 1) + "/water.tif?signature=secret"
	for _, workers := range []string{"1", "2"} {
		server.requests.Store(0)
		server.bytes.Store(0)
		code, text := program(t, dir, nil, "screen", "--allow-vsi", "--species", "water="+address, "--craters", "craters.geojson",
			"--nulls", "20", "--top", "0", "--workers", workers, "--force", "-o", "out")
		if code != 0 {
			t.Fatalf("exit code %d; %s", code, text)
		}
		n := server.requests.Load()
		t.Logf("%s workers: %d requests for %d tiles, %.2f for each; %.1f MB", workers, n, remoteTiles, float64(n)/remoteTiles, float64(server.bytes.Load())/1e6)
		if n > 2*remoteTiles {
			t.Errorf("%d requests for %d tiles", n, remoteTiles)
		}
	}
	if n := server.whole.Load(); n > 0 {
		t.Errorf("the whole file was asked for %d times", n)
	}
	checkNoSecret(t, filepath.Join(dir, "out"))
}

// TestServerThatFailsHalfWay: craters on the tiles that were served are kept.
func TestServerThatFailsHalfWay(t *testing.T) {
	tallied(t)
	dir := t.TempDir()
	writeRemoteMap(t, dir)
	info, err := os.Stat(filepath.Join(dir, "water.tif"))
	if err != nil {
		t.Fatal(err)
	}
	half := info.Size() * 3 / 4
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var from, to int64
		if _, err := fmt.Sscanf(r.Header.Get("Range"), "bytes=%d-%d", &from, &to); err == nil && to > half {
			w.WriteHeader(http.StatusInternalServerError)
			return
		}
		http.ServeFile(w, r, filepath.Join(dir, filepath.Base(r.URL.Path)))
	}))
	defer server.Close()
	code, text := program(t, dir, []string{"GDAL_HTTP_RETRY_DELAY=0.01"}, "screen", "--allow-vsi", "--species", "water="+server.URL+"/water.tif",
		"--craters", "craters.geojson", "--nulls", "0", "--top", "0", "-o", "out")
	if code != exitPartial || !strings.Contains(text, "status unreadable") {
		t.Fatalf("exit code %d; %s", code, text)
	}
	if found := slurp(t, filepath.Join(dir, "out", "findings.csv")); !strings.Contains(found, ",ok,") || !strings.Contains(found, ",unreadable,") {
		t.Errorf("findings: %s", found)
	}
}

// checkNoSecret looks for the password and the signature in every file of a
// result.
func checkNoSecret(t *testing.T, dir string) {
	t.Helper()
	err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		if strings.Contains(slurp(t, path), "secret") {
			t.Errorf("%s tells a secret", path)
		}
		return nil
	})
	if err != nil {
		t.Error(err)
	}
}

func slurp(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}
