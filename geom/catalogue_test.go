package geom_test

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"

	gocmp "github.com/google/go-cmp/cmp"

	"rimcast/geom"
)

var moon = geom.Sphere("Moon", 1737400)

func read(text string, opt geom.CatalogueOptions) (geom.Catalogue, error) {
	if opt.Body == (geom.Body{}) {
		opt.Body = moon
	}
	return geom.ReadCatalogue(strings.NewReader(text), "c", opt)
}

// collection wraps features, and members before them.
func collection(members string, features ...string) string {
	return `{"type":"FeatureCollection",` + members + `"features":[` + strings.Join(features, ",\n") + `]}`
}

func point(id, coords, props string) string {
	return `{"type":"Feature","id":` + id + `,"properties":{` + props + `},"geometry":{"type":"Point","coordinates":` + coords + `}}`
}

// told joins what a reader is told: notes and refusals.
func told(c geom.Catalogue) string {
	s := strings.Join(c.Notes, "\n")
	for _, r := range c.Refused {
		s += fmt.Sprintf("\n#%d %s: %s", r.Index, r.ID, r.Reason)
	}
	return s
}

// TestReadPlaces: one crater in many spellings comes out the same.
func TestReadPlaces(t *testing.T) {
	ceres, mars := geom.Ellipsoid("Ceres", 487300, 487.3/41.3), geom.Ellipsoid("Mars", 3396190, 169.894447223612)
	const urn = `"crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:IAU:2015:30100"}},`
	for _, c := range []struct {
		name, text string
		opt        geom.CatalogueOptions
		lon, lat   float64
		radius     float64
		say        string
	}{
		{"plain", collection("", point("1", "[10,20]", `"radius_km":5`)), geom.CatalogueOptions{}, 10, 20, 5000, "no coordinate reference system"},
		{"crs", collection(urn, point("1", "[10,20]", `"radius_km":5`)), geom.CatalogueOptions{}, 10, 20, 5000, "in km, as its name says"},
		{"crs last", strings.Replace(collection("", point("1", "[10,20]", `"radius_km":5`)), "]}", "],"+urn[:len(urn)-1]+"}", 1), geom.CatalogueOptions{}, 10, 20, 5000, ""},
		{"crs null", collection(`"crs":null,`, point("1", "[10,20]", `"radius_km":5`)), geom.CatalogueOptions{}, 10, 20, 5000, "no coordinate reference system"},
		{"0..360", collection("", point("1", "[350,20]", `"radius_km":5`)), geom.CatalogueOptions{}, -10, 20, 5000, ""},
		{"west", collection("", point("1", "[350,20]", `"radius_km":5`)), geom.CatalogueOptions{LonDirection: "west"}, 10, 20, 5000, "positive to the west"},
		{"diameter in m", collection("", point("1", "[10,20,-3000]", `"Diameter (m)":10000`)), geom.CatalogueOptions{}, 10, 20, 5000, "diameter is read"},
		{"number as text", collection("", point("1", "[10,20]", `"radius_km":"5.0"`)), geom.CatalogueOptions{}, 10, 20, 5000, ""},
		{"named", collection("", point("1", "[10,20]", `"D":10,"R":7`)), geom.CatalogueOptions{Diameter: "D", RadiusUnit: "km"}, 10, 20, 5000, "as asked"},
		{"unit against name", collection("", point("1", "[10,20]", `"radius_km":5000`)), geom.CatalogueOptions{RadiusUnit: "m"}, 10, 20, 5000, "against its name"},
		{"unit guessed km", collection("", point("1", "[10,20]", `"radius":5`)), geom.CatalogueOptions{}, 10, 20, 5000, "a guess"},
		{"unit guessed m", collection("", point("1", "[10,20]", `"radius":5000`)), geom.CatalogueOptions{}, 10, 20, 5000, "a guess"},
		{"both sizes", collection("", point("1", "[10,20]", `"diameter_m":10000,"radius_km":5`)), geom.CatalogueOptions{}, 10, 20, 5000, ""},
		{"lone feature", point("1", "[10,20]", `"radius_km":5`), geom.CatalogueOptions{}, 10, 20, 5000, ""},
		{"sequence", "\x1e" + point("1", "[10,20]", `"radius_km":5`) + "\n", geom.CatalogueOptions{}, 10, 20, 5000, ""},
		{"byte order mark, CRLF", "\ufeff" + strings.ReplaceAll(collection("", point("1", "[10,20]", `"radius_km":5`)), "\n", "\r\n"), geom.CatalogueOptions{}, 10, 20, 5000, ""},
		{"Earth by mistake", collection(`"crs":{"type":"name","properties":{"name":"EPSG:4326"}},`, point("1", "[10,20]", `"radius_km":5`)), geom.CatalogueOptions{AssumeBodyCRS: true}, 10, 20, 5000, "as asked"},
		{"radius of another edition", collection(`"crs":{"type":"name","properties":{"name":"GEOGCRS[\"Moon\",ELLIPSOID[\"Moon\",1738000,0]]"}},`, point("1", "[10,20]", `"radius_km":5`)), geom.CatalogueOptions{}, 10, 20, 5000, "taken over as they are"},
		// Snyder (1987), eq. 3-28, with PROJ 9.1.1: 30 -> 29.708 on Mars.
		{"planetographic", collection("", point("1", "[10,30]", `"radius_km":5`)), geom.CatalogueOptions{Body: mars, Latitude: "planetographic"}, 10, 29.708, 5000, "planetographic on Mars"},
		{"planetographic by code", collection(`"crs":{"type":"name","properties":{"name":"IAU_2015:49901"}},`, point("1", "[10,30]", `"radius_km":5`)), geom.CatalogueOptions{Body: geom.Sphere("Mars", 3396190), LonDirection: "east"}, 10, 29.708, 5000, "planetographic on Mars"},
		{"planetocentric by code", collection(`"crs":{"type":"name","properties":{"name":"IAU_2015:49902"}},`, point("1", "[10,30]", `"radius_km":5`)), geom.CatalogueOptions{Body: mars}, 10, 30, 5000, ""},
		{"sphere code on an ellipsoid", collection(`"crs":{"type":"name","properties":{"name":"IAU_2015:200000100"}},`, point("1", "[10,30]", `"radius_km":5`)), geom.CatalogueOptions{Body: ceres}, 10, 30, 5000, ""},
		{"own member", collection(`"reference_body":{"name":"Mars","semi_major_m":3396190,"inverse_flattening":169.894447223612,"latitude_type":"planetographic","longitude_direction":"west"},`, point("1", "[-10,30]", `"radius_km":5`)), geom.CatalogueOptions{Body: mars}, 10, 29.708, 5000, "planetographic"},
		{"csv", "id,lon,lat,radius_km\n1,10,20,5\n", geom.CatalogueOptions{}, 10, 20, 5000, ""},
		{"csv semicolon", "id;lon;lat;radius_km\n1;10,0;20,0;5,0\n", geom.CatalogueOptions{}, 10, 20, 5000, "decimal comma assumed"},
		{"csv tab", "id\tLON_360\tLAT_N\tDiam_km\n1\t10.0\t20.0\t10\n", geom.CatalogueOptions{}, 10, 20, 5000, "separated by tabs"},
		{"csv bars", "id|lon (deg E)|lat [degrees]|Diameter (km)\n1|10|20|10\n", geom.CatalogueOptions{}, 10, 20, 5000, "vertical bars"},
		{"csv comment, blank line", "# list\n\nid,lon,lat,DIAM_CIRCLE_IMG\n1,10,20,10\n", geom.CatalogueOptions{}, 10, 20, 5000, "a guess"},
		{"csv byte order mark", "\ufeffid,lon,lat,radius_m\r\n1,10,20,5000\r\n", geom.CatalogueOptions{}, 10, 20, 5000, ""},
		{"csv west column", "id,lon_w,lat,radius_km\n1,350,20,5\n", geom.CatalogueOptions{LonDirection: "west"}, 10, 20, 5000, ""},
		{"csv graphic column", "id,lon,lat_graphic,radius_km\n1,10,30,5\n", geom.CatalogueOptions{Body: mars}, 10, 29.708, 5000, "as the column"},
		{"csv named", "n,east,north,r\n1,10,20,5\n", geom.CatalogueOptions{ID: "n", Lon: "east", Lat: "north", Radius: "r", RadiusUnit: "km"}, 10, 20, 5000, ""},
		{"csv quoted", "id,lon,lat,radius_km,note\n\"1\",\"10\",20,5,\"a \"\"b\"\",\nc\"\n", geom.CatalogueOptions{}, 10, 20, 5000, ""},
		{"csv no last newline", "id,lon,lat,radius_km\n1,10,20,5", geom.CatalogueOptions{}, 10, 20, 5000, ""},
		{"one point of several allowed", strings.Replace(point("1", "[[10,20]]", `"radius_km":5`), "Point", "MultiPoint", 1), geom.CatalogueOptions{}, 10, 20, 5000, ""},
		{"collection of a point", strings.Replace(collected(`{"type":"Point","coordinates":[10,20]}`), `"x"`, `"1"`, 1), geom.CatalogueOptions{}, 10, 20, 5000, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			cat, err := read(c.text, c.opt)
			if err != nil {
				t.Fatal(err)
			}
			if len(cat.Craters) != 1 || len(cat.Refused) != 0 {
				t.Fatalf("%d craters, %s", len(cat.Craters), told(cat))
			}
			got, latTol := cat.Craters[0], 1e-12
			if c.lat == 29.708 {
				latTol = 5e-4 // as printed
			}
			if got.ID != "1" || math.Abs(got.Centre.Lon-c.lon) > 1e-12 || math.Abs(got.Centre.Lat-c.lat) > latTol || got.Radius != c.radius {
				t.Errorf("%+v", got)
			}
			if !strings.Contains(told(cat), c.say) {
				t.Errorf("not told %q:\n%s", c.say, told(cat))
			}
		})
	}
}

// TestRefuseFile: faults of a whole file, the words that a reader needs, and the
// kind that decides the exit code.
func TestRefuseFile(t *testing.T) {
	ok := point("1", "[10,20]", `"radius_km":5`)
	crs := func(name string) string {
		return collection(`"crs":{"type":"name","properties":{"name":"`+name+`"}},`, ok)
	}
	mars := geom.Ellipsoid("Mars", 3396190, 169.894447223612)
	for _, c := range []struct {
		name, text string
		opt        geom.CatalogueOptions
		kind       geom.ErrorKind
		want       []string
	}{
		{"empty", "", geom.CatalogueOptions{}, geom.Corrupt, []string{"empty"}},
		{"geopackage", "SQLite format 3\x00", geom.CatalogueOptions{}, geom.Refused, []string{"GeoPackage", "ogr2ogr craters.geojson FILE"}},
		{"a column twice", "id,lon,lat,lon,radius_km\nA,10,10,99,5\n", geom.CatalogueOptions{}, geom.Refused, []string{"lon: two columns have this name"}},
		{"blank", "  \n\n ", geom.CatalogueOptions{}, geom.Corrupt, []string{"blank"}},
		{"no features", collection(""), geom.CatalogueOptions{}, geom.Corrupt, []string{"no features"}},
		{"truncated", collection("", ok, ok)[:200], geom.CatalogueOptions{}, geom.Corrupt, []string{"feature 1", "ends early", "byte 200"}},
		{"truncated in the middle of a word", `{"type":"FeatureCollection","features":[{"type":tru`, geom.CatalogueOptions{}, geom.Corrupt, []string{"feature 0", "ends early", "byte 51"}},
		{"NaN before the features", collection(`"scale":NaN,`, ok), geom.CatalogueOptions{}, geom.Corrupt, []string{"c: NaN is not a number"}},
		{"NaN", collection("", ok, point("2", "[NaN,20]", `"radius_km":5`)), geom.CatalogueOptions{}, geom.Corrupt, []string{"feature 1", "NaN is not a number", "line 2"}},
		{"Infinity", collection("", point("2", "[1,-Infinity]", `"radius_km":5`)), geom.CatalogueOptions{}, geom.Corrupt, []string{"feature 0", "Infinity is not a number", "line 1"}},
		{"deep", collection("", strings.Repeat("[", 1e5)), geom.CatalogueOptions{}, geom.Corrupt, []string{"deeper than"}},
		{"text after", collection("", ok) + "x", geom.CatalogueOptions{}, geom.Refused, []string{"not a GeoJSON object"}},
		{"missing comma", `{"type":"FeatureCollection","features":[{} {}]}`, geom.CatalogueOptions{}, geom.Corrupt, []string{"',' or ']'"}},
		{"array", "[1,2]", geom.CatalogueOptions{}, geom.Refused, []string{"not a GeoJSON object"}},
		{"geometry", `{"type":"Point","coordinates":[1,2]}`, geom.CatalogueOptions{}, geom.Refused, []string{`type "Point"`}},
		{"unknown crs", crs("urn:ogc:def:crs:IAU:2015:99999999"), geom.CatalogueOptions{}, geom.Refused, []string{"99999999", "not known"}},
		{"linked crs", collection(`"crs":{"type":"link","properties":{"href":"http://x/y"}},`, ok), geom.CatalogueOptions{}, geom.Refused, []string{"link", "http://x/y"}},
		{"broken crs", collection(`"crs":"Moon",`, ok), geom.CatalogueOptions{}, geom.Refused, []string{"not understood", "Moon"}},
		{"Earth", crs("EPSG:4326"), geom.CatalogueOptions{}, geom.Refused, []string{"EPSG:4326", "Earth", "assume_body_crs"}},
		{"Earth, projected", crs("EPSG:32633"), geom.CatalogueOptions{AssumeBodyCRS: true}, geom.Refused, []string{"projected"}},
		{"another body", crs("IAU_2015:50200"), geom.CatalogueOptions{}, geom.Refused, []string{"Europa", "Moon"}},
		{"own member of another body", collection(`"reference_body":{"name":"Io","semi_major_m":1821490},`, ok), geom.CatalogueOptions{}, geom.Refused, []string{"reference_body", "Io"}},
		{"own member broken", collection(`"reference_body":{"name":"Io","semi_major_m":"x"},`, ok), geom.CatalogueOptions{}, geom.Refused, []string{"reference_body"}},
		{"projected", crs("IAU_2015:30110"), geom.CatalogueOptions{}, geom.Refused, []string{"projected", "IAU_2015:30110"}},
		{"metres", collection("", point("1", "[303000,-606000]", `"radius_km":5`)), geom.CatalogueOptions{}, geom.Refused, []string{"metres of a projected map"}},
		{"swapped", collection("", point("1", "[20,100]", `"radius_km":5`), point("2", "[-30,-170]", `"radius_km":5`), point("3", "[5,60]", `"radius_km":5`)), geom.CatalogueOptions{}, geom.Corrupt, []string{"look swapped", "2 of 3"}},
		{"no latitude type", collection("", ok), geom.CatalogueOptions{Body: mars}, geom.Refused, []string{"planetographic"}},
		{"west by definition", crs("IAU_2015:49901"), geom.CatalogueOptions{Body: mars}, geom.Refused, []string{"west"}},
		{"no size", collection("", point("1", "[10,20]", `"depth":5`)), geom.CatalogueOptions{}, geom.Refused, []string{"no property was recognised", `"depth"`}},
		{"D", collection("", point("1", "[10,20]", `"D":5`)), geom.CatalogueOptions{}, geom.Refused, []string{"does not say whether", "catalogue.diameter"}},
		{"size_km", collection("", point("1", "[10,20]", `"size_km":5`)), geom.CatalogueOptions{}, geom.Refused, []string{"does not say whether"}},
		{"unit unclear", collection("", point("1", "[10,20]", `"radius":500`)), geom.CatalogueOptions{}, geom.Refused, []string{"500 km or 500 m", "radius_unit"}},
		{"metres as km", collection("", point("1", "[10,20]", `"radius_km":5000`)), geom.CatalogueOptions{}, geom.Refused, []string{"exceeds Moon", "metres"}},
		{"radius and diameter at odds", collection("", point("1", "[10,20]", `"radius_km":5,"diameter_km":5`)), geom.CatalogueOptions{}, geom.Refused, []string{"not twice"}},
		{"named property missing", collection("", ok), geom.CatalogueOptions{Radius: "rr"}, geom.Refused, []string{`"rr"`, `"radius_km"`}},
		{"equal ids", collection("", ok, point("2", "[1,2]", `"radius_km":1`), ok), geom.CatalogueOptions{}, geom.Refused, []string{`"1" (features 0 and 2)`, "dedupe"}},
		{"none usable", collection("", point("1", "[10,95]", `"radius_km":5`)), geom.CatalogueOptions{}, geom.Refused, []string{"none of the 1", "latitude 95"}},
		{"zip", "PK\x03\x04xxxx", geom.CatalogueOptions{}, geom.Refused, []string{"zip"}},
		{"utf-16", "\xff\xfe{\x00", geom.CatalogueOptions{}, geom.Refused, []string{"UTF-16"}},
		{"binary", "abc\x00def", geom.CatalogueOptions{}, geom.Refused, []string{"binary"}},
		{"option", collection("", ok), geom.CatalogueOptions{LonDirection: "W"}, geom.Refused, []string{`"W"`, "east or west"}},
		{"option unit", collection("", ok), geom.CatalogueOptions{RadiusUnit: "miles"}, geom.Refused, []string{"miles"}},
		{"csv without header", "1,10,20,5\n", geom.CatalogueOptions{}, geom.Refused, []string{"numbers only"}},
		{"csv lon_w", "id,lon_w,lat,radius_km\n1,350,20,5\n", geom.CatalogueOptions{}, geom.Refused, []string{"lon_w", "west"}},
		{"csv no lon", "id,easting,lat,radius_km\n1,350,20,5\n", geom.CatalogueOptions{}, geom.Refused, []string{"longitude", `"easting"`}},
		{"csv mixed decimals", "id;lon;lat;radius_km\n1;10,5;20.5;5\n", geom.CatalogueOptions{}, geom.Refused, []string{"mixed", "line 2"}},
		{"csv thousands", "id;lon;lat;radius_m\n1;10;20;1.234,5\n", geom.CatalogueOptions{}, geom.Refused, []string{"line 2", "both a point and a comma"}},
		{"csv decimal comma between commas", "id,lon,lat,radius_km\n1,10,5,20,5,5,0\n2,10,5,20,5,5,0\n", geom.CatalogueOptions{}, geom.Corrupt, []string{"2 of 2 rows", "decimal commas"}},
		{"csv quote", "id,lon,lat,radius_km\n1,10,20,\"5\n", geom.CatalogueOptions{}, geom.Corrupt, []string{"line 2", "quote"}},
		{"csv header only", "id,lon,lat,radius_km\n", geom.CatalogueOptions{}, geom.Corrupt, []string{"no features"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := read(c.text, c.opt)
			var in *geom.InputError
			if !errors.As(err, &in) {
				t.Fatalf("error %v", err)
			}
			if in.Kind != c.kind || in.File != "c" {
				t.Errorf("kind %v of file %q, want %v", in.Kind, in.File, c.kind)
			}
			for _, w := range c.want {
				if !strings.Contains(err.Error(), w) {
					t.Errorf("%q is not in: %v", w, err)
				}
			}
		})
	}
}

// TestRefuseFeature: one bad feature is listed with its position, id and reason;
// the others stay.
func TestRefuseFeature(t *testing.T) {
	good := []string{point(`"a"`, "[1,2]", `"radius_km":5`), point(`"b"`, "[30,40]", `"radius_km":5`)}
	long := strings.Repeat("z", 10<<20)
	for _, c := range []struct{ name, feature, reason string }{
		{"null geometry", `{"type":"Feature","id":"x","properties":{"radius_km":5},"geometry":null}`, "no geometry"},
		{"no geometry", `{"type":"Feature","id":"x","properties":{"radius_km":5}}`, "no geometry"},
		{"empty coordinates", point(`"x"`, "[]", `"radius_km":5`), "empty or broken"},
		{"one coordinate", point(`"x"`, "[5]", `"radius_km":5`), "empty or broken"},
		{"null coordinate", point(`"x"`, "[null,5]", `"radius_km":5`), "empty or broken"},
		{"text coordinate", point(`"x"`, `["1",5]`, `"radius_km":5`), "empty or broken"},
		{"huge coordinate", point(`"x"`, `[1e400,5]`, `"radius_km":5`), "empty or broken"},
		{"line", strings.Replace(point(`"x"`, "[[1,2],[3,4]]", `"radius_km":5`), "Point", "LineString", 1), "not closed is no rim"},
		{"open polygon", strings.Replace(point(`"x"`, "[[[1,2],[3,4],[3,5],[1,3]]]", ``), "Point", "Polygon", 1), "empty or broken"},
		{"flat polygon", strings.Replace(point(`"x"`, "[[[1,2],[3,2],[5,2],[1,2]]]", ``), "Point", "Polygon", 1), "without area"},
		{"figure of eight", strings.Replace(point(`"x"`, "[[[28,8],[32,12],[32,8],[28,12],[28,8]]]", ``), "Point", "Polygon", 1), "does it cross itself?"},
		{"empty polygon", strings.Replace(point(`"x"`, "[]", ``), "Point", "MultiPolygon", 1), "empty or broken"},
		{"latitude", point(`"x"`, "[1,95]", `"radius_km":5`), "latitude 95"},
		{"longitude", point(`"x"`, "[400,5]", `"radius_km":5`), "longitude 400"},
		{"zero", point(`"x"`, "[1,5]", `"radius_km":0`), "radius_km is 0"},
		{"negative", point(`"x"`, "[1,5]", `"radius_km":-2.5`), "radius_km is -2.5"},
		{"blank", point(`"x"`, "[1,5]", `"radius_km":"-"`), "radius_km is blank"},
		{"null", point(`"x"`, "[1,5]", `"radius_km":null`), "radius_km is blank"},
		{"absent", point(`"x"`, "[1,5]", `"name":"n"`), "no radius_km"},
		{"words", point(`"x"`, "[1,5]", `"radius_km":"large"`), `radius_km "large" is not a number`},
		{"decimal comma", point(`"x"`, "[1,5]", `"radius_km":"5,2"`), "not a number"},
		{"hexadecimal", point(`"x"`, "[1,5]", `"radius_km":"0x10"`), "not a number"},
		{"overflow", point(`"x"`, "[1,5]", `"radius_km":1e400`), "not a number"},
		{"object", point(`"x"`, "[1,5]", `"radius_km":{"km":5}`), "not a number"},
		{"larger than the body", point(`"x"`, "[1,5]", `"radius_km":5000`), "quarter of the way round"},
		{"long id", point(`"`+long+`"`, "[1,5]", `"radius_km":5`), "id of 10485760 bytes"},
		{"ellipse", point(`"x"`, "[1,5]", `"radius_km":5,"semi_major_km":2,"semi_minor_km":3`), "semi-axes"},
		{"not an object", `7`, "not a feature"},
		{"another type", `{"type":"FeatureCollection","features":[]}`, `its type is "FeatureCollection"`},
		{"radius twice", point(`"x"`, "[1,5]", `"radius_km":5,"radius_km":50`), "radius_km is there twice, with different values"},
		{"two places", strings.Replace(point(`"x"`, "[1,5]", `"radius_km":5`), `"geometry"`, `"geometry":{"type":"Point","coordinates":[1,6]},"geometry"`, 1), "geometry is there twice"},
	} {
		t.Run(c.name, func(t *testing.T) {
			cat, err := read(collection("", good[0], c.feature, good[1]), geom.CatalogueOptions{})
			if err != nil {
				t.Fatal(err)
			}
			if len(cat.Craters) != 2 || cat.Craters[1].ID != "b" || cat.Craters[1].Index != 2 {
				t.Errorf("%d craters kept", len(cat.Craters))
			}
			if len(cat.Refused) != 1 || cat.Refused[0].Index != 1 || !strings.Contains(cat.Refused[0].Reason, c.reason) || len(cat.Refused[0].ID) > 1024 {
				t.Errorf("refused %.300v", cat.Refused)
			}
		})
	}
}

// TestIDs: ids are text, to the last digit.
func TestIDs(t *testing.T) {
	geo := collection("",
		point("9007199254740993", "[1,2]", `"radius_km":5`),
		point("123456789012345678901234567890", "[11,2]", `"radius_km":5`),
		point(`"007"`, "[21,2]", `"radius_km":5`),
		point("1.50", "[31,2]", `"radius_km":5`),
		point(`null`, "[41,2]", `"radius_km":5,"crater_id":77`),
		point(`"<b>\u202e\n"`, "[51,2]", `"radius_km":5`),
		strings.Replace(point(`""`, "[61,2]", `"radius_km":5`), `"id":"",`, "", 1),
	)
	want := []string{"9007199254740993", "123456789012345678901234567890", "007", "1.50", "77", "<b>\u202e\n", "feature-6"}
	check := func(text string, opt geom.CatalogueOptions, want []string) {
		t.Helper()
		cat, err := read(text, opt)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, c := range cat.Craters {
			got = append(got, c.ID)
		}
		if d := gocmp.Diff(want, got); d != "" {
			t.Error(d)
		}
	}
	check(geo, geom.CatalogueOptions{}, want)
	check("id,lon,lat,radius_km\n9007199254740993,1,2,5\n007,11,2,5\n,21,2,5\n", geom.CatalogueOptions{}, []string{"9007199254740993", "007", "row-2"})
	both := collection("", point("1", "[1,2]", `"radius_km":5,"nr":"A"`), point("2", "[11,2]", `"radius_km":5,"nr":"B"`))
	check(both, geom.CatalogueOptions{}, []string{"1", "2"})
	check(both, geom.CatalogueOptions{ID: "nr"}, []string{"A", "B"})
	check(both, geom.CatalogueOptions{ID: "id"}, []string{"1", "2"})
	twice := collection("", point("1", "[1,2]", `"radius_km":5,"name":"first"`), point("1", "[11,2]", `"radius_km":5,"name":"last"`), point("3", "[21,2]", `"radius_km":5`))
	for rule, name := range map[string]string{"first": "first", "last": "last"} {
		cat, err := read(twice, geom.CatalogueOptions{Dedupe: rule})
		if err != nil || len(cat.Craters) != 2 || cat.Craters[0].Name != name || len(cat.Refused) != 1 {
			t.Errorf("dedupe %s: %+v, %v", rule, cat.Craters, err)
		}
	}
}

func TestExtras(t *testing.T) {
	cat, err := read(collection("",
		point("1", "[1,2]", `"radius_km":5,"name":"Ori","semi_major_km":6,"semi_minor_m":4000,"rim_azimuth_deg":-30,"sigma_centre_m":120,"radius_sigma":0.25,"age_ma":"-","freshness":0.5`),
	), geom.CatalogueOptions{})
	if err != nil {
		t.Fatal(err)
	}
	want := geom.Crater{ID: "1", Name: "Ori", Centre: geom.LonLat{Lon: 1, Lat: 2}, Radius: 5000, SigmaCentre: 120, SigmaRadius: 250,
		SemiMajor: 6000, SemiMinor: 4000, RimAzimuth: 150, Age: math.NaN(), Freshness: 0.5}
	if d := gocmp.Diff(want, cat.Craters[0], gocmp.Comparer(func(a, b float64) bool { return a == b || a != a && b != b })); d != "" {
		t.Error(d)
	}
}

// TestTransform: coordinates in a projected system go through the caller's
// conversion; here equirectangular on the lunar sphere.
func TestTransform(t *testing.T) {
	text := collection(`"crs":{"type":"name","properties":{"name":"IAU_2015:30110"}},`,
		point("1", "[303233.5,-606467]", `"radius_km":5`), point("2", "[9e9,0]", `"radius_km":5`))
	opt := geom.CatalogueOptions{Transform: func(crs string) (func(x, y float64) (geom.LonLat, error), error) {
		if crs != "IAU_2015:30110" {
			return nil, fmt.Errorf("asked for %s", crs)
		}
		return func(x, y float64) (geom.LonLat, error) {
			if math.Abs(x) > 6e6 {
				return geom.LonLat{}, errors.New("off the map")
			}
			return geom.LonLat{Lon: x / 1737400 / deg, Lat: y / 1737400 / deg}, nil
		}, nil
	}}
	cat, err := read(text, opt)
	if err != nil {
		t.Fatal(err)
	}
	if c := cat.Craters[0].Centre; math.Abs(c.Lon-10) > 1e-5 || math.Abs(c.Lat+20) > 1e-5 {
		t.Errorf("%v", c)
	}
	if len(cat.Refused) != 1 || !strings.Contains(cat.Refused[0].Reason, "off the map") {
		t.Errorf("%v", cat.Refused)
	}
	if _, err := read(strings.Replace(text, "30110", "30120", 1), opt); err == nil || !strings.Contains(err.Error(), "asked for") {
		t.Errorf("%v", err)
	}
}

// TestNearDuplicates: closer than 0.2 radii and sizes within 20 %.
func TestNearDuplicates(t *testing.T) {
	// One degree on the equator is 30.32 km: 0.03 degree is 0.91 km.
	cat, err := read("id,lon,lat,radius_km\na,10,0,5\nb,10.03,0,5.5\nc,10.03,0,7\nd,10.2,0,5\ne,180,0,5\nf,-179.98,0,5\n", geom.CatalogueOptions{})
	if err != nil {
		t.Fatal(err)
	}
	var got [][2]int
	for _, p := range cat.NearDuplicates {
		got = append(got, [2]int{p.A, p.B})
	}
	if d := gocmp.Diff([][2]int{{0, 1}, {4, 5}}, got); d != "" {
		t.Error(d)
	}
	// A heap in one place must not take the square of its size.
	heap := "id,lon,lat,radius_km\n"
	for i := range 20000 {
		heap += fmt.Sprintf("%d,10,20,5\n", i)
	}
	if cat, err := read(heap, geom.CatalogueOptions{}); err != nil || len(cat.NearDuplicates) == 0 || len(cat.NearDuplicates) > 20000*256 {
		t.Errorf("%d pairs, %v", len(cat.NearDuplicates), err)
	}
}

// TestReadFails: an error of the disk is not the end of the file.
func TestReadFails(t *testing.T) {
	broken := errors.New("disk on fire")
	for name, head := range map[string]string{
		"at once": "", "GeoJSON": `{"type":"FeatureCollection","features":[`, "CSV": "id,lon,lat,radius_km\n1,1,1,1\n",
		"GeoJSON between features": collection("", point("1", "[1,2]", `"radius_km":1`))[:140],
	} {
		_, err := geom.ReadCatalogue(io.MultiReader(strings.NewReader(head), failing{broken}), "c", geom.CatalogueOptions{Body: moon})
		if kind, ok := geom.KindOf(err); !ok || kind != geom.Corrupt || !strings.Contains(err.Error(), "disk on fire") {
			t.Errorf("%s: %v", name, err)
		}
	}
	_, err := read(collection("", point("1", "[1,2]", `"radius_km":1`)), geom.CatalogueOptions{MaxBytes: 50})
	if err == nil || !strings.Contains(err.Error(), "limit of 50 bytes") {
		t.Errorf("%v", err)
	}
}

type failing struct{ err error }

func (f failing) Read([]byte) (int, error) { return 0, f.err }

func ExampleReadCatalogue() {
	text := "id;lon;lat;diameter_km\nVetch;12,5;-40,25;8,4\nSorrel;372,5;95;8,4\n"
	body, _ := geom.BodyByName("Moon")
	cat, err := geom.ReadCatalogue(strings.NewReader(text), "list.csv", geom.CatalogueOptions{Body: body})
	fmt.Println(err)
	for _, c := range cat.Craters {
		fmt.Printf("%s at %.2f E %.2f N, R = %.0f m\n", c.ID, c.Centre.Lon, c.Centre.Lat, c.Radius)
	}
	for _, r := range cat.Refused {
		fmt.Printf("row %d (%s): %s\n", r.Index, r.ID, r.Reason)
	}
	// Output:
	// <nil>
	// Vetch at 12.50 E -40.25 N, R = 4200 m
	// row 1 (Sorrel): latitude 95
}
