package raster

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/airbusgeo/godal"
)

// Stored values of this size and beyond are missing in any file: infinities,
// the largest float32 and the special pixels of ISIS cubes.
const hugeValue = 3.4e38

// match is a range of stored values that stand for missing.
type match struct{ lo, hi float32 }

// missing decides which stored values are missing.
type missing struct {
	matches []match
	keep    []match
}

func (m *missing) is(v float32) bool {
	if !(v > -hugeValue && v < hugeValue) {
		return true
	}
	for _, r := range m.matches {
		if v >= r.lo && v <= r.hi {
			return true
		}
	}
	if m.keep == nil {
		return false
	}
	for _, r := range m.keep {
		if v >= r.lo && v <= r.hi {
			return false
		}
	}
	return true
}

// newMatch returns the range for one declared value of a band. note says what
// was assumed when the value cannot occur in the band as it was written.
func newMatch(t float64, dt godal.DataType) (m match, ok bool, note string) {
	if math.IsNaN(t) {
		return match{}, false, ""
	}
	if math.Abs(t) >= hugeValue {
		if math.Abs(t) > math.MaxFloat32 && dt != godal.Float64 {
			note = fmt.Sprintf("nodata %g cannot occur in %v; infinite and largest values are taken as missing", t, dt)
		}
		return match{}, false, note
	}
	v := float32(t)
	if lo, hi, integer := typeRange(dt); integer {
		if t < lo || t > hi || t != math.Trunc(t) {
			return match{}, false, fmt.Sprintf("nodata %g cannot occur in %v and masks nothing", t, dt)
		}
		return match{v, v}, true, ""
	}
	if math.Abs(t) > 1e10 {
		// Often written with fewer digits than the pixels have, as -1.70141e38.
		tol := 1e-5 * math.Abs(t)
		note = fmt.Sprintf("values within %.2g of nodata %g are taken as missing", tol, t)
		return match{float32(t - tol), float32(t + tol)}, true, note
	}
	if float64(v) == t {
		return match{v, v}, true, ""
	}
	tol := 4 * math.Abs(float64(math.Nextafter32(v, 2*v)-v))
	note = fmt.Sprintf("nodata %v is not a float32; values within %.2g of it are taken as missing", t, tol)
	return match{float32(t - tol), float32(t + tol)}, true, note
}

func typeRange(dt godal.DataType) (lo, hi float64, integer bool) {
	switch dt {
	case godal.Byte:
		return 0, 255, true
	case godal.Int8:
		return -128, 127, true
	case godal.UInt16:
		return 0, 65535, true
	case godal.Int16:
		return -32768, 32767, true
	case godal.UInt32:
		return 0, math.MaxUint32, true
	case godal.Int32:
		return math.MinInt32, math.MaxInt32, true
	}
	return 0, 0, false
}

// newMissing builds the rule for a band and says in notes what was assumed.
func newMissing(values, keep []float64, dt godal.DataType) (m missing, notes []string) {
	for _, t := range values {
		r, ok, note := newMatch(t, dt)
		if ok {
			m.matches = append(m.matches, r)
		}
		if note != "" {
			notes = append(notes, note)
		}
	}
	for _, t := range keep {
		m.keep = append(m.keep, match{float32(t), float32(t)})
	}
	return m, notes
}

// pds4Constants returns the special constants of a PDS4 label, of which GDAL
// takes only one.
func pds4Constants(label string) []float64 {
	var out []float64
	d := xml.NewDecoder(strings.NewReader(label))
	inside, name := false, ""
	for {
		tok, err := d.Token()
		if err == io.EOF || err != nil {
			return out
		}
		switch t := tok.(type) {
		case xml.StartElement:
			name = t.Name.Local
			inside = inside || name == "Special_Constants"
		case xml.EndElement:
			inside = inside && t.Name.Local != "Special_Constants"
			name = ""
		case xml.CharData:
			if !inside || !strings.HasSuffix(name, "_constant") && !strings.HasSuffix(name, "_saturation") {
				continue
			}
			if v, ok := pds4Number(string(t)); ok {
				out = append(out, v)
			}
		}
	}
}

// pds4Number reads a decimal number or a base-16 bit pattern of a float32 such
// as 16#FF7FFFFB#.
func pds4Number(s string) (float64, bool) {
	s = strings.TrimSpace(s)
	if v, err := strconv.ParseFloat(s, 64); err == nil {
		return v, true
	}
	hex, ok := strings.CutPrefix(strings.ToLower(strings.TrimSuffix(s, "#")), "16#")
	if !ok {
		hex, ok = strings.CutPrefix(strings.ToLower(s), "0x")
	}
	if bits, err := strconv.ParseUint(hex, 16, 32); ok && err == nil {
		return float64(math.Float32frombits(uint32(bits))), true
	}
	return 0, false
}
