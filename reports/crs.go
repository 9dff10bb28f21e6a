package reports

import (
	"fmt"
	"strconv"
	"strings"

	"rimcast/geom"
)

// CRSCode returns the number of the IAU_2015 system in which lon/lat of this
// survey are meant: planetocentric, east positive, degrees. It is empty when
// the body has none. A code that is projected, planetographic or of another
// shape of the body would be a lie and is not used.
func (s *Survey) CRSCode() string {
	c, err := geom.ParseCRS(s.BodyCode)
	fits := err == nil && !c.Earth && !c.Projected && c.Latitude != geom.PlanetographicLatitude && c.Body.SameShape(s.Body, 1e-9)
	code := s.Body.Code()
	if fits {
		code = c.Code
	}
	return strings.TrimPrefix(code, "IAU_2015:")
}

// CRSName returns the OGC URN of the survey's coordinates, or their WKT2 when
// the body has no code. GDAL reads both.
func (s *Survey) CRSName() string {
	if code := s.CRSCode(); code != "" {
		return "urn:ogc:def:crs:IAU:2015:" + code
	}
	return s.CRSText()
}

// CRSText returns the survey's coordinates as WKT2: degrees on the sphere of
// the equatorial radius. On a flattened body the latitudes are planetocentric,
// for which a sphere is the form that programs understand; the flattening
// travels in the reference_body member of the overlay.
func (s *Survey) CRSText() string {
	name := strings.ReplaceAll(DisplayText(s.Body.Name), `"`, "'")
	if name == "" {
		name = "unnamed body"
	}
	radius := strconv.FormatFloat(s.Body.SemiMajor, 'f', -1, 64)
	return fmt.Sprintf(`GEOGCRS["%[1]s (sphere) / planetocentric",DATUM["%[1]s (sphere)",ELLIPSOID["%[1]s (sphere)",%[2]s,0,LENGTHUNIT["metre",1]]],`+
		`PRIMEM["Reference meridian",0,ANGLEUNIT["degree",0.0174532925199433]],CS[ellipsoidal,2],`+
		`AXIS["geodetic latitude (Lat)",north,ORDER[1],ANGLEUNIT["degree",0.0174532925199433]],`+
		`AXIS["geodetic longitude (Lon)",east,ORDER[2],ANGLEUNIT["degree",0.0174532925199433]]]`, name, radius)
}
