package geom

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// The words for the two kinds of latitude and the two longitude directions, in
// options and in files.
const (
	PlanetocentricLatitude = "planetocentric"
	PlanetographicLatitude = "planetographic"
	EastPositive           = "east"
	WestPositive           = "west"
)

// CRS is what the name of a coordinate reference system says.
type CRS struct {
	Name      string // as it was written
	Code      string // "IAU_2015:30100" or the like; empty for a text definition
	Body      Body   // the zero Body when the name does not tell
	Earth     bool   // a system of the Earth
	Projected bool   // metres on a map plane, not degrees
	Latitude  string // PlanetographicLatitude, PlanetocentricLatitude, or "" on a sphere
}

// ParseCRS reads the name of a coordinate reference system in any of the forms
// found in GeoJSON files and survey files:
//
//	IAU_2015:30100   IAU:30100   IAU:2015:30100   30100 (alone: IAU)
//	urn:ogc:def:crs:IAU:2015:30100   urn:ogc:def:crs:IAU::30100
//	urn:ogc:def:crs:IAU_2015::30100  http://www.opengis.net/def/crs/IAU/2015/30100
//	EPSG:4326   urn:ogc:def:crs:OGC:1.3:CRS84   ESRI:104903
//	WKT (GEOGCRS[...], PROJCRS[...], GEOGCS[...], PROJCS[...])
//
// The error of an unknown name quotes it.
func ParseCRS(name string) (CRS, error) {
	s := strings.TrimSpace(name)
	if isWKT(s) {
		return parseWKT(s)
	}
	auth, code := splitCRS(s)
	switch {
	case auth == "IAU":
		if c, ok := iauCRS(code); ok {
			c.Name = name
			return c, nil
		}
	case auth == "EPSG" || auth == "OGC":
		if c, ok := earthCRS(auth, code); ok {
			c.Name = name
			return c, nil
		}
	case auth == "ESRI":
		if c, ok := esriCRS(code); ok {
			c.Name = name
			return c, nil
		}
	}
	return CRS{Name: name}, fmt.Errorf("coordinate reference system %s is not known", Quote(name))
}

// BodyByCode returns the body of an IAU_2015 code in any form that [ParseCRS]
// takes, geographic or projected. Codes that end in 00 mean the sphere of the
// body, others its ellipsoid where the IAU gives one.
func BodyByCode(code string) (Body, bool) {
	c, err := ParseCRS(code)
	if err != nil || c.Body.SemiMajor == 0 {
		return Body{}, false
	}
	return c.Body, true
}

// BodyByName returns the sphere that the IAU gives for a body, by its English
// name in any case.
func BodyByName(name string) (Body, bool) {
	for _, r := range iauBodies {
		if strings.EqualFold(r.name, strings.TrimSpace(name)) {
			return r.body(0), true
		}
	}
	return Body{}, false
}

// BodyNames returns the names that [BodyByName] knows, in the order of their
// codes.
func BodyNames() []string {
	names := make([]string, len(iauBodies))
	for i, r := range iauBodies {
		names[i] = r.name
	}
	return names
}

// Code returns the IAU_2015 code of the planetocentric system on a body with
// exactly these radii, or "" when there is none.
func (b Body) Code() string {
	for _, r := range iauBodies {
		switch {
		case b.IsSphere() && r.a == b.SemiMajor && (b.Name == "" || strings.EqualFold(b.Name, r.name)):
			return fmt.Sprintf("IAU_2015:%d00", r.naif)
		case r.flattened() && r.a == b.SemiMajor && math.Abs(b.SemiMinor()-r.b) < 1e-3:
			return fmt.Sprintf("IAU_2015:%d02", r.naif)
		}
	}
	return ""
}

// URN returns the name that a GeoJSON "crs" member of this body should carry, in
// the spelling of the OGC, or "" when the body has no code.
func (b Body) URN() string {
	code := b.Code()
	if code == "" {
		return ""
	}
	return "urn:ogc:def:crs:IAU:2015:" + strings.TrimPrefix(code, "IAU_2015:")
}

func (r iauBody) flattened() bool { return r.b != 0 && r.b != r.a }

// body returns the figure of a variant: 0 the sphere, else the ellipsoid.
func (r iauBody) body(variant int) Body {
	b := Body{Name: r.name, SemiMajor: r.a, Source: iauSource}
	if variant != 0 && r.flattened() {
		b.InverseFlattening = r.a / (r.a - r.b)
	}
	return b
}

var (
	urnPrefix  = regexp.MustCompile(`(?i)^urn:(?:x-)?ogc:def:crs:`)
	httpPrefix = regexp.MustCompile(`(?i)^https?://www\.opengis\.net/def/crs/`)
	year       = regexp.MustCompile(`^(?:\d{4}|0|\d+(?:\.\d+)+|)$`)
)

// splitCRS brings the spellings to an authority in capitals and a code.
func splitCRS(s string) (auth, code string) {
	if len(s) > 200 {
		return "", ""
	}
	switch {
	case urnPrefix.MatchString(s):
		s = urnPrefix.ReplaceAllString(s, "")
	case httpPrefix.MatchString(s):
		s = strings.ReplaceAll(httpPrefix.ReplaceAllString(s, ""), "/", ":")
	}
	part := strings.Split(s, ":")
	if len(part) == 1 {
		if strings.EqualFold(s, "CRS84") {
			return "OGC", "CRS84"
		}
		return "IAU", s
	}
	if len(part) == 3 && !year.MatchString(part[1]) || len(part) > 3 {
		return "", ""
	}
	auth = strings.ToUpper(strings.TrimSpace(part[0]))
	if auth == "IAU_2015" || auth == "IAU2015" {
		auth = "IAU"
	}
	return auth, strings.TrimSpace(part[len(part)-1])
}

// iauCRS interprets NAIF number * 100 + variant. Variants 00 to 09 are
// geographic; in each group of five from 10 the last digit modulo 5 tells the
// figure: 0 sphere, 1 planetographic, 2 planetocentric on the ellipsoid.
func iauCRS(code string) (CRS, bool) {
	n, err := strconv.Atoi(code)
	if err != nil || n < 0 {
		return CRS{}, false
	}
	for _, r := range iauBodies {
		if r.naif != n/100 {
			continue
		}
		v := n % 100
		c := CRS{Code: fmt.Sprintf("IAU_2015:%d", n), Projected: v >= 10, Earth: r.naif == 399}
		figure := v % 5
		if figure > 2 || v > 2 && v < 10 || figure != 0 && r.b == 0 {
			return CRS{}, false
		}
		c.Body = r.body(figure)
		c.Latitude = [3]string{"", PlanetographicLatitude, PlanetocentricLatitude}[figure]
		return c, true
	}
	return CRS{}, false
}

// wgs84 stands for every Earth datum: a survey of another body needs no more.
var wgs84 = Body{Name: "Earth", SemiMajor: 6378137, InverseFlattening: 298.257223563, Source: "WGS 84"}

// earthCRS knows that EPSG registers systems of the Earth only.
func earthCRS(auth, code string) (CRS, bool) {
	c := CRS{Code: auth + ":" + code, Earth: true, Latitude: PlanetographicLatitude, Body: wgs84}
	if auth == "OGC" {
		switch strings.ToUpper(code) {
		case "CRS84", "CRS84H", "CRS83", "CRS27":
			return c, true
		}
		return CRS{}, false
	}
	n, err := strconv.Atoi(code)
	if err != nil || n < 1024 || n > 100000 {
		return CRS{}, false
	}
	// No geographic system has a code in these ranges; elsewhere both kinds are
	// mixed and the size of the coordinates must tell.
	c.Projected = n >= 2000 && n < 3800 || n >= 20100 && n < 33000
	return c, true
}

func esriCRS(code string) (CRS, bool) {
	n, err := strconv.Atoi(code)
	if err != nil {
		return CRS{}, false
	}
	for _, r := range esriBodies {
		if r.code == n {
			c := CRS{Code: "ESRI:" + code}
			c.Body = Body{Name: r.name, SemiMajor: r.a, InverseFlattening: r.invf, Source: c.Code}
			if r.invf != 0 {
				c.Latitude = PlanetographicLatitude
			}
			return c, true
		}
	}
	return CRS{}, false
}
