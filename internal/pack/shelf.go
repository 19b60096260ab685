package pack

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"hash"
	"io"
	"os"
)

// shelf writes files into a folder and remembers what it wrote.
type shelf struct {
	ctx      context.Context
	root     *os.Root
	list     []listing
	done     int64
	progress func(done, total int64)
}

// output is a file that is being written.
type output struct {
	shelf *shelf
	path  string
	file  *os.File
	buf   *bufio.Writer
	hash  hash.Hash
	bytes int64
}

// create begins a file that does not exist yet.
func (s *shelf) create(path string) (*output, error) {
	f, err := s.root.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return nil, err
	}
	o := &output{shelf: s, path: path, file: f, hash: sha256.New()}
	o.buf = bufio.NewWriterSize(written{o}, 1<<16)
	return o, nil
}

// Write appends to the file.
func (o *output) Write(b []byte) (int, error) { return o.buf.Write(b) }

// written is what leaves the buffer of an output.
type written struct{ *output }

// Write hashes and writes a block, unless the work was called off.
func (w written) Write(b []byte) (int, error) {
	s := w.shelf
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := w.file.Write(b)
	w.hash.Write(b[:n])
	w.bytes += int64(n)
	if s.done += int64(n); s.progress != nil {
		s.progress(s.done, -1)
	}
	return n, err
}

// end makes sure that the file is on disk, and lists it.
func (o *output) end() error {
	err := o.buf.Flush()
	if err == nil {
		err = o.file.Sync()
	}
	if closed := o.file.Close(); err == nil {
		err = closed
	}
	o.shelf.list = append(o.shelf.list, listing{path: o.path, sum: hex.EncodeToString(o.hash.Sum(nil)), bytes: o.bytes})
	return err
}

// file writes a whole file.
func (s *shelf) file(path string, write func(io.Writer) error) error {
	o, err := s.create(path)
	if err != nil {
		return err
	}
	if err := write(o); err != nil {
		o.file.Close()
		return err
	}
	return o.end()
}

// read reads a file that was written.
func (s *shelf) read(path string, read func(io.Reader) error) error {
	f, err := s.root.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	return read(f)
}
