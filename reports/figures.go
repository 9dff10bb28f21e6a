package reports

import (
	"io"
	"path/filepath"
)

// SurveyFigures returns the figures about the whole survey: the overview map,
// p-values and calibration, and rank intervals. A figure without anything to
// show is left out.
func SurveyFigures(s *Survey) []Figure {
	return present(func(add func(Figure, bool)) {
		add(overviewFigure(s))
		add(nullsFigure(s))
		add(ranksFigure(s))
		add(cycleFigure(s))
		add(controlsFigure(s))
		add(populationFigure(s))
	})
}

// CraterFigures returns the figures of one crater, given by its index: the map
// round it (when the survey has a cutout), the radial profile and the rose.
func CraterFigures(s *Survey, crater int) []Figure {
	return present(func(add func(Figure, bool)) {
		add(cutoutFigure(s, crater))
		add(radialFigure(s, crater))
		add(roseFigure(s, crater))
		add(layersFigure(s, crater))
		dayFigures(s, crater, add)
	})
}

func present(each func(add func(Figure, bool))) []Figure {
	var out []Figure
	each(func(f Figure, ok bool) {
		if ok {
			out = append(out, f)
		}
	})
	return out
}

// WriteFigure writes a figure in the given formats, and its data as CSV, into
// a directory.
func WriteFigure(dir string, f Figure, formats []string) error {
	for _, format := range formats {
		fill := func(w io.Writer) error { return f.Write(w, format) }
		if err := writeFile(filepath.Join(dir, f.Name+"."+format), fill); err != nil {
			return err
		}
	}
	return writeFile(filepath.Join(dir, f.Name+".csv"), f.WriteData)
}

// WriteFigures writes the figures of the survey and of its best targets into the
// figures directory of dir. It may run beside [Write] without figures: neither
// changes the survey.
func WriteFigures(dir string, s *Survey, opt Options) error {
	dir = filepath.Join(dir, "figures")
	list := SurveyFigures(s)
	for _, t := range s.topTargets(opt.sheetTop(len(s.Targets))) {
		list = append(list, CraterFigures(s, t.CraterIndex)...)
	}
	for _, f := range list {
		if err := WriteFigure(dir, f, opt.formats()); err != nil {
			return err
		}
	}
	return nil
}
