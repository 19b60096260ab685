package workbook

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"
)

// everyKind are columns of every kind, with and without formulas of their own.
func everyKind() []column {
	return []column{
		{key: "key", head: "Key", kind: kindText, isKey: true},
		{key: "text", head: "Text", kind: kindText, wrap: true, width: 12},
		{key: "tonnes", head: "Tonnes", kind: kindTonnes},
		{key: "number", head: "Number", kind: kindNumber, places: 3},
		{key: "percent", head: "Percent", kind: kindPercent},
		{key: "date", head: "Date", kind: kindDate},
		{key: "instant", head: "Instant", kind: kindInstant},
		{key: "integer", head: "Integer", kind: kindInteger, formula: "{integer}+1"},
		{key: "bool", head: "Bool", kind: kindBool},
		{key: "check", head: "Check", kind: kindCheck, formula: "{tonnes}<{number@first}"},
		{key: "any", head: "Any", kind: kindAny},
		{key: "input", head: "Input", kind: kindTonnes, role: roleInput},
	}
}

// drawText draws a text of pieces that files have trouble with. Two escapes that share a low line are apart: the library's
// own writer loses a part of them.
func drawText(t *rapid.T, label string) string {
	pieces := rapid.SliceOfN(rapid.SampledFrom([]string{"stone", " ", "\n", "\t", "&", "<b>", "]]>", `"`, "'", "\x00", "\x1b", "\r\n", "\r", "\x7f", "\xff", "\uFFFE",
		"_x0041_ ", "_xD800_ ", "_x005F_ ", "_x00", "__", "0/4 mm", "Körnung", "碎石", "🪨", "=1+1", "é", strings.Repeat("long ", 30)}), 0, 6).Draw(t, label)
	return strings.Join(pieces, "")
}

// drawFloat draws a number, often one of few digits and sometimes any.
func drawFloat(t *rapid.T, label string) float64 {
	if rapid.Bool().Draw(t, label+" short") {
		return float64(rapid.Int64Range(-1e9, 1e9).Draw(t, label)) / 1e4
	}
	return rapid.Float64Range(-1e18, 1e18).Draw(t, label)
}

// drawValue draws a cell of a kind, in one of five blank, and in one of five with a formula that it is the result of.
func drawValue(t *rapid.T, c column, row int) value {
	k := c.kind
	if k == kindAny {
		k = kind(rapid.IntRange(int(kindText), int(kindCheck)).Draw(t, "kind"))
	}
	var v value
	switch k {
	case kindText:
		v = text(drawText(t, "text"))
		if c.isKey {
			v = text(rapid.SampledFrom([]string{"", "pile 0/4", "pile <32 & more", "out sale", "pile Körnung 4 ", "pile _x0041_"}).Draw(t, "key"))
		}
	case kindTonnes:
		v = tonnes(rapid.Int64().Draw(t, "grams"))
		if rapid.Bool().Draw(t, "of a yard") {
			v.n %= 1e12
		}
		v.f = rapid.SampledFrom([]float64{0, 0, 0.25, 1.0 / 3}).Draw(t, "fraction of a gram")
	case kindNumber, kindPercent:
		v = value{kind: k, f: drawFloat(t, "number"), places: rapid.IntRange(0, maxPlaces).Draw(t, "places")}
	case kindDate:
		v = value{kind: k, n: rapid.Int64Range(firstSerial, lastSerial).Draw(t, "day")}
	case kindInstant: // before the day 1,000,000, from which on the library cuts off what is rounded here
		v = value{kind: k, n: rapid.Int64Range(time.Date(1901, 1, 1, 0, 0, 0, 0, time.UTC).UnixMilli(), time.Date(4637, 1, 1, 0, 0, 0, 0, time.UTC).UnixMilli()).Draw(t, "ms")}
		if rapid.Bool().Draw(t, "of a month") {
			v.n = 1_790_000_000_000 + v.n%3_000_000_000
		}
	case kindInteger:
		v = integer(rapid.Int64Range(-maxInteger, maxInteger).Draw(t, "integer"))
	case kindBool:
		v = boolean(rapid.Bool().Draw(t, "bool"))
	case kindCheck:
		v = check(rapid.Bool().Draw(t, "check"))
	}
	switch {
	case c.isKey:
	case c.formula == "" && rapid.IntRange(0, 4).Draw(t, "blank") == 0:
		return value{}
	case rapid.IntRange(0, 4).Draw(t, "formula") == 0:
		v.formula = rapid.SampledFrom([]string{"1+{tonnes}", `IF({text}="a&b<c","é",{number})`, "SUM({number@first}:{number})", "HYPERLINK(\"#S!$A$1\",\"x\")"}).Draw(t, "formula text")
		if row > 0 && rapid.Bool().Draw(t, "above") {
			v.formula = "{tonnes}-{tonnes@above}"
		}
	}
	return v
}

// shownCell is a cell as a reader finds it.
type shownCell struct {
	Raw, Shown, Formula string
	Type                excelize.CellType
	Style               *excelize.Style
}

// shownSheet reads every cell of the rows of a sheet, and their heights.
func shownSheet(t *rapid.T, data []byte, columns, last int) (cells []shownCell, heights []float64) {
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	must := func(err error) {
		if err != nil {
			t.Fatal(err)
		}
	}
	for row := firstBlockRow; row <= last; row++ {
		h, err := f.GetRowHeight("S", row)
		must(err)
		heights = append(heights, h)
		for col := 1; col <= columns; col++ {
			at := cellRef{col: col, row: row}.local()
			var c shownCell
			c.Raw, err = f.GetCellValue("S", at, excelize.Options{RawCellValue: true})
			must(err)
			c.Shown, err = f.GetCellValue("S", at)
			must(err)
			c.Formula, err = f.GetCellFormula("S", at)
			must(err)
			c.Type, err = f.GetCellType("S", at)
			must(err)
			id, err := f.GetCellStyle("S", at)
			must(err)
			c.Style, err = f.GetStyle(id)
			must(err)
			cells = append(cells, c)
		}
	}
	must(f.Close())
	return cells, heights
}

// Rows that are set into a sheet read the same as those that the library writes: a long table is the same table.
func TestLongRowsReadAsTheLibrarys(t *testing.T) {
	zone, err := time.LoadLocation("Europe/London")
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(rt *rapid.T) {
		columns := everyKind()
		rows := make([][]value, rapid.IntRange(0, 12).Draw(rt, "rows"))
		for i := range rows {
			for _, c := range columns {
				rows[i] = append(rows[i], drawValue(rt, c, i))
			}
		}
		height := rapid.SampledFrom([]float64{0, 40}).Draw(rt, "height")
		write := func(spec tableSpec) []byte {
			props := sampleProps(t)
			props.zone = zone
			b := newBook(props)
			spec.name, spec.columns, spec.count, spec.rows, spec.height = "T", columns, len(rows), rowsOf(rows...), height
			b.sheet("S", "S").table(spec)
			var out bytes.Buffer
			if err := b.write(t.Context(), &out); err != nil {
				rt.Fatal(err)
			}
			return out.Bytes()
		}
		last := firstBlockRow + max(len(rows), 1)
		want, wantHeights := shownSheet(rt, write(tableSpec{main: true}), len(columns), last)
		got, gotHeights := shownSheet(rt, write(tableSpec{long: true}), len(columns), last)
		if diff := cmp.Diff(want, got); diff != "" {
			rt.Error(diff)
		}
		if diff := cmp.Diff(wantHeights, gotHeights); diff != "" {
			rt.Error(diff)
		}
	})
}

// A text that looks like escapes comes back as it was, also where two share a low line, to a reader that keeps to the
// format (ECMA-376 Part 1, 22.9.2.19). The library does not take escapes out of texts that stand in their cells.
func TestLongRowsKeepEscapes(t *testing.T) {
	texts := []string{"_x0041_x0042_", "_x005F_x0041_", "_x005f__x0041_", "__x0041__", "_x004_", "_x00G1_", "_X0041_"}
	var rows [][]value
	for _, s := range texts {
		rows = append(rows, []value{text(s), computed("1", text(s))})
	}
	b := newBook(sampleProps(t))
	b.sheet("S", "S").table(tableSpec{name: "T", long: true, count: len(rows), rows: rowsOf(rows...),
		columns: []column{{key: "a", head: "A", kind: kindText}, {key: "b", head: "B", kind: kindText}}})
	var sheet struct {
		Rows []struct {
			Cells []struct {
				Inline  string `xml:"is>t"`
				Formula string `xml:"f"`
				Value   string `xml:"v"`
			} `xml:"c"`
		} `xml:"sheetData>row"`
	}
	unzip(t, written(t, b)).decode(t, "xl/worksheets/sheet1.xml", &sheet)
	escape := regexp.MustCompile(`_x([0-9A-Fa-f]{4})_`)
	unescaped := func(s string) string {
		return escape.ReplaceAllStringFunc(s, func(m string) string {
			code, err := strconv.ParseUint(m[2:6], 16, 16)
			if err != nil {
				t.Fatal(err)
			}
			return string(rune(code))
		})
	}
	var got []string
	for _, row := range sheet.Rows[len(sheet.Rows)-len(texts):] {
		if inline, value := unescaped(row.Cells[0].Inline), unescaped(row.Cells[1].Value); inline != value || row.Cells[1].Formula != "1" {
			t.Errorf("in the cell %q, of the formula %q %q", inline, row.Cells[1].Formula, value)
		}
		got = append(got, unescaped(row.Cells[0].Inline))
	}
	if diff := cmp.Diff(texts, got); diff != "" {
		t.Error(diff)
	}
}

// bulk declares a long table of n rows that compress badly.
func bulk(b *book, n int, fail error) {
	seed := uint64(1)
	b.sheet("S", "S").table(tableSpec{name: "T", long: true, count: n, columns: []column{{key: "a", head: "A", kind: kindText}},
		rows: func(yield func([]value, error) bool) {
			for range n {
				words := make([]byte, 30_000)
				for i := range words {
					seed = seed*6364136223846793005 + 1442695040888963407
					words[i] = ' ' + byte(seed>>33)%90
				}
				if !yield([]value{text(string(words))}, nil) {
					return
				}
			}
			if fail != nil {
				yield(nil, fail)
			}
		}})
}

// The bytes do not depend on how many processors there are, nor on how often it is done.
func TestLongRowsSameBytes(t *testing.T) {
	var first []byte
	for _, processors := range []int{1, 2, 5, 2} {
		before := runtime.GOMAXPROCS(processors)
		b := newBook(sampleProps(t))
		bulk(b, 100, nil)
		data := written(t, b)
		runtime.GOMAXPROCS(before)
		if first == nil {
			first = data
		} else if !bytes.Equal(first, data) {
			t.Errorf("%d processors make other bytes", processors)
		}
	}
	inspect(t, first)
}

// Rows that are more than memory should hold go to the temporary folder, and leave nothing there, whatever happens.
func TestLongRowsLeaveNothing(t *testing.T) {
	const rows = 800 // of 30 kB, of which compressing saves a fifth
	folder := t.TempDir()
	t.Setenv("TMPDIR", folder)
	t.Setenv("TMP", folder)
	lost := errors.New("the book is gone")
	cancelled, cancel := context.WithCancel(t.Context())
	cancel()
	for name, test := range map[string]struct {
		ctx  context.Context
		fail error
		to   *failingWriter
		want error
	}{
		"written":       {t.Context(), nil, &failingWriter{math.MaxInt}, nil},
		"rows fail":     {t.Context(), lost, &failingWriter{math.MaxInt}, lost},
		"writing fails": {t.Context(), nil, &failingWriter{1 << 20}, errFull},
		"cancelled":     {cancelled, nil, &failingWriter{math.MaxInt}, context.Canceled},
	} {
		b := newBook(sampleProps(t))
		bulk(b, rows, test.fail)
		if err := b.write(test.ctx, test.to); !errors.Is(err, test.want) {
			t.Errorf("%s: %v", name, err)
		}
		left, err := os.ReadDir(folder)
		if err != nil || len(left) > 0 {
			t.Errorf("%s: %d files are left, %v", name, len(left), err)
		}
	}
	t.Setenv("TMPDIR", folder+"/none")
	t.Setenv("TMP", folder+"/none")
	b := newBook(sampleProps(t))
	bulk(b, rows, nil)
	if err := b.write(t.Context(), &failingWriter{math.MaxInt}); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("without a temporary folder: %v", err)
	}
}

// Rows may be written before their table is declared, where they go to the rows of its sheets, and must be those that it
// declares.
func TestRowsAhead(t *testing.T) {
	columns := []column{{key: "a", head: "A", kind: kindInteger}}
	for name, test := range map[string]struct {
		header, written, declared int
		row                       []value
		want                      string
	}{
		"as declared":      {5, 25, 25, []value{integer(7)}, ""},
		"other heads":      {4, 25, 25, []value{integer(7)}, "rows are written as"},
		"fewer":            {5, 24, 25, []value{integer(7)}, "rows are written as"},
		"more":             {5, 26, 25, []value{integer(7)}, "rows are written as"},
		"with a formula":   {5, 25, 25, []value{computed("1", integer(7))}, "before its table"},
		"of another kind":  {5, 25, 25, []value{text("7")}, `column "a", row 0: want integer, not text`},
		"of another width": {5, 25, 25, []value{}, "0 values for 1 columns"},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBook(sampleProps(t))
			b.sheetRows = 14
			rows, err := b.newLongRows(columns, test.header)
			if err != nil {
				t.Fatal(err)
			}
			for range test.written {
				err = errors.Join(err, rows.add(test.row))
			}
			err = errors.Join(err, rows.end())
			b.sheet("S", "S").table(tableSpec{name: "T", long: true, count: test.declared, written: rows, columns: columns, total: []value{integer(25 * 7)}})
			var out bytes.Buffer
			err = errors.Join(err, b.write(t.Context(), &out))
			if test.want != "" {
				if err == nil || !strings.Contains(err.Error(), test.want) {
					t.Errorf("err = %v, want one with %q", err, test.want)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			inspect(t, out.Bytes())
			var found []string
			f := open(t, out.Bytes())
			for _, s := range f.GetSheetList() {
				for row := 1; row <= 14; row++ {
					if got, err := f.GetCellValue(s, fmt.Sprintf("A%d", row), excelize.Options{RawCellValue: true}); err != nil {
						t.Fatal(err)
					} else if got == "7" {
						found = append(found, fmt.Sprintf("%s!%d", s, row))
					}
				}
			}
			var want []string
			for i := range 25 {
				want = append(want, fmt.Sprintf("%s!%d", []string{"S", "S 2", "S 3"}[(i+1)/10], firstBlockRow+1+(i+1)%10))
			}
			if diff := cmp.Diff(want, found, cmpopts.EquateEmpty()); diff != "" {
				t.Error(diff)
			}
		})
	}
}
