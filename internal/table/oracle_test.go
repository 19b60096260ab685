package table

import (
	"bytes"
	"fmt"
	"io"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"
)

// written is a cell as excelize is given it and as it should be read.
type written struct {
	value any
	text  string
	kind  CellKind
}

// drawCell returns a random cell.
func drawCell(t *rapid.T) written {
	switch rapid.IntRange(0, 6).Draw(t, "kind") {
	case 0:
		return written{nil, "", Text}
	case 1:
		return written{true, "TRUE", Bool}
	case 2:
		return written{false, "FALSE", Bool}
	case 3:
		n := rapid.Int64Range(-999_999_999_999_999, 999_999_999_999_999).Draw(t, "integer")
		return written{n, strconv.FormatInt(n, 10), Number}
	case 4:
		n := rapid.Int64Range(-99_999_999, 99_999_999).Draw(t, "digits")
		places := rapid.IntRange(0, 6).Draw(t, "places")
		text := decimalText(n, places)
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatal(err)
		}
		return written{v, text, Number}
	case 5:
		at := time.Date(1950, 1, 1, 0, 0, 0, 0, time.UTC).Add(time.Duration(rapid.Int64Range(0, 4e9).Draw(t, "seconds")) * time.Second)
		if at.Truncate(24*time.Hour) == at {
			at = at.Add(time.Second) // at midnight excelize chooses a format without the time
		}
		return written{at, at.Format(layoutDateTime), Date}
	default:
		// No control characters, which excelize replaces; no escapes, which it
		// does not escape in shared strings; and no white space alone, which
		// makes a row blank.
		s := rapid.StringMatching(`[ -~é漢😀]{0,12}|_x00|\x{feff}x`).Draw(t, "text")
		if isEmpty(s) {
			s = "x" + s
		}
		return written{s, s, Text}
	}
}

// writeSheet writes a header and rows, by excelize's stream writer with inline
// strings or else cell by cell with shared strings, and returns the workbook
// and what excelize itself reads of it.
func writeSheet(t *rapid.T, header []any, rows [][]written, stream bool) ([]byte, [][]string) {
	f := excelize.NewFile()
	defer func() { _ = f.Close() }()
	var sw *excelize.StreamWriter
	if stream {
		var err error
		if sw, err = f.NewStreamWriter("Sheet1"); err != nil {
			t.Fatal(err)
		}
	}
	setRow := func(n int, values []any) {
		var err error
		if stream {
			err = sw.SetRow(fmt.Sprintf("A%d", n), values)
		} else {
			err = f.SetSheetRow("Sheet1", fmt.Sprintf("A%d", n), &values)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	setRow(1, header)
	for i, row := range rows {
		values := make([]any, len(row))
		for j, c := range row {
			values[j] = c.value
		}
		setRow(i+2, values)
	}
	if stream {
		if err := sw.Flush(); err != nil {
			t.Fatal(err)
		}
	}
	var out bytes.Buffer
	if err := f.Write(&out); err != nil {
		t.Fatal(err)
	}

	again, err := excelize.OpenReader(bytes.NewReader(out.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = again.Close() }()
	cells, err := again.GetRows("Sheet1", excelize.Options{RawCellValue: true})
	if err != nil {
		t.Fatal(err)
	}
	return out.Bytes(), cells
}

// oracleText is what excelize read of a cell, put as this package puts it.
func oracleText(raw string, c written) string {
	switch c.kind {
	case Number:
		if v, err := strconv.ParseFloat(raw, 64); err == nil {
			return string(appendNumber(nil, v))
		}
	case Bool:
		return map[string]string{"0": "FALSE", "1": "TRUE"}[raw]
	case Date:
		if v, err := strconv.ParseFloat(raw, 64); err == nil {
			if at, err := excelize.ExcelDateToTime(v, false); err == nil {
				return at.Round(time.Second).Format(layoutDateTime)
			}
		}
	}
	return raw
}

// TestOracle writes random sheets with excelize and reads them with both.
func TestOracle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		width := rapid.IntRange(1, 6).Draw(t, "width")
		header := make([]any, width)
		for i := range header {
			header[i] = fmt.Sprintf("column %d", i+1)
		}
		rows := make([][]written, rapid.IntRange(0, 8).Draw(t, "rows"))
		for i := range rows {
			for range width {
				rows[i] = append(rows[i], drawCell(t))
			}
		}
		data, oracle := writeSheet(t, header, rows, rapid.Bool().Draw(t, "stream"))

		w, err := OpenWorkbook("yard.xlsx", bytes.NewReader(data), int64(len(data)))
		if err != nil {
			t.Fatal(err)
		}
		r, err := w.Open("Sheet1", Layout{})
		if err != nil {
			t.Fatal(err)
		}
		for i, row := range rows {
			var texts, oracles []string
			var kinds []CellKind
			for j, c := range row {
				texts, kinds = append(texts, c.text), append(kinds, c.kind)
				raw := ""
				if i+1 < len(oracle) && j < len(oracle[i+1]) {
					raw = oracle[i+1][j]
				}
				oracles = append(oracles, oracleText(raw, c))
			}
			if allEmpty(texts) {
				continue
			}
			got, err := r.Next()
			if err != nil {
				t.Fatal(err)
			}
			if got.Number != i+2 {
				t.Fatalf("row number %d, want %d", got.Number, i+2)
			}
			if diff := cmp.Diff(texts, got.Cells); diff != "" {
				t.Errorf("row %d (-written +read)\n%s", i+2, diff)
			}
			if diff := cmp.Diff(oracles, got.Cells); diff != "" {
				t.Errorf("row %d (-excelize +read)\n%s", i+2, diff)
			}
			if diff := cmp.Diff(kinds, got.kinds); diff != "" {
				t.Errorf("row %d kinds (-written +read)\n%s", i+2, diff)
			}
		}
		if _, err := r.Next(); err != io.EOF {
			t.Errorf("after the last row: %v, want io.EOF", err)
		}
	})
}

// TestLargeSheet reads a sheet of many buffers, so that rows and cells are cut
// by their ends, from shared and from inline strings.
func TestLargeSheet(t *testing.T) {
	const rows = 20_000
	var xml, texts strings.Builder
	texts.WriteString("<sst>")
	xml.WriteString(`<row><c t="str"><v>a</v></c><c t="str"><v>b</v></c><c t="str"><v>c</v></c></row>`)
	for i := range rows {
		fmt.Fprintf(&texts, "<si><t>shared %d</t></si>", i)
		fmt.Fprintf(&xml, `<row r="%d"><c r="A%d" t="s"><v>%d</v></c><c r="B%d" t="inlineStr"><is><t>inline &amp; %d</t></is></c><c r="C%d"><v>%d.5</v></c></row>`,
			i+2, i+2, i, i+2, i, i+2, i)
	}
	texts.WriteString("</sst>")
	parts := replacePart(workbookParts(sheetOf(xml.String())), "xl/sharedStrings.xml", texts.String())
	w, err := openBytes(DefaultLimits(), zipOf(t, parts...))
	if err != nil {
		t.Fatal(err)
	}
	r, err := w.Open("loads", Layout{})
	if err != nil {
		t.Fatal(err)
	}
	for i := range rows {
		row, err := r.Next()
		if err != nil {
			t.Fatal(err)
		}
		want := []string{fmt.Sprintf("shared %d", i), fmt.Sprintf("inline & %d", i), fmt.Sprintf("%d.5", i)}
		if diff := cmp.Diff(want, row.Cells); diff != "" || row.Number != i+2 {
			t.Fatalf("row %d, want %d (-want +got)\n%s", row.Number, i+2, diff)
		}
	}
	if _, err := r.Next(); err != io.EOF {
		t.Errorf("after the last row: %v, want io.EOF", err)
	}
}
