package table

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"
)

// Layout says how a file differs from the default: UTF-8, commas, header in
// row 1. The zero Layout is that default.
type Layout struct {
	// Encoding is "utf-8", "utf-16", "utf-16le", "utf-16be" or
	// "windows-1252". Empty means: by the byte-order mark, and UTF-8 without
	// one. "utf-16" needs a byte-order mark. Sheets of a workbook ignore it.
	Encoding string

	// Delimiter stands between the cells of a row; 0 means a comma. Sheets of
	// a workbook ignore it.
	Delimiter rune

	// HeaderRow is the 1-based row of the header: a line of a CSV file, a row
	// of a sheet. 0 means 1. What stands above is skipped unread.
	HeaderRow int
}

// headerRow returns the 1-based row of the header.
func (l Layout) headerRow() (int, error) {
	if l.HeaderRow < 0 {
		return 0, fmt.Errorf("header row %d: want 1 or more", l.HeaderRow)
	}
	return max(l.HeaderRow, 1), nil
}

// CellKind says what a cell held before it became text. Every cell of a CSV
// file, and every empty cell, is Text.
type CellKind uint8

const (
	Text   CellKind = iota + 1
	Number          // plain decimal text, perhaps with a % after it
	Date            // a date, a time or both
	Bool            // TRUE or FALSE
	Failed          // the error value of a formula, such as #REF!
)

// String returns the kind's name in lower case.
func (k CellKind) String() string {
	switch k {
	case Text:
		return "text"
	case Number:
		return "number"
	case Date:
		return "date"
	case Bool:
		return "bool"
	case Failed:
		return "failed"
	default:
		return fmt.Sprintf("CellKind(%d)", uint8(k))
	}
}

// Row is one row of a table. Its slices are used again by the next call of
// [Reader.Next]; its strings stay as they are.
type Row struct {
	// Number is the 1-based row: in a CSV file the line where the row starts,
	// in a sheet the row number that a spreadsheet shows.
	Number int

	// Cells holds the text of columns 1, 2, ..., one for each column of the
	// header. Cells that the file leaves out are empty.
	Cells []string

	kinds []CellKind // nil if all are Text, else as long as Cells
}

// Kind returns what cell i of Cells held before it became text.
func (r Row) Kind(i int) CellKind {
	if r.kinds == nil {
		return Text
	}
	return r.kinds[i]
}

// source is a format of file. It yields rows as wide as they are written,
// beginning with the first that is not empty at or below the header row, and
// [io.EOF] at the end. An *Error about one row leaves it able to go on; after
// one that ends the reading, the next call returns io.EOF.
type source interface {
	next() (Row, error)
}

// Reader reads the rows of one table. It must not be used by more than one
// goroutine at a time, nor at the same time as another Reader of the same
// [Workbook].
type Reader struct {
	name   string
	src    source
	header Row

	nameless []int      // indexes of columns without a name, not yet seen to hold data
	cells    []string   // scratch for rows shorter than the header
	kinds    []CellKind // likewise
}

// newReader reads the header, which must be the first row that src yields.
func newReader(name string, src source, headerRow int) (*Reader, error) {
	wanted := "the header, a row of column names (if it stands in another row, a column map can say which)"
	row, err := src.next()
	switch {
	case err == io.EOF:
		return nil, &Error{File: name, Row: headerRow, Found: "the end of the table", Wanted: wanted}
	case err != nil:
		return nil, err
	case row.Number != headerRow || allEmpty(row.Cells):
		return nil, &Error{File: name, Row: headerRow, Found: "an empty row", Wanted: wanted}
	}
	width := len(row.Cells)
	for isEmpty(row.Cells[width-1]) {
		width--
	}
	r := &Reader{name: name, src: src, header: Row{
		Number: row.Number,
		Cells:  slices.Clone(row.Cells[:width]),
	}}
	if row.kinds != nil {
		r.header.kinds = slices.Clone(row.kinds[:width])
	}
	for i, c := range r.header.Cells {
		if isEmpty(c) {
			r.nameless = append(r.nameless, i)
		}
	}
	return r, nil
}

// Name returns the name that positions in this table begin with: "loads.csv",
// or "yard.xlsx[loads]" for a sheet.
func (r *Reader) Name() string { return r.name }

// Header returns the header row without the empty cells at its end. Its cells
// stand as in the file; two may be equal. The caller must not change it.
func (r *Reader) Header() Row { return r.header }

// Next returns the next row that is not empty, as wide as the header, or
// [io.EOF] after the last. The row is valid until the next call.
//
// An [*Error] is about one row, which is then passed over: Next can be called
// again, so that all bad rows of a file are found in one reading. After an
// error that makes the rest unreadable, a broken quote or damaged data, the
// next call returns io.EOF. A column whose header is empty is reported once,
// by the first row with data in it.
func (r *Reader) Next() (Row, error) {
	for {
		row, err := r.src.next()
		if err != nil {
			return Row{}, err
		}
		if allEmpty(row.Cells) {
			continue
		}
		return r.fit(row)
	}
}

// fit makes row as wide as the header.
func (r *Reader) fit(row Row) (Row, error) {
	width := len(r.header.Cells)
	if len(row.Cells) > width {
		for i, c := range row.Cells[width:] {
			if !isEmpty(c) {
				return Row{}, &Error{
					File: r.name, Row: row.Number, Column: width + i + 1,
					Found:  quote(c) + " beyond the last column",
					Wanted: fmt.Sprintf("at most %s, as in the header", count(width, "cell")),
				}
			}
		}
		row.Cells = row.Cells[:width]
		if row.kinds != nil {
			row.kinds = row.kinds[:width]
		}
	}
	if len(row.Cells) < width {
		row = r.widen(row)
	}
	for n, i := range r.nameless {
		if !isEmpty(row.Cells[i]) {
			r.nameless = slices.Delete(r.nameless, n, n+1)
			return Row{}, &Error{
				File: r.name, Row: r.header.Number, Column: i + 1,
				Found:  fmt.Sprintf("no column name above %s in row %d", quote(row.Cells[i]), row.Number),
				Wanted: "a name for every column that holds data",
			}
		}
	}
	return row, nil
}

// widen adds empty cells to a row narrower than the header.
func (r *Reader) widen(row Row) Row {
	width := len(r.header.Cells)
	r.cells = append(r.cells[:0], row.Cells...)
	for len(r.cells) < width {
		r.cells = append(r.cells, "")
	}
	row.Cells = r.cells
	if row.kinds != nil {
		r.kinds = append(r.kinds[:0], row.kinds...)
		for len(r.kinds) < width {
			r.kinds = append(r.kinds, Text)
		}
		row.kinds = r.kinds
	}
	return row
}

// isEmpty reports whether s holds nothing but white space.
func isEmpty(s string) bool {
	return s == "" || (s[0] <= ' ' || s[0] >= utf8.RuneSelf) && strings.TrimSpace(s) == ""
}

// allEmpty reports whether all cells of a row are empty.
func allEmpty(cells []string) bool {
	for _, c := range cells {
		if !isEmpty(c) {
			return false
		}
	}
	return true
}
