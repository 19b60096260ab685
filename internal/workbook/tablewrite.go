package workbook

import (
	"context"
	"fmt"

	"github.com/xuri/excelize/v2"
)

// tableWriter writes one part of a table.
type tableWriter struct {
	*table
	part
	sheet *sheetWriter
	feed  *feed
	looks []cellLook // of each column's cells, so that rows need not look them up
}

// cellLook is the file's number for the style of a column's cells.
type cellLook struct{ plain, calculated int }

// look returns the styles of a column's cells, without a formula and with one.
func (s *styles) look(c *column) (l cellLook, err error) {
	if l.plain, err = s.id(c.style(c.kind, c.places, false)); err != nil {
		return l, err
	}
	l.calculated, err = s.id(c.style(c.kind, c.places, true))
	return l, err
}

func (t *table) extent(nth int) (row, cols int) {
	row = t.parts[nth].lastRow()
	if nth == 0 {
		row = max(row, t.total)
	}
	return row, len(t.spec.columns)
}

// emit writes the nth part of the table.
func (t *table) emit(ctx context.Context, w *sheetWriter, nth int) error {
	tw := &tableWriter{table: t, part: t.parts[nth], sheet: w}
	if err := tw.write(ctx, nth); err != nil {
		return fmt.Errorf("table %q: %w", t.spec.name, err)
	}
	return nil
}

func (w *tableWriter) write(ctx context.Context, nth int) error {
	above := nth == 0 && w.total > 0 && w.total < w.header
	below := nth == 0 && w.total > w.header
	if above {
		if err := w.writeTotal(); err != nil {
			return err
		}
	}
	if err := w.writeHeads(); err != nil {
		return err
	}
	if !w.spec.long { // or they are set in when the library is done
		if err := w.writeData(ctx); err != nil {
			return err
		}
	}
	if below {
		if err := w.writeTotal(); err != nil {
			return err
		}
	}
	return w.writeFeatures(nth)
}

// boldRoom is how much of a text in bold, as heads are, fits where the same in plain letters does.
const boldRoom = 0.85

func (w *tableWriter) writeHeads() error {
	lines := 1
	for i, c := range w.spec.columns {
		lines = max(lines, linesIn(c.title(), c.width*boldRoom))
		id, err := w.sheet.styles.id(styleKey{role: roleHeader, kind: c.kind})
		if err != nil {
			return err
		}
		if err := w.sheet.put(i, text(c.title()), id); err != nil {
			return err
		}
		look, err := w.sheet.styles.look(&c)
		if err != nil {
			return err
		}
		w.looks = append(w.looks, look)
	}
	return w.sheet.flushRow(w.header, len(w.spec.columns), heightOf(lines))
}

// checkEvery is how many rows are written between two looks at the context.
const checkEvery = 1 << 10

func (w *tableWriter) writeData(ctx context.Context) error {
	w.feed = newFeed(w.table)
	defer w.feed.stop()
	for i := range w.rows {
		if i%checkEvery == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		values, err := w.feed.row()
		if err != nil {
			return err
		}
		lines := 1
		for c, v := range values {
			col := &w.spec.columns[c]
			if err := w.writeCell(c, w.first+i, v); err != nil {
				return fmt.Errorf("column %q, row %d: %w", col.key, w.first+i, err)
			}
			if col.wrap {
				lines = max(lines, linesIn(v.text, col.width))
			}
		}
		if err := w.sheet.flushRow(w.firstRow()+i, len(values), max(heightOf(lines), w.spec.height)); err != nil {
			return err
		}
	}
	return w.feed.end()
}

// writeCell sets the cell of column c in data row i.
func (w *tableWriter) writeCell(c, i int, v value) error {
	col := &w.spec.columns[c]
	if v.kind != 0 && v.kind != col.kind && col.kind != kindAny {
		return fmt.Errorf("want %s, not %s", col.kind, v.kind)
	}
	if col.isKey && v.kind == kindText {
		if err := w.feed.keys.check(v.text); err != nil {
			return err
		}
	}
	if err := w.resolve(&v, c, i); err != nil {
		return err
	}
	id := w.looks[c].plain
	switch {
	case col.kind == kindAny && v.kind != 0:
		var err error
		if id, err = w.sheet.styles.id(col.style(v.kind, v.places, v.formula != "")); err != nil {
			return err
		}
	case v.formula != "":
		id = w.looks[c].calculated
	}
	return w.sheet.put(c, v, id)
}

// writeTotal writes the total row. What can be added up is added up by a formula over all parts.
func (w *tableWriter) writeTotal() error {
	for c, v := range w.spec.total {
		if err := w.writeTotalCell(c, v); err != nil {
			return fmt.Errorf("total of column %q: %w", w.spec.columns[c].key, err)
		}
	}
	return w.sheet.flushRow(w.total, len(w.spec.total), 0)
}

// summed reports whether a cell of the total row is the sum of its column.
func summed(v value) bool {
	return v.kind == kindTonnes || v.kind == kindNumber || v.kind == kindInteger
}

func (w *tableWriter) writeTotalCell(c int, v value) error {
	if v.formula == "" && summed(v) {
		v.formula = w.sumOf(c)
	}
	if v.formula != "" {
		if err := w.resolve(&v, c, inTotal); err != nil {
			return err
		}
	}
	id, err := w.sheet.styles.id(styleKey{role: roleTotal, kind: v.kind, places: w.spec.columns[c].places, formula: v.formula != ""})
	if err != nil {
		return err
	}
	return w.sheet.put(c, v, id)
}

// writeFeatures adds what lies over the cells: formats by word, drop-downs, the filter.
func (w *tableWriter) writeFeatures(nth int) error {
	for i, c := range w.spec.columns {
		cells := areaRef{w.part.sheet, i + 1, w.firstRow(), w.lastRow()}.plain()
		if err := w.sheet.markWords(c, cells); err != nil {
			return err
		}
		if err := w.sheet.offerChoices(c, cells); err != nil {
			return err
		}
	}
	if !w.spec.main && !w.spec.filter {
		return nil
	}
	stripes := false
	return w.sheet.stream.AddTable(&excelize.Table{Name: w.partName(nth), ShowRowStripes: &stripes,
		Range: cellRef{col: 1, row: w.header}.local() + ":" + cellRef{col: len(w.spec.columns), row: w.lastRow()}.local()})
}
