package workbook

import (
	"fmt"
	"strings"

	"github.com/xuri/excelize/v2"
)

// paper is a size as the file format numbers it (ECMA-376 Part 1, 18.3.1.63).
type paper int

const (
	paperA4     paper = 9
	paperLetter paper = 1
)

// pageText is what every printed page carries beside the sheet's name and "page x of y".
type pageText struct {
	headLeft  string // the yard
	headRight string // the period and its status
	footLeft  string // the hash that ties the page to the ledger
}

// maxPageField keeps the three fields of a line and their codes within the 255 characters of the format.
const maxPageField = 75

// leastScale is the scale in per cent below which no sheet is printed on Letter, the narrower of the papers, so that
// figures of 10 points come out at 7 or more: a wider sheet takes more pages side by side.
const leastScale = 70

// pagesWide returns how many pages side by side columns of these widths in characters take, of which the leading ones
// are printed again on every page. A column that is wider than a page has one of its own, at a smaller scale.
func pagesWide(widths []float64, repeated int) int {
	const page = (11 - 2*sideMargin) * 96 * 100 / leastScale // pixels, of 96 to the inch
	pixels := func(width float64) float64 { return width*7 + 5 }
	lead := 0.0
	for _, width := range widths[:repeated] {
		lead += pixels(width)
	}
	pages, used := 1, lead
	for _, width := range widths[repeated:] {
		if used+pixels(width) > page && used > lead {
			pages, used = pages+1, lead
		}
		used += pixels(width)
	}
	return pages
}

// repeated returns how many leading columns are printed again where a sheet takes several pages side by side: what
// stays in sight on the screen, which names the row.
func (s *sheet) repeated() int {
	if s.main != nil && s.main.spec.frozen > 0 {
		return s.main.spec.frozen
	}
	return 1
}

// sideMargin is the margin left and right, in inches.
const sideMargin = 0.5

// setPage prepares printing: landscape, as many pages wide as it takes to be read, the heads of the main table on
// every page.
func (w *sheetWriter) setPage(s *sheet, nth int) error {
	p := s.book.props
	orientation, size, wide, high := "landscape", int(p.paper), w.wide, 0
	if s.onePage && wide == 1 {
		high = 1
	}
	layout := &excelize.PageLayoutOptions{Orientation: &orientation, Size: &size, FitToWidth: &wide, FitToHeight: &high}
	if wide > 1 {
		order := "overThenDown" // what belongs to a row stays together
		layout.PageOrder = &order
	}
	if s.scale > 0 {
		scale := uint(s.scale)
		layout = &excelize.PageLayoutOptions{Orientation: &orientation, Size: &size, AdjustTo: &scale}
	}
	if err := w.file.SetPageLayout(w.sheet, layout); err != nil {
		return err
	}
	side, end, edge := sideMargin, 0.55, 0.3 // inches
	if err := w.file.SetPageMargins(w.sheet, &excelize.PageLayoutMarginsOptions{Left: &side, Right: &side,
		Top: &end, Bottom: &end, Header: &edge, Footer: &edge}); err != nil {
		return err
	}
	if err := w.file.SetHeaderFooter(w.sheet, &excelize.HeaderFooterOptions{
		OddHeader: "&L" + pageField(p.page.headLeft) + "&R" + pageField(p.page.headRight),
		OddFooter: "&L" + pageField(p.page.footLeft) + "&C" + pageFont + "&A&R" + pageFont + "Page &P of &N",
	}); err != nil {
		return err
	}
	var titles []string
	if wide > 1 {
		titles = append(titles, fmt.Sprintf("%s$A:$%s", sheetPrefix(w.sheet), columnLetters(s.repeated())))
	}
	if m := s.heads(); m != nil {
		head := m.parts[nth].header
		titles = append(titles, fmt.Sprintf("%s$%d:$%d", sheetPrefix(w.sheet), head, head))
	}
	if titles == nil {
		return nil
	}
	return w.file.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Titles", Scope: w.sheet, RefersTo: strings.Join(titles, ",")})
}

// pageFont sets 8 points. The space ends the number, which a text beginning with a digit would prolong.
const pageFont = "&8 "

// pageField returns a text as the format's header codes want it, where & begins a code.
func pageField(s string) string {
	s = clip(cleanLine(s), maxPageField)
	escaped := strings.ReplaceAll(s, "&", "&&")
	for units(escaped) > maxPageField {
		s = clip(s, len([]rune(s))-1)
		escaped = strings.ReplaceAll(s, "&", "&&")
	}
	return pageFont + escaped
}

// keepTogether begins a page at the row first if the rows up to last would not fit on the page at hand but
// do on one of their own. Applications that fit pages to a width may break them elsewhere.
func (w *sheetWriter) keepTogether(s *sheet, first, last int) error {
	if s.onePage {
		return nil
	}
	rows := w.rowsPerPage(s)
	if last-w.page < rows {
		return nil
	}
	if last-first < rows {
		w.page = first
		return w.stream.InsertPageBreak(cellRef{col: 1, row: first}.local())
	}
	for last-w.page >= rows {
		w.page += rows
	}
	return nil
}

// rowsPerPage estimates how many rows surely fit on a page, from the width of the sheet's columns in
// characters: 30 at full size, and more where the sheet is scaled down.
func (w *sheetWriter) rowsPerPage(s *sheet) int {
	const rows, fullWidth = 30, 135
	if s.scale > 0 {
		return rows * 100 / s.scale
	}
	return int(rows * max(1, w.width/(fullWidth*float64(w.wide))))
}
