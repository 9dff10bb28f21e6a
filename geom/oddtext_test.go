package geom_test

import (
	"strings"
	"testing"

	"rimcast/geom"
)

// TestOddTexts: texts that a careless reader takes for something else.
func TestOddTexts(t *testing.T) {
	whole := collection("", point("1", "[10,20]", `"radius_km":5`))
	for name, c := range map[string]struct{ text, want string }{
		"goes on after its end":    {whole + " rest", "goes on with 'r' after its end"},
		"carriage returns":         {"id,lon,lat,radius_km\rA,10,20,100\r", "carriage returns alone"},
		"thousands":                {"id,lon,lat,radius_km\nA,10,20,\"1,000\"\n", "line 2 has a number whose comma may part thousands or decimals"},
		"no properties to name":    {`{"type":"FeatureCollection","features":[{"type":"Feature","properties":null,"geometry":{"type":"Point","coordinates":[1,2]}}]}`, "the properties are none"},
		"bytes that are no UTF-8":  {strings.Replace(whole, `"id":1`, "\"id\":\"\xe9\"", 1), ""},
		"object in place of an id": {collection("", `{"type":"Feature","properties":{"id":{"a":1},"radius_km":5},"geometry":{"type":"Point","coordinates":[1,2]}}`), ""},
	} {
		cat, err := read(c.text, geom.CatalogueOptions{})
		if c.want == "" && (err != nil || len(cat.Craters) != 1) || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("%s: error %v, %d craters", name, err, len(cat.Craters))
		}
	}
	cat, _ := read(strings.Replace(whole, `"id":1`, "\"id\":\"\xe9\"", 1), geom.CatalogueOptions{})
	if !strings.Contains(told(cat), "1 texts are not UTF-8") {
		t.Errorf("told %q", told(cat))
	}
	cat, _ = read(collection("", `{"type":"Feature","properties":{"id":{"a":1},"radius_km":5},"geometry":{"type":"Point","coordinates":[1,2]}}`), geom.CatalogueOptions{})
	if cat.Craters[0].ID != "feature-0" {
		t.Errorf("id %q", cat.Craters[0].ID)
	}
	// Decimal commas between semicolons stay, and those that cannot be thousands.
	for _, text := range []string{"id;lon;lat;radius_km\nA;10,5;20,25;1,125\n", "id,lon,lat,radius_km\nA,10,20,\"0,125\"\n", "id,lon,lat,radius_km\nA,10,20,\"1,5\"\n"} {
		if _, err := read(text, geom.CatalogueOptions{}); err != nil {
			t.Errorf("%q: %v", text, err)
		}
	}
}
