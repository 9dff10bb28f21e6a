package geom

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

var (
	wktHead  = regexp.MustCompile(`(?i)^(GEOGCRS|GEODCRS|GEODETICCRS|GEOGRAPHICCRS|GEOGCS|PROJCRS|PROJECTEDCRS|PROJCS|BOUNDCRS|COMPD_CS|COMPOUNDCRS)\s*[\[(]\s*"([^"]*)"`)
	wktShape = regexp.MustCompile(`(?i)(?:ELLIPSOID|SPHEROID)\s*[\[(]\s*"([^"]*)"\s*,\s*([-+0-9.eE]+)\s*,\s*([-+0-9.eE]+)(?:\s*,\s*LENGTHUNIT\s*[\[(]\s*"[^"]*"\s*,\s*([-+0-9.eE]+))?`)
)

const maxWKT = 1 << 16

func isWKT(s string) bool { return len(s) <= maxWKT && wktHead.MatchString(s) }

// parseWKT takes the figure of the body out of a text definition, and whether
// the system is projected. It looks no further: coordinates in GeoJSON are in
// the order longitude, latitude whatever axes a definition lists.
func parseWKT(s string) (CRS, error) {
	head := wktHead.FindStringSubmatch(s)
	shape := wktShape.FindStringSubmatch(s)
	if shape == nil {
		return CRS{Name: s}, fmt.Errorf("coordinate reference system %s names no ellipsoid", Quote(s))
	}
	a, err1 := strconv.ParseFloat(shape[2], 64)
	invf, err2 := strconv.ParseFloat(shape[3], 64)
	if shape[4] != "" && err1 == nil {
		var u float64
		u, err1 = strconv.ParseFloat(shape[4], 64)
		a *= u
	}
	if err1 != nil || err2 != nil {
		return CRS{Name: s}, fmt.Errorf("coordinate reference system %s has an ellipsoid without numbers", Quote(s))
	}
	c := CRS{Name: s, Projected: !strings.HasPrefix(strings.ToUpper(head[1]), "GEO")}
	c.Body = Body{Name: wktBodyName(head[2], shape[1]), SemiMajor: a, InverseFlattening: invf, Source: "text definition of the file"}
	if err := c.Body.Valid(); err != nil {
		return c, fmt.Errorf("coordinate reference system %s: %w", Quote(head[2]), err)
	}
	c.Earth = a > 6.3e6 && a < 6.4e6
	c.Latitude = wktLatitude(s, head[2], c.Body)
	return c, nil
}

// wktBodyName finds the name of a known body in the names of the definition.
func wktBodyName(names ...string) string {
	for _, n := range names {
		for _, word := range strings.FieldsFunc(n, func(r rune) bool { return r == ' ' || r == '_' || r == '(' || r == '/' }) {
			if b, ok := BodyByName(word); ok {
				return b.Name
			}
		}
	}
	return names[len(names)-1]
}

func wktLatitude(s, name string, b Body) string {
	lower := strings.ToLower(name)
	switch {
	case b.IsSphere():
		return ""
	case strings.Contains(lower, "ocentric") || strings.Contains(strings.ToLower(s), "planetocentric"):
		return PlanetocentricLatitude
	}
	return PlanetographicLatitude
}
