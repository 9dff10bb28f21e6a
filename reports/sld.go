package reports

import (
	"encoding/xml"
	"io"
	"strconv"

	"rimcast/ejecta"
)

// The styles follow Styled Layer Descriptor 1.0.0, which common GIS programs
// load; only the few elements used here are modelled.
type (
	sldFile struct {
		XMLName xml.Name `xml:"StyledLayerDescriptor"`
		Version string   `xml:"version,attr"`
		NS      string   `xml:"xmlns,attr"`
		OGC     string   `xml:"xmlns:ogc,attr"`
		Layer   sldLayer `xml:"NamedLayer"`
	}
	sldLayer struct {
		Name  string    `xml:"Name"`
		Rules []sldRule `xml:"UserStyle>FeatureTypeStyle>Rule"`
	}
	sldRule struct {
		Name   string      `xml:"Name"`
		Filter *sldFilter  `xml:"ogc:Filter,omitempty"`
		Area   *sldPolygon `xml:"PolygonSymbolizer,omitempty"`
		Line   *sldStroke  `xml:"LineSymbolizer>Stroke,omitempty"`
	}
	sldFilter struct {
		Equal  *sldEqual  `xml:"ogc:PropertyIsEqualTo,omitempty"`
		Either *sldEither `xml:"ogc:Or,omitempty"`
	}
	sldEqual struct {
		Property string `xml:"ogc:PropertyName"`
		Value    string `xml:"ogc:Literal"`
	}
	sldEither struct {
		Equal sldEqual `xml:"ogc:PropertyIsEqualTo"`
		Null  string   `xml:"ogc:PropertyIsNull>ogc:PropertyName"`
	}
	sldPolygon struct {
		Fill   *sldParams `xml:"Fill,omitempty"`
		Stroke sldParams  `xml:"Stroke"`
	}
	sldStroke = sldParams
	sldParams struct {
		Params []sldParam `xml:"CssParameter"`
	}
	sldParam struct {
		Name  string `xml:"name,attr"`
		Value string `xml:",chardata"`
	}
)

// WriteStyle writes the style of one kind of overlay feature.
func WriteStyle(w io.Writer, kind string, lines bool) error {
	file := sldFile{Version: "1.0.0", NS: "http://www.opengis.net/sld", OGC: "http://www.opengis.net/ogc", Layer: sldLayer{Name: kind}}
	if kind == "rim" {
		for _, p := range allPatterns {
			rule := styleRule(Feature{Kind: kind, Props: []Prop{{"pattern", string(p)}}}, patternText(p), lines)
			rule.Filter = patternFilter(p)
			rule.dash(patternDash(p))
			file.Layer.Rules = append(file.Layer.Rules, rule)
		}
	} else {
		file.Layer.Rules = []sldRule{styleRule(Feature{Kind: kind}, kind, lines)}
	}
	if _, err := io.WriteString(w, xml.Header); err != nil {
		return err
	}
	out := xml.NewEncoder(w)
	out.Indent("", "  ")
	if err := out.Encode(file); err != nil {
		return err
	}
	_, err := io.WriteString(w, "\n")
	return err
}

// patternFilter picks the rims of a pattern. Some programs take an empty text for
// null.
func patternFilter(p ejecta.Pattern) *sldFilter {
	equal := sldEqual{"pattern", string(p)}
	if p == "" {
		return &sldFilter{Either: &sldEither{equal, "pattern"}}
	}
	return &sldFilter{Equal: &equal}
}

// styleRule draws a feature as its attributes for web viewers say.
func styleRule(f Feature, name string, lines bool) sldRule {
	style := map[string]string{}
	for _, p := range simpleStyle(f) {
		switch v := p.Value.(type) {
		case string:
			style[p.Name] = v
		case float64:
			style[p.Name] = strconv.FormatFloat(v, 'g', -1, 64)
		}
	}
	pick := func(names ...string) sldParams {
		var out sldParams
		for _, n := range names {
			out.Params = append(out.Params, sldParam{n, style[n]})
		}
		return out
	}
	stroke := pick("stroke", "stroke-width", "stroke-opacity")
	if lines {
		return sldRule{Name: name, Line: &stroke}
	}
	area := sldPolygon{Stroke: stroke}
	if style["fill-opacity"] != "0" {
		fill := pick("fill", "fill-opacity")
		area.Fill = &fill
	}
	return sldRule{Name: name, Area: &area}
}

// dash breaks the outline of an area, so that patterns differ without colour.
func (r *sldRule) dash(lengths string) {
	if lengths != "" && r.Area != nil {
		r.Area.Stroke.Params = append(r.Area.Stroke.Params, sldParam{"stroke-dasharray", lengths})
	}
}

// patternDash is how the rim of a pattern is drawn.
func patternDash(p ejecta.Pattern) string {
	switch p {
	case ejecta.PatternOneSided:
		return "10 4"
	case ejecta.PatternBilateral:
		return "10 3 2 3"
	case ejecta.PatternRays:
		return "2 3"
	case ejecta.PatternGap:
		return "5 5"
	}
	return ""
}

// styleFiles are the styles of all kinds.
func styleFiles(s *Survey, opt Options) []file {
	var list []file
	for _, layer := range Layers(s, opt) {
		list = append(list, file{"styles/" + layer.Kind + ".sld", func(w io.Writer) error { return WriteStyle(w, layer.Kind, layer.Lines) }})
	}
	return list
}
