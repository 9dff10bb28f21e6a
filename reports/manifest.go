package reports

import "io"

// WriteManifest writes the record of the run. It holds no clock: the same
// run gives the same bytes. Keys of maps are sorted.
func WriteManifest(w io.Writer, s *Survey) error {
	m := s.Manifest
	m.Command = orEmpty(m.Command)
	m.Inputs = orEmpty(m.Inputs)
	m.Notes = orEmpty(m.Notes)
	return writeJSON(w, m)
}

// orEmpty makes a nil list an empty one, so that JSON shows [] and not null.
func orEmpty[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}
