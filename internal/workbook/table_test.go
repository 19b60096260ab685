package workbook

import (
	"bytes"
	"errors"
	"fmt"
	"iter"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

// numbered declares a table of n rows that hold their own number.
func numbered(s *sheet, n int, spec tableSpec) *table {
	spec.name, spec.count = "Numbered", n
	spec.columns = []column{
		{key: "name", head: "Name", kind: kindText, isKey: true},
		{key: "n", head: "Number", kind: kindInteger},
		{key: "before", head: "And the one before", kind: kindInteger, formula: "{n}+{n@above}"},
	}
	spec.rows = func(yield func([]value, error) bool) {
		for i := range n {
			row := []value{text(fmt.Sprintf("row %d", i%3)), integer(int64(i)), integer(int64(2*i - 1))}
			if i == 0 {
				row[2] = value{}
			}
			if !yield(row, nil) {
				return
			}
		}
	}
	return s.table(spec)
}

func TestLayOut(t *testing.T) {
	tests := map[string]struct {
		rows, limit int
		spec        tableSpec
		want        []part
		total       int
	}{
		"small, no total": {rows: 3, limit: 100,
			want: []part{{sheet: "S", header: 4, rows: 3}}},
		"total below": {rows: 3, limit: 100, spec: tableSpec{total: []value{{}, {}, {}}},
			want: []part{{sheet: "S", header: 4, rows: 3}}, total: 8},
		"empty keeps a row": {rows: 0, limit: 100, spec: tableSpec{total: []value{{}, {}, {}}},
			want: []part{{sheet: "S", header: 4, rows: 1}}, total: 6},
		"long, total above": {rows: 3, limit: 100, spec: tableSpec{long: true, total: []value{{}, {}, {}}},
			want: []part{{sheet: "S", header: 5, rows: 3}}, total: 4},
		"exactly full": {rows: 10, limit: 14, spec: tableSpec{long: true},
			want: []part{{sheet: "S", header: 4, rows: 10}}},
		"one too many": {rows: 11, limit: 14, spec: tableSpec{long: true},
			want: []part{{sheet: "S", header: 4, rows: 10}, {sheet: "S 2", header: 4, first: 10, rows: 1}}},
		"three parts": {rows: 25, limit: 14, spec: tableSpec{long: true, total: []value{{}, {}, {}}},
			want: []part{{sheet: "S", header: 5, rows: 9}, {sheet: "S 2", header: 4, first: 9, rows: 10},
				{sheet: "S 3", header: 4, first: 19, rows: 6}}, total: 4},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			b := newBook(sampleProps(t))
			b.sheetRows = test.limit
			tab := numbered(b.sheet("S", "S"), test.rows, test.spec)
			if b.err != nil {
				t.Fatal(b.err)
			}
			if diff := cmp.Diff(test.want, tab.parts, cmp.AllowUnexported(part{})); diff != "" {
				t.Error(diff)
			}
			if tab.total != test.total {
				t.Errorf("total in row %d, want %d", tab.total, test.total)
			}
		})
	}
}

// The parts hold every row once and in order, on rows that a sheet has.
func TestLayOutCovers(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		b := newBook(sampleProps(t))
		b.sheetRows = rapid.IntRange(6, 40).Draw(rt, "limit")
		n := rapid.IntRange(0, 200).Draw(rt, "rows")
		spec := tableSpec{long: true}
		if rapid.Bool().Draw(rt, "total") {
			spec.total = []value{{}, {}, {}}
		}
		tab := numbered(b.sheet("S", "S"), n, spec)
		next := 0
		for _, p := range tab.parts {
			if p.first != next || p.rows < 1 || p.lastRow() > b.sheetRows {
				rt.Fatalf("part %+v after row %d, sheets of %d rows", p, next, b.sheetRows)
			}
			next += p.rows
		}
		if next != max(n, 1) || b.err != nil {
			rt.Fatalf("parts hold %d rows of %d: %v", next, n, b.err)
		}
		for i := range n {
			cell, want := tab.cell("n", i), 0
			for _, p := range tab.parts {
				if p.sheet == cell.sheet {
					want = p.first + cell.row - p.header - 1
				}
			}
			if want != i || cell.col != 2 {
				rt.Fatalf("row %d lies at %s", i, cell)
			}
		}
	})
}

func TestRefusesDeclaration(t *testing.T) {
	one := []column{{key: "a", head: "A", kind: kindText}}
	tests := map[string]struct {
		build func(b *book, s *sheet)
		want  string
	}{
		"no columns": {func(_ *book, s *sheet) { s.table(tableSpec{name: "T"}) }, "0 columns"},
		"bad name":   {func(_ *book, s *sheet) { s.table(tableSpec{name: "a b", columns: one}) }, "want a name"},
		"name twice": {func(_ *book, s *sheet) {
			s.table(tableSpec{name: "T", columns: one})
			s.table(tableSpec{name: "t", columns: one})
		}, "taken"},
		"key twice": {func(_ *book, s *sheet) { s.table(tableSpec{name: "T", columns: append(one, one...)}) }, "each key once"},
		"head twice": {func(_ *book, s *sheet) {
			s.table(tableSpec{name: "T", columns: append(one, column{key: "b", head: "a", kind: kindText})})
		}, "stands twice"},
		"no head": {func(_ *book, s *sheet) { s.table(tableSpec{name: "T", columns: []column{{key: "b", kind: kindText}}}) }, "empty"},
		"no kind": {func(_ *book, s *sheet) { s.table(tableSpec{name: "T", columns: []column{{key: "b", head: "B"}}}) }, "kind"},
		"bad key": {func(_ *book, s *sheet) {
			s.table(tableSpec{name: "T", columns: []column{{key: "B", head: "B", kind: kindText}}})
		}, "column key"},
		"bad formula": {func(_ *book, s *sheet) {
			s.table(tableSpec{name: "T", columns: []column{{key: "b", head: "B", kind: kindText, formula: "{c}"}}})
		}, `no column "c"`},
		"rows not given": {func(_ *book, s *sheet) { s.table(tableSpec{name: "T", columns: one, count: 2}) }, "none given"},
		"totals":         {func(_ *book, s *sheet) { s.table(tableSpec{name: "T", columns: one, total: []value{{}, {}}}) }, "2 totals for 1 columns"},
		"two subjects": {func(_ *book, s *sheet) {
			s.table(tableSpec{name: "T", columns: one, main: true})
			s.table(tableSpec{name: "U", columns: one, main: true})
		}, "main table already"},
		"heads too low":    {func(_ *book, s *sheet) { s.next = 13; s.table(tableSpec{name: "T", columns: one, main: true}) }, "cannot be frozen"},
		"too many rows":    {func(b *book, s *sheet) { b.sheetRows = 10; numbered(s, 7, tableSpec{}) }, "declare it long"},
		"below a long one": {func(_ *book, s *sheet) { numbered(s, 1, tableSpec{long: true}); s.note("x") }, "nothing can stand below"},
		"sheet name":       {func(b *book, _ *sheet) { b.sheet("a/b", "x") }, "want a name"},
		"sheet twice":      {func(b *book, _ *sheet) { b.sheet("s", "x") }, "taken"},
		"part's name":      {func(b *book, s *sheet) { b.sheet("S 2", "x"); b.sheetRows = 8; numbered(s, 9, tableSpec{long: true}) }, "goes on in"},
		"part's table":     {func(b *book, s *sheet) { b.take("Numbered_2"); b.sheetRows = 8; numbered(s, 9, tableSpec{long: true}) }, "goes on as"},
		"unknown column":   {func(_ *book, s *sheet) { numbered(s, 1, tableSpec{}).column("m") }, `no column "m"`},
		"row too far":      {func(_ *book, s *sheet) { numbered(s, 1, tableSpec{}).cell("n", 1) }, "no row 1 in 1"},
		"no total":         {func(_ *book, s *sheet) { numbered(s, 1, tableSpec{}).totalCell("n") }, "has no total"},
		"name like a cell": {func(b *book, _ *sheet) { b.name("TAX2024", cellRef{"S", 1, 1}) }, "read as a cell"},
		"name of a table":  {func(b *book, s *sheet) { numbered(s, 1, tableSpec{}); b.name("numbered", cellRef{"S", 1, 1}) }, "taken"},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			b := newBook(sampleProps(t))
			test.build(b, b.sheet("S", "S"))
			var out bytes.Buffer
			err := b.write(t.Context(), &out)
			if err == nil || !strings.Contains(err.Error(), test.want) {
				t.Errorf("err = %v, want one with %q", err, test.want)
			}
			if out.Len() > 0 {
				t.Errorf("%d bytes were written", out.Len())
			}
		})
	}
}

func TestRefusesRows(t *testing.T) {
	row := []value{text("a"), tonnes(1)}
	broken := errors.New("the disk is gone")
	failing := func(yield func([]value, error) bool) {
		if yield(row, nil) {
			yield(nil, broken)
		}
	}
	tests := map[string]struct {
		rows  iter.Seq2[[]value, error]
		count int
		want  string
	}{
		"too few":        {rowsOf(row), 2, "1 rows given of 2"},
		"too many":       {rowsOf(row, row, row), 2, "more rows given than the 2"},
		"none declared":  {rowsOf(row), 0, "more rows given than the 0"},
		"error":          {failing, 2, "the disk is gone"},
		"error after":    {failing, 1, "the disk is gone"},
		"too narrow":     {rowsOf(row[:1]), 1, "1 values for 2 columns"},
		"wrong kind":     {rowsOf([]value{text("a"), text("b")}), 1, `column "net", row 0: want tonnes, not text`},
		"not a number":   {rowsOf([]value{text("a"), {kind: kindTonnes, formula: "{nett}"}}), 1, `no column "nett"`},
		"no key":         {rowsOf([]value{text("<4"), tonnes(1)}), 1, `key "<4"`},
		"keys by case":   {rowsOf([]value{text("pile a"), tonnes(1)}, []value{text("pile A"), tonnes(1)}), 2, "differ by more than case"},
		"too long":       {rowsOf([]value{text("a " + strings.Repeat("x", maxCellUnits)), tonnes(1)}), 1, "key beginning"},
		"no result":      {rowsOf([]value{computed("1+1", value{}), tonnes(1)}), 1, "without its result"},
		"formula length": {rowsOf([]value{text("a"), computed(strings.Repeat("1+", 4096)+"1", tonnes(1))}), 1, "at most 8192"},
	}
	for name, test := range tests {
		for _, long := range []bool{false, true} {
			t.Run(fmt.Sprintf("%s, long %t", name, long), func(t *testing.T) {
				b := newBook(sampleProps(t))
				b.sheet("S", "S").table(tableSpec{name: "T", count: test.count, rows: test.rows, long: long, columns: []column{
					{key: "pile", head: "Pile", kind: kindText, isKey: true}, {key: "net", head: "Net", kind: kindTonnes}}})
				var out bytes.Buffer
				err := b.write(t.Context(), &out)
				if err == nil || !strings.Contains(err.Error(), test.want) {
					t.Errorf("err = %v, want one with %q", err, test.want)
				}
				if out.Len() > 0 {
					t.Errorf("%d bytes were written", out.Len())
				}
			})
		}
	}
}

// The rows of a long table are drawn once, in order, whatever sheets they go to.
func TestFeedDrawsOnce(t *testing.T) {
	b := newBook(sampleProps(t))
	b.sheetRows = 14
	var drawn []int64
	tab := numbered(b.sheet("S", "S"), 25, tableSpec{long: true})
	inner := tab.spec.rows
	tab.spec.rows = func(yield func([]value, error) bool) {
		for row, err := range inner {
			drawn = append(drawn, row[1].n)
			if !yield(row, err) {
				return
			}
		}
	}
	written(t, b)
	want := make([]int64, 25)
	for i := range want {
		want[i] = int64(i)
	}
	if diff := cmp.Diff(want, drawn, cmpopts.EquateEmpty()); diff != "" {
		t.Error(diff)
	}
}
