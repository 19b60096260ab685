package workbook

import (
	"bytes"
	"errors"
	"io"
	"os"
)

// spoolBytes is how much a spool holds in memory.
const spoolBytes = 16 << 20

// spool keeps what is written to it until it is written out: in memory, or in a file of the temporary folder where there is
// more than memory should hold.
type spool struct {
	memory chunks
	file   *os.File
	size   int64
}

func (s *spool) Write(b []byte) (int, error) {
	s.size += int64(len(b))
	if s.file == nil && s.size <= spoolBytes {
		return s.memory.Write(b)
	}
	if s.file == nil {
		if err := s.moveOut(); err != nil {
			return 0, err
		}
	}
	return s.file.Write(b)
}

// moveOut goes on in a file.
func (s *spool) moveOut() (err error) {
	if s.file, err = os.CreateTemp("", "repose-*.rows"); err != nil {
		return err
	}
	_, err = s.memory.WriteTo(s.file)
	s.memory = chunks{}
	return err
}

// WriteTo writes the content out and lets go of what memory holds of it.
func (s *spool) WriteTo(w io.Writer) (int64, error) {
	if s.file == nil {
		return s.memory.WriteTo(w)
	}
	return io.Copy(w, io.NewSectionReader(s.file, 0, s.size))
}

// Close removes the file.
func (s *spool) Close() error {
	s.memory = chunks{}
	if s.file == nil {
		return nil
	}
	err := errors.Join(s.file.Close(), os.Remove(s.file.Name()))
	s.file = nil
	return err
}

// chunks is a buffer that grows without moving what it holds: one that doubles would hold three times its content for a
// moment.
type chunks struct {
	list [][]byte
	size int
}

const chunkBytes = 1 << 20

func (c *chunks) Write(b []byte) (int, error) {
	n := len(b)
	c.size += n
	for len(b) > 0 {
		last := len(c.list) - 1
		if last < 0 || len(c.list[last]) == cap(c.list[last]) {
			size := chunkBytes
			if last < 0 {
				size = min(max(len(b), 4<<10), chunkBytes) // most parts are small
			}
			c.list = append(c.list, make([]byte, 0, size))
			last++
		}
		room := c.list[last]
		take := min(len(b), cap(room)-len(room))
		c.list[last] = append(room, b[:take]...)
		b = b[take:]
	}
	return n, nil
}

// bytes returns the content in one piece.
func (c *chunks) bytes() []byte { return bytes.Join(c.list, nil) }

// WriteTo writes the content and lets go of it.
func (c *chunks) WriteTo(w io.Writer) (n int64, err error) {
	for i, b := range c.list {
		k, err := w.Write(b)
		if n += int64(k); err != nil {
			return n, err
		}
		c.list[i] = nil
	}
	return n, nil
}
