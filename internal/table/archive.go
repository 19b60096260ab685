package table

import (
	"archive/zip"
	"bufio"
	"fmt"
	"hash/maphash"
	"io"
	"path"
	"strings"

	"github.com/klauspost/compress/flate"
)

// archive is the zip file of a workbook: its parts by name, its limits checked.
type archive struct {
	file   string
	limits Limits
	parts  map[string]*zip.File // by lower-case name: part names ignore case (ECMA-376 part 2, 6.2.2.3)
}

// openArchive reads the zip directory. It inflates nothing: an archive that
// promises too much is refused by what its directory says, and archive/zip
// stops a part that grows beyond what the directory says of it.
func openArchive(file string, r io.ReaderAt, size int64, l Limits) (*archive, error) {
	a := &archive{file: file, limits: l, parts: make(map[string]*zip.File)}
	const wanted = "an .xlsx workbook"
	head := make([]byte, len(oleSignature))
	n, err := r.ReadAt(head, 0)
	if err != nil && err != io.EOF {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	switch head := string(head[:n]); {
	case n == 0:
		return nil, a.fail("an empty file", wanted)
	case head == oleSignature:
		return nil, a.fail(oleContent(r), wanted+" without a password")
	case !strings.HasPrefix(head, zipSignature[:2]):
		return nil, a.fail("a file that is no zip archive", wanted)
	}
	z, err := zip.NewReader(r, size)
	if err != nil && err != zip.ErrInsecurePath { // check refuses such paths and names them
		return nil, &Error{File: file, Found: "a damaged or cut zip archive (" + err.Error() + ")", Wanted: wanted, Err: err}
	}
	z.RegisterDecompressor(zip.Deflate, flate.NewReader)
	if err := a.check(z.File, uint64(size)); err != nil {
		return nil, err
	}
	if mimetype, ok := a.parts["mimetype"]; ok && mimetype.Method == zip.Store {
		return nil, a.fail("an OpenDocument file (.ods) or another zip archive", wanted)
	}
	return a, nil
}

// fail returns an error about the whole file.
func (a *archive) fail(found, wanted string) error {
	return &Error{File: a.file, Found: found, Wanted: wanted}
}

// check fills parts from the zip directory, or refuses it.
func (a *archive) check(files []*zip.File, size uint64) error {
	if len(files) > a.limits.Parts {
		return a.fail(count(len(files), "part"), fmt.Sprintf("at most %d", a.limits.Parts))
	}
	var stored, inflated uint64
	for _, f := range files {
		if !safeName(f.Name) {
			return a.fail("the part name "+quote(f.Name), "a path inside the archive, without ..")
		}
		key := strings.ToLower(f.Name)
		if _, twice := a.parts[key]; twice {
			return a.fail("the part "+quote(f.Name)+" twice", "one part of each name")
		}
		a.parts[key] = f
		if err := a.checkSize(f, size, &stored, &inflated); err != nil {
			return err
		}
	}
	return nil
}

// checkSize adds a part to the totals, stored and inflated, and refuses one
// that passes the archive's own size or a limit.
func (a *archive) checkSize(f *zip.File, size uint64, stored, inflated *uint64) error {
	// Sizes are the file's claims: compare before adding, so no sum overflows.
	if f.CompressedSize64 > size-*stored {
		return a.fail("parts that overlap, such as "+quote(f.Name), "parts that fit in the file's "+byteSize(size))
	}
	*stored += f.CompressedSize64
	claim := "the part " + quote(f.Name) + " inflating to " + byteSize(f.UncompressedSize64)
	if f.UncompressedSize64 > a.limits.InflatedBytes-*inflated {
		return a.fail(claim, fmt.Sprintf("at most %s in all parts together", byteSize(a.limits.InflatedBytes)))
	}
	*inflated += f.UncompressedSize64
	if f.UncompressedSize64 > a.limits.RatioFromBytes && f.UncompressedSize64/max(a.limits.Ratio, 1) >= f.CompressedSize64 {
		return a.fail(
			fmt.Sprintf("%s from %s", claim, byteSize(f.CompressedSize64)),
			fmt.Sprintf("less than %d times the compressed size beyond %s (this looks like a zip bomb)",
				a.limits.Ratio, byteSize(a.limits.RatioFromBytes)))
	}
	return nil
}

// safeName reports whether name is that of a part or a folder inside the
// archive. Nothing is ever written under these names; a file that has others
// was not made by a spreadsheet program.
func safeName(name string) bool {
	trimmed := strings.TrimSuffix(name, "/")
	return trimmed != "" && trimmed == path.Clean(trimmed) && !path.IsAbs(trimmed) &&
		trimmed != ".." && !strings.HasPrefix(trimmed, "../") && !strings.ContainsAny(trimmed, "\\\x00")
}

// open begins to read a part. Errors in it are placed in the table called
// name.
func (a *archive) open(part, name string) (*xmlReader, error) {
	f, ok := a.parts[strings.ToLower(part)]
	if !ok {
		return nil, a.fail("no part "+quote(part), "a whole .xlsx workbook")
	}
	if f.Flags&1 != 0 { // APPNOTE.TXT 4.4.4
		return nil, a.fail("the encrypted part "+quote(part), "a workbook without a password")
	}
	r, err := f.Open()
	if err != nil {
		return nil, &Error{
			File: a.file, Found: fmt.Sprintf("the part %s that cannot be opened (%v)", quote(part), err),
			Wanted: "a workbook whose zip archive is whole", Err: err,
		}
	}
	return &xmlReader{
		src:  asUTF8(r),
		seed: maphash.MakeSeed(),
		at:   Error{File: name},
		part: f.Name,
		max:  a.limits.RowBytes,
	}, nil
}

// asUTF8 returns the text of a part, which may be UTF-8 or UTF-16 with a
// byte-order mark (ECMA-376 part 2, 6.2.5).
func asUTF8(r io.Reader) io.Reader {
	b := bufio.NewReaderSize(r, 16) // small: larger reads pass it by
	head, _ := b.Peek(2)            // an error comes back at the first Read
	for _, e := range []encoding{utf16LE, utf16BE} {
		if e.markBytes(head) > 0 {
			return e.toUTF8(b)
		}
	}
	return b
}
