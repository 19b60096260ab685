package workbook

import (
	"context"
	"errors"
	"fmt"
	"strconv"
)

// longRows writes the data rows of a long table as the file format has them, and packs them: the library's own writer of
// rows takes several times as long. They are set into the table's sheets when the library is done with these. Rows can be
// written before their table is declared, where that has no formulas: so entries are read once, and counted as they are
// written.
type longRows struct {
	book    *book
	table   *table // nil before it is declared
	columns []longColumn
	wrapped []int // columns whose long texts are broken into lines
	clock   *clock
	keys    keySet
	texts   map[string][]byte // keys as a cell has them
	packer  *packer
	parts   []part // without the names of their sheets
	packed  []*packedRows
	count   int
}

// longColumn is a column with what its cells have in common.
type longColumn struct {
	column
	open, plain, calculated []byte // up to the row's number, and from there to what is in the cell
}

// newLongRows begins the rows of a table with its heads in a row of its first sheet. They must be ended, and closed.
func (b *book) newLongRows(columns []column, header int) (*longRows, error) {
	if err := b.open(); err != nil {
		return nil, err
	}
	l := &longRows{book: b, clock: newClock(b.props.zone), keys: make(keySet), texts: make(map[string][]byte), packer: newPacker()}
	b.long = append(b.long, l)
	for i, c := range columns {
		c.complete(b.props.zone.String())
		look, err := b.styles.look(&c)
		if err != nil {
			return nil, err
		}
		if c.wrap {
			l.wrapped = append(l.wrapped, i)
		}
		l.columns = append(l.columns, longColumn{column: c, open: []byte(`<c r="` + columnLetters(i+1)), plain: styleAttribute(look.plain), calculated: styleAttribute(look.calculated)})
	}
	l.begin(header)
	return l, nil
}

// styleAttribute returns the style of a cell without its last quote, after the quote of the reference.
func styleAttribute(id int) []byte { return []byte(`" s="` + strconv.Itoa(id)) }

// begin begins a part.
func (l *longRows) begin(header int) {
	l.parts = append(l.parts, part{header: header, first: l.count})
	l.packed = append(l.packed, new(packedRows))
}

// add writes a row. The values may be used again.
func (l *longRows) add(values []value) error {
	if len(values) != len(l.columns) {
		return fmt.Errorf("row %d: %d values for %d columns", l.count, len(values), len(l.columns))
	}
	last := len(l.parts) - 1
	if l.parts[last].rows > 0 && l.parts[last].lastRow() >= l.book.sheetRows {
		if err := l.packer.flush(l.packed[last]); err != nil {
			return err
		}
		l.begin(firstBlockRow)
		last++
	}
	l.parts[last].rows++
	var digits [20]byte
	number := strconv.AppendInt(digits[:0], int64(l.parts[last].lastRow()), 10)
	b := l.openRow(l.packer.block.raw, number, values)
	for c := range values {
		var err error
		if b, err = l.appendCell(b, number, c, &values[c]); err != nil {
			return fmt.Errorf("column %q, row %d: %w", l.columns[c].key, l.count, err)
		}
	}
	l.packer.block.raw = append(b, `</row>`...)
	l.count++
	if len(l.packer.block.raw) >= blockBytes {
		return l.packer.flush(l.packed[last])
	}
	return nil
}

// openRow appends the start of a row, with its height where it needs more than one line.
func (l *longRows) openRow(b, number []byte, values []value) []byte {
	b = append(append(append(b, `<row r="`...), number...), '"')
	lines := 1
	for _, c := range l.wrapped {
		lines = max(lines, linesIn(values[c].text, l.columns[c].width))
	}
	height := heightOf(lines)
	if l.table != nil {
		height = max(height, l.table.spec.height)
	}
	if height > 0 {
		b = strconv.AppendFloat(append(b, ` ht="`...), height, 'f', -1, 64)
		b = append(b, `" customHeight="1"`...)
	}
	return append(b, '>')
}

var errFormulaAhead = errors.New("a formula cannot be written before its table is declared")

// appendCell appends the cell of a column.
func (l *longRows) appendCell(b, number []byte, c int, v *value) ([]byte, error) {
	col := &l.columns[c]
	if v.kind != 0 && v.kind != col.kind && col.kind != kindAny {
		return b, fmt.Errorf("want %s, not %s", col.kind, v.kind)
	}
	b = append(append(b, col.open...), number...)
	if v.formula == "" && (v.kind == 0 || col.formula == "") {
		if col.kind == kindAny {
			return l.appendAny(b, col, v)
		}
		b = append(b, col.plain...)
		if col.isKey && v.kind == kindText {
			return l.appendKey(b, v)
		}
		return appendContent(b, v, l.clock)
	}
	if l.table == nil {
		return b, errFormulaAhead
	}
	if col.isKey && v.kind == kindText {
		if err := l.keys.check(v.text); err != nil {
			return b, err
		}
	}
	computed := *v
	if err := errors.Join(l.table.resolve(&computed, c, l.count), checkFormula(&computed)); err != nil {
		return b, err
	}
	if col.kind == kindAny {
		return l.appendAny(b, col, &computed)
	}
	return appendContent(append(b, col.calculated...), &computed, l.clock)
}

// appendAny appends the style and the content of a cell that goes by its own kind.
func (l *longRows) appendAny(b []byte, col *longColumn, v *value) ([]byte, error) {
	if v.kind == 0 {
		return appendContent(append(b, col.plain...), v, l.clock)
	}
	id, err := l.book.styles.id(col.style(v.kind, v.places, v.formula != ""))
	if err != nil {
		return b, err
	}
	return appendContent(append(b, styleAttribute(id)...), v, l.clock)
}

// appendKey appends the content of a cell that holds a key. There are few, each in many rows.
func (l *longRows) appendKey(b []byte, v *value) ([]byte, error) {
	content, ok := l.texts[v.text]
	if !ok {
		if err := l.keys.check(v.text); err != nil {
			return b, err
		}
		var err error
		if content, err = appendText(nil, v); err != nil {
			return b, err
		}
		l.texts[v.text] = content
	}
	return append(b, content...), nil
}

// end completes the rows. A table without any keeps a blank one.
func (l *longRows) end() error {
	if l.count == 0 {
		if err := l.add(make([]value, len(l.columns))); err != nil {
			return err
		}
		l.count = 0
	}
	err := l.packer.flush(l.packed[len(l.packed)-1])
	return errors.Join(err, l.stop())
}

// stop ends the packing.
func (l *longRows) stop() error {
	if l.packer == nil {
		return nil
	}
	err := l.packer.close()
	l.packer = nil
	return err
}

// close lets go of the rows.
func (l *longRows) close() error {
	err := l.stop()
	for _, p := range l.packed {
		err = errors.Join(err, p.store.Close())
	}
	l.parts, l.packed = nil, nil
	return err
}

// writeAhead writes the rows of a long table, unless that is done, before the library begins its sheets.
func (t *table) writeAhead(ctx context.Context) error {
	l := t.spec.written
	if l == nil {
		var err error
		if l, err = t.sheet.book.newLongRows(t.spec.columns, t.parts[0].header); err != nil {
			return err
		}
		l.table = t
		if err := l.draw(ctx); err != nil {
			return fmt.Errorf("table %q: %w", t.spec.name, err)
		}
	}
	for i, p := range t.parts {
		p.sheet = ""
		if i >= len(l.parts) || l.parts[i] != p {
			return fmt.Errorf("table %q: its rows are written as %v, want %v", t.spec.name, l.parts, t.parts)
		}
		t.sheet.book.rows[t.sheet.parts[i]] = l.packed[i]
	}
	return nil
}

// draw writes the rows that the table declares.
func (l *longRows) draw(ctx context.Context) error {
	f := newFeed(l.table)
	defer f.stop()
	for i := range max(f.count, 1) {
		if i%checkEvery == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		values, err := f.row()
		if err != nil {
			return err
		}
		if err := l.add(values); err != nil {
			return err
		}
	}
	return errors.Join(f.end(), l.end())
}
