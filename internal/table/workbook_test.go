package table

import (
	"bytes"
	"encoding/binary"
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
)

const smallRows = header + `<row r="2"><c r="A2" t="s"><v>1</v></c><c r="B2" s="4"><v>46296.25</v></c></row>`

func TestSheets(t *testing.T) {
	rel := func(id, kind, target, more string) string {
		return `<Relationship Id="` + id + `" Type="http://purl.oclc.org/ooxml/officeDocument/relationships/` + kind + `" Target="` + target + `"` + more + `/>`
	}
	rels := `<Relationships>` + rel("a", "worksheet", "/xl/worksheets/sheet1.xml", "") + rel("b", "worksheet", "./worksheets/../worksheets/Sheet1.XML", "") +
		rel("c", "chartsheet", "chartsheets/sheet1.xml", "") + rel("d", "worksheet", "worksheets/none.xml", "") + rel("e", "hyperlink", "http://example.org", ` TargetMode="External"`) + `</Relationships>`
	book := `<x:workbook xmlns:x="http://purl.oclc.org/ooxml/spreadsheetml/main" xmlns:rel="http://purl.oclc.org/ooxml/officeDocument/relationships" conformance="strict">` +
		`<x:workbookPr date1904="true"/><x:sheets><x:sheet name="Loads &amp; more" sheetId="7" state="hidden" rel:id="a"/><x:sheet name="deck" sheetId="1" rel:id="b"/>` +
		`<x:sheet name="chart" sheetId="2" rel:id="c"/><x:sheet name="gone" sheetId="3" state="veryHidden" rel:id="d"/></x:sheets></x:workbook>`
	parts := workbookParts(sheetOf(`<row><c t="str"><v>pile</v></c></row><row><c><v>39448</v></c></row>`))
	parts = replacePart(parts, "xl/_rels/workbook.xml.rels", rels) // links to no styles and no shared strings
	parts = replacePart(parts, "xl/workbook.xml", book)

	w, err := openBytes(DefaultLimits(), zipOf(t, parts...))
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]string{"Loads & more", "deck", "gone"}, w.Sheets()); diff != "" {
		t.Errorf("Sheets (-want +got)\n%s", diff)
	}
	for sheet, want := range map[string]bool{"Loads & more": true, "deck": false, "gone": true, "no such": false} {
		if got := w.Hidden(sheet); got != want {
			t.Errorf("Hidden(%q) = %v, want %v", sheet, got, want)
		}
	}
	for sheet, want := range map[string]string{
		"Loads & more": lines("1: pile", "2: 39448 <number>"),
		"DECK":         lines("1: pile", "2: 39448 <number>"),
		"gone":         lines(`error: yard.xlsx: found no part "xl/worksheets/none.xml", wanted a whole .xlsx workbook`),
		"chart":        lines(`error: yard.xlsx: found no sheet "chart", wanted one of "Loads & more, deck, gone"`),
	} {
		r, err := w.Open(sheet, Layout{})
		if diff := cmp.Diff(want, dump(t, r, err)); diff != "" {
			t.Errorf("sheet %q (-want +got)\n%s", sheet, diff)
		}
	}
}

func TestDate1904(t *testing.T) {
	parts := workbookParts(sheetOf(smallRows))
	parts = replacePart(parts, "xl/workbook.xml", strings.Replace(workbookXML, "<workbookPr/>", `<workbookPr date1904="1"/>`, 1))
	want := lines("1: pile|net", "2: rich  text|2030-10-02 06:00:00 <date>")
	if diff := cmp.Diff(want, dumpSheet(t, DefaultLimits(), zipOf(t, parts...), Layout{})); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}

func TestUTF16Part(t *testing.T) {
	sheet := toUTF16("\ufeff"+sheetOf(smallRows), binary.LittleEndian)
	want := lines("1: pile|net", "2: rich  text|2026-10-01 06:00:00 <date>")
	if diff := cmp.Diff(want, dumpSheet(t, DefaultLimits(), zipOf(t, workbookParts(sheet)...), Layout{})); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}

// TestReopen reads a sheet halfway, then again from its beginning.
func TestReopen(t *testing.T) {
	w, err := openBytes(DefaultLimits(), zipOf(t, workbookParts(sheetOf(smallRows))...))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.Open("loads", Layout{}); err != nil {
		t.Fatal(err)
	}
	r, err := w.Open("loads", Layout{})
	want := lines("1: pile|net", "2: rich  text|2026-10-01 06:00:00 <date>")
	if diff := cmp.Diff(want, dump(t, r, err)); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}

func TestBrokenWorkbook(t *testing.T) {
	good := workbookParts(sheetOf(smallRows))
	for _, tt := range []struct {
		name  string
		parts []part
		want  string
	}{
		{"no package relationships", replacePart(good, "_rels/.rels", ""),
			`yard.xlsx: found no part "_rels/.rels", wanted a whole .xlsx workbook`},
		{"no workbook", replacePart(good, "xl/workbook.xml", ""),
			`yard.xlsx: found no part "xl/workbook.xml", wanted a whole .xlsx workbook`},
		{"no workbook relationships", replacePart(good, "xl/_rels/workbook.xml.rels", ""),
			`yard.xlsx: found no part "xl/_rels/workbook.xml.rels", wanted a whole .xlsx workbook`},
		{"no styles", replacePart(good, "xl/styles.xml", ""),
			`yard.xlsx: found no part "xl/styles.xml", wanted a whole .xlsx workbook`},
		{"no shared strings", replacePart(good, "xl/sharedStrings.xml", ""),
			`yard.xlsx: found no part "xl/sharedStrings.xml", wanted a whole .xlsx workbook`},
		{"no document", replacePart(good, "_rels/.rels", `<Relationships/>`),
			`yard.xlsx: found a zip archive without a workbook, wanted an .xlsx workbook`},
		{"a binary workbook", replacePart(good, "_rels/.rels", strings.Replace(packageRels, "workbook.xml", "workbook.bin", 1)),
			`yard.xlsx: found a binary workbook (.xlsb), wanted an .xlsx workbook`},
		{"a text document", replacePart(good, "xl/workbook.xml", `<w:document/>`),
			`yard.xlsx: found the element "document" in xl/workbook.xml, wanted a workbook element`},
		{"an empty workbook part", replacePart(good, "xl/workbook.xml", " "),
			`yard.xlsx: found no XML in xl/workbook.xml, wanted a workbook element`},
		{"a target outside", replacePart(good, "_rels/.rels", strings.Replace(packageRels, "xl/workbook.xml", "../../secret", 1)),
			`yard.xlsx: found the relationship target "../../secret" in _rels/.rels, wanted a part inside the archive`},
		{"an unknown relationship", replacePart(good, "xl/workbook.xml", strings.Replace(workbookXML, `"rId1"`, `"rId9"`, 1)),
			`yard.xlsx: found the sheet "loads" with the unknown relationship "rId9" in xl/workbook.xml, wanted one that the workbook's relationships list`},
		{"a sheet name twice", replacePart(good, "xl/workbook.xml", strings.Replace(workbookXML, `</sheets>`, `<sheet name="LOADS" r:id="rId1"/></sheets>`, 1)),
			`yard.xlsx: found the sheet name "LOADS" twice in xl/workbook.xml, wanted one sheet of each name`},
		{"a part twice", append(good, part{"XL/Styles.xml", stylesXML}),
			`yard.xlsx: found the part "XL/Styles.xml" twice, wanted one part of each name`},
		{"a part above", append(good, part{"../evil.xml", "x"}),
			`yard.xlsx: found the part name "../evil.xml", wanted a path inside the archive, without ..`},
		{"a part within above", append(good, part{"xl/../../evil.xml", "x"}),
			`yard.xlsx: found the part name "xl/../../evil.xml", wanted a path inside the archive, without ..`},
		{"an absolute part", append(good, part{"/evil.xml", "x"}),
			`yard.xlsx: found the part name "/evil.xml", wanted a path inside the archive, without ..`},
		{"a part with a backslash", append(good, part{`xl\evil.xml`, "x"}),
			`yard.xlsx: found the part name "xl\\evil.xml", wanted a path inside the archive, without ..`},
		{"no worksheet", replacePart(good, "xl/worksheets/sheet1.xml", `<chartsheet/>`),
			`yard.xlsx[loads]: found the element "chartsheet" in xl/worksheets/sheet1.xml, wanted a worksheet element`},
		{"a bad format number", replacePart(good, "xl/styles.xml", `<styleSheet><cellXfs><xf numFmtId="x"/></cellXfs></styleSheet>`),
			`yard.xlsx: found numFmtId="x" in xl/styles.xml, wanted a whole number`},
		{"a document type", replacePart(good, "xl/sharedStrings.xml", `<!DOCTYPE sst [<!ENTITY a "aaaa">]><sst/>`),
			`yard.xlsx: found a document type declaration in xl/sharedStrings.xml, wanted well-formed XML`},
		{"a shared string that is not UTF-8", replacePart(good, "xl/sharedStrings.xml", "<sst><si/><si><t>\xff</t></si></sst>"),
			`yard.xlsx: found a text that is not UTF-8 (string 1) in xl/sharedStrings.xml, wanted UTF-8`},
		{"OpenDocument", []part{{"content.xml", "<x/>"}},
			`yard.xlsx: found no part "_rels/.rels", wanted a whole .xlsx workbook`},
	} {
		t.Run(tt.name, func(t *testing.T) {
			want := lines("error: " + tt.want)
			if diff := cmp.Diff(want, dumpSheet(t, DefaultLimits(), zipOf(t, tt.parts...), Layout{})); diff != "" {
				t.Errorf("(-want +got)\n%s", diff)
			}
		})
	}
}

func TestNoWorkbook(t *testing.T) {
	f := excelize.NewFile()
	defer func() { _ = f.Close() }()
	var locked bytes.Buffer
	if err := f.Write(&locked, excelize.Options{Password: "secret"}); err != nil {
		t.Fatal(err)
	}
	good := zipOf(t, workbookParts(sheetOf(smallRows))...)
	for _, tt := range []struct {
		name string
		data []byte
		want string
	}{
		{"nothing", nil, "yard.xlsx: found an empty file, wanted an .xlsx workbook"},
		{"text", []byte("time,net\n"), "yard.xlsx: found a file that is no zip archive, wanted an .xlsx workbook"},
		{"password", locked.Bytes(), "yard.xlsx: found a password-protected workbook, wanted an .xlsx workbook without a password"},
		{"old workbook", oleFile("Workbook"), "yard.xlsx: found an old .xls workbook, wanted an .xlsx workbook without a password"},
		{"unknown OLE file", oleFile("Other"), "yard.xlsx: found an old .xls workbook or a password-protected one, wanted an .xlsx workbook without a password"},
		{"short OLE file", []byte(oleSignature), "yard.xlsx: found a damaged OLE file, wanted an .xlsx workbook without a password"},
		{"OpenDocument", storedZip(t, part{"mimetype", "application/vnd.oasis.opendocument.spreadsheet"}),
			"yard.xlsx: found an OpenDocument file (.ods) or another zip archive, wanted an .xlsx workbook"},
		{"cut archive", good[:len(good)/2], "yard.xlsx: found a damaged or cut zip archive (zip: not a valid zip file), wanted an .xlsx workbook"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, err := openBytes(DefaultLimits(), tt.data)
			if err == nil || err.Error() != tt.want {
				t.Errorf("error %v, want %s", err, tt.want)
			}
		})
	}
}

// oleFile returns the beginning of an OLE file whose directory names a stream.
func oleFile(stream string) []byte {
	b := make([]byte, 3*512)
	copy(b, oleSignature)
	b[30] = 9 // sectors of 512 bytes
	b[48] = 1 // directory in sector 1
	copy(b[2*512:], inUTF16("Root Entry"))
	copy(b[2*512+128:], inUTF16(stream))
	return b
}

// failingReader is an io.ReaderAt that fails.
type failingReader struct{ err error }

func (r failingReader) ReadAt([]byte, int64) (int, error) { return 0, r.err }

func TestWorkbookReadError(t *testing.T) {
	broken := errors.New("disk on fire")
	if _, err := OpenWorkbook("yard.xlsx", failingReader{broken}, 1000); !errors.Is(err, broken) {
		t.Errorf("error %v, want %v", err, broken)
	}
}

// TestCutWorkbook cuts a small workbook at every byte.
func TestCutWorkbook(t *testing.T) {
	good := zipOf(t, workbookParts(sheetOf(smallRows))...)
	want := dumpSheet(t, DefaultLimits(), good, Layout{})
	if strings.Contains(want, "error") {
		t.Fatal(want)
	}
	for n := range good {
		if got := dumpSheet(t, DefaultLimits(), good[:n], Layout{}); !strings.Contains(got, "error: ") {
			t.Errorf("cut to %d bytes of %d, it is read as\n%s", n, len(good), got)
		}
	}
}

// TestDamagedWorkbook changes every byte of a small workbook: it must be read
// as before or give an error.
func TestDamagedWorkbook(t *testing.T) {
	good := zipOf(t, workbookParts(sheetOf(smallRows))...)
	want := dumpSheet(t, DefaultLimits(), good, Layout{})
	for i := range good {
		bad := bytes.Clone(good)
		bad[i] ^= 0x15
		if got := dumpSheet(t, DefaultLimits(), bad, Layout{}); got != want && !strings.Contains(got, "error: ") {
			t.Errorf("with byte %d changed, it is read as\n%s", i, got)
		}
	}
}
