package raster

import (
	"encoding/xml"
	"errors"
	"io"
	"os"
)

// This file looks at the files that GDAL reads beside a map. It leaves a damaged
// one out without a word, and with it what that says: scale, unit, missing values.

// checkBeside refuses a map with a damaged file beside it.
func checkBeside(spec Spec) error {
	if err := checkSidecar(spec.Path + ".aux.xml"); err != nil {
		return err
	}
	return checkMaskFile(spec.Path+".msk", spec.AllowVSI)
}

// checkSidecar reads XML to its end; a file that is not there is fine.
func checkSidecar(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return nil // absent, or the path is no file
	}
	defer f.Close()
	if info, err := f.Stat(); err != nil || info.Size() > maxXML {
		return nil
	}
	d := xml.NewDecoder(anyText{f})
	d.CharsetReader = func(_ string, r io.Reader) (io.Reader, error) { return r, nil }
	for {
		_, err := d.Token()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return lostBeside(path, "what it says of the map (scale, unit, missing values)", err)
		}
	}
}

// anyText makes the bytes of another encoding, and control characters, harmless:
// what is asked is whether tags open and close, and GDAL reads on across them.
type anyText struct{ r io.Reader }

func (p anyText) Read(b []byte) (int, error) {
	n, err := p.r.Read(b)
	for i, c := range b[:n] {
		if c >= 0x80 || c < ' ' && c != '\t' && c != '\n' && c != '\r' {
			b[i] = '?'
		}
	}
	return n, err
}

// checkMaskFile opens the mask of a map; one that is not there is fine.
func checkMaskFile(path string, allowed bool) error {
	if info, err := os.Stat(path); err != nil || info.IsDir() {
		return nil
	}
	if !allowed {
		if err := checkName(path); err != nil {
			return err
		}
	}
	ds, err := openDataset(path, &journal{})
	if err != nil {
		return lostBeside(path, "which pixels of the map are missing", err)
	}
	return ds.Close()
}

func lostBeside(path, what string, err error) error {
	return &Error{File: path, Kind: Corrupt, Problem: "cannot be read, so that " + what + " would be lost: " + reason(err),
		Remedy: "copy it again; if the map is whole without it, remove it"}
}
