package table

import (
	"bytes"
	"encoding/binary"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestLimits(t *testing.T) {
	good := workbookParts(sheetOf(smallRows))
	wide := header + `<row r="2"><c r="C2"><v>1</v></c></row>`
	for _, tt := range []struct {
		name  string
		set   func(*Limits)
		parts []part
		want  string
	}{
		{"parts", func(l *Limits) { l.Parts = 6 }, good,
			`error: yard.xlsx: found 7 parts, wanted at most 6`},
		{"inflated bytes", func(l *Limits) { l.InflatedBytes = 1000 }, good,
			`error: yard.xlsx: found the part "xl/_rels/workbook.xml.rels" inflating to 513 bytes, wanted at most 1000 bytes in all parts together`},
		{"formats", func(l *Limits) { l.Formats = 9 }, good,
			`error: yard.xlsx: found too many cell formats in xl/styles.xml, wanted at most 9`},
		{"shared strings", func(l *Limits) { l.SharedStringsBytes = 30 }, good,
			`error: yard.xlsx: found too much text in xl/sharedStrings.xml, wanted at most 30 bytes`},
		{"characters of a shared string", func(l *Limits) { l.CellChars = 9 }, good,
			`error: yard.xlsx: found a text too long for a cell (string 1) in xl/sharedStrings.xml, wanted at most 9 characters`},
		{"characters of a cell", func(l *Limits) { l.CellChars = 17 }, workbookParts(sheetOf(header + `<row r="2"><c r="A2" t="str"><v>long text 😀 😀 😀</v></c><c r="B2" t="str"><v>漢漢漢漢漢漢漢</v></c></row>`)),
			"1: pile|net\n" + `error: yard.xlsx[loads]:2:1: found the text "long text 😀 😀 😀", too long for a cell, wanted at most 17 characters`},
		{"columns", func(l *Limits) { l.Columns = 2 }, workbookParts(sheetOf(wide)),
			"1: pile|net\nerror: yard.xlsx[loads]:2: found column 3 in xl/worksheets/sheet1.xml, wanted at most 2 columns"},
		{"rows", func(l *Limits) { l.Rows = 1 }, good,
			"1: pile|net\nerror: yard.xlsx[loads]:1: found row 2 in xl/worksheets/sheet1.xml, wanted at most 1 row"},
		{"text of a row", func(l *Limits) { l.RowBytes = 500 }, workbookParts(sheetOf(header + `<row r="2">` + strings.Repeat(`<c t="str"><v>`+strings.Repeat("x", 90)+`</v></c>`, 6) + `</row>`)),
			"1: pile|net\nerror: yard.xlsx[loads]:2: found a row too long in xl/worksheets/sheet1.xml, wanted at most 500 bytes of text"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			limits := DefaultLimits()
			tt.set(&limits)
			if diff := cmp.Diff(tt.want+"\n", dumpSheet(t, limits, zipOf(t, tt.parts...), Layout{})); diff != "" {
				t.Errorf("(-want +got)\n%s", diff)
			}
		})
	}
}

func TestLongTag(t *testing.T) {
	long := `<row r="2" x="` + strings.Repeat("x", 2*xmlBufferBytes) + `"/>`
	limits := DefaultLimits()
	limits.RowBytes = 1000
	want := "1: pile|net\nerror: yard.xlsx[loads]:1: found a tag or text without end in xl/worksheets/sheet1.xml, wanted at most 1000 bytes of it\n"
	if diff := cmp.Diff(want, dumpSheet(t, limits, zipOf(t, workbookParts(sheetOf(header+long))...), Layout{})); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}

func TestZipBomb(t *testing.T) {
	bomb := zipOf(t, append(workbookParts(sheetOf(smallRows)), part{"xl/media/bomb.xml", strings.Repeat(" ", 20<<20)})...)
	_, err := openBytes(DefaultLimits(), bomb)
	const want = `yard.xlsx: found the part "xl/media/bomb.xml" inflating to 20 MiB from 19.9 KiB, ` +
		`wanted less than 500 times the compressed size beyond 16 MiB (this looks like a zip bomb)`
	if err == nil || err.Error() != want {
		t.Errorf("error %v, want %s", err, want)
	}
}

// TestLyingDirectory makes the zip directory say of the sheet what is not so.
func TestLyingDirectory(t *testing.T) {
	// Offsets in a directory header, APPNOTE.TXT 4.3.12.
	const atFlagsAndMethod, atCompressed, atInflated = 8, 20, 24
	sheet := sheetOf(smallRows)
	for _, tt := range []struct {
		at    int
		value uint32
		want  string
	}{
		{atInflated, 100, "found damaged data (zip: not a valid zip file) in xl/worksheets/sheet1.xml"},
		{atInflated, uint32(len(sheet) - 1), "found damaged data (zip: not a valid zip file) in xl/worksheets/sheet1.xml"},
		{atInflated, uint32(len(sheet) + 1), "found damaged data (unexpected EOF) in xl/worksheets/sheet1.xml"},
		{atCompressed, 1 << 30, `found parts that overlap, such as "xl/worksheets/sheet1.xml"`},
		{atFlagsAndMethod, 8<<16 | 1, `found the encrypted part "xl/worksheets/sheet1.xml"`},
		{atFlagsAndMethod, 99 << 16, `found the part "xl/worksheets/sheet1.xml" that cannot be opened (zip: unsupported compression algorithm)`},
	} {
		data := zipOf(t, workbookParts(sheet)...)
		last := bytes.LastIndex(data, []byte("PK\x01\x02")) // directory header of the sheet
		binary.LittleEndian.PutUint32(data[last+tt.at:], tt.value)
		if got := dumpSheet(t, DefaultLimits(), data, Layout{}); !strings.Contains(got, tt.want) {
			t.Errorf("%d at %d: got %s, want %s", tt.value, tt.at, got, tt.want)
		}
	}
}
