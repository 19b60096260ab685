package workbook

import (
	"errors"
	"fmt"
	"iter"
	"regexp"
	"strings"
)

// column declares one column of a table, once for all its rows.
type column struct {
	key     string // the name formulas call it by: lower case, digits, underscores
	head    string // what the reader sees
	unit    string // in brackets after the head; "" takes the kind's own: t, %, or the zone of an instant
	kind    kind
	places  int     // decimals of a kindNumber
	role    role    // 0: roleCalculation where there is a formula, else roleData
	width   float64 // in characters; 0 goes by the kind
	formula string  // for every cell that has a value but no formula of its own; see template
	isKey   bool    // SUMIFS looks rows up by this text; see keyText
	wrap    bool    // long text is broken into lines
	note    string  // what the column means, for the sheet of definitions

	choices     []string // the only texts a person may enter
	choicesFrom span     // or the column of another table that lists them
	alarm       []string // texts that call for attention: shown white on red, and bold
}

// tableSpec declares a table. It begins in the first column of its sheet.
type tableSpec struct {
	name    string // letters, digits and underscores, unique in the book
	title   string // heading above the table; "" is none
	about   string // note below the heading
	columns []column
	count   int                       // data rows to come
	rows    iter.Seq2[[]value, error] // yields count rows of one value a column; may reuse the slice
	written *longRows                 // in place of rows: those of a long table, which are written already
	total   []value                   // one a column, or nil; masses, numbers and counts are summed by formula
	places  string                    // reference to the decimals that sums in the total are rounded to; "" does not round
	main    bool                      // the sheet's subject: filter, frozen heads, heads on every page
	filter  bool                      // a filter on a table that is not the main one
	frozen  int                       // leading columns that stay in sight, of a main table
	long    bool                      // main, total above the heads, may go on in further sheets
	height  float64                   // least height of a data row in points, to be written in by hand; 0 is one line
}

// table is a declared table, whose cells can be referred to.
type table struct {
	spec  tableSpec
	sheet *sheet
	top   int // row of the heading above it, or of its first own row
	index map[string]int
	forms []template // the columns' formulas, nil where there is none
	parts []part
	total int // row of the total, on the first sheet above the heads or on the last below; 0 is none
}

// part is the piece of a table on one sheet.
type part struct {
	sheet  string
	header int // row of the heads; data begin below
	first  int // index of the first data row
	rows   int // at least 1: an empty table keeps one blank row
}

func (p part) firstRow() int { return p.header + 1 }
func (p part) lastRow() int  { return p.header + p.rows }

// rowsOf yields rows that lie ready.
func rowsOf(rows ...[]value) iter.Seq2[[]value, error] {
	return func(yield func([]value, error) bool) {
		for _, r := range rows {
			if !yield(r, nil) {
				return
			}
		}
	}
}

var (
	columnKey = regexp.MustCompile(`^[a-z][a-z0-9_]*$`)
	tableName = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_]*$`)
)

// maxHead keeps a head with its unit within the 255 characters of a table's column name.
const maxHead = 60

// maxColumns is the number of columns of a sheet.
const maxColumns = 1 << 14

// maxHeaderRow bounds what is frozen on top: with more, a small window would show no data.
const maxHeaderRow = 12

// table lays a table out below what the sheet has so far. It returns a usable table even when the
// declaration is wrong; the book then holds the error.
func (s *sheet) table(spec tableSpec) *table {
	spec.main = spec.main || spec.long
	top := s.next
	if spec.title != "" {
		s.heading(spec.title)
	}
	if spec.about != "" {
		s.note(spec.about)
	}
	t := &table{spec: spec, sheet: s, top: top, index: make(map[string]int, len(spec.columns))}
	if err := t.declare(); err != nil {
		t.refuse("%w", err)
	}
	t.layOut()
	s.add(t)
	s.full = spec.long
	return t
}

// declare checks the columns and completes them.
func (t *table) declare() error {
	t.spec.columns = append([]column(nil), t.spec.columns...)
	t.forms = make([]template, len(t.spec.columns))
	heads := make(map[string]bool)
	for i := range t.spec.columns {
		c := &t.spec.columns[i]
		if c.kind < kindText || c.kind > kindAny {
			return fmt.Errorf("column %q: kind %d is none", c.key, c.kind)
		}
		c.complete(t.sheet.book.props.zone.String())
		if _, twice := t.index[c.key]; twice || !columnKey.MatchString(c.key) {
			return fmt.Errorf("column key %q: want lower-case letters, digits and underscores, each key once", c.key)
		}
		t.index[c.key] = i
		title := strings.ToLower(c.title())
		if heads[title] || c.head == "" {
			return fmt.Errorf("column %q: head %q is empty or stands twice", c.key, c.title())
		}
		heads[title] = true
	}
	for i, c := range t.spec.columns {
		if c.formula == "" {
			continue
		}
		form, err := parseTemplate(c.formula, t.index)
		if err != nil {
			return fmt.Errorf("column %q: %w", c.key, err)
		}
		t.forms[i] = form
	}
	return t.declareTable()
}

// declareTable checks what is not a matter of single columns.
func (t *table) declareTable() error {
	b, spec := t.sheet.book, t.spec
	switch {
	case !tableName.MatchString(spec.name):
		return errors.New("want a name of letters, digits and underscores")
	case !b.take(spec.name):
		return errors.New("the name is taken")
	case len(spec.columns) == 0 || len(spec.columns) > maxColumns:
		return fmt.Errorf("%d columns: want 1 to %d", len(spec.columns), maxColumns)
	case spec.count < 0 || spec.count > 0 && spec.rows == nil && spec.written == nil:
		return fmt.Errorf("%d rows declared and none given", spec.count)
	case spec.total != nil && len(spec.total) != len(spec.columns):
		return fmt.Errorf("%d totals for %d columns", len(spec.total), len(spec.columns))
	case spec.main && t.sheet.main != nil:
		return errors.New("the sheet has a main table already")
	}
	return nil
}

// complete fills in what the kind settles.
func (c *column) complete(zone string) {
	if c.role == 0 {
		c.role = roleData
		if c.formula != "" {
			c.role = roleCalculation
		}
	}
	if c.unit == "" {
		switch c.kind {
		case kindTonnes:
			c.unit = "t"
		case kindPercent:
			c.unit = "%"
		case kindInstant:
			c.unit = zone
		}
	}
	if c.width == 0 {
		c.width = map[kind]float64{kindText: 18, kindTonnes: 15, kindNumber: 13, kindPercent: 11, kindDate: 12,
			kindInstant: 20, kindInteger: 11, kindBool: 9, kindCheck: 11, kindAny: 18}[c.kind]
	}
	c.head, c.unit = clip(cleanLine(c.head), maxHead), clip(cleanLine(c.unit), maxHead)
	c.places = min(max(c.places, 0), maxPlaces)
}

// title returns the head as the cell shows it: "net [t]".
func (c column) title() string {
	if c.unit == "" {
		return c.head
	}
	return c.head + " [" + c.unit + "]"
}

// layOut settles the rows of every part and of the total.
func (t *table) layOut() {
	s, limit := t.sheet, t.sheet.book.sheetRows
	header := s.next
	above := t.spec.long && t.spec.total != nil
	if above {
		t.total, header = header, header+1
	}
	if t.spec.main && header > maxHeaderRow {
		t.refuse("heads in row %d cannot be frozen; want row %d or above", header, maxHeaderRow)
	}
	rest := max(t.spec.count, 1)
	here := rest
	if t.spec.long {
		here = min(rest, max(limit-header, 1))
	}
	t.parts = []part{{sheet: s.name, header: header, rows: here}}
	for rest -= here; rest > 0; rest -= here {
		last := t.parts[len(t.parts)-1]
		here = min(rest, limit-firstBlockRow)
		t.parts = append(t.parts, part{sheet: s.addPart(), header: firstBlockRow, first: last.first + last.rows, rows: here})
		if name := t.partName(len(t.parts) - 1); !s.book.take(name) {
			t.refuse("goes on as %q: the name is taken", name)
		}
	}
	bottom := t.parts[0].lastRow()
	if t.spec.total != nil && !above {
		bottom++
		t.total = bottom
	}
	if bottom > limit {
		t.refuse("ends in row %d of at most %d; declare it long", bottom, limit)
	}
	s.next = bottom + 2
	if t.spec.main {
		s.main = t
	}
}

// partName returns the name under which spreadsheets know the nth part: "Movements_2".
func (t *table) partName(nth int) string {
	if nth == 0 {
		return t.spec.name
	}
	return fmt.Sprintf("%s_%d", t.spec.name, nth+1)
}

// refuse notes the first thing that is wrong with the table's declaration or use, and returns what a
// formula shows in its place.
func (t *table) refuse(format string, args ...any) string {
	t.sheet.book.fail(fmt.Errorf("sheet %q: table %q: %w", t.sheet.name, t.spec.name, fmt.Errorf(format, args...)))
	return brokenRef
}

// lookUp returns the place of a column.
func (t *table) lookUp(key string) (int, bool) {
	i, ok := t.index[key]
	if !ok {
		t.refuse("no column %q", key)
	}
	return i, ok
}

// kindOf returns the kind of a column that exists.
func (t *table) kindOf(key string) kind { return t.spec.columns[t.index[key]].kind }

// cell returns the cell of a column in data row i, which counts from 0.
func (t *table) cell(key string, i int) cellRef {
	col, ok := t.lookUp(key)
	if ok && (i < 0 || i >= max(t.spec.count, 1)) {
		t.refuse("no row %d in %d", i, t.spec.count)
	}
	return t.at(col, i)
}

// at returns the cell of column number col, counted from 0, in data row i.
func (t *table) at(col, i int) cellRef {
	for _, p := range t.parts {
		if i < p.first+p.rows {
			return cellRef{p.sheet, col + 1, p.firstRow() + i - p.first}
		}
	}
	return cellRef{sheet: t.sheet.name}
}

// totalCell returns the cell of a column in the total row.
func (t *table) totalCell(key string) cellRef {
	col, _ := t.lookUp(key)
	if t.total == 0 {
		t.refuse("has no total")
	}
	return cellRef{t.parts[0].sheet, col + 1, t.total}
}

// column returns the whole of a column's data.
func (t *table) column(key string) span {
	col, _ := t.lookUp(key)
	s := span{table: t, col: col}
	for _, p := range t.parts {
		s.areas = append(s.areas, areaRef{p.sheet, col + 1, p.firstRow(), p.lastRow()})
	}
	return s
}
