package geom

import "fmt"

// ReferenceMember is the name of the foreign member of a GeoJSON file that says
// what its coordinates mean, beside the "crs" member which strict readers drop.
const ReferenceMember = "reference_body"

// ReferenceBody is that member, and part of a manifest.
type ReferenceBody struct {
	Name               string  `json:"name"`
	SemiMajorM         float64 `json:"semi_major_m"`
	InverseFlattening  float64 `json:"inverse_flattening"` // 0 for a sphere
	LatitudeType       string  `json:"latitude_type"`      // "planetocentric" or "planetographic"
	LongitudeDirection string  `json:"longitude_direction"`
	Code               string  `json:"code,omitempty"` // "IAU_2015:30100", empty for a body without one
}

// NewReferenceBody describes coordinates as this program writes them:
// planetocentric latitude, longitude positive to the east.
func NewReferenceBody(b Body) ReferenceBody {
	return ReferenceBody{
		Name: b.Name, SemiMajorM: b.SemiMajor, InverseFlattening: b.InverseFlattening,
		LatitudeType: PlanetocentricLatitude, LongitudeDirection: EastPositive, Code: b.Code(),
	}
}

// Body returns the body that is described, or an error that says what is wrong.
func (r ReferenceBody) Body() (Body, error) {
	b := Body{Name: r.Name, SemiMajor: r.SemiMajorM, InverseFlattening: r.InverseFlattening, Source: "declared by the file"}
	if err := b.Valid(); err != nil {
		return b, err
	}
	switch r.LatitudeType {
	case "", PlanetocentricLatitude, PlanetographicLatitude:
	default:
		return b, fmt.Errorf("latitude_type %s is neither planetocentric nor planetographic", Quote(r.LatitudeType))
	}
	switch r.LongitudeDirection {
	case "", EastPositive, WestPositive:
	default:
		return b, fmt.Errorf("longitude_direction %s is neither east nor west", Quote(r.LongitudeDirection))
	}
	return b, nil
}

// CRSMember is the "crs" member of the 2008 edition of GeoJSON.
type CRSMember struct {
	Type       string `json:"type"`
	Properties struct {
		Name string `json:"name"`
	} `json:"properties"`
}

// NewCRSMember returns the member for a body; ok is false when the body has no
// code, and no name could be given that other programs know.
func NewCRSMember(b Body) (m CRSMember, ok bool) {
	m.Type, m.Properties.Name = "name", b.URN()
	return m, m.Properties.Name != ""
}
