package main

import (
	"bytes"
	"encoding/gob"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
)

// spool keeps numbered records of one type in a scratch file, so that a long
// catalogue does not fill the memory. Records come in any order and are read back
// in any order, by any number of goroutines.
//
// A record is one gob message. The types are described once, in a message that
// every reader is shown first.
type spool[T any] struct {
	file  *os.File
	types []byte // the message that describes the types

	mu   sync.Mutex
	enc  *gob.Encoder
	out  bytes.Buffer
	at   []int64 // place of each record in the file
	size []int32 // its length; 0 without one
	end  int64
	lost error // the first fault of a write: nothing is whole after it

	readers sync.Pool // of *spoolReader[T]
}

// spoolReader decodes records. After a fault it is of no more use.
type spoolReader[T any] struct {
	in  bytes.Reader
	dec *gob.Decoder
}

// newSpool makes a spool in a directory. On most systems its file loses its name
// at once, so that a killed run leaves nothing.
func newSpool[T any](dir string) (*spool[T], error) {
	pinTypes()
	file, err := os.CreateTemp(dir, ".rimcast-scratch-*")
	if err != nil {
		return nil, err
	}
	_ = os.Remove(file.Name()) // where an open file cannot lose its name, close removes it
	s := &spool[T]{file: file}
	s.enc = gob.NewEncoder(&s.out)
	var none T
	if err := s.enc.Encode(&none); err != nil {
		return nil, errors.Join(err, s.close())
	}
	s.types = bytes.Clone(s.out.Bytes())
	return s, nil
}

// close ends a spool; nil and a second call are fine.
func (s *spool[T]) close() error {
	if s == nil || s.file == nil {
		return nil
	}
	err := s.file.Close()
	_ = os.Remove(s.file.Name())
	s.file = nil
	return err
}

// put keeps record i; a later one with the same number takes its place.
func (s *spool[T]) put(i int, v *T) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.lost == nil {
		s.lost = s.write(i, v)
	}
}

func (s *spool[T]) write(i int, v *T) error {
	s.out.Reset()
	if err := s.enc.Encode(v); err != nil {
		return err
	}
	n, err := s.file.WriteAt(s.out.Bytes(), s.end)
	if err != nil {
		return fmt.Errorf("scratch file in %s: %w", filepath.Dir(s.file.Name()), err)
	}
	s.grow(i + 1)
	s.at[i], s.size[i] = s.end, int32(n)
	s.end += int64(n)
	return nil
}

// grow makes room for n records.
func (s *spool[T]) grow(n int) {
	if more := n - len(s.at); more > 0 {
		s.at, s.size = append(s.at, make([]int64, more)...), append(s.size, make([]int32, more)...)
	}
}

// fault is the first fault of a write.
func (s *spool[T]) fault() error {
	if s == nil {
		return nil
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.lost
}

// get reads record i into v; a record that was never put leaves v alone.
func (s *spool[T]) get(i int, v *T) error {
	at, size, err := s.place(i)
	if err != nil || size == 0 {
		return err
	}
	b := make([]byte, size)
	if _, err := s.file.ReadAt(b, at); err != nil {
		return fmt.Errorf("scratch file in %s: %w", filepath.Dir(s.file.Name()), err)
	}
	r, err := s.reader()
	if err != nil {
		return err
	}
	r.in.Reset(b)
	if err := r.dec.Decode(v); err != nil {
		return fmt.Errorf("scratch file in %s: %w", filepath.Dir(s.file.Name()), err)
	}
	s.readers.Put(r)
	return nil
}

func (s *spool[T]) place(i int) (at int64, size int32, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if i >= len(s.at) {
		return 0, 0, s.lost
	}
	return s.at[i], s.size[i], s.lost
}

// reader takes a reader that knows the types.
func (s *spool[T]) reader() (*spoolReader[T], error) {
	if r, ok := s.readers.Get().(*spoolReader[T]); ok {
		return r, nil
	}
	r := &spoolReader[T]{}
	r.in.Reset(s.types)
	r.dec = gob.NewDecoder(&r.in)
	var none T
	return r, r.dec.Decode(&none)
}
