package geom

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"io"
	"strconv"
	"unicode/utf8"
)

// readGeoJSON reads features one by one. Coordinates are decoded strictly, into
// orb's geometries: a decoder that fills short or null positions with zeros
// would put craters at 0 E 0 N.
func (b *builder) readGeoJSON(r io.Reader) error {
	s := &jsonScanner{r: r}
	for texts := 0; ; texts++ {
		c, err := s.next()
		if err != nil {
			if texts > 0 && errors.Is(err, errJSONEnd) {
				return nil
			}
			return b.jsonFault(err)
		}
		if texts > 0 && c != '{' {
			return refuse("", "give one FeatureCollection", "the file goes on with %q after its end: not a GeoJSON object", c)
		}
		if err := b.readText(s); err != nil {
			return b.jsonFault(err)
		}
	}
}

// jsonFault words a fault of the text. It counts features from 0.
func (b *builder) jsonFault(err error) error {
	var at *jsonError
	if !errors.As(err, &at) {
		return err
	}
	e := corrupt(b.count, "", "", "%v", at)
	e.Err = err
	if !b.inFeatures {
		e.Feature = -1
	}
	switch {
	case errors.Is(err, errJSONEnd):
		e.Problem = "ends early: " + at.Error()
		e.Remedy = "the file is cut off; copy it again"
	case errors.Is(err, errJSONDeep), errors.Is(err, errJSONLarge):
		e.Remedy = "this is no crater catalogue"
	default:
		e.Remedy = "write the file again with a program that keeps to RFC 8259"
	}
	return e
}

// document is what the top-level object of a GeoJSON text holds.
type document struct {
	kind     string
	features bool
	members  []byte // geometry, properties and id of a lone feature, as an object
}

// readText reads one top-level value.
func (b *builder) readText(s *jsonScanner) error {
	var doc document
	c, err := s.next()
	if err != nil {
		return err
	}
	if c != '{' {
		return refuse("", "give a FeatureCollection", "the file begins with %q: not a GeoJSON object", c)
	}
	err = s.members(func(key string) error {
		if key == "features" {
			doc.features = true
			b.inFeatures = true
			err := s.list('[', ']', func() error { return b.readFeature(s) })
			b.inFeatures = err != nil
			return err
		}
		raw, err := s.take()
		if err == nil {
			err = b.topMember(key, raw, &doc)
		}
		return err
	})
	if err != nil {
		return err
	}
	switch {
	case doc.features:
		return nil
	case doc.kind == "Feature":
		b.decodeFeature(append(doc.members, '}'))
		return nil
	}
	return refuse("type", "give a FeatureCollection", "a GeoJSON text of type %s holds no features", Quote(doc.kind))
}

func (b *builder) topMember(key string, raw []byte, doc *document) error {
	switch key {
	case "type":
		doc.kind, _ = scalarText(raw)
	case "crs":
		return b.crsMember(raw)
	case ReferenceMember:
		var ref ReferenceBody
		if err := json.Unmarshal(raw, &ref); err != nil {
			return refuse(key, "remove the member or correct it", "cannot be read: %s", clip(err.Error(), 200))
		}
		b.ref = &ref
	case "geometry", "properties", "id":
		sep := byte(',')
		if doc.members == nil {
			sep = '{'
		}
		doc.members = append(append(doc.members, sep, '"'), key...)
		doc.members = append(append(doc.members, '"', ':'), raw...)
	}
	return nil
}

// crsMember reads the "crs" member of the 2008 edition of GeoJSON.
func (b *builder) crsMember(raw []byte) error {
	var m struct {
		Type       string
		Properties struct {
			Name string
			Code json.Number
			Href string
		}
	}
	if string(raw) == "null" {
		return nil
	}
	err := json.Unmarshal(raw, &m)
	switch {
	case err == nil && m.Properties.Name != "":
		b.crs = m.Properties.Name
	case err == nil && m.Type == "EPSG" && m.Properties.Code != "":
		b.crs = "EPSG:" + m.Properties.Code.String()
	case err == nil && m.Properties.Href != "":
		b.crsFault = "a link to " + Quote(m.Properties.Href)
	default:
		b.crsFault = Quote(string(raw))
	}
	return nil
}

func (b *builder) readFeature(s *jsonScanner) error {
	raw, err := s.take()
	if err != nil {
		return err
	}
	b.decodeFeature(raw)
	return nil
}

// property is a member of a feature's properties.
type property struct {
	name  string
	value []byte
}

// featureText is what a feature holds, not yet understood.
type featureText struct {
	id, geometry, kind []byte
	props              []property
	isObject           bool
	twice              string // a member that is there twice, with different values
}

// split cuts a feature into its members.
func (b *builder) split(raw []byte) (f featureText) {
	eachMember(raw, b.names, func(key string, value []byte) {
		f.isObject = true
		switch key {
		case "id":
			f.id = value
		case "type":
			f.kind = value
		case "geometry":
			if f.geometry != nil && !bytes.Equal(f.geometry, value) {
				f.twice = key
			}
			f.geometry = value
		case "properties":
			f.props = f.props[:0]
			eachMember(value, b.names, func(k string, v []byte) { f.props = append(f.props, property{k, v}) })
		}
	})
	return f
}

// fault is why a text is no feature, or "". A lone feature has lost its type.
func (f *featureText) fault(raw []byte) string {
	kind, _ := scalarText(f.kind)
	switch {
	case !f.isObject:
		return "not a feature: " + Quote(string(raw))
	case f.kind != nil && kind != "Feature":
		return "not a feature: its type is " + Quote(kind)
	}
	return ""
}

// decodeFeature takes the text of a feature, which is valid JSON.
func (b *builder) decodeFeature(raw []byte) {
	index := b.count
	b.count++
	text := b.split(raw)
	if reason := text.fault(raw); reason != "" {
		b.refused(index, "", "%s", reason)
		return
	}
	if !utf8.Valid(raw) {
		b.badText++
	}
	b.learnProperties(text.props)
	value := func(ro role) (string, bool) { return b.property(text.props, ro) }
	if kind, ok := value(roleKind); ok && overlayKinds[kind] {
		b.skipped++
		return
	}
	f := feature{index: index, id: b.featureID(text.id, index, value), value: value}
	reason := f.place(text.geometry, b.names)
	if name := cmp.Or(text.twice, b.givenTwice(text.props)); name != "" {
		reason = label(name) + " is there twice, with different values"
	}
	if reason != "" {
		b.refused(index, f.id, "%s", reason)
		return
	}
	b.add(f)
}

// givenTwice names a number that a feature gives twice, with different values:
// readers differ in which of the two they take.
func (b *builder) givenTwice(props []property) string {
	for ro, c := range b.roles.cols {
		if b.roles.usable(role(ro)) && !role(ro).isText() && differ(props, c.name) {
			return c.name
		}
	}
	return ""
}

// differ reports whether properties of one name have different values.
func differ(props []property, name string) bool {
	var first []byte
	for _, p := range props {
		if p.name != name {
			continue
		}
		if first != nil && !bytes.Equal(first, p.value) {
			return true
		}
		first = p.value
	}
	return false
}

// overlayKinds are the outlines beside "rim" in an overlay of this program.
var overlayKinds = map[string]bool{"ring": true, "sector": true, "lobe": true, "axis": true, "ray": true,
	"gap": true, "masked": true, "seam": true}

func (b *builder) learnProperties(props []property) {
	var fresh []string
	for _, p := range props {
		if !b.roles.seen[p.name] {
			fresh = append(fresh, p.name)
		}
	}
	if len(fresh) > 0 {
		b.roles.learn(fresh)
	}
}

// property returns the text of the property that serves a role. Of two texts
// with one name the last counts, as in most readers.
func (b *builder) property(props []property, ro role) (string, bool) {
	if !b.roles.usable(ro) {
		return "", false
	}
	for i := len(props) - 1; i >= 0; i-- {
		if props[i].name != b.roles.cols[ro].name {
			continue
		}
		b.roles.hits[ro]++
		text, ok := scalarText(props[i].value)
		if !ok && props[i].value[0] != 'n' && !ro.isText() {
			return string(props[i].value[:1]), true // an object or a list: no number
		}
		return text, ok || !ro.isText()
	}
	return "", false
}

// featureID takes the property named by option, else the id member of the
// feature, else a property with a known name, else a made-up id. In an overlay
// the property comes first, for many outlines share a crater.
func (b *builder) featureID(member []byte, index int, value func(role) (string, bool)) string {
	own, hasOwn := scalarText(member)
	prop, hasProp := value(roleID)
	_, overlay := value(roleKind)
	switch {
	case hasProp && prop != "" && (b.roles.forced[roleID] || overlay):
		return prop
	case hasOwn && own != "":
		return own
	case hasProp && prop != "":
		return prop
	}
	b.noID++
	return "feature-" + strconv.Itoa(index)
}
