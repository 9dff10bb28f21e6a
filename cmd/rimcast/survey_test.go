package main

import (
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/spf13/pflag"
)

const wholeSurvey = `
title = "All keys that matter"
[body]
crs = "IAU_2015:30100"
[catalogue]
path = "craters.geojson"
id = "id"
radius = "radius_km"
radius_unit = "km"
lon_direction = "west"
latitude = "planetocentric"
[rasters]
crs = "IAU_2015:30110"
[[species]]
name = "water"
path = "maps/water.tif"
band = 1
unit = "ppm"
sigma = "maps/water_sigma.tif"
nodata = [-9999, -32768]
epoch = "morning"
[[species]]
name = "water"
path = "/abs/noon.tif"
epoch = "noon"
[[covariate]]
name = "temperature"
kind = "temperature"
path = "t.tif"
unit = "K"
[[mask]]
path = "quality.tif"
keep = [0]
[sampling]
inner = 1.2
outer = 6
rings = 10
[tests]
seed = 99
alpha = 0.01
[ranking]
weights = { excess = 2, extent = 0.5 }
[output]
dir = "out"
top = 3
[run]
workers = 2
memory = "1GB"
`

func parse(t *testing.T, text string) *surveyFile {
	t.Helper()
	sv, err := parseSurvey("dir/survey.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	sv.resolve("dir")
	return sv
}

func TestSurveyFile(t *testing.T) {
	sv := parse(t, wholeSurvey)
	if err := sv.check(); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what      string
		got, want any
	}{
		{"catalogue path", sv.Catalogue.Path, "dir/craters.geojson"},
		{"catalogue as written", sv.Catalogue.written, "craters.geojson"},
		{"species path", sv.Species[0].Path, "dir/maps/water.tif"},
		{"absolute path", sv.Species[1].Path, "/abs/noon.tif"},
		{"sigma", sv.Species[0].Sigma, "dir/maps/water_sigma.tif"},
		{"nodata", sv.Species[0].NoData, []float64{-9999, -32768}},
		{"whole number for a real", sv.Sampling.Outer, 6.0},
		{"default beside given keys", sv.Sampling.LevelRadius, defaultSurvey().Sampling.LevelRadius},
		{"default of another section", sv.Tests.FDR, 0.1},
		{"seed", sv.Tests.Seed, uint64(99)},
		{"weights", sv.Ranking.Weights["extent"], 0.5},
		{"memory", sv.Run.Memory, int64(1e9)},
		{"output", sv.Output.Dir, "dir/out"},
	} {
		if d := cmp.Diff(c.want, c.got); d != "" {
			t.Errorf("%s: %s", c.what, d)
		}
	}
}

func TestSurveyFileFaults(t *testing.T) {
	for _, c := range []struct{ name, text, problem, remedy string }{
		{"misspelt key", "[sampling]\nouter_radius = 6\nouterr = 6", `unknown keys "sampling.outer_radius" (line 2), "sampling.outerr" (line 3)`, ""},
		{"near key", "[sampling]\nsektors = 12", `unknown key "sampling.sektors" (line 2)`, "did you mean sampling.sectors"},
		{"near section", "[catalog]\npath = 'a'", `unknown key "catalog`, "did you mean catalogue"},
		{"key of a layer", "[[species]]\nname = 'w'\nunits = 'ppm'", `unknown key "species.units"`, "did you mean species.unit"},
		{"key of another section", "[sampling]\nseed = 3", `unknown key "sampling.seed"`, "belongs under [tests]"},
		{"wrong type", "[sampling]\nrings = 'many'", "line 2", "sampling.rings: number of rings"},
		{"broken", "[sampling\n", "line 1", ""},
		{"negative seed", "[tests]\nseed = -1", "line 2", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := parseSurvey("survey.toml", []byte(c.text))
			if exitCode(err) != exitUsage {
				t.Fatalf("error %v has exit code %d", err, exitCode(err))
			}
			if !strings.HasPrefix(err.Error(), "survey.toml: ") || !strings.Contains(err.Error(), c.problem) {
				t.Errorf("message %q lacks %q", err, c.problem)
			}
			if !strings.Contains(remedyOf(err), c.remedy) {
				t.Errorf("hint %q lacks %q", remedyOf(err), c.remedy)
			}
		})
	}
}

func TestSettingsAreChecked(t *testing.T) {
	for _, c := range []struct{ change, problem string }{
		{"[sampling]\nouter = 1", "sampling.outer = 1 is not possible"},
		{"[sampling]\nouter = 3", "sampling.outer = 3 is not possible"},
		{"[sampling]\ninner = 9", "sampling.inner = 9 is not possible"},
		{"[sampling]\ninner = 3", "sampling.inner = 3 is not possible"},
		{"[sampling]\nrings = 1", "sampling.rings = 1 is not possible"},
		{"[sampling]\nmin_pixels = 1", "sampling.min_pixels = 1 is not possible"},
		{"[sampling]\nouter = nan", "sampling.outer = NaN"},
		{"[sampling]\nsectors = 4", "sampling.sectors = 4"},
		{"[tests]\nalpha = 0.0", "tests.alpha = 0"},
		{"[tests]\nfdr = 2.0", "tests.fdr = 2"},
		{"[tests]\ncentre_sigma = nan", "tests.centre_sigma"},
		{"[body]\nradius_m = -5.0", "body.radius_m = -5"},
		{"[body]\ncrs = 'Moon'\nradius_m = 5.0", "body.crs"},
		{"[run]\nworkers = 0", "run.workers = 0"},
		{"[run]\nmemory = '3MB'", "run.memory"},
		{"[run]\nmemory = 'lots'", "run.memory"},
		{"[output]\nfail_on = 'partail'", "output.fail_on"},
		{"[output]\nfail_on = 'partial:x'", "output.fail_on"},
		{"[output]\nfail_on = 'alarm:no_such_alarm'", "output.fail_on"},
		{"[ranking]\nweights = { real = inf }", "ranking.weights.real"},
		{"[ranking]\nweights = { excess = inf }", "ranking.weights.excess"},
		{"[rasters]\nlon_positive = 'west-ish'", "rasters.lon_positive"},
		{"[[species]]\nname = 'water'\npath = 'b'", "two layers called species water"},
		{"[[species]]\nname = 'x'", "species x has no path"},
		{"[[species]]\npath = 'x'", "a species has no name"},
		{"[[species]]\nname = 'x'\npath = 'x'\nscale = 0.0", "scale = 0"},
		{"[[species]]\nname = 'x'\npath = 'x'\nkeep = [1]", "has keep, drop or bits"},
		{"[[mask]]\npath = 'x'", "does not say which values are good"},
		{"[[covariate]]\nname = 'x'\npath = 'x'\nkind = 'temprature'", "kind"},
	} {
		t.Run(c.problem, func(t *testing.T) {
			sv := parse(t, "[catalogue]\npath = 'c'\n[[species]]\nname = 'water'\npath = 'w'\n"+c.change)
			err := sv.check()
			if exitCode(err) != exitUsage || !strings.Contains(err.Error(), c.problem) {
				t.Errorf("error %v, exit code %d, want %q", err, exitCode(err), c.problem)
			}
		})
	}
}

func TestAnEmptySurveyIsIncomplete(t *testing.T) {
	if err := defaultSurvey().check(); exitCode(err) != exitUsage || !strings.Contains(err.Error(), "no catalogue") {
		t.Error(err)
	}
}

func TestFlagsOverruleTheFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "survey.toml")
	if err := os.WriteFile(path, []byte(wholeSurvey), 0o666); err != nil {
		t.Fatal(err)
	}
	sf := &surveyFlags{}
	fs := pflag.NewFlagSet("test", pflag.ContinueOnError)
	sf.register(fs)
	sf.registerRun(fs)
	if err := fs.Parse([]string{
		"--seed=7", "--outer", "5", "--species", "hydroxyl=oh.tif", "--species", "water=new.tif,epoch=noon", "--nodata", "hydroxyl=0,-1",
		"--lon-positive", "east", "--full-resolution", "-o", "there", "--assume-body-crs",
	}); err != nil {
		t.Fatal(err)
	}
	sv, err := sf.build(path, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := sv.check(); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what      string
		got, want any
	}{
		{"seed", sv.Tests.Seed, uint64(7)},
		{"outer", sv.Sampling.Outer, 5.0},
		{"alpha of the file", sv.Tests.Alpha, 0.01},
		{"layers", len(sv.Species), 3},
		{"replaced epoch", sv.Species[1].Path, "new.tif"},
		{"flag path is not joined to the folder of the file", sv.Species[2].Path, "oh.tif"},
		{"nodata", sv.Species[2].NoData, []float64{0, -1}},
		{"direction", sv.Catalogue.LonDirection, "east"},
		{"full resolution", sv.Sampling.FullResolution, true},
		{"output", sv.Output.Dir, "there"},
		{"assume", []bool{sv.Catalogue.AssumeBodyCRS, sv.Rasters.AssumeBodyCRS}, []bool{true, true}},
	} {
		if d := cmp.Diff(c.want, c.got); d != "" {
			t.Errorf("%s: %s", c.what, d)
		}
	}
}

func TestEveryKeyIsDocumented(t *testing.T) {
	documented := map[string]bool{}
	for _, k := range surveyKeys {
		if documented[k.key] {
			t.Errorf("%s has two rows", k.key)
		}
		documented[k.key] = true
		section, name, ok := strings.Cut(k.key, ".")
		if !ok {
			section, name = "", k.key
		}
		if !slices.Contains(keysOf(section), name) {
			t.Errorf("the table has a row for %s, which is no key", k.key)
		}
		if k.help == "" || strings.HasSuffix(k.help, ".") {
			t.Errorf("%s: help %q", k.key, k.help)
		}
	}
	for _, section := range keysOf("") {
		f, _ := fieldByTag(reflect.TypeFor[surveyFile](), section)
		if f.Type.Kind() != reflect.Struct && f.Type.Kind() != reflect.Slice {
			continue
		}
		for _, key := range keysOf(section) {
			if !documented[section+"."+key] && !documented["species."+key] && !documented["covariate."+key] && !documented["mask."+key] {
				t.Errorf("%s.%s has no row in surveyKeys", section, key)
			}
		}
	}
}

func TestFlagsHaveOneMeaning(t *testing.T) {
	seen := map[string]string{}
	for _, k := range surveyKeys {
		if k.flag == "" {
			continue
		}
		if other, ok := seen[k.flag]; ok {
			t.Errorf("--%s sets %s and %s", k.flag, other, k.key)
		}
		seen[k.flag] = k.key
	}
}

func FuzzSurveyFile(f *testing.F) {
	f.Add([]byte(wholeSurvey))
	f.Add([]byte("[[species]]\nname='a'\npath='b'\n[catalogue]\npath='c'"))
	f.Add([]byte("\xef\xbb\xbftitle = 'with a mark'"))
	f.Add([]byte("[sampling]\ninner = inf\n[ranking]\nweights = {a = nan}"))
	f.Fuzz(func(t *testing.T, text []byte) {
		sv, err := parseSurvey("s.toml", text)
		if err == nil {
			sv.resolve("dir")
			err = sv.check()
		}
		if err == nil {
			if len(sv.Species) == 0 || sv.Catalogue.Path == "" || !(sv.Sampling.Outer >= 2) || sv.Run.Memory <= 0 {
				t.Errorf("an impossible survey was accepted: %+v", sv)
			}
			return
		}
		var cli *cliError
		if !errors.As(err, &cli) || cli.code != exitUsage {
			t.Errorf("error %v has exit code %d", err, exitCode(err))
		}
	})
}
