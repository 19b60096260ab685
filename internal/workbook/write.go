package workbook

import (
	"context"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"
)

// sheetWriter streams one sheet. The order of its calls is the order of the file format; the library
// takes charts, formats and validations only until the stream is flushed.
type sheetWriter struct {
	file   *excelize.File
	stream *excelize.StreamWriter
	styles *styles
	book   *book
	sheet  string
	width  float64         // of all columns, in characters
	wide   int             // pages side by side that it is printed on
	page   int             // first row of the page at hand, as far as that can be told
	cells  []excelize.Cell // of the row at hand
	row    []any           // points into cells
}

// write writes the sheet and those it goes on in.
func (s *sheet) write(ctx context.Context, f *excelize.File, st *styles) error {
	if s.full {
		if err := s.main.writeAhead(ctx); err != nil {
			return err
		}
	}
	for nth, name := range s.parts {
		w := &sheetWriter{file: f, styles: st, book: s.book, sheet: name}
		if err := s.writePart(ctx, w, nth); err != nil {
			return err
		}
	}
	return nil
}

func (s *sheet) writePart(ctx context.Context, w *sheetWriter, nth int) error {
	blocks := s.blocks
	if nth > 0 {
		blocks = []block{s.main}
	}
	if err := w.open(s, blocks, nth); err != nil {
		return err
	}
	if !s.bare {
		if err := w.line(titleRow, roleTitle, s.partTitle(nth)); err != nil {
			return err
		}
		if err := w.line(subtitleRow, roleSubtitle, cleanLine(s.book.props.subtitle)); err != nil {
			return err
		}
	}
	for _, b := range blocks {
		if t, ok := b.(*table); ok && nth == 0 {
			last, _ := t.extent(nth)
			if err := w.keepTogether(s, t.top, last); err != nil {
				return err
			}
		}
		if err := b.emit(ctx, w, nth); err != nil {
			return err
		}
	}
	if err := w.setPage(s, nth); err != nil {
		return err
	}
	return w.stream.Flush()
}

// open begins the stream, after what must be settled before it and before the first row.
func (w *sheetWriter) open(s *sheet, blocks []block, nth int) error {
	rows, cols := subtitleRow, 1
	if s.bare {
		rows = 0
	}
	for _, b := range blocks {
		r, c := b.extent(nth)
		rows, cols = max(rows, r), max(cols, c)
	}
	yes, fit, grid, height := true, s.scale == 0, s.bare, float64(lineHeight)
	if err := w.file.SetSheetProps(w.sheet, &excelize.SheetPropsOptions{FitToPage: &fit, DefaultRowHeight: &height, CustomHeight: &yes}); err != nil {
		return err
	}
	if err := w.file.SetSheetView(w.sheet, -1, &excelize.ViewOptions{ShowGridLines: &grid}); err != nil {
		return err
	}
	// Readers that trust the dimension see nothing outside it, and the stream states it first.
	if err := w.file.SetSheetDimension(w.sheet, "A1:"+cellRef{col: cols, row: rows}.local()); err != nil {
		return err
	}
	stream, err := w.file.NewStreamWriter(w.sheet)
	if err != nil {
		return err
	}
	w.stream, w.page = stream, 1
	w.cells = make([]excelize.Cell, cols)
	w.row = make([]any, cols)
	columns := widths(blocks, cols)
	w.wide = 1
	if s.scale == 0 {
		w.wide = pagesWide(columns, min(s.repeated(), cols))
	}
	// The library writes the columns in the reverse order of these calls, and the file format wants them in
	// theirs.
	for i, width := range slices.Backward(columns) {
		if width == 0 {
			continue
		}
		w.width += width
		if err := stream.SetColWidth(i+1, i+1, width); err != nil {
			return err
		}
	}
	for _, b := range blocks {
		if f, ok := b.(*form); ok {
			return f.begin(w)
		}
	}
	return w.freeze(s, nth)
}

// widths returns the widest declaration for each column, 0 where there is none.
func widths(blocks []block, cols int) []float64 {
	out := make([]float64, cols)
	for _, b := range blocks {
		switch b := b.(type) {
		case *table:
			for i, c := range b.spec.columns {
				out[i] = max(out[i], c.width)
			}
		case chartBlock:
			if b.size == smallChart() {
				out[0] = max(out[0], smallChartColumn)
			}
		}
	}
	return out
}

// freeze keeps the leading columns of a main table in sight, and its heads where they can be.
func (w *sheetWriter) freeze(s *sheet, nth int) error {
	if s.main == nil {
		return nil
	}
	columns, rows, pane := s.main.spec.frozen, 0, "topRight"
	if m := s.heads(); m != nil {
		rows, pane = m.parts[nth].header, "bottomLeft"
		if columns > 0 {
			pane = "bottomRight"
		}
	}
	if columns == 0 && rows == 0 {
		return nil
	}
	corner := cellRef{col: columns + 1, row: rows + 1}.local()
	return w.stream.SetPanes(&excelize.Panes{Freeze: true, XSplit: columns, YSplit: rows, TopLeftCell: corner,
		ActivePane: pane, Selection: []excelize.Selection{{SQRef: corner, ActiveCell: corner, Pane: pane}}})
}

// lineHeight is the height of a row of one line, in points.
const lineHeight = 15

// line writes one row of running text.
func (w *sheetWriter) line(row int, r role, words string) error {
	id, err := w.styles.id(styleKey{role: r, kind: kindText})
	if err != nil {
		return err
	}
	w.cells[0] = excelize.Cell{StyleID: id, Value: words}
	w.row[0] = &w.cells[0]
	height := map[role]float64{roleTitle: 24, roleHeading: 18}[r]
	return w.flushRow(row, 1, height)
}

// put sets cell i of the row at hand.
func (w *sheetWriter) put(i int, v value, style int) error {
	content, err := v.content(w.book.props.zone)
	if err != nil {
		return err
	}
	if err := checkFormula(&v); err != nil {
		return err
	}
	w.cells[i] = excelize.Cell{StyleID: style, Formula: v.formula, Value: content}
	w.row[i] = &w.cells[i]
	return nil
}

// flushRow writes the first n cells of the row at hand. A height of 0 leaves it to the reader, who makes
// room for one line; what is broken into lines states its height, because not every reader looks.
func (w *sheetWriter) flushRow(row, n int, height float64) error {
	return w.stream.SetRow("A"+strconv.Itoa(row), w.row[:n], excelize.RowOpts{Height: height})
}

// heightOf estimates the height of a row from its fullest cell.
func heightOf(lines int) float64 {
	if lines < 2 {
		return 0
	}
	return min(float64(lines)*12.75+3, excelize.MaxRowHeight)
}

// linesIn estimates how many lines a text takes in a column. Letters are narrower than the digits in which
// the width of a column is counted.
func linesIn(s string, width float64) int {
	const lettersPerDigit = 1.15
	lines := 0
	room := max(int(width*lettersPerDigit), 1)
	if len(s) <= room && !strings.Contains(s, "\n") {
		return 1 // nearly always
	}
	for paragraph := range strings.SplitSeq(s, "\n") {
		for _, line := range wrap(paragraph, room) {
			lines += max(1, (utf8.RuneCountInString(line)+room-1)/room) // a word that is too long is broken anywhere
		}
	}
	return lines
}
