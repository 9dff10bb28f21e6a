package gpkg

import (
	"fmt"
	"math"
	"strings"

	"github.com/airbusgeo/godal"

	"rimcast/reports"
)

// copier moves features of one kind to a layer on disk by way of a layer in
// memory: a layer on disk would insert a feature before its attributes are
// set, and FlatGeobuf cannot change it afterwards.
type copier struct {
	target, memory godal.Layer
	scratch        *godal.Dataset
	sr             *godal.SpatialRef
	fields         map[string]godal.Field
}

// geometryColumn is the name that GeoPackages give their geometry; a feature
// with another is refused.
const geometryColumn = "geom"

func newCopier(target godal.Layer, sr *godal.SpatialRef, layer reports.Layer, fields []godal.CreateLayerOption) (*copier, error) {
	scratch, err := create("Memory", "scratch")
	if err != nil {
		return nil, err
	}
	memory, err := addLayer(scratch, sr, layer, fields)
	if err != nil {
		scratch.Close()
		return nil, err
	}
	if err := memory.SetGeometryColumnName(geometryColumn); err != nil {
		scratch.Close()
		return nil, err
	}
	return &copier{target: target, memory: memory, scratch: scratch, sr: sr}, nil
}

func (c *copier) close() error { return c.scratch.Close() }

// copy inserts one feature.
func (c *copier) copy(f reports.Feature) error {
	g, err := geometry(f.Geometry, c.sr)
	if err != nil {
		return err
	}
	defer g.Close()
	made, err := c.memory.NewFeature(g, godal.ErrLogger(quiet))
	if err != nil {
		return err
	}
	defer made.Close()
	if err := c.set(made, f); err != nil {
		return err
	}
	drop := c.memory.DeleteFeature(made, godal.ErrLogger(quiet))
	made.SetFID(-1) // let the target number it
	if err := c.target.CreateFeature(made, godal.ErrLogger(quiet)); err != nil {
		return err
	}
	return drop
}

// set fills the attributes; a missing number stays null.
func (c *copier) set(made *godal.Feature, f reports.Feature) error {
	if c.fields == nil {
		c.fields = made.Fields() // names to columns, the same for every feature
	}
	for _, p := range append([]reports.Prop{{Name: "crater_id", Value: f.CraterID}}, f.Props...) {
		field, ok := c.fields[p.Name]
		if !ok {
			return fmt.Errorf("no column %q", p.Name)
		}
		value := plain(p.Value)
		if value == nil {
			continue
		}
		if err := made.SetFieldValue(field, value, godal.ErrLogger(quiet)); err != nil {
			return fmt.Errorf("column %q: %w", p.Name, err)
		}
	}
	return nil
}

// plain turns an attribute into what a column takes; nil means null. Text
// loses NUL, at which C would cut it.
func plain(v any) any {
	switch v := v.(type) {
	case float64:
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil
		}
	case bool:
		if v {
			return 1
		}
		return 0
	case string:
		return strings.ReplaceAll(strings.ToValidUTF8(v, "\uFFFD"), "\x00", "\uFFFD")
	}
	return v
}
