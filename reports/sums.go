package reports

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/parquet-go/parquet-go"

	"rimcast/ejecta"
)

// SumsFile holds what re-tests of a survey need, where it was kept.
const SumsFile = "sums.parquet"

// sumRow is one crater and species. Names and meanings: README.
type sumRow struct {
	CraterID   string    `parquet:"crater_id"`
	Species    string    `parquet:"species,dict"`
	Unit       string    `parquet:"unit,dict"`
	Status     string    `parquet:"status,dict"`
	Score      []float64 `parquet:"score,list"`
	Info       []float64 `parquet:"info,list"`
	Exponents  []float64 `parquet:"decay_exponents,list"`
	DecayScore []float64 `parquet:"decay_score,list"`
	DecayInfo  []float64 `parquet:"decay_info,list"`
}

// hasSums reports whether any finding kept its sums.
func (s *Survey) hasSums() bool {
	for i := range s.Findings {
		if s.Findings[i].Sums != nil {
			return true
		}
	}
	return false
}

func (s *Survey) writeSums(w io.Writer) error {
	out := parquet.NewGenericWriter[sumRow](w, append(parquetOptions(), parquet.MaxRowsPerRowGroup(rowGroup/16))...)
	for _, f := range s.wholeFindings() {
		if f.Sums == nil {
			continue
		}
		row := sumRow{s.crater(f.CraterIndex).ID, f.Species, f.Unit, string(f.Status), f.Sums.Score, f.Sums.Info, ejecta.DecayExponents(), f.Sums.DecayScore, f.Sums.DecayInfo}
		if _, err := out.Write([]sumRow{row}); err != nil {
			return err
		}
	}
	return out.Close()
}

// ReadSums gives the findings of a survey the sums that a file holds. A damaged
// file, or one of another survey, is an error.
func (s *Survey) ReadSums(path string) (err error) {
	defer func() {
		if p := recover(); p != nil { // a damaged page
			err = fmt.Errorf("%s: is damaged: %v", path, p)
		}
	}()
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	if err := checkFooter(f); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	in := parquet.NewGenericReader[sumRow](f)
	defer in.Close()
	if in.NumRows() > int64(len(s.Findings)) {
		return fmt.Errorf("%s: has %d rows for %d findings", path, in.NumRows(), len(s.Findings))
	}
	next, rows := 0, make([]sumRow, 64)
	for {
		n, err := in.Read(rows)
		for _, r := range rows[:n] {
			if next, err = s.takeSums(r, next); err != nil {
				return fmt.Errorf("%s: %w", path, err)
			}
		}
		clear(rows)
		switch {
		case errors.Is(err, io.EOF) || n == 0:
			return nil
		case err != nil:
			return fmt.Errorf("%s: %w", path, err)
		}
	}
}

// checkFooter refuses a Parquet file whose last bytes promise a footer that is
// longer than the file: the reader would take memory for it first.
func checkFooter(f *os.File) error {
	info, err := f.Stat()
	if err != nil {
		return err
	}
	var end [8]byte
	if _, err := f.ReadAt(end[:], info.Size()-8); err != nil || string(end[4:]) != "PAR1" {
		return errors.New("is no whole Parquet file")
	}
	if n := int64(binary.LittleEndian.Uint32(end[:4])); n > info.Size()-12 {
		return fmt.Errorf("is damaged: %d bytes of description in a file of %d", n, info.Size())
	}
	return nil
}

// takeSums gives a row to the next finding that it belongs to; rows come in the
// order of the findings.
func (s *Survey) takeSums(r sumRow, next int) (int, error) {
	for ; next < len(s.Findings); next++ {
		f := &s.Findings[next]
		if f.Species == r.Species && s.crater(f.CraterIndex).ID == r.CraterID {
			f.Sums = &ejecta.Sums{Score: r.Score, Info: r.Info, DecayScore: r.DecayScore, DecayInfo: r.DecayInfo}
			return next + 1, nil
		}
	}
	return next, fmt.Errorf("crater %q, species %q is not in the survey at this place", r.CraterID, r.Species)
}
