package main

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"rimcast/ejecta/testblanket"
	"rimcast/geom"
	"rimcast/raster"
	"rimcast/reports"
)

// This file writes an invented survey as the files that a real one would have.

// scenarioFile is the recipe in a survey directory, and the mark by which the
// directory is known to be ours.
const scenarioFile = "scenario.toml"

// writeInvented builds a scenario and writes its maps, catalogue, survey file,
// truth and recipe into a directory.
func writeInvented(dir string, s testblanket.Scenario, seed uint64) (*testblanket.Survey, error) {
	v, err := s.Build(seed)
	if err != nil {
		return nil, usage(err.Error(), "")
	}
	grid, err := inventedGrid(v.Body, v.Grid)
	if err != nil {
		return nil, err
	}
	if err := writeMaps(dir, &grid, append(append([]testblanket.Map(nil), v.Species...), v.Covariates...)); err != nil {
		return nil, err
	}
	recipe, err := toml.Marshal(s)
	if err != nil {
		return nil, err
	}
	for _, f := range []struct {
		name string
		text []byte
	}{
		{"craters.geojson", catalogueText(v.Body, v.Craters)},
		{"survey.toml", surveyText(v)},
		{"truth.csv", truthText(v)},
		{scenarioFile, append(fmt.Appendf(nil, "# made with seed %d\n", seed), recipe...)},
	} {
		if err := os.WriteFile(filepath.Join(dir, f.name), f.text, 0o666); err != nil {
			return nil, outputFault(err)
		}
	}
	return v, nil
}

// writeMaps writes maps into files of their own, several at a time.
func writeMaps(dir string, grid *raster.Grid, maps []testblanket.Map) error {
	written := map[string]bool{}
	for _, m := range maps {
		if written[mapFile(m)] {
			return usage("two maps of the scenario would be called "+mapFile(m), "give them names that differ in letters and digits")
		}
		written[mapFile(m)] = true
	}
	faults := make([]error, len(maps))
	crash := parallel(runtime.GOMAXPROCS(0), len(maps), func(i int) {
		bands := []raster.Band{{Name: maps[i].Name, Unit: maps[i].Unit, Values: maps[i].Values}}
		faults[i] = raster.WriteGeoTIFF(filepath.Join(dir, mapFile(maps[i])), grid, bands, raster.WriteOptions{})
	})
	return cmp.Or(append(faults, crash)...)
}

// mapFile names the file of a map after its species and epoch.
func mapFile(m testblanket.Map) string {
	name := m.Name
	if m.Epoch != "" {
		name += "-" + m.Epoch
	}
	return reports.SafeName(name) + ".tif"
}

// inventedGrid turns a grid in degrees into an equirectangular map in metres,
// as most maps of the trade are delivered.
func inventedGrid(b geom.Body, g testblanket.Grid) (raster.Grid, error) {
	proj, err := raster.NewProjection(equirectangular(b))
	if err != nil {
		return raster.Grid{}, usage(fmt.Sprintf("body %s: %v", geom.Quote(b.Name), err), "give the body of the scenario a plain name")
	}
	metres := b.SemiMajor * math.Pi / 180
	step := g.Step * metres
	return raster.NewGrid(g.Width, g.Height, [6]float64{g.West * metres, step, 0, g.North * metres, 0, -step}, proj, b)
}

// equirectangular is the well-known text of a map of a sphere, with the name
// of the body, which a PROJ string cannot carry.
func equirectangular(b geom.Body) string {
	return fmt.Sprintf(`PROJCS["Equirectangular %[1]s",GEOGCS["%[1]s",DATUM["D_%[1]s",SPHEROID["%[1]s",%.10[2]g,0]],`+
		`PRIMEM["Reference Meridian",0],UNIT["degree",0.0174532925199433]],PROJECTION["Equirectangular"],`+
		`PARAMETER["standard_parallel_1",0],PARAMETER["central_meridian",0],PARAMETER["false_easting",0],`+
		`PARAMETER["false_northing",0],UNIT["metre",1]]`, reports.SafeName(b.Name), b.SemiMajor)
}

// catalogueText writes craters as GeoJSON: points with a radius in kilometres,
// and a member that says which body they are on.
func catalogueText(b geom.Body, craters []geom.Crater) []byte {
	var out bytes.Buffer
	body, _ := json.Marshal(geom.NewReferenceBody(b)) // plain strings and finite numbers
	fmt.Fprintf(&out, "{\"type\":\"FeatureCollection\",\n%q:%s,\n\"features\":[", geom.ReferenceMember, body)
	for i, c := range craters {
		if i > 0 {
			out.WriteByte(',')
		}
		id, _ := json.Marshal(c.ID)
		name, _ := json.Marshal(c.Name)
		fmt.Fprintf(&out, "\n{\"type\":\"Feature\",\"properties\":{\"id\":%s,\"name\":%s,\"radius_km\":%.5f", id, name, c.Radius/1000)
		if c.Age > 0 {
			fmt.Fprintf(&out, ",\"age_ma\":%g", c.Age)
		}
		fmt.Fprintf(&out, "},\"geometry\":{\"type\":\"Point\",\"coordinates\":[%.6f,%.6f]}}", c.Centre.Lon, c.Centre.Lat)
	}
	out.WriteString("\n]}\n")
	return out.Bytes()
}

// surveyText writes the survey file.
func surveyText(v *testblanket.Survey) []byte {
	var out bytes.Buffer
	fmt.Fprintf(&out, "# An invented survey. rimcast inspect --keys lists all keys.\ntitle = %s\n", quoted(v.Title))
	fmt.Fprintf(&out, "\n[body]\nname = %s\nradius_m = %s\n", quoted(v.Body.Name), floatText(v.Body.SemiMajor))
	out.WriteString("\n[catalogue]\npath = \"craters.geojson\"\nid = \"id\"\nname = \"name\"\nradius = \"radius_km\"\nradius_unit = \"km\"\n")
	for _, m := range v.Species {
		fmt.Fprintf(&out, "\n[[species]]\nname = %s\npath = %s\nunit = %s\n", quoted(m.Name), quoted(mapFile(m)), quoted(m.Unit))
		if m.Epoch != "" {
			fmt.Fprintf(&out, "epoch = %s\n", quoted(m.Epoch))
		}
		if m.LocalTime > 0 {
			fmt.Fprintf(&out, "local_time_h = %s\n", floatText(m.LocalTime))
		}
	}
	for _, m := range v.Covariates {
		fmt.Fprintf(&out, "\n[[covariate]]\nname = %s\nkind = %s\npath = %s\nunit = %s\n", quoted(m.Name), quoted(m.Kind), quoted(mapFile(m)), quoted(m.Unit))
	}
	if v.Young > 0 {
		fmt.Fprintf(&out, "\n[controls]\nyoung_below = %s\n", floatText(v.Young))
	}
	return out.Bytes()
}

// quoted writes a TOML basic string, which JSON's rules also make.
func quoted(s string) string {
	text, _ := json.Marshal(s)
	return string(text)
}

// floatText writes a TOML float.
func floatText(x float64) string {
	s := strconv.FormatFloat(x, 'f', -1, 64)
	if x == math.Trunc(x) {
		s += ".0"
	}
	return s
}

// truthText writes what was planted, one line for each crater and species.
func truthText(v *testblanket.Survey) []byte {
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	_ = w.Write([]string{"crater_id", "species", "pattern", "rim_excess", "decay_exponent", "axis_deg", "share", "rays_deg", "gap_deg", "faked", "note", "by_epoch"})
	for _, t := range v.Truth {
		rays := ""
		for i, r := range t.Rays {
			if i > 0 {
				rays += ";"
			}
			rays += number(r)
		}
		_ = w.Write([]string{t.CraterID, t.Species, t.Pattern, number(t.Amplitude), number(t.Decay), number(t.Axis),
			number(t.Share), rays, number(t.GapWidth), strconv.FormatBool(t.Faked), t.Note, strings.Join(t.ByEpoch, ";")})
	}
	w.Flush() // a buffer takes everything
	return out.Bytes()
}
