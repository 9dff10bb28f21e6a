package raster

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/airbusgeo/godal"
	"github.com/google/go-cmp/cmp"
)

func TestVRTSources(t *testing.T) {
	for _, c := range []struct {
		text string
		want []string
	}{
		{`<VRTDataset/>`, nil},
		{`<VRTDataset><SourceFilename relativeToVRT="1">a.tif</SourceFilename></VRTDataset>`, []string{"a.tif"}},
		{`<V><sourcefilename>&#47;vsicurl/http://a/b</sourcefilename></V>`, []string{"/vsicurl/http://a/b"}},
		{`<V><SourceFilename><![CDATA[/vsis3/a/b]]></SourceFilename><SourceDataset> b.tif </SourceDataset></V>`, []string{"/vsis3/a/b", "b.tif"}},
		{`<V><SourceFilename>cut`, []string{"cut"}},
	} {
		if d := cmp.Diff(c.want, vrtSources(c.text)); d != "" {
			t.Errorf("%s: %s", c.text, d)
		}
	}
}

// A chain of virtual rasters without an end is refused, not followed; a mosaic
// of many files is no chain. A pipe would be waited for.
func TestChainsOfVirtualRasters(t *testing.T) {
	dir := t.TempDir()
	file := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	var mosaic strings.Builder
	for i := range 200 {
		fmt.Fprintf(&mosaic, "<SourceFilename>strip%d.tif</SourceFilename>", i)
		file(fmt.Sprintf("chain%d.vrt", i), fmt.Sprintf("<VRTDataset><SourceFilename>chain%d.vrt</SourceFilename></VRTDataset>", i+1))
	}
	if err := checkRemoteText(file("mosaic.vrt", "<VRTDataset>"+mosaic.String()+"</VRTDataset>")); err != nil {
		t.Errorf("mosaic of 200 files: %v", err)
	}
	refusal(t, checkRemoteText(filepath.Join(dir, "chain0.vrt")), Refused, "leads through more than")
	refusal(t, checkRemoteText(file("pipe.vrt", "<VRTDataset><SourceFilename>/dev/null</SourceFilename></VRTDataset>")), Refused, "a device or a pipe")
	_, err := Open(Spec{Path: "/dev/null", Body: moon})
	refusal(t, err, Corrupt, "a device or a pipe")
}

// FuzzVRTSources: an address written plainly is never missed, and nothing
// panics.
func FuzzVRTSources(f *testing.F) {
	texts := vrtSeeds(f)
	if len(texts) == 0 {
		f.Fatal("no seeds")
	}
	for _, s := range texts {
		f.Add(s)
	}
	const plain = "<VRTDataset><SourceFilename>/vsicurl/"
	for _, s := range []string{"\xe8", "a\x01b", "a&", "a]]>b", "\ufffe"} {
		f.Add(plain + s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		sources := vrtSources(text)
		s, ok := strings.CutPrefix(text, plain)
		if ok && !strings.ContainsAny(s, "<&\x00") && (len(sources) == 0 || !isWeb(sources[0])) {
			t.Errorf("%q is let through: %q", text, sources)
		}
	})
}

// vrtSeeds are virtual rasters as GDAL writes them, and hostile ones.
func vrtSeeds(f *testing.F) []string {
	path := rawFile{types: godal.Float32}.write(f)
	ds, err := openDataset(path, &journal{})
	if err != nil {
		f.Fatal(err)
	}
	defer ds.Close()
	out := filepath.Join(f.TempDir(), "copy.vrt")
	v, err := ds.Translate(out, []string{"-q", "-of", "VRT"})
	if err != nil {
		f.Fatal(err)
	}
	if err := v.Close(); err != nil {
		f.Fatal(err)
	}
	text, err := os.ReadFile(out)
	if err != nil {
		f.Fatal(err)
	}
	return []string{string(text), `<VRTDataset><SourceFilename>/vsicurl/http://a/b</SourceFilename></VRTDataset>`, `<GDAL_WMS><Service/></GDAL_WMS>`}
}
