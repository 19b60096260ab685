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
	rows    map[string]*packedRows // to be set into parts of these names
	open    bool                   // the last part is being written
	deflate *flate.Writer          // of the open part
	maxPart uint64                 // bytes before compression
	err     error                  // the first one, because the library drops some
}

// archivePart is one file of the archive.
type archivePart struct {
	name   string
	packed chunks
	crc    uint32
	size   uint64 // before compression

	rows  *packedRows // of a sheet whose rows come from elsewhere
	whole []byte      // the sheet without them, until it is complete
	tail  chunks      // what follows them, compressed
}

// packedSize returns how large the part is in the archive.
func (p *archivePart) packedSize() int {
	if p.rows == nil {
		return p.packed.size
	}
	return p.packed.size + int(p.rows.store.size) + p.tail.size
}

// WriteTo writes the compressed part.
func (p *archivePart) WriteTo(w io.Writer) (int64, error) {
	n, err := p.packed.WriteTo(w)
	if err != nil || p.rows == nil {
		return n, err
	}
	for _, piece := range []io.WriterTo{&p.rows.store, &p.tail} {
		k, err := piece.WriteTo(w)
		if n += k; err != nil {
			return n, err
		}
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
	p := &archivePart{name: name, rows: a.rows[name]}
	delete(a.rows, name)
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
	if p.rows != nil {
		p.whole = append(p.whole, b...)
		return len(b), nil
	}
	return a.compress(p, b)
}

func (a *archive) compress(p *archivePart, b []byte) (int, error) {
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
		if p := a.parts[len(a.parts)-1]; p.rows != nil {
			a.insert(p)
		}
		a.err = errors.Join(a.err, a.deflate.Close())
	}
	a.open = false
	return a.err
}

// endOfRows is where rows from elsewhere go in. In a text of a cell it would be escaped.
const endOfRows = "</sheetData>"

// insert puts the rows into the sheet: its compressed stream goes on after theirs.
func (a *archive) insert(p *archivePart) {
	at := bytes.Index(p.whole, []byte(endOfRows))
	if at < 0 {
		a.err = fmt.Errorf("part %s: has no %s", p.name, endOfRows)
		return
	}
	if _, a.err = a.compress(p, p.whole[:at]); a.err != nil {
		return
	}
	if a.err = a.deflate.Flush(); a.err != nil { // ends on a byte
		return
	}
	p.crc = joinCRC(p.crc, p.rows.crc, p.rows.size)
	p.size += p.rows.size
	a.deflate.Reset(&p.tail)
	_, a.err = a.compress(p, p.whole[at:])
	p.whole = nil
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
	for name := range a.rows {
		return 0, fmt.Errorf("part %s: was not written, and its rows are left over", name)
	}
	slices.SortFunc(a.parts, func(p, q *archivePart) int { return cmp.Compare(p.name, q.name) })
	counter := &countingWriter{w: w}
	zw := zip.NewWriter(counter)
	for _, p := range a.parts {
		entry, err := zw.CreateRaw(&zip.FileHeader{Name: p.name, Method: zip.Deflate, CRC32: p.crc,
			CompressedSize64: uint64(p.packedSize()), UncompressedSize64: p.size})
		if err != nil {
			return counter.n, err
		}
		if _, err := p.WriteTo(entry); err != nil {
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
