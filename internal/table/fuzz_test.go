package table

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"testing"
	"unicode/utf8"
)

// checkRows reads r to its end and checks what every reader promises: rows in
// order, as wide as the header and not empty, text that is UTF-8, errors with
// positions in the file.
func checkRows(t *testing.T, r *Reader) {
	t.Helper()
	width, last := len(r.Header().Cells), r.Header().Number
	for {
		row, err := r.Next()
		var bad *Error
		switch {
		case err == io.EOF:
			return
		case errors.As(err, &bad):
			if bad.File != r.Name() || bad.Found == "" || bad.Wanted == "" {
				t.Fatalf("incomplete error: %v", err)
			}
			continue
		case err != nil:
			t.Fatalf("error without position: %v", err)
		}
		if row.Number <= last {
			t.Fatalf("row %d after row %d", row.Number, last)
		}
		last = row.Number
		if len(row.Cells) != width {
			t.Fatalf("row %d has %d cells, want %d", row.Number, len(row.Cells), width)
		}
		if allEmpty(row.Cells) {
			t.Fatalf("row %d is empty", row.Number)
		}
		for i, c := range row.Cells {
			if !utf8.ValidString(c) {
				t.Fatalf("cell %d of row %d is not UTF-8: %q", i+1, row.Number, c)
			}
			if k := row.Kind(i); k < Text || k > Failed {
				t.Fatalf("cell %d of row %d has the kind %v", i+1, row.Number, k)
			}
		}
	}
}

func FuzzCSV(f *testing.F) {
	for _, in := range []string{
		"", "a,b\n1,2\n", "a;b\r\n\"1\n2\";3\r\n", "\ufeffa\tb\n1\t\"2\n", "a,b\n\xff,\x00\n", "a,,b\n1,2,3,4\n",
		toUTF16("\ufeffa,b\n1,\U0001F600\n", binary.LittleEndian), "PK\x03\x04", oleSignature,
	} {
		f.Add([]byte(in), "", byte(','), 0)
	}
	f.Add([]byte("x\ny\na;b\n1;2"), "windows-1252", byte(';'), 3)
	f.Add([]byte("a\x00\x00\xd8"), "utf-16le", byte(','), 1)
	f.Fuzz(func(t *testing.T, data []byte, encoding string, delimiter byte, headerRow int) {
		limits := DefaultLimits()
		limits.RowBytes = 1 << 10
		layout := Layout{Encoding: encoding, Delimiter: rune(delimiter), HeaderRow: headerRow}
		r, err := limits.OpenCSV("fuzz.csv", bytes.NewReader(data), layout)
		if err != nil {
			return
		}
		checkRows(t, r)
	})
}

// FuzzXLSX changes the XML of a workbook's parts, which a fuzzer would hardly
// reach through deflate and checksums.
func FuzzXLSX(f *testing.F) {
	for _, tt := range sheetTests {
		f.Add([]byte(sheetOf(header+tt.rows)), []byte(stylesXML), []byte(stringsXML), []byte(workbookXML), []byte(workbookRels))
	}
	f.Fuzz(func(t *testing.T, sheet, styles, texts, book, rels []byte) {
		fuzzWorkbook(t, storedZip(t,
			part{"_rels/.rels", packageRels},
			part{"xl/workbook.xml", string(book)},
			part{"xl/_rels/workbook.xml.rels", string(rels)},
			part{"xl/styles.xml", string(styles)},
			part{"xl/sharedStrings.xml", string(texts)},
			part{"xl/worksheets/sheet1.xml", string(sheet)},
		))
	})
}

// FuzzZip changes the bytes of a workbook.
func FuzzZip(f *testing.F) {
	f.Add(zipOf(f, workbookParts(sheetOf(smallRows))...))
	f.Add([]byte(zipSignature))
	f.Add(oleFile("Workbook"))
	f.Fuzz(fuzzWorkbook)
}

// fuzzWorkbook reads all sheets of a workbook.
func fuzzWorkbook(t *testing.T, data []byte) {
	limits := DefaultLimits()
	limits.RowBytes, limits.InflatedBytes, limits.Columns = 1<<16, 1<<20, 100
	w, err := openBytes(limits, data)
	if err != nil {
		return
	}
	for _, name := range w.Sheets() {
		r, err := w.Open(name, Layout{})
		if err == nil {
			checkRows(t, r)
		}
	}
}
