// Package workbook writes the auditor's workbook: an .xlsx file that can be read, filtered, printed and
// recomputed without the program that made it.
//
// A book is declared first and written afterwards. Sheets are declared in the order in which they shall
// stand, tables with their columns and the number of their rows, so that every cell has its place before
// any is written; formulas then name columns and tables, never letters. All formulas carry the result
// that the program knows, and every sheet is streamed: only there does the library write both. Of long
// tables it writes all but the rows, which are set in compressed: see longRows. The same declaration gives
// the same bytes.
package workbook

import (
	"context"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"
)

// maxSheetRows is the number of rows of a sheet, set by the file format.
const maxSheetRows = 1 << 20

// properties say what a workbook is. Nothing in the file comes from the clock or the machine.
type properties struct {
	title    string
	subtitle string // below the title of every sheet: the yard, the period, the basis of the figures
	author   string
	program  string         // the program and its version
	made     time.Time      // the instant of the close, not of the writing
	zone     *time.Location // the yard's, in which instants are shown
	page     pageText
	paper    paper // 0 is A4
}

// book is a declared workbook. Its first error is kept and ends the writing.
type book struct {
	props     properties
	sheets    []*sheet
	names     []definedName
	taken     map[string]bool // names of sheets, tables and cells, in lower case
	sheetRows int             // rows of a sheet; tests lower it
	err       error

	file   *excelize.File // nil before anything of it is needed
	styles *styles
	long   []*longRows            // to be closed
	rows   map[string]*packedRows // to be set into sheets, by their names
}

// definedName is a name for one cell.
type definedName struct {
	name string
	cell cellRef
}

func newBook(p properties) *book {
	b := &book{props: p, taken: make(map[string]bool), sheetRows: maxSheetRows}
	if p.zone == nil {
		b.props.zone = time.UTC
		b.fail(errors.New("workbook: no time zone"))
	}
	if p.made.IsZero() {
		b.fail(errors.New("workbook: no instant of making"))
	}
	if p.paper == 0 {
		b.props.paper = paperA4
	}
	return b
}

// fail keeps the first error.
func (b *book) fail(err error) {
	if b.err == nil {
		b.err = err
	}
}

// take reserves a name and reports whether it was free. Spreadsheets tell no cases apart.
func (b *book) take(name string) bool {
	name = strings.ToLower(name)
	free := !b.taken[name]
	b.taken[name] = true
	return free
}

var (
	cellName = regexp.MustCompile(`^[A-Za-z_][A-Za-z0-9_]*$`)
	// A name that reads as a cell, A1 to XFD1048576 or R1C1, would mean that cell.
	cellLike = regexp.MustCompile(`^(?i:[a-z]{1,3}[0-9]+|r[0-9]*c?[0-9]*|c[0-9]*)$`)
)

// name gives a cell a name that formulas can use: for single parameters and check totals only, since a
// reader cannot see where a name points.
func (b *book) name(name string, cell cellRef) {
	switch {
	case !cellName.MatchString(name) || cellLike.MatchString(name):
		b.fail(fmt.Errorf("name %q: want letters, digits and underscores that do not read as a cell", name))
	case !b.take(name):
		b.fail(fmt.Errorf("name %q: is taken", name))
	}
	b.names = append(b.names, definedName{name, cell})
}

// open begins the file.
func (b *book) open() error {
	if b.file != nil {
		return nil
	}
	b.file = excelize.NewFile()
	b.styles, b.rows = newStyles(b.file), make(map[string]*packedRows)
	return b.file.SetDefaultFont(fontFamily)
}

// close lets go of what has been written so far.
func (b *book) close() (err error) {
	for _, l := range b.long {
		err = errors.Join(err, l.close())
	}
	if b.file != nil {
		err = errors.Join(err, b.file.Close())
	}
	b.file, b.long = nil, nil
	return err
}

// write writes the workbook to w, once. It uses the temporary folder for sheets above 16 MiB. On an error nothing, or the
// beginning of a file, has been written.
func (b *book) write(ctx context.Context, w io.Writer) (err error) {
	defer func() { err = errors.Join(err, b.close()) }()
	if b.err != nil {
		return b.err
	}
	if len(b.sheets) == 0 {
		return errors.New("workbook: no sheets")
	}
	if err := errors.Join(b.open(), b.prepare(b.file)); err != nil {
		return fmt.Errorf("workbook: %w", err)
	}
	for _, s := range b.sheets {
		if err := s.write(ctx, b.file, b.styles); err != nil {
			return fmt.Errorf("sheet %q: %w", s.name, err)
		}
	}
	a := newArchive()
	a.rows = b.rowsByPart()
	b.file.SetZipWriter(func(io.Writer) excelize.ZipWriter { return a })
	if err := b.file.Write(io.Discard); err != nil {
		return fmt.Errorf("workbook: %w", err)
	}
	_, err = a.WriteTo(w)
	return err
}

// rowsByPart returns the rows to be set in by the names that the library gives the parts of sheets, in their order.
func (b *book) rowsByPart() map[string]*packedRows {
	rows, n := make(map[string]*packedRows), 0
	for _, s := range b.sheets {
		for _, name := range s.parts {
			n++
			if packed := b.rows[name]; packed != nil {
				rows[fmt.Sprintf("xl/worksheets/sheet%d.xml", n)] = packed
			}
		}
	}
	return rows
}

// prepare creates the sheets in order and sets what concerns the whole file.
func (b *book) prepare(f *excelize.File) error {
	first := f.GetSheetName(0)
	for i, s := range b.sheets {
		for j, name := range s.parts {
			if i == 0 && j == 0 {
				if err := f.SetSheetName(first, name); err != nil {
					return err
				}
				continue
			}
			if _, err := f.NewSheet(name); err != nil {
				return err
			}
		}
	}
	for _, n := range b.names {
		if err := f.SetDefinedName(&excelize.DefinedName{Name: n.name, RefersTo: n.cell.String()}); err != nil {
			return fmt.Errorf("name %q: %w", n.name, err)
		}
	}
	made := b.props.made.UTC().Format(time.RFC3339)
	if err := f.SetDocProps(&excelize.DocProperties{Title: cleanLine(b.props.title), Subject: cleanLine(b.props.subtitle),
		Creator: cleanLine(b.props.author), LastModifiedBy: cleanLine(b.props.author), Created: made, Modified: made}); err != nil {
		return err
	}
	return f.SetAppProps(&excelize.AppProperties{Application: cleanLine(b.props.program)})
}
