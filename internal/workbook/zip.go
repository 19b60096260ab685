package workbook

import (
	"archive/zip"
	"bytes"
	"cmp"
	"encoding/xml"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"io/fs"
	"math"
	"slices"

	"github.com/klauspost/compress/flate"
)

// archive collects the parts of a workbook, compressed as they come, and writes them sorted by name and
// without times: the library hands streamed sheets over in the order of a map, and a file must be the
// same bytes whenever it is made of the same ledger. It is an excelize.ZipWriter.
type archive struct {
	parts   []*archivePart
	open    bool          // the last part is being written
	deflate *flate.Writer // of the open part
	maxPart uint64        // bytes before compression
	err     error         // the first one, because the library drops some
}

// archivePart is one file of the archive.
type archivePart struct {
	name   string
	packed chunks
	crc    uint32
	size   uint64 // before compression
}

// chunks is a buffer that grows without moving what it holds: a sheet of a million rows packs into 150 MB, and a buffer that
// doubles would hold three times that for a moment.
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

// partLimit keeps every part below 4 GiB, above which the file needs extensions that readers refuse.
const partLimit = math.MaxUint32 - 1

// deflateLevel gives up about a fifth of the size that level 6 would save, for half of its time.
const deflateLevel = 3

const contentTypesPart = "[Content_Types].xml"

var errPartSize = errors.New("sheet of 4 GiB or more: split the table into more sheets")

func newArchive() *archive { return &archive{maxPart: partLimit} }

// Create begins a part and ends the one before.
func (a *archive) Create(name string) (io.Writer, error) {
	if err := a.finish(); err != nil {
		return nil, err
	}
	p := &archivePart{name: name}
	a.parts, a.open = append(a.parts, p), true
	if a.deflate != nil {
		a.deflate.Reset(&p.packed)
		return a, nil
	}
	a.deflate, a.err = flate.NewWriter(&p.packed, deflateLevel)
	return a, a.err
}

// Write compresses b into the open part.
func (a *archive) Write(b []byte) (int, error) {
	if a.err != nil {
		return 0, a.err
	}
	p := a.parts[len(a.parts)-1]
	if p.size+uint64(len(b)) > a.maxPart {
		a.err = fmt.Errorf("part %s: %w", p.name, errPartSize)
		return 0, a.err
	}
	p.crc = crc32.Update(p.crc, crc32.IEEETable, b)
	p.size += uint64(len(b))
	var n int
	n, a.err = a.deflate.Write(b)
	return n, a.err
}

// finish ends the open part.
func (a *archive) finish() error {
	if a.open && a.err == nil {
		a.err = a.deflate.Close()
	}
	a.open = false
	return a.err
}

// AddFS is not used by the library for workbooks made from nothing.
func (a *archive) AddFS(fs.FS) error { return errors.ErrUnsupported }

// Close does nothing: the library also calls it after a failure, when no file must come of it.
func (a *archive) Close() error { return nil }

// WriteTo writes the archive once the library is done. It can be called once.
func (a *archive) WriteTo(w io.Writer) (int64, error) {
	if err := errors.Join(a.finish(), a.sortTypes()); err != nil {
		return 0, err
	}
	slices.SortFunc(a.parts, func(p, q *archivePart) int { return cmp.Compare(p.name, q.name) })
	counter := &countingWriter{w: w}
	zw := zip.NewWriter(counter)
	for _, p := range a.parts {
		entry, err := zw.CreateRaw(&zip.FileHeader{Name: p.name, Method: zip.Deflate, CRC32: p.crc,
			CompressedSize64: uint64(p.packed.size), UncompressedSize64: p.size})
		if err != nil {
			return counter.n, err
		}
		if _, err := p.packed.WriteTo(entry); err != nil {
			return counter.n, err
		}
	}
	return counter.n, zw.Close()
}

// contentTypes is the list of the package's parts (ECMA-376 Part 2, 10.1.2.2).
type contentTypes struct {
	XMLName  xml.Name      `xml:"http://schemas.openxmlformats.org/package/2006/content-types Types"`
	Defaults []defaultType `xml:"Default"`
	Parts    []partType    `xml:"Override"`
}

type defaultType struct {
	Extension   string `xml:",attr"`
	ContentType string `xml:",attr"`
}

type partType struct {
	PartName    string `xml:",attr"`
	ContentType string `xml:",attr"`
}

// sortTypes puts the content types, which the library writes in the order of a map, in order.
func (a *archive) sortTypes() error {
	i := slices.IndexFunc(a.parts, func(p *archivePart) bool { return p.name == contentTypesPart })
	if i < 0 || a.err != nil {
		return nil
	}
	var types contentTypes
	if err := xml.NewDecoder(flate.NewReader(bytes.NewReader(a.parts[i].packed.bytes()))).Decode(&types); err != nil {
		return fmt.Errorf("part %s: %w", contentTypesPart, err)
	}
	slices.SortFunc(types.Defaults, func(p, q defaultType) int { return cmp.Compare(p.Extension, q.Extension) })
	slices.SortFunc(types.Parts, func(p, q partType) int { return cmp.Compare(p.PartName, q.PartName) })
	sorted, err := xml.Marshal(types)
	if err != nil {
		return err
	}
	a.parts = slices.Delete(a.parts, i, i+1)
	w, err := a.Create(contentTypesPart)
	if err != nil {
		return err
	}
	if _, err := w.Write(append([]byte(xml.Header), sorted...)); err != nil {
		return err
	}
	return a.finish()
}

// countingWriter counts what has been written.
type countingWriter struct {
	w io.Writer
	n int64
}

func (c *countingWriter) Write(b []byte) (int, error) {
	n, err := c.w.Write(b)
	c.n += int64(n)
	return n, err
}
