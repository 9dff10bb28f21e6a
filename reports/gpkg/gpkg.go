// Package gpkg writes the overlay of a survey as GeoPackage or FlatGeobuf
// through GDAL. It is the only part of the reports that needs GDAL.
//
// Both carry the body as coordinate reference system: by its IAU code where
// GDAL knows it, else as the text of a sphere. Features join the tables by
// crater_id, never by position: FlatGeobuf reorders them.
package gpkg

import (
	"errors"
	"fmt"
	"iter"
	"os"
	"path/filepath"
	"sync"

	"github.com/airbusgeo/godal"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkb"

	"rimcast/reports"
)

// Write writes overlay.gpkg at path, one layer per kind. An existing file is
// replaced. A kind without features gives a layer without rows.
func Write(path string, s *reports.Survey, opt reports.Options) error {
	if err := remove(path); err != nil {
		return err
	}
	ds, err := create("GPKG", path)
	if err != nil {
		return err
	}
	sr, err := reference(s)
	if err != nil {
		return errors.Join(err, ds.Close())
	}
	defer sr.Close()
	return errors.Join(fill(ds, sr, path, reports.Layers(s, opt)), ds.Close())
}

// WriteFlatGeobuf writes overlay_<kind>.fgb into dir, one file per kind that
// has features, since the format holds one layer.
func WriteFlatGeobuf(dir string, s *reports.Survey, opt reports.Options) error {
	sr, err := reference(s)
	if err != nil {
		return err
	}
	defer sr.Close()
	for _, layer := range reports.Layers(s, opt) {
		if _, some := first(layer.Features); !some {
			continue
		}
		path := filepath.Join(dir, "overlay_"+layer.Kind+".fgb")
		if err := remove(path); err != nil {
			return err
		}
		ds, err := create("FlatGeobuf", path)
		if err != nil {
			return err
		}
		if err := errors.Join(fillLayer(ds, sr, path, layer), ds.Close()); err != nil {
			return err
		}
	}
	return nil
}

func remove(path string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("gpkg: %w", err)
	}
	return nil
}

// setup registers drivers once and keeps the clock out of the files.
var setup = sync.OnceFunc(func() {
	godal.RegisterAll()
	if os.Getenv("OGR_CURRENT_DATE") == "" {
		os.Setenv("OGR_CURRENT_DATE", "2000-01-01T00:00:00.000Z")
	}
})

// quiet lets warnings pass, which godal would take for errors.
func quiet(class godal.ErrorCategory, code int, message string) error {
	if class <= godal.CE_Warning {
		return nil
	}
	return fmt.Errorf("gdal error %d: %s", code, message)
}

func create(driver, path string) (*godal.Dataset, error) {
	setup()
	ds, err := godal.CreateVector(godal.DriverName(driver), path, godal.ErrLogger(quiet))
	if err != nil {
		return nil, fmt.Errorf("gpkg: %s: %w", path, err)
	}
	return ds, nil
}

// reference is the coordinate reference system of the survey.
func reference(s *reports.Survey) (*godal.SpatialRef, error) {
	setup()
	if code := s.CRSCode(); code != "" {
		if sr, err := godal.NewSpatialRef("IAU_2015:"+code, godal.ErrLogger(quiet)); err == nil {
			return sr, nil
		}
	}
	sr, err := godal.NewSpatialRef(s.CRSText(), godal.ErrLogger(quiet))
	if err != nil {
		return nil, fmt.Errorf("gpkg: reference system of %q: %w", s.Body.Name, err)
	}
	return sr, nil
}

func fill(ds *godal.Dataset, sr *godal.SpatialRef, path string, layers []reports.Layer) error {
	if err := ds.StartTransaction(godal.ErrLogger(quiet)); err != nil {
		return fmt.Errorf("gpkg: %s: %w", path, err)
	}
	for _, layer := range layers {
		if err := fillLayer(ds, sr, path, layer); err != nil {
			return err
		}
	}
	if err := ds.CommitTransaction(godal.ErrLogger(quiet)); err != nil {
		return fmt.Errorf("gpkg: %s: %w", path, err)
	}
	return nil
}

// fillLayer copies the features of a kind.
func fillLayer(ds *godal.Dataset, sr *godal.SpatialRef, path string, layer reports.Layer) error {
	sample, _ := first(layer.Features)
	fields := definitions(sample)
	target, err := addLayer(ds, sr, layer, fields)
	if err != nil {
		return fmt.Errorf("gpkg: %s, layer %s: %w", path, layer.Kind, err)
	}
	c, err := newCopier(target, sr, layer, fields)
	if err != nil {
		return fmt.Errorf("gpkg: %s, layer %s: %w", path, layer.Kind, err)
	}
	defer c.close()
	for f := range layer.Features {
		if err := c.copy(f); err != nil {
			return fmt.Errorf("gpkg: %s, layer %s, crater %q: %w", path, layer.Kind, f.CraterID, err)
		}
	}
	return nil
}

func first(seq iter.Seq[reports.Feature]) (reports.Feature, bool) {
	for f := range seq {
		return f, true
	}
	return reports.Feature{}, false
}

func addLayer(ds *godal.Dataset, sr *godal.SpatialRef, layer reports.Layer, fields []godal.CreateLayerOption) (godal.Layer, error) {
	kind := godal.GTMultiPolygon
	if layer.Lines {
		kind = godal.GTMultiLineString
	}
	return ds.CreateLayer(layer.Kind, sr, kind, append([]godal.CreateLayerOption{godal.ErrLogger(quiet)}, fields...)...)
}

// definitions are the columns of a kind, told from one of its features.
func definitions(f reports.Feature) []godal.CreateLayerOption {
	fields := []godal.CreateLayerOption{godal.NewFieldDefinition("crater_id", godal.FTString)}
	for _, p := range f.Props {
		kind := godal.FTString
		switch p.Value.(type) {
		case float64:
			kind = godal.FTReal
		case int, bool:
			kind = godal.FTInt
		}
		fields = append(fields, godal.NewFieldDefinition(p.Name, kind))
	}
	return fields
}

func geometry(g orb.Geometry, sr *godal.SpatialRef) (*godal.Geometry, error) {
	data, err := wkb.Marshal(g)
	if err != nil {
		return nil, err
	}
	return godal.NewGeometryFromWKB(data, sr, godal.ErrLogger(quiet))
}
