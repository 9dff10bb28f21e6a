package main

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

// program runs a command line in a process of its own, with more environment,
// and returns its exit code and standard error.
func program(t *testing.T, dir string, env []string, args ...string) (int, string) {
	t.Helper()
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(exe, args...)
	cmd.Dir = dir
	cmd.Env = append(append(os.Environ(), asProgram+"=1", "NO_COLOR=1"), env...)
	var errs strings.Builder
	cmd.Stderr = &errs
	err = cmd.Run()
	if cmd.ProcessState == nil {
		t.Fatal(err)
	}
	return cmd.ProcessState.ExitCode(), errs.String()
}

// remoteFault is a way in which a server fails.
type remoteFault struct {
	path  string
	serve http.HandlerFunc
	code  int
	words []string
	most  int64 // requests, so that retries have an end
}

func answer(code int) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(code) }
}

// sleepy answers later than anybody waits.
func sleepy(w http.ResponseWriter, r *http.Request) {
	select {
	case <-r.Context().Done():
	case <-time.After(time.Minute):
	}
}

var remoteFaults = []remoteFault{
	{"/denied.tif", answer(http.StatusForbidden), exitCorrupt, []string{"403"}, 4},
	{"/absent.tif", answer(http.StatusNotFound), exitCorrupt, []string{"404"}, 4},
	{"/down.tif", answer(http.StatusServiceUnavailable), exitCorrupt, []string{"503"}, 12},
	{"/slow.tif", sleepy, exitCorrupt, []string{"timed out"}, 12},
	{"/page.tif", func(w http.ResponseWriter, _ *http.Request) { fmt.Fprint(w, "<html>please log in</html>") }, exitCorrupt, []string{"page.tif"}, 12},
}

// TestRemoteFaults: a server that refuses, fails or sleeps ends the run soon,
// with its answer in the message and no secret.
func TestRemoteFaults(t *testing.T) {
	tallied(t)
	for _, f := range remoteFaults {
		t.Run(strings.Trim(f.path, "/"), func(t *testing.T) {
			t.Parallel()
			f.check(t)
		})
	}
}

func (f remoteFault) check(t *testing.T) {
	var asked atomic.Int64
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		asked.Add(1)
		f.serve(w, r)
	}))
	defer server.Close()
	url := strings.Replace(server.URL, "://", "://user:secret@", 1) + f.path + "?signature=secret"
	code, text := program(t, t.TempDir(), []string{"GDAL_HTTP_TIMEOUT=1", "GDAL_HTTP_RETRY_DELAY=0.05"},
		"inspect", "--body", "Moon", "--allow-vsi", "--species", "water="+url)
	if code != f.code || strings.Contains(text, "secret") || strings.Contains(text, "signature") {
		t.Errorf("exit code %d, want %d; %s", code, f.code, text)
	}
	for _, word := range f.words {
		if !strings.Contains(text, word) {
			t.Errorf("%q does not say %q", text, word)
		}
	}
	if n := asked.Load(); n == 0 || n > f.most {
		t.Errorf("%d requests, at most %d were expected", n, f.most)
	}
}

// TestRemoteIsOffUnlessAsked: without --allow-vsi no request leaves, whatever
// names are given and whatever a virtual raster points to.
func TestRemoteIsOffUnlessAsked(t *testing.T) {
	tallied(t)
	var asked atomic.Int64
	server := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { asked.Add(1) }))
	defer server.Close()
	dir := t.TempDir()
	put(t, filepath.Join(dir, "remote.vrt"), fmt.Sprintf(remoteVRT, "/vsicurl/"+server.URL+"/x.tif"))
	put(t, filepath.Join(dir, "inner.vrt"), fmt.Sprintf(remoteVRT, "remote.vrt"))
	put(t, filepath.Join(dir, "wms.xml"), `<GDAL_WMS><Service name="TMS"><ServerUrl>`+server.URL+`/${x}/${y}</ServerUrl></Service></GDAL_WMS>`)
	put(t, filepath.Join(dir, "tms.tif"), `<GDAL_WMS><Service name="TMS"><ServerUrl>`+server.URL+`/${x}/${y}</ServerUrl></Service></GDAL_WMS>`)
	put(t, filepath.Join(dir, "entity.vrt"), fmt.Sprintf(remoteVRT, "&#47;vsicurl/"+server.URL+"/x.tif"))
	put(t, filepath.Join(dir, "stream.vrt"), fmt.Sprintf(remoteVRT, "/vsicurl_streaming/"+server.URL+"/x.tif"))
	for _, name := range []string{"plain.tif", "masked.tif"} {
		if err := makeMap(filepath.Join(dir, name), []string{"size=20x10", "geo=-180,18,0,90,0,-18"}); err != nil {
			t.Fatal(err)
		}
	}
	put(t, filepath.Join(dir, "plain.tif.ovr"), fmt.Sprintf(remoteVRT, "/vsicurl_streaming/"+server.URL+"/x.tif"))
	put(t, filepath.Join(dir, "masked.tif.msk"), fmt.Sprintf(remoteVRT, "/vsis3/bucket/x.tif"))
	put(t, filepath.Join(dir, "detached.cub"), fmt.Sprintf(detachedCube, "/vsicurl_streaming/"+server.URL+"/x.cub"))
	for _, name := range []string{
		"plain.tif", "masked.tif", "stream.vrt", "detached.cub", server.URL + "/x.tif", "/vsicurl/" + server.URL + "/x.tif", "/vsicurl_streaming/" + server.URL + "/x.tif",
		"/vsizip//vsicurl/" + server.URL + "/x.zip", "WMS:" + server.URL, "vrt://" + server.URL + "/x.tif", "STACIT:\"" + server.URL + "\"",
		"PLMOSAIC:" + server.URL, "ZARR:/vsicurl/" + server.URL, "remote.vrt", "inner.vrt", "entity.vrt", "wms.xml", "tms.tif",
	} {
		code, text := program(t, dir, nil, "inspect", "--body", "Moon", "--species", "water="+name)
		if code != exitRefused && code != exitCorrupt {
			t.Errorf("%s: exit code %d; %s", name, code, text)
		}
	}
	if n := asked.Load(); n > 0 {
		t.Errorf("%d requests left although nobody asked for them", n)
	}
}

// detachedCube is a label whose pixels are elsewhere.
const detachedCube = `Object = IsisCube
  Object = Core
    StartByte = 1
    ^Core = "%s"
    Format = BandSequential
    Group = Dimensions
      Samples = 20
      Lines = 10
      Bands = 1
    End_Group
    Group = Pixels
      Type = Real
      ByteOrder = Lsb
      Base = 0.0
      Multiplier = 1.0
    End_Group
  End_Object
End_Object
End
`

const remoteVRT = `<VRTDataset rasterXSize="20" rasterYSize="10"><SRS>GEOGCS["Moon",DATUM["Moon",SPHEROID["Moon",1737400,0]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]]</SRS>
<GeoTransform>-180,18,0,90,0,-18</GeoTransform><VRTRasterBand dataType="Float32" band="1"><SimpleSource><SourceFilename relativeToVRT="1">%s</SourceFilename><SourceBand>1</SourceBand></SimpleSource></VRTRasterBand></VRTDataset>`
