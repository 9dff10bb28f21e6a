package main

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"rimcast/geom"
)

// layerOptions are the keys that may follow the path in a layer flag.
var layerOptions = map[string]func(l *layerSection, value string) error{
	"kind":         func(l *layerSection, v string) error { l.Kind = v; return nil },
	"band":         setBand,
	"unit":         func(l *layerSection, v string) error { l.Unit = v; return nil },
	"basis":        func(l *layerSection, v string) error { l.Basis = v; return nil },
	"sigma":        func(l *layerSection, v string) error { l.Sigma, l.writtenSigma = v, v; return nil },
	"sigma_is":     func(l *layerSection, v string) error { l.SigmaIs = v; return nil },
	"epoch":        func(l *layerSection, v string) error { l.Epoch = v; return nil },
	"crs":          func(l *layerSection, v string) error { l.CRS = v; return nil },
	"lon_positive": func(l *layerSection, v string) error { l.LonPositive = v; return nil },
	"azimuth":      func(l *layerSection, v string) error { l.Azimuth = v; return nil },
	"nodata":       func(l *layerSection, v string) error { return addNumber(&l.NoData, v) },
	"keep":         func(l *layerSection, v string) error { return addNumber(&l.Keep, v) },
	"drop":         func(l *layerSection, v string) error { return addNumber(&l.Drop, v) },
	"scale":        func(l *layerSection, v string) error { return setNumber(&l.Scale, v) },
	"offset":       func(l *layerSection, v string) error { return setNumber(&l.Offset, v) },
	"bits":         setBits,
	"local_time_h": func(l *layerSection, v string) error { return setNumber(&l.LocalTime, v) },

	"subsolar_lat_deg": func(l *layerSection, v string) error { return setNumber(&l.Subsolar, v) },
}

// parseLayer reads the value of --species, --covariate or --mask:
//
//	name=path[:band][,key=value]...
//
// A mask needs no name. Commas that do not start a known key belong to the
// path; a list is given by repeating its key.
func parseLayer(section, text string) (layerSection, error) {
	l := layerSection{}
	name, rest := splitName(text)
	if name == "" && section != "mask" {
		return l, errors.New("there is no name; write it as name=path, such as water=water.tif")
	}
	l.Name = name
	path, options := splitOptions(rest)
	if path == "" {
		return l, errors.New("there is no path; write it as name=path, such as water=water.tif")
	}
	l.Path, l.Band = splitBand(path)
	for _, o := range options {
		if err := layerOptions[o[0]](&l, o[1]); err != nil {
			return l, fmt.Errorf("%s: %w", o[0], err)
		}
	}
	l.written = l.Path
	return l, nil
}

// splitName cuts the name off; a path may hold = but not before a / or a dot.
func splitName(text string) (name, rest string) {
	i := strings.IndexByte(text, '=')
	if i <= 0 || strings.ContainsAny(text[:i], `/\.,:`) {
		return "", strings.TrimPrefix(text, "=")
	}
	return strings.TrimSpace(text[:i]), text[i+1:]
}

// splitOptions cuts the key=value pairs off the end of the path.
func splitOptions(text string) (path string, options [][2]string) {
	parts := strings.Split(text, ",")
	path = parts[0]
	for _, p := range parts[1:] {
		key, value, ok := strings.Cut(p, "=")
		switch {
		case ok && layerOptions[key] != nil:
			options = append(options, [2]string{key, value})
		case len(options) > 0:
			last := &options[len(options)-1]
			last[1] += "," + p
		default:
			path += "," + p
		}
	}
	return path, options
}

// splitBand cuts :band, a number from 1, off a path.
func splitBand(path string) (string, int) {
	i := strings.LastIndexByte(path, ':')
	if i <= 0 {
		return path, 0
	}
	n, err := strconv.Atoi(path[i+1:])
	if err != nil || n < 1 || n > math.MaxInt32 || path[i+1] == '+' {
		return path, 0
	}
	return path[:i], n
}

// setBand takes a number or a band name.
func setBand(l *layerSection, text string) error {
	if n, err := strconv.Atoi(text); err == nil {
		if n < 1 {
			return fmt.Errorf("%d is not a band; bands are counted from 1", n)
		}
		l.Band = n
		return nil
	}
	if text == "" {
		return errors.New("is empty")
	}
	l.BandName = text
	return nil
}

func setBits(l *layerSection, text string) error {
	n, err := strconv.Atoi(text)
	if err != nil || n < 0 || n > 31 {
		return fmt.Errorf("%s is not a bit number from 0 to 31", geom.Quote(text))
	}
	l.Bits = append(l.Bits, n)
	return nil
}

func addNumber(list *[]float64, text string) error {
	x, err := parseNumber(text)
	if err == nil {
		*list = append(*list, x)
	}
	return err
}

func setNumber(p **float64, text string) error {
	x, err := parseNumber(text)
	if err == nil {
		*p = &x
	}
	return err
}

// parseNumber reads a decimal number. A value may be nan, as nodata often is,
// but nothing else that is not finite.
func parseNumber(text string) (float64, error) {
	x, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err != nil || math.IsInf(x, 0) {
		return 0, fmt.Errorf("%s is not a number", geom.Quote(text))
	}
	return x, nil
}

// parseNumbers reads numbers with commas between.
func parseNumbers(text string) ([]float64, error) {
	var list []float64
	for part := range strings.SplitSeq(text, ",") {
		if err := addNumber(&list, part); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// byteUnits are the units of parseBytes, longest suffix first.
var byteUnits = []struct {
	suffix string
	bytes  float64
}{
	{"kib", 1 << 10}, {"mib", 1 << 20}, {"gib", 1 << 30}, {"tib", 1 << 40},
	{"kb", 1e3}, {"mb", 1e6}, {"gb", 1e9}, {"tb", 1e12},
	{"k", 1e3}, {"m", 1e6}, {"g", 1e9}, {"t", 1e12}, {"b", 1},
}

// parseBytes reads a size such as 600MB, 4GB or 2GiB; a bare number is bytes.
func parseBytes(text string) (int64, error) {
	s, factor := strings.ToLower(strings.TrimSpace(text)), 1.0
	for _, u := range byteUnits {
		if strings.HasSuffix(s, u.suffix) {
			s, factor = strings.TrimSpace(strings.TrimSuffix(s, u.suffix)), u.bytes
			break
		}
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || !(x > 0) || x*factor > math.MaxInt64/2 {
		return 0, fmt.Errorf("%s is not a size; write it as 600MB or 4GB", geom.Quote(text))
	}
	return int64(x * factor), nil
}
