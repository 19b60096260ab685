package workbook

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"path"
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// A spreadsheet program answers a file it finds unsound with a prompt to repair it, which no test can see.
// inspect looks for what brings that prompt up: parts, references and elements that do not fit together
// (ECMA-376 Part 1, 12 and 18.3; Part 2, 9 and 10), and for anything hidden.
func inspect(t *testing.T, data []byte) {
	t.Helper()
	p := unzip(t, data)
	for name, content := range p {
		p.inspectXML(t, name, content)
		for _, foreign := range []string{"vbaProject", "externalLink", "activeX", "customXml"} {
			if strings.Contains(name, foreign) {
				t.Errorf("the file has the part %s", name)
			}
		}
	}
	p.inspectTypes(t)
	styles := p.countStyles(t)
	for name := range p {
		switch {
		case strings.HasSuffix(name, ".rels"):
			p.inspectRels(t, name)
		case strings.HasPrefix(name, "xl/worksheets/sheet"):
			p.inspectSheet(t, name, styles)
		}
	}
	p.inspectTables(t, data)
}

// pack is the parts of a file by name.
type pack map[string][]byte

func unzip(t testing.TB, data []byte) pack {
	t.Helper()
	zr, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	p := make(pack)
	for _, f := range zr.File {
		rc, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		content, err := io.ReadAll(rc)
		if err = errors.Join(err, rc.Close()); err != nil {
			t.Fatalf("%s: %v", f.Name, err)
		}
		if _, twice := p[f.Name]; twice {
			t.Errorf("part %s stands twice", f.Name)
		}
		p[f.Name] = content
	}
	return p
}

// decode reads a part into v.
func (p pack) decode(t *testing.T, name string, v any) {
	t.Helper()
	if err := xml.Unmarshal(p[name], v); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
}

func (p pack) inspectXML(t *testing.T, name string, content []byte) {
	dec := xml.NewDecoder(bytes.NewReader(content))
	for {
		token, err := dec.Token()
		if err == io.EOF {
			return
		}
		if err != nil {
			t.Errorf("%s: %v", name, err)
			return
		}
		start, ok := token.(xml.StartElement)
		if !ok {
			continue
		}
		for _, a := range start.Attr {
			hides := a.Name.Local == "hidden" && a.Value != "0" && a.Value != "false" ||
				a.Name.Local == "state" && strings.Contains(strings.ToLower(a.Value), "hidden") || a.Name.Local == "zeroHeight"
			if hides {
				t.Errorf("%s: <%s> is hidden", name, start.Name.Local)
			}
		}
	}
}

func (p pack) inspectTypes(t *testing.T) {
	var types contentTypes
	p.decode(t, contentTypesPart, &types)
	known := map[string]bool{contentTypesPart: true}
	for _, o := range types.Parts {
		name := strings.TrimPrefix(o.PartName, "/")
		if _, ok := p[name]; !ok {
			t.Errorf("content type of %s, which is not there", name)
		}
		known[name] = true
	}
	for name := range p {
		byDefault := slices.ContainsFunc(types.Defaults, func(d defaultType) bool { return strings.HasSuffix(name, "."+d.Extension) })
		if !known[name] && !byDefault {
			t.Errorf("%s has no content type", name)
		}
	}
}

type relations struct {
	Items []struct {
		ID     string `xml:"Id,attr"`
		Target string `xml:",attr"`
		Mode   string `xml:"TargetMode,attr"`
	} `xml:"Relationship"`
}

func (p pack) inspectRels(t *testing.T, name string) {
	var rels relations
	p.decode(t, name, &rels)
	base := path.Dir(path.Dir(name)) // xl/worksheets/_rels/x.rels speaks from xl/worksheets
	for _, r := range rels.Items {
		target := strings.TrimPrefix(r.Target, "/")
		if !strings.HasPrefix(r.Target, "/") {
			target = path.Join(base, r.Target)
		}
		if _, ok := p[target]; !ok || r.Mode != "" {
			t.Errorf("%s: %s leads to %q, which is not a part", name, r.ID, target)
		}
	}
}

func (p pack) countStyles(t *testing.T) int {
	var sheet struct {
		Xfs struct {
			Xf []struct{} `xml:"xf"`
		} `xml:"cellXfs"`
	}
	p.decode(t, "xl/styles.xml", &sheet)
	return len(sheet.Xfs.Xf)
}

// sheetOrder is the order of a worksheet's elements (CT_Worksheet).
var sheetOrder = strings.Fields(`sheetPr dimension sheetViews sheetFormatPr cols sheetData sheetCalcPr
	sheetProtection protectedRanges scenarios autoFilter sortState dataConsolidate customSheetViews mergeCells
	phoneticPr conditionalFormatting dataValidations hyperlinks printOptions pageMargins pageSetup headerFooter
	rowBreaks colBreaks customProperties cellWatches ignoredErrors smartTags drawing legacyDrawing
	legacyDrawingHF drawingHF picture oleObjects controls webPublishItems tableParts extLst`)

func (p pack) inspectSheet(t *testing.T, name string, styles int) {
	var sheet struct {
		Children []struct {
			XMLName xml.Name
		} `xml:",any"`
	}
	p.decode(t, name, &sheet)
	at := -1
	for _, c := range sheet.Children {
		place := slices.Index(sheetOrder, c.XMLName.Local)
		if place < at || place < 0 {
			t.Errorf("%s: <%s> stands after <%s>", name, c.XMLName.Local, sheetOrder[at])
		}
		at = max(at, place)
	}
	p.inspectCells(t, name, styles)
}

func (p pack) inspectCells(t *testing.T, name string, styles int) {
	var sheet struct {
		Dimension struct {
			Ref string `xml:"ref,attr"`
		} `xml:"dimension"`
		Cols []struct {
			Min int `xml:"min,attr"`
			Max int `xml:"max,attr"`
		} `xml:"cols>col"`
		Rows []struct {
			R     int `xml:"r,attr"`
			Cells []struct {
				R string `xml:"r,attr"`
				S int    `xml:"s,attr"`
			} `xml:"c"`
		} `xml:"sheetData>row"`
	}
	p.decode(t, name, &sheet)
	for i, c := range sheet.Cols {
		if c.Max < c.Min || i > 0 && c.Min <= sheet.Cols[i-1].Max {
			t.Errorf("%s: columns %d to %d out of order", name, c.Min, c.Max)
		}
	}
	lastRow, lastCol := 0, 0
	for _, row := range sheet.Rows {
		if row.R <= lastRow {
			t.Errorf("%s: row %d after row %d", name, row.R, lastRow)
		}
		lastRow = row.R
		before := 0
		for _, c := range row.Cells {
			col, r, err := excelize.CellNameToCoordinates(c.R)
			if err != nil || r != row.R || col <= before || c.S >= styles {
				t.Errorf("%s: cell %s with style %d in row %d after column %d: %v", name, c.R, c.S, row.R, before, err)
			}
			before = col
		}
		lastCol = max(lastCol, before)
	}
	if want := "A1:" + (cellRef{col: lastCol, row: lastRow}).local(); sheet.Dimension.Ref != want {
		t.Errorf("%s: states the dimension %s and has %s", name, sheet.Dimension.Ref, want)
	}
}

// inspectTables compares the names of a table's columns with the heads that stand in the cells.
func (p pack) inspectTables(t *testing.T, data []byte) {
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := f.Close(); err != nil {
			t.Error(err)
		}
	}()
	seen := make(map[string]bool)
	for _, sheet := range f.GetSheetList() {
		tables, err := f.GetTables(sheet)
		if err != nil {
			t.Fatal(err)
		}
		for _, table := range tables {
			if seen[strings.ToLower(table.Name)] {
				t.Errorf("two tables are named %s", table.Name)
			}
			seen[strings.ToLower(table.Name)] = true
			p.inspectHeads(t, f, sheet, table)
		}
	}
	for _, n := range f.GetDefinedName() {
		for to := range strings.SplitSeq(n.RefersTo, ",") { // titles may be columns and rows
			sheet := strings.Trim(to[:strings.LastIndex(to, "!")], "'")
			if i, err := f.GetSheetIndex(strings.ReplaceAll(sheet, "''", "'")); i < 0 || err != nil {
				t.Errorf("name %s refers to %s", n.Name, n.RefersTo)
			}
		}
	}
}

func (p pack) inspectHeads(t *testing.T, f *excelize.File, sheet string, table excelize.Table) {
	var part struct {
		Columns []struct {
			Name string `xml:"name,attr"`
		} `xml:"tableColumns>tableColumn"`
	}
	for name := range p {
		var named struct {
			Name string `xml:"displayName,attr"`
		}
		if !strings.HasPrefix(name, "xl/tables/") {
			continue
		}
		if p.decode(t, name, &named); named.Name == table.Name {
			p.decode(t, name, &part)
		}
	}
	first, _, _ := strings.Cut(table.Range, ":")
	col, row, err := excelize.CellNameToCoordinates(first)
	if err != nil {
		t.Fatal(err)
	}
	for i, c := range part.Columns {
		head, err := f.GetCellValue(sheet, cellRef{col: col + i, row: row}.local(), excelize.Options{RawCellValue: true})
		if err != nil || head != c.Name || head == "" {
			t.Errorf("table %s: column %q has the head %q, %v", table.Name, c.Name, head, err)
		}
	}
	if len(part.Columns) == 0 {
		t.Errorf("table %s has no columns", table.Name)
	}
}
