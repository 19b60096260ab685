package table

import (
	"archive/zip"
	"bytes"
	"io"
	"testing"
)

// part is one file in a workbook's archive.
type part struct{ name, body string }

const (
	contentTypes = `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"/>`

	packageRels = `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">` +
		`<Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>`

	workbookRels = `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">` +
		`<Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/>` +
		`<Relationship Id="rId2" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/styles" Target="styles.xml"/>` +
		`<Relationship Id="rId3" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/sharedStrings" Target="/xl/sharedStrings.xml"/></Relationships>`

	workbookXML = `<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships">` +
		`<workbookPr/><sheets><sheet name="loads" sheetId="1" r:id="rId1"/></sheets></workbook>`

	// Styles 0 to 9: general, percent, date, time, date and time, elapsed,
	// local, and three custom formats.
	stylesXML = `<styleSheet><numFmts count="3"><numFmt numFmtId="164" formatCode="yyyy\-mm\-dd"/>` +
		`<numFmt numFmtId="165" formatCode="0.0&quot; days&quot;"/><numFmt numFmtId="166" formatCode="[$-409]d/m/yy h:mm AM/PM;@"/></numFmts>` +
		`<cellStyleXfs><xf numFmtId="14"/></cellStyleXfs>` +
		`<cellXfs><xf numFmtId="0"/><xf numFmtId="10"/><xf numFmtId="14"/><xf numFmtId="20"/><xf numFmtId="22"/>` +
		`<xf numFmtId="46"/><xf numFmtId="55"/><xf numFmtId="164"/><xf numFmtId="165"/><xf numFmtId="166"><alignment/></xf></cellXfs></styleSheet>`

	stringsXML = `<sst count="5" uniqueCount="5"><si><t>pile</t></si><si><r><rPr><b/></rPr><t>rich </t></r><r><t xml:space="preserve"> text</t></r></si>` +
		`<si><t>漢字</t><rPh sb="0" eb="2"><t>かんじ</t></rPh><phoneticPr fontId="1"/></si><si/><si><t>a&amp;b _x0041_ _x005F_x0041_</t></si></sst>`
)

// workbookParts returns the parts of a workbook whose only sheet, loads, has
// the given XML.
func workbookParts(sheet string) []part {
	return []part{
		{"[Content_Types].xml", contentTypes},
		{"_rels/.rels", packageRels},
		{"xl/workbook.xml", workbookXML},
		{"xl/_rels/workbook.xml.rels", workbookRels},
		{"xl/styles.xml", stylesXML},
		{"xl/sharedStrings.xml", stringsXML},
		{"xl/worksheets/sheet1.xml", sheet},
	}
}

// sheetOf returns the XML of a sheet with the given row elements.
func sheetOf(rows string) string {
	return `<?xml version="1.0" encoding="UTF-8" standalone="yes"?>` + "\r\n" +
		`<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetViews><sheetView><c r="Z9"/></sheetView></sheetViews>` +
		`<sheetData>` + rows + `</sheetData><pageMargins left="0.7"/></worksheet>`
}

// replacePart returns parts with another body for one of them, or without it
// if body is "".
func replacePart(parts []part, name, body string) []part {
	var replaced []part
	for _, p := range parts {
		if p.name == name {
			p.body = body
		}
		if p.body != "" {
			replaced = append(replaced, p)
		}
	}
	return replaced
}

// zipOf returns an archive of the parts, deflated.
func zipOf(t testing.TB, parts ...part) []byte {
	t.Helper()
	return writeZip(t, zip.Deflate, parts)
}

// storedZip returns an archive of the parts, not compressed.
func storedZip(t testing.TB, parts ...part) []byte {
	t.Helper()
	return writeZip(t, zip.Store, parts)
}

func writeZip(t testing.TB, method uint16, parts []part) []byte {
	t.Helper()
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for _, p := range parts {
		w, err := z.CreateHeader(&zip.FileHeader{Name: p.name, Method: method})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.WriteString(w, p.body); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// openBytes opens a workbook that is held in memory.
func openBytes(limits Limits, data []byte) (*Workbook, error) {
	return limits.OpenWorkbook("yard.xlsx", bytes.NewReader(data), int64(len(data)))
}

// dumpSheet dumps the sheet called loads of a workbook.
func dumpSheet(t testing.TB, limits Limits, data []byte, layout Layout) string {
	t.Helper()
	w, err := openBytes(limits, data)
	if err != nil {
		return dump(t, nil, err)
	}
	r, err := w.Open("loads", layout)
	return dump(t, r, err)
}
