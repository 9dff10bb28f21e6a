package main

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"github.com/spf13/cobra"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/raster"
)

const inspectLong = `Inspect opens everything that a survey names and shows on one screen what was
found and every guess: body and radius, longitude and latitude conventions,
bands, units, scale, missing values, which craters are large enough for the
pixels. It measures nothing and writes nothing. It takes the same arguments as
screen, or only some of them: one map, or one catalogue.

With --keys it prints the table of all keys of the survey file, with their
flags and defaults.`

// newInspect makes the command that shows what screen would do.
func newInspect(a *app) *cobra.Command {
	sf := &surveyFlags{}
	keys := false
	cmd := &cobra.Command{
		Use:   "inspect [SURVEY.toml]",
		Short: "show what would be read, and every guess; run nothing",
		Long:  inspectLong + exitStatus(exitRefused, exitCorrupt, exitPartial, exitOutput),
		Example: example("rimcast inspect survey.toml",
			"rimcast inspect --species water=water.tif --craters craters.geojson",
			"rimcast inspect --keys"),
		Args: argCount(0, 1, "one survey file, or none"),
		RunE: func(_ *cobra.Command, args []string) error {
			if keys {
				return a.printKeys()
			}
			return a.inspect(sf, args)
		},
	}
	sf.register(cmd.Flags())
	cmd.Flags().BoolVar(&keys, "keys", false, "print the table of the keys of the survey file")
	return cmd
}

func (a *app) printKeys() error {
	if !a.json {
		return outputFault(printKeys(a.stdout))
	}
	list := []map[string]string{}
	for _, k := range surveyKeys {
		list = append(list, map[string]string{"key": k.key, "flag": k.flag, "default": defaultText(k.key), "meaning": k.help})
	}
	return printJSON(a.stdout, list)
}

// inspection is what inspect found.
type inspection struct {
	Survey    string              `json:"survey,omitempty"`
	Body      *geom.Body          `json:"body"`
	BodyCode  string              `json:"body_code,omitempty"`
	BodyHow   string              `json:"body_how"`
	Catalogue *inspectedCatalogue `json:"catalogue"`
	Layers    []inspectedLayer    `json:"layers"`
	Sizes     *sizeCounts         `json:"sizes"`
	Output    string              `json:"output,omitempty"` // why screen would not write there
	Faults    []inspectedFault    `json:"faults"`

	first   error // decides the exit code
	damaged bool  // a part of a map cannot be read
	looks   []*layerLook
}

// inspectedFault is an error that screen would stop at.
type inspectedFault struct {
	Exit    int    `json:"exit"`
	Message string `json:"message"`
	Hint    string `json:"hint,omitempty"`
}

// inspectedCatalogue is what a catalogue shows.
type inspectedCatalogue struct {
	Path    string         `json:"path"`
	Craters int            `json:"craters"`
	Refused []geom.Refusal `json:"refused"`
	Notes   []string       `json:"notes"`
	First   *geom.Crater   `json:"-"`
	RadiiKm []float64      `json:"radii_km"` // the three smallest and the three largest
	craters []geom.Crater
}

// inspectedLayer is what a map shows.
type inspectedLayer struct {
	Label    string       `json:"layer"`
	Info     *raster.Info `json:"-"`
	Sample   *layerSample `json:"sample"`
	SameGrid string       `json:"grid"` // "first", "same" or "other"
	Notes    []string     `json:"notes"`
	Warnings []string     `json:"warnings"` // what may make numbers wrong
	Facts    []string     `json:"facts"`    // as on the screen
	grid     *raster.Grid
}

// layerSample is the part of a raster.Sample that is shown.
type layerSample struct {
	ValidShare float64 `json:"valid_share"`
	Min        float64 `json:"min"`
	Median     float64 `json:"median"`
	Max        float64 `json:"max"`
}

// sizeCounts says how many craters are large enough for the pixels.
type sizeCounts struct {
	Layer       string `json:"layer"`
	TooSmall    int    `json:"too_small"`
	RadialOnly  int    `json:"radial_only"`
	Directional int    `json:"directional"`
	OffTheMap   int    `json:"off_the_map"`
	TooLarge    int    `json:"too_large"` // their rings would reach round the body
	Distorted   int    `json:"distorted"` // the pixels there are stretched
}

func (r *inspection) fault(err error) {
	if err == nil {
		return
	}
	if r.first == nil {
		r.first = err
	}
	r.Faults = append(r.Faults, inspectedFault{exitCode(err), printable(err.Error()), remedyOf(err)})
}

// inspect opens everything, reports all faults and not only the first, and
// ends with the exit code that screen would have.
func (a *app) inspect(sf *surveyFlags, args []string) error {
	path := ""
	if len(args) > 0 {
		path = args[0]
	}
	sv, err := sf.build(path, a.stdin)
	if err != nil {
		return err
	}
	if len(sv.Species) == 0 && len(sv.Covariates)+len(sv.Masks) == 0 && sv.Catalogue.Path == "" {
		return usage("there is nothing to inspect", "give a survey file, or --species and --craters")
	}
	r := inspectSurvey(sv)
	if a.json {
		err = printJSON(a.stdout, r)
	} else {
		err = r.print(a.screen())
	}
	if err != nil {
		return outputFault(err)
	}
	return r.conclude(a, sv)
}

func (r *inspection) conclude(a *app, sv *surveyFile) error {
	if r.first != nil {
		for _, f := range r.Faults {
			a.msg.line(a.msg.paint(red, "error") + ": " + f.Message)
			if f.Hint != "" {
				a.msg.hint(f.Hint)
			}
		}
		a.code = exitCode(r.first)
		return nil
	}
	if r.damaged || r.Catalogue != nil && len(r.Catalogue.Refused) > 0 {
		a.code = exitPartial
	}
	return nil
}

func inspectSurvey(sv *surveyFile) *inspection {
	r := &inspection{Survey: sv.source, Layers: []inspectedLayer{}, Faults: []inspectedFault{}}
	body, how, err := sv.settleBody()
	if err == nil {
		r.Body, r.BodyHow, r.BodyCode = &body, how, body.Code()
	} else if len(sv.Species) > 0 {
		r.fault(err)
	}
	r.inspectLayers(sv, body)
	if sv.Catalogue.Path != "" {
		r.inspectCatalogue(sv, body)
	}
	if len(sv.Species) > 0 && sv.Catalogue.Path != "" {
		r.fault(sv.check())
	} else {
		r.fault(sv.checkLayers())
	}
	r.countSizes(sv, body)
	r.lookAtGround(sv, body)
	r.lookAtPlace(sv)
	return r
}

// lookAtPlace looks at the place of the result, where one is named. One that
// exists is no fault: it is often that of the last run.
func (r *inspection) lookAtPlace(sv *surveyFile) {
	if sv.Output.Dir == "" || len(sv.Species) == 0 {
		return
	}
	err := cmp.Or(spareInputs(sv.Output.Dir, sv.inputPaths()), checkPlace(sv.Output.Dir, sv.Output.Force))
	if err != nil && exitCode(err) == exitUsage {
		r.Output = "screen would stop: " + err.Error()
		return
	}
	r.fault(err)
}

func (r *inspection) inspectLayers(sv *surveyFile, body geom.Body) {
	for _, n := range sv.layers() {
		l, err := sv.openLayer(n.layer, body)
		if err != nil {
			if r.first == nil || err.Error() != r.first.Error() { // the body may have been sought here
				r.fault(err)
			}
			continue
		}
		k, err := examine(sv, n, l)
		r.fault(err)
		r.looks = append(r.looks, k)
		l.Close()
		r.inspectSigma(sv, n, body, k)
	}
	r.fault(sv.lookTogether(r.looks, body))
	r.register(sv, body)
	for _, k := range r.looks {
		r.Layers = append(r.Layers, r.describeLayer(k))
	}
}

func (r *inspection) inspectSigma(sv *surveyFile, n namedLayer, body geom.Body, species *layerLook) {
	sigma, err := sv.openSigma(n.layer, body)
	r.fault(err)
	if sigma == nil {
		return
	}
	defer sigma.Close()
	k, err := examineSigma(n, sigma, species)
	r.fault(err)
	r.looks = append(r.looks, k)
}

func (r *inspection) describeLayer(k *layerLook) inspectedLayer {
	out := inspectedLayer{Label: k.n.label(), Info: &k.info, Notes: k.info.Notes, Warnings: k.warnings, SameGrid: "first", grid: k.grid}
	if len(r.Layers) > 0 {
		out.SameGrid = "other"
		if k.grid.Same(r.Layers[0].grid) {
			out.SameGrid = "same"
		}
	}
	if s := k.sample; s != nil {
		r.damaged = r.damaged || len(s.Damaged) > 0
		if s.Valid > 0 {
			out.Sample = &layerSample{s.Valid, s.Min, s.Median, s.Max}
		}
	}
	out.Facts = layerFacts(out)
	return out
}

func (r *inspection) inspectCatalogue(sv *surveyFile, body geom.Body) {
	cat, err := sv.readCatalogue(body)
	if !r.followsFromMaps(err) {
		r.fault(err)
	}
	if err != nil && len(cat.Craters) == 0 && len(cat.Refused) == 0 {
		return
	}
	c := &inspectedCatalogue{Path: sv.Catalogue.written, Craters: len(cat.Craters), Refused: cat.Refused, Notes: cat.Notes, craters: cat.Craters}
	if c.Refused == nil {
		c.Refused = []geom.Refusal{}
	}
	if err == nil { // else places and radii are not settled
		c.First = &cat.Craters[0]
		c.RadiiKm = extremeRadii(cat.Craters)
	} else {
		c.craters = nil
	}
	r.Catalogue = c
}

// followsFromMaps reports whether the catalogue lacks only the body, which a map
// would have told that cannot be opened and is a fault already.
func (r *inspection) followsFromMaps(err error) bool {
	var in *geom.InputError
	return r.first != nil && r.Body == nil && errors.As(err, &in) && in.Field == "body"
}

// extremeRadii returns the three smallest and the three largest radii in
// kilometres, or all when there are fewer than seven.
func extremeRadii(craters []geom.Crater) []float64 {
	radii := make([]float64, len(craters))
	for i, c := range craters {
		radii[i] = c.Radius / 1000
	}
	slices.Sort(radii)
	if len(radii) > 6 {
		radii = append(radii[:3:3], radii[len(radii)-3:]...)
	}
	return radii
}

// countSizes sorts the craters by what the pixels of the first map allow, as a
// run would.
func (r *inspection) countSizes(sv *surveyFile, body geom.Body) {
	if r.Catalogue == nil || len(r.Layers) == 0 {
		return
	}
	first := r.Layers[0]
	s := &sizeCounts{Layer: first.Label}
	p := &pipeline{sv: sv, body: body, set: ejecta.Settings{Outer: sv.Sampling.Outer}}
	for _, c := range r.Catalogue.craters {
		s.count(p, first.grid, c)
	}
	r.Sizes = s
}

func (s *sizeCounts) count(p *pipeline, g *raster.Grid, c geom.Crater) {
	x, y, ok := g.Pixel(c.Centre)
	if px := c.Radius / g.PixelSize(c.Centre); !ok || !g.Inside(x, y) || math.IsNaN(px) {
		s.OffTheMap++
		return
	}
	switch at := p.settleOn(g, c.Centre, c.Radius); {
	case at.status == ejecta.StatusTooSmall:
		s.TooSmall++
	case at.status == ejecta.StatusTooLarge:
		s.TooLarge++
	case at.status == ejecta.StatusDistorted:
		s.Distorted++
	case c.Radius/g.PixelSize(c.Centre) < ejecta.MinDirectionalPixels:
		s.RadialOnly++
	default:
		s.Directional++
	}
}
