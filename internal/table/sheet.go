package table

import (
	"fmt"
	"io"
	"unicode/utf8"
)

// sheetSource yields the rows of a worksheet part (ECMA-376 part 1, 18.3.1).
type sheetSource struct {
	xml  *xmlReader
	book *Workbook
	from int // rows above are skipped
	done bool

	row    int    // number of the row being read, or of the last
	column int    // of the cell being read, or of the last in its row
	bad    *Error // the first error of the row being read
	text   []byte // of the row's cells, but for shared strings
	cells  []string
	kinds  []CellKind
	spans  []span
}

// span says which bytes of the row's text belong to a column.
type span struct{ column, start, end int }

// openSheet reads up to the rows of a sheet.
func (w *Workbook) openSheet(part, name string, from int) (*sheetSource, error) {
	x, err := w.archive.open(part, name)
	if err != nil {
		return nil, err
	}
	if err := x.root("worksheet"); err != nil {
		return nil, err
	}
	s := &sheetSource{xml: x, book: w, from: from}
	for {
		tok, err := x.next()
		switch {
		case err != nil:
			return nil, err
		case tok == endTag: // a sheet without sheetData
			s.done = true
			return s, x.rest()
		case tok != startTag:
		case string(x.name) == "sheetData":
			return s, nil
		default:
			if err := x.skip(); err != nil {
				return nil, err
			}
		}
	}
}

// next implements source.
func (s *sheetSource) next() (Row, error) {
	if s.done {
		return Row{}, io.EOF
	}
	row, err := s.read()
	switch {
	case err != nil:
		s.done = true
		return Row{}, err
	case s.bad != nil:
		return Row{}, s.bad
	default:
		return row, nil
	}
}

// read returns the next row from s.from on, or io.EOF. What is wrong with its
// cells alone is in s.bad.
func (s *sheetSource) read() (Row, error) {
	for {
		tok, err := s.xml.next()
		switch {
		case err != nil:
			return Row{}, err
		case tok == endTag: // of sheetData
			if err := s.xml.rest(); err != nil {
				return Row{}, err
			}
			return Row{}, io.EOF
		case tok != startTag:
			continue
		case string(s.xml.name) == "row":
			if err := s.startRow(); err != nil {
				return Row{}, err
			}
			if s.row >= s.from {
				return s.readRow()
			}
		}
		if err := s.xml.skip(); err != nil {
			return Row{}, err
		}
	}
}

// startRow reads the attributes of a row element. A row without a number
// follows the last one.
func (s *sheetSource) startRow() error {
	number, err := s.xml.number("r", s.row+1)
	if err != nil {
		return err
	}
	if number <= s.row {
		return s.xml.fail(fmt.Sprintf("row %d after row %d", number, s.row), "rows in order", nil)
	}
	if limit := s.book.archive.limits.Rows; number > limit {
		return s.xml.fail(fmt.Sprintf("row %d", number), "at most "+count(limit, "row"), nil)
	}
	s.row, s.column, s.bad = number, 0, nil
	s.xml.at.Row = number
	s.text, s.cells, s.kinds, s.spans = s.text[:0], s.cells[:0], s.kinds[:0], s.spans[:0]
	return nil
}

// readRow reads the cells of a row.
func (s *sheetSource) readRow() (Row, error) {
	for {
		if simple, err := s.readSimpleCell(); err != nil {
			return Row{}, err
		} else if simple {
			continue
		}
		tok, err := s.xml.next()
		switch {
		case err != nil:
			return Row{}, err
		case tok == endTag:
			return s.endRow(), nil
		case tok != startTag:
			continue
		case string(s.xml.name) == "c":
			err = s.readCell()
		default:
			err = s.xml.skip()
		}
		if err != nil {
			return Row{}, err
		}
	}
}

// endRow makes a row of the cells read. All text of its own becomes a single
// string, of which the cells are parts.
func (s *sheetSource) endRow() Row {
	if !utf8.Valid(s.text) {
		s.rejectText()
	}
	text := string(s.text)
	for _, sp := range s.spans {
		s.cells[sp.column-1] = text[sp.start:sp.end]
	}
	return Row{Number: s.row, Cells: s.cells, kinds: s.kinds}
}

// reject notes an error of the cell being read, if it is its row's first.
func (s *sheetSource) reject(found, wanted string) {
	if s.bad == nil {
		s.bad = &Error{File: s.xml.at.File, Row: s.row, Column: s.column, Found: found, Wanted: wanted}
	}
}

// rejectText notes the first cell that is not UTF-8.
func (s *sheetSource) rejectText() {
	for _, sp := range s.spans {
		if cell := s.text[sp.start:sp.end]; !utf8.Valid(cell) {
			s.column = sp.column
			s.reject("text that is not UTF-8: "+quote(string(cell)), "UTF-8")
			return
		}
	}
}

// put sets the kind of the cell being read and makes room for its text.
func (s *sheetSource) put(kind CellKind, text string) {
	for len(s.cells) < s.column {
		s.cells = append(s.cells, "")
		s.kinds = append(s.kinds, Text)
	}
	s.cells[s.column-1] = text
	s.kinds[s.column-1] = kind
}
