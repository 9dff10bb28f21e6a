package main

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

var ignoreWritten = cmpopts.IgnoreUnexported(layerSection{})

func TestParseLayer(t *testing.T) {
	two := 2.5
	for _, c := range []struct {
		name, section, text string
		want                layerSection
	}{
		{"plain", "species", "water=water.tif", layerSection{Name: "water", Path: "water.tif"}},
		{"band by number", "species", "water=maps/all.tif:3", layerSection{Name: "water", Path: "maps/all.tif", Band: 3}},
		{"band by name", "species", "water=all.tif,band=H2O abundance", layerSection{Name: "water", Path: "all.tif", BandName: "H2O abundance"}},
		{"options", "species", "oh=oh.tif:1,unit=ppm,sigma=s.tif,epoch=noon,scale=2.5", layerSection{Name: "oh", Path: "oh.tif", Band: 1, Unit: "ppm", Sigma: "s.tif", Epoch: "noon", Scale: &two}},
		{"list", "species", "oh=oh.tif,nodata=-9999,nodata=-1", layerSection{Name: "oh", Path: "oh.tif", NoData: []float64{-9999, -1}}},
		{"comma in the path", "species", "oh=a,b.tif,unit=ppm", layerSection{Name: "oh", Path: "a,b.tif", Unit: "ppm"}},
		{"equals in the path", "species", "oh=dir/a=b.tif", layerSection{Name: "oh", Path: "dir/a=b.tif"}},
		{"address", "species", "oh=/vsicurl/https://host:8080/a.tif", layerSection{Name: "oh", Path: "/vsicurl/https://host:8080/a.tif"}},
		{"drive", "species", `oh=C:\maps\a.tif`, layerSection{Name: "oh", Path: `C:\maps\a.tif`}},
		{"covariate", "covariate", "t=t.tif,kind=temperature", layerSection{Name: "t", Path: "t.tif", Kind: "temperature"}},
		{"mask without a name", "mask", "q.tif,keep=0,keep=1", layerSection{Path: "q.tif", Keep: []float64{0, 1}}},
		{"mask with bits", "mask", "quality=q.tif:2,bits=3,bits=7", layerSection{Name: "quality", Path: "q.tif", Band: 2, Bits: []int{3, 7}}},
		{"words with commas", "species", "w=w.tif,unit=a, b", layerSection{Name: "w", Path: "w.tif", Unit: "a, b"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := parseLayer(c.section, c.text)
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(c.want, got, ignoreWritten); d != "" {
				t.Error(d)
			}
			if got.written != got.Path {
				t.Errorf("written is %q, path %q", got.written, got.Path)
			}
		})
	}
}

func TestParseLayerRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"water.tif":            "there is no name",
		"water=":               "there is no path",
		"w=a.tif,band=0":       "bands are counted from 1",
		"w=a.tif,band=":        "is empty",
		"w=a.tif,scale=one":    `"one" is not a number`,
		"w=a.tif,nodata=1e999": "is not a number",
		"w=a.tif,bits=40":      "is not a bit number",
	} {
		if _, err := parseLayer("species", text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: error %v, want %q", text, err, want)
		}
	}
}

func TestParseBytes(t *testing.T) {
	for text, want := range map[string]int64{ // units: decimal prefixes of the SI, binary ones of IEC 80000-13
		"600MB": 600e6, "4GB": 4e9, "2GiB": 2 << 30, "1.5 g": 15e8, "1048576": 1 << 20, "1 kb": 1000, "3b": 3, "512MiB": 512 << 20,
	} {
		if got, err := parseBytes(text); err != nil || got != want {
			t.Errorf("parseBytes(%q) = %d, %v, want %d", text, got, err, want)
		}
	}
	for _, text := range []string{"", "GB", "-1GB", "0", "nan", "1e30TB", "4 XB", "inf"} {
		if got, err := parseBytes(text); err == nil {
			t.Errorf("parseBytes(%q) = %d, want an error", text, got)
		}
	}
}

func TestParseNumber(t *testing.T) {
	if x, err := parseNumber("nan"); err != nil || !math.IsNaN(x) {
		t.Errorf("nan: %v, %v", x, err)
	}
	for _, text := range []string{"inf", "-Inf", "1e999", "", "1,5", "0x"} {
		if x, err := parseNumber(text); err == nil {
			t.Errorf("parseNumber(%q) = %v, want an error", text, x)
		}
	}
}

func FuzzParseLayer(f *testing.F) {
	for _, s := range []string{
		"water=water.tif", "w=a.tif:3,unit=ppm,nodata=-9999", "q.tif,keep=0", "=,=:1", "w=a:99999999999", "w=a.tif,scale=nan,offset=-0",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for _, section := range []string{"species", "mask"} {
			l, err := parseLayer(section, text)
			if err != nil {
				continue
			}
			if l.Path == "" || section == "species" && l.Name == "" || l.Band < 0 {
				t.Errorf("%q gives %+v", text, l)
			}
			for _, x := range append(append(l.NoData, l.Keep...), l.Drop...) {
				if math.IsInf(x, 0) {
					t.Errorf("%q gives an infinite value", text)
				}
			}
		}
		if n, err := parseBytes(text); err == nil && n < 0 {
			t.Errorf("parseBytes(%q) = %d", text, n)
		}
	})
}
