package table

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// header is the header row of most sheets in these tests.
const header = `<row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1" t="inlineStr"><is><t>net</t></is></c></row>`

// sheetTests are sheets as row elements below the row header, and what is read
// of them after "1: pile|net".
var sheetTests = []struct{ name, rows, want string }{
	{
		"numbers",
		`<row r="2"><c r="A2"><v>24.310000000000002</v></c><c r="B2" t="n"><v>1E-3</v></c></row>` +
			`<row r="3"><c r="A3"><v>-0</v></c><c r="B3"><v>1.5E+20</v></c></row>`,
		lines("2: 24.31 <number>|0.001 <number>", "3: 0 <number>|150000000000000000000 <number>"),
	},
	{
		"percentages",
		`<row r="2"><c r="A2" s="1"><v>4.4999999999999998E-2</v></c><c r="B2" s="1"><v>1</v></c></row>`,
		lines("2: 4.5% <number>|100% <number>"),
	},
	{
		"shared strings: plain, rich, phonetic, empty, escaped",
		`<row r="2"><c r="A2" t="s"><v>1</v></c><c r="B2" t="s"><v>2</v></c></row>` +
			`<row r="3"><c r="A3" t="s"><v>3</v></c><c r="B3" t="s"><v>4</v></c></row>`,
		lines("2: rich  text|漢字", "3: |a&b A _x0041_"),
	},
	{
		"inline strings: rich, phonetic, with space, with escapes",
		`<row r="2"><c r="A2" t="inlineStr"><is><r><t>x</t></r><r><rPr/><t>y</t></r><rPh sb="0" eb="1"><t>no</t></rPh></is></c>` +
			`<c r="B2" t="inlineStr"><is><t xml:space="preserve"> _x0009_ &lt;&#65;&#x42;&gt; _xD83D__xDE00_ _xD83D_ _x0000_ _xZZZZ_ </t></is></c></row>`,
		lines("2: xy| \t <AB> 😀 _xD83D_ _x0000_ _xZZZZ_ "),
	},
	{
		"line breaks",
		"<row r=\"2\"><c r=\"A2\" t=\"inlineStr\"><is><t>a\r\nb\rc&#13;d_x000D_e</t></is></c></row>",
		lines("2: a\nb\nc\rd\re|"),
	},
	{
		"formulas: number, text, empty text, error",
		`<row r="2"><c r="A2"><f>1+1</f><v>2</v></c><c r="B2" t="str"><f t="shared" si="0"/><v>a_x0042_c</v></c></row>` +
			`<row r="3"><c r="A3" t="str"><f>""</f><v></v></c><c r="B3" t="e"><f>1/0</f><v>#DIV/0!</v></c></row>`,
		lines("2: 2 <number>|aBc", "3: |#DIV/0! <failed>"),
	},
	{
		"a formula without its result",
		`<row r="2"><c r="A2"><f>1+1</f></c><c r="B2"><v>1</v></c></row><row r="3"><c r="A3"><v>2</v></c></row>`,
		lines("error: yard.xlsx[loads]:2:1: found a formula without its result, wanted a workbook saved by a program that calculates it",
			"3: 2 <number>|"),
	},
	{
		"booleans",
		`<row r="2"><c r="A2" t="b"><v>1</v></c><c r="B2" t="b"><v>0</v></c></row><row r="3"><c r="A3" t="b"><v>2</v></c></row>`,
		lines("2: TRUE <bool>|FALSE <bool>", `error: yard.xlsx[loads]:3:1: found "2" in a cell of type b, wanted 0 or 1`),
	},
	{
		"dates by format",
		`<row r="2"><c r="A2" s="2"><v>46296</v></c><c r="B2" s="2"><v>46296.25</v></c></row>` +
			`<row r="3"><c r="A3" s="4"><v>46296</v></c><c r="B3" s="3"><v>0.25</v></c></row>` +
			`<row r="4"><c r="A4" s="5"><v>1.25</v></c><c r="B4" s="6"><v>0.5</v></c></row>` +
			`<row r="5"><c r="A5" s="7"><v>46296</v></c><c r="B5" s="8"><v>46296</v></c></row>` +
			`<row r="6"><c r="A6" s="9"><v>46296.999999</v></c><c r="B6" s="6"><v>46296</v></c></row>`,
		lines("2: 2026-10-01 <date>|2026-10-01 06:00:00 <date>",
			"3: 2026-10-01 00:00:00 <date>|06:00:00 <date>",
			"4: 30:00:00 <date>|12:00:00 <date>",
			"5: 2026-10-01 <date>|46296 <number>",
			"6: 2026-10-02 00:00:00 <date>|2026-10-01 <date>"),
	},
	{
		"dates that never were",
		`<row r="2"><c r="A2" s="2"><v>60</v></c></row><row r="3"><c r="A3" s="2"><v>0</v></c></row>` +
			`<row r="4"><c r="A4" s="2"><v>-1</v></c></row><row r="5"><c r="A5" s="2"><v>2958466</v></c></row>`,
		lines("error: yard.xlsx[loads]:2:1: found the date serial 60, wanted a day that was or will be, up to 9999-12-31",
			"error: yard.xlsx[loads]:3:1: found the date serial 0, wanted a day that was or will be, up to 9999-12-31",
			"error: yard.xlsx[loads]:4:1: found the date serial -1, wanted a day that was or will be, up to 9999-12-31",
			"error: yard.xlsx[loads]:5:1: found the date serial 2958466, wanted a day that was or will be, up to 9999-12-31"),
	},
	{
		"dates in words",
		`<row r="2"><c r="A2" t="d"><v>2026-10-01T06:30:00.6</v></c><c r="B2" t="d"><v>2026-10-01</v></c></row>` +
			`<row r="3"><c r="A3" t="d"><v>2026-10-01T06:30:00Z</v></c><c r="B3" t="d"><v>1 Oct</v></c></row>`,
		lines("2: 2026-10-01 06:30:01 <date>|2026-10-01 <date>",
			`error: yard.xlsx[loads]:3:2: found "1 Oct" in a cell of type d, wanted a date such as 2006-01-02T15:04:05`),
	},
	{
		"cells and rows without addresses",
		`<row><c><v>1</v></c><c/><c s="1"/></row><row r="5"><c r="B5"><v>2</v></c></row><row><c><v>3</v></c></row>`,
		lines("2: 1 <number>|", "5: |2 <number>", "6: 3 <number>|"),
	},
	{
		"blank rows and cells",
		`<row r="2"/><row r="3" spans="1:2"></row><row r="4"><c r="A4" s="2"/><c r="B4" t="inlineStr"><is><t> </t></is></c></row><row r="9"><c r="B9"><v>1</v></c></row>`,
		lines("9: |1 <number>"),
	},
	{
		"wide rows",
		`<row r="2"><c r="A2"><v>1</v></c><c r="XFD2" s="1"/></row><row r="3"><c r="A3"><v>1</v></c><c r="D3"><v>4</v></c></row>`,
		lines("2: 1 <number>|", `error: yard.xlsx[loads]:3:4: found "4" beyond the last column, wanted at most 2 cells, as in the header`),
	},
	{
		"prefixes, comments, CDATA, instructions, quotes, spaces in tags",
		`<x:row  r='2' ><x:c r = "A2" foo=">" t='inlineStr' ><x:is><x:t><![CDATA[<b>&amp;]]>!</x:t></x:is></x:c>` +
			`<!-- <c r="B2" /> --><?skip <c>?><c r="B2"><v><!-- - -->4<!---->2</v><extLst><v>8</v></extLst></c ></x:row >`,
		lines("2: <b>&amp;!|42 <number>"),
	},
	{
		"bad addresses",
		`<row r="2"><c r="B2"><v>1</v></c><c r="A2"><v>2</v></c></row><row r="3"><c r="A4"><v>1</v></c></row>` +
			`<row r="4"><c r="a4"><v>1</v></c></row><row r="5"><c r="AAAA5"><v>1</v></c></row><row r="6"><c r="A6"><v>1</v></c></row>`,
		lines(`error: yard.xlsx[loads]:2:1: found the cell "A2" after one to its right, wanted cells in order`,
			`error: yard.xlsx[loads]:3:1: found the cell address "A4", wanted an address in row 3`,
			`error: yard.xlsx[loads]:4:1: found the cell address "a4", wanted an address in row 4`,
			`error: yard.xlsx[loads]:5:1: found the cell address "AAAA5", wanted an address in row 5`,
			"6: 1 <number>|"),
	},
	{
		"bad values",
		`<row r="2"><c r="A2"><v>ten</v></c></row><row r="3"><c r="A3"><v>1e999</v></c></row><row r="4"><c r="A4"><v>0x10</v></c></row>` +
			`<row r="5"><c r="A5" t="s"><v>5</v></c></row><row r="6"><c r="A6" t="s"><v>-1</v></c></row>` +
			`<row r="7"><c r="A7" s="10"><v>1</v></c></row><row r="8"><c r="A8" s="x"><v>1</v></c></row><row r="9"><c r="A9" t="z"><v>1</v></c></row>` +
			"<row r=\"10\"><c r=\"A10\" t=\"str\"><v>a</v></c><c r=\"B10\" t=\"str\"><v>\xff</v></c></row>",
		lines(`error: yard.xlsx[loads]:2:1: found "ten" in a cell of type n, wanted a number`,
			`error: yard.xlsx[loads]:3:1: found "1e999" in a cell of type n, wanted a number`,
			`error: yard.xlsx[loads]:4:1: found "0x10" in a cell of type n, wanted a number`,
			`error: yard.xlsx[loads]:5:1: found the shared string "5", wanted an index below 5`,
			`error: yard.xlsx[loads]:6:1: found the shared string "-1", wanted an index below 5`,
			`error: yard.xlsx[loads]:7:1: found the cell style 10, wanted one of the workbook's 10`,
			`error: yard.xlsx[loads]:8:1: found the cell style "x", wanted a whole number`,
			`error: yard.xlsx[loads]:9:1: found the cell type "z", wanted n, s, str, inlineStr, b, e or d`,
			`error: yard.xlsx[loads]:10:2: found text that is not UTF-8: "\xff", wanted UTF-8`),
	},
	{
		"rows out of order end the reading",
		`<row r="3"><c r="A3"><v>1</v></c></row><row r="3"><c r="A3"><v>1</v></c></row><row r="4"><c r="A4"><v>1</v></c></row>`,
		lines("3: 1 <number>|", "error: yard.xlsx[loads]:3: found row 3 after row 3 in xl/worksheets/sheet1.xml, wanted rows in order"),
	},
	{
		"a bad row number ends the reading",
		`<row r="two"/>`,
		lines(`error: yard.xlsx[loads]:1: found r="two" in xl/worksheets/sheet1.xml, wanted a whole number`),
	},
	{
		"a broken reference ends the reading",
		`<row r="2"><c r="A2" t="str"><v>a &nbsp; b</v></c></row>`,
		lines("error: yard.xlsx[loads]:2: found a broken reference such as &amp; in text in xl/worksheets/sheet1.xml, wanted well-formed XML"),
	},
	{
		"a control character by reference ends the reading",
		`<row r="2"><c r="A2" t="str"><v>&#0;</v></c></row>`,
		lines("error: yard.xlsx[loads]:2: found a broken reference such as &amp; in text in xl/worksheets/sheet1.xml, wanted well-formed XML"),
	},
	{
		"a row that is not closed",
		`<row r="2"><c r="A2"><v>1</v></c>`,
		lines(`error: yard.xlsx[loads]:2: found the misplaced end tag "sheetData" in xl/worksheets/sheet1.xml, wanted well-formed XML`),
	},
	{
		"a tag that is not closed",
		`<row r="2"><c r="A2`,
		lines("error: yard.xlsx[loads]:2: found a broken tag in xl/worksheets/sheet1.xml, wanted well-formed XML"),
	},
}

func TestSheet(t *testing.T) {
	for _, tt := range sheetTests {
		t.Run(tt.name, func(t *testing.T) {
			data := zipOf(t, workbookParts(sheetOf(header+tt.rows))...)
			want := lines("1: pile|net") + tt.want
			if diff := cmp.Diff(want, dumpSheet(t, DefaultLimits(), data, Layout{})); diff != "" {
				t.Errorf("(-want +got)\n%s", diff)
			}
		})
	}
}

// TestSimpleCell reads the same sheets with a comment in every cell, so that no
// cell is simple, and expects the same.
func TestSimpleCell(t *testing.T) {
	for _, tt := range sheetTests {
		t.Run(tt.name, func(t *testing.T) {
			sheet := strings.ReplaceAll(sheetOf(header+tt.rows), "</c>", "<!----></c>")
			want := lines("1: pile|net") + tt.want
			if diff := cmp.Diff(want, dumpSheet(t, DefaultLimits(), zipOf(t, workbookParts(sheet)...), Layout{})); diff != "" {
				t.Errorf("(-want +got)\n%s", diff)
			}
		})
	}
}

func TestSheetHeader(t *testing.T) {
	const wanted = "wanted the header, a row of column names (if it stands in another row, a column map can say which)"
	above := `<row r="1"><c r="A1" t="str"><v>Report</v></c><c r="B1" s="2"><v>60</v></c></row><row r="2"/>`
	table := `<row r="3"><c r="A3" t="str"><v>pile</v></c><c r="C3" t="str"><v>net</v></c><c r="D3" t="str"><v> </v></c></row>` +
		`<row r="4"><c r="A4" t="str"><v>north</v></c></row><row r="5"><c r="B5"><v>1</v></c></row>`
	for _, tt := range []struct {
		name, rows string
		headerRow  int
		want       string
	}{
		{"below other rows", above + table, 3, lines("3: pile||net", "4: north||",
			`error: yard.xlsx[loads]:3:2: found no column name above "1" in row 5, wanted a name for every column that holds data`)},
		{"an error in it", above, 1, lines("error: yard.xlsx[loads]:1:2: found the date serial 60, wanted a day that was or will be, up to 9999-12-31")},
		{"empty row", above + table, 2, lines("error: yard.xlsx[loads]:2: found an empty row, " + wanted)},
		{"missing row", table, 2, lines("error: yard.xlsx[loads]:2: found an empty row, " + wanted)},
		{"below the end", above + table, 6, lines("error: yard.xlsx[loads]:6: found the end of the table, " + wanted)},
		{"no rows", "", 0, lines("error: yard.xlsx[loads]:1: found the end of the table, " + wanted)},
		{"bad number", "", -1, lines("error: yard.xlsx[loads]: header row -1: want 1 or more")},
	} {
		t.Run(tt.name, func(t *testing.T) {
			data := zipOf(t, workbookParts(sheetOf(tt.rows))...)
			if diff := cmp.Diff(tt.want, dumpSheet(t, DefaultLimits(), data, Layout{HeaderRow: tt.headerRow})); diff != "" {
				t.Errorf("(-want +got)\n%s", diff)
			}
		})
	}
}

func TestSheetKinds(t *testing.T) {
	data := zipOf(t, workbookParts(sheetOf(header+`<row r="2"><c r="B2" t="b"><v>1</v></c></row>`))...)
	w, err := openBytes(DefaultLimits(), data)
	if err != nil {
		t.Fatal(err)
	}
	r, err := w.Open("LOADS", Layout{})
	if err != nil {
		t.Fatal(err)
	}
	if got := r.Name(); got != "yard.xlsx[loads]" {
		t.Errorf("Name() = %q, want %q", got, "yard.xlsx[loads]")
	}
	row, err := r.Next()
	if err != nil {
		t.Fatal(err)
	}
	if got := []CellKind{row.Kind(0), row.Kind(1)}; !cmp.Equal(got, []CellKind{Text, Bool}) {
		t.Errorf("kinds %v, want [text bool]", got)
	}
}

func TestSheetWithoutData(t *testing.T) {
	data := zipOf(t, workbookParts(`<worksheet><cols><col/></cols></worksheet>`)...)
	want := lines("error: yard.xlsx[loads]:1: found the end of the table, wanted the header, a row of column names (if it stands in another row, a column map can say which)")
	if diff := cmp.Diff(want, dumpSheet(t, DefaultLimits(), data, Layout{})); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}
