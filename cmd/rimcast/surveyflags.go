package main

import (
	"fmt"
	"io"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"rimcast/geom"
)

// surveyFlags are the flags that describe a survey. They only remember their
// text; build reads the survey file first and lets them overrule it.
type surveyFlags struct {
	keys   []*keyFlag
	layers layerFlags
	nodata []string
	assume bool
	force  bool
}

// keyFlag sets one key of the survey file.
type keyFlag struct {
	key     string
	text    string
	changed bool
	boolean bool
}

func (f *keyFlag) String() string { return f.text }

func (f *keyFlag) Type() string {
	if f.boolean {
		return "bool"
	}
	v, _ := valueOf(defaultSurvey(), f.key)
	switch v.Kind() {
	case reflect.Float64:
		return "number"
	case reflect.Int, reflect.Uint64:
		return "count"
	}
	return "text"
}

// Set checks the text against the type of the key at once, so that the error
// names the flag.
func (f *keyFlag) Set(text string) error {
	if err := setKey(defaultSurvey(), f.key, text); err != nil {
		return err
	}
	f.text, f.changed = text, true
	return nil
}

// layerFlags collects --species, --covariate and --mask in order.
type layerFlags struct{ species, covariates, masks []layerSection }

// layerFlag is one of the three; it appends to its list.
type layerFlag struct {
	section string
	list    *[]layerSection
}

func (f layerFlag) String() string { return "" }
func (f layerFlag) Type() string   { return "layer" }

func (f layerFlag) Set(text string) error {
	l, err := parseLayer(f.section, text)
	if err != nil {
		return err
	}
	*f.list = append(*f.list, l)
	return nil
}

// specialFlags are set by other means than setKey.
var specialFlags = map[string]bool{"species": true, "covariate": true, "mask": true, "nodata": true}

// register adds the flags to a command, all or those of keys that begin with one
// of the words.
func (sf *surveyFlags) register(fs *pflag.FlagSet, begins ...string) {
	for _, k := range surveyKeys {
		if k.flag == "" || specialFlags[k.flag] || !beginsWithOne(k.key, begins) {
			continue
		}
		v, _ := valueOf(defaultSurvey(), k.key)
		f := &keyFlag{key: k.key, text: defaultText(k.key), boolean: v.Kind() == reflect.Bool}
		sf.keys = append(sf.keys, f)
		short := ""
		if k.flag == "out" {
			short = "o"
		}
		added := fs.VarPF(f, k.flag, short, k.help)
		if f.boolean {
			added.NoOptDefVal = "true"
		}
	}
	fs.Var(layerFlag{"species", &sf.layers.species}, "species",
		"a mapped quantity: name=path[:band][,unit=ppm][,sigma=path][,nodata=-9999]...; repeatable")
	fs.Var(layerFlag{"covariate", &sf.layers.covariates}, "covariate",
		"what could fake a signal: name=path[:band][,kind=temperature]...; repeatable")
	fs.Var(layerFlag{"mask", &sf.layers.masks}, "mask",
		"good pixels: path[:band],keep=0 or drop=1 or bits=3; repeatable")
	fs.StringArrayVar(&sf.nodata, "nodata", nil, "values that mean missing: layer=value[,value]; repeatable")
	fs.BoolVar(&sf.assume, "assume-body-crs", false, "read maps and catalogue as of the body although they say Earth or another radius")
}

func beginsWithOne(key string, begins []string) bool {
	return len(begins) == 0 || slices.ContainsFunc(begins, func(b string) bool { return strings.HasPrefix(key, b) })
}

// registerRun adds the flags of commands that write a result directory.
func (sf *surveyFlags) registerRun(fs *pflag.FlagSet) {
	fs.BoolVar(&sf.force, "force", false, "replace an existing result directory when the new one is whole")
}

// build reads the survey file, when there is one, and lets the flags overrule
// it. The result is complete but unchecked.
func (sf *surveyFlags) build(path string, stdin io.Reader) (*surveyFile, error) {
	sv := defaultSurvey()
	if path != "" {
		var err error
		if sv, err = readSurvey(path, stdin); err != nil {
			return nil, err
		}
	}
	if err := sf.apply(sv); err != nil {
		return nil, err
	}
	return sv, nil
}

func (sf *surveyFlags) apply(sv *surveyFile) error {
	for _, f := range sf.keys {
		if !f.changed {
			continue
		}
		if err := setKey(sv, f.key, f.text); err != nil {
			return usage(err.Error(), "")
		}
		if f.key == "catalogue.path" {
			sv.Catalogue.written = f.text
		}
	}
	sv.Species = mergeLayers(sv.Species, sf.layers.species)
	sv.Covariates = mergeLayers(sv.Covariates, sf.layers.covariates)
	sv.Masks = append(sv.Masks, sf.layers.masks...)
	for _, text := range sf.nodata {
		if err := setNoData(sv, text); err != nil {
			return err
		}
	}
	if sf.assume {
		sv.Catalogue.AssumeBodyCRS, sv.Rasters.AssumeBodyCRS = true, true
	}
	sv.Output.Force = sf.force
	return nil
}

// mergeLayers adds the layers of flags to those of the file; one of the same
// name and epoch takes its place.
func mergeLayers(file, flags []layerSection) []layerSection {
	n := len(file)
next:
	for _, l := range flags {
		for i := range n {
			if file[i].Name == l.Name && file[i].Epoch == l.Epoch {
				file[i] = l
				continue next
			}
		}
		file = append(file, l)
	}
	return file
}

// setNoData reads layer=value[,value].
func setNoData(sv *surveyFile, text string) error {
	name, list, ok := strings.Cut(text, "=")
	if !ok {
		return usage("--nodata "+geom.Quote(text)+" has no =", "write it as layer=value, such as water=-9999")
	}
	values, err := parseNumbers(list)
	if err != nil {
		return usage("--nodata "+geom.Quote(text)+": "+err.Error(), "write it as layer=value, such as water=-9999")
	}
	var names []string
	for _, n := range sv.layers() {
		if n.layer.Name == name {
			n.layer.NoData = append(n.layer.NoData, values...)
			return nil
		}
		names = append(names, n.layer.Name)
	}
	return usage("--nodata names a layer "+geom.Quote(name)+" that the survey does not have", didYouMean(name, names))
}

// setKey sets a scalar key of the survey from text.
func setKey(sv *surveyFile, key, text string) error {
	v, ok := valueOf(sv, key)
	if !ok {
		panic("rimcast: no key " + key)
	}
	switch v.Kind() {
	case reflect.String:
		v.SetString(text)
	case reflect.Float64:
		x, err := parseNumber(text)
		if err != nil {
			return err
		}
		v.SetFloat(x)
	case reflect.Int:
		n, err := strconv.Atoi(text)
		if err != nil {
			return fmt.Errorf("%s is not a whole number", geom.Quote(text))
		}
		v.SetInt(int64(n))
	case reflect.Uint64:
		n, err := strconv.ParseUint(text, 10, 64)
		if err != nil {
			return fmt.Errorf("%s is not a whole number from 0 up", geom.Quote(text))
		}
		v.SetUint(n)
	case reflect.Bool:
		b, err := strconv.ParseBool(text)
		if err != nil {
			return fmt.Errorf("%s is neither true nor false", geom.Quote(text))
		}
		v.SetBool(b)
	default:
		panic("rimcast: key " + key + " cannot be a flag")
	}
	return nil
}
