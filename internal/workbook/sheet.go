package workbook

import (
	"context"
	"fmt"
	"slices"
	"strings"
)

// The head of every sheet: title, subtitle, a blank row, and then its blocks.
const (
	titleRow      = 1
	subtitleRow   = 2
	firstBlockRow = 4
)

// noteWidth is where notes are broken into lines, in characters.
const noteWidth = 150

// maxSheetName is the longest name of a sheet, in UTF-16 units.
const maxSheetName = 31

// sheet is one subject of the book. Its blocks stand one below the other in the order they are declared;
// what does not fit goes on in further sheets.
type sheet struct {
	book   *book
	name   string
	title  string
	parts  []string // the sheet's own name, then those it goes on in
	blocks []block
	next   int    // row of the next block
	full   bool   // a long table ends the sheet
	main   *table // or nil

	onePage bool // printed on one page, where its columns fit on one
	scale   int  // per cent at which it is printed, with its page breaks where they are set; 0 fits it to a page's width
	bare    bool // without title and subtitle: the first block is all that it has
}

// bareSheet begins a sheet that other programs read: nothing stands above its first block.
func (b *book) bareSheet(name string) *sheet {
	s := b.sheet(name, name)
	s.bare, s.next = true, 1
	return s
}

// block is a piece of a sheet that knows its rows.
type block interface {
	// emit writes the block's rows of the sheet's nth part.
	emit(ctx context.Context, w *sheetWriter, nth int) error
	// extent returns the last row it writes on that part and its number of columns.
	extent(nth int) (row, cols int)
}

// sheet begins a sheet. Sheets stand in the order of these calls, whatever the order in which their
// blocks are declared.
func (b *book) sheet(name, title string) *sheet {
	s := &sheet{book: b, name: name, title: cleanLine(title), parts: []string{name}, next: firstBlockRow}
	if err := checkSheetName(name); err != nil {
		b.fail(err)
	} else if !b.take("sheet " + name) {
		b.fail(fmt.Errorf("sheet %q: the name is taken", name))
	}
	b.sheets = append(b.sheets, s)
	return s
}

// checkSheetName holds a name to what spreadsheets accept. "History" is a name Excel keeps to itself.
func checkSheetName(name string) error {
	if name == "" || units(name) > maxSheetName || name != cleanLine(name) || strings.ContainsAny(name, `:\/?*[]`) ||
		strings.HasPrefix(name, "'") || strings.HasSuffix(name, "'") || strings.EqualFold(name, "history") {
		return fmt.Errorf(`sheet %q: want a name of 1 to %d characters without : \ / ? * [ ]`, name, maxSheetName)
	}
	return nil
}

// addPart adds the sheet in which this one goes on, and returns its name: "Transactions 2".
func (s *sheet) addPart() string {
	suffix := fmt.Sprintf(" %d", len(s.parts)+1)
	name := s.name
	for units(name+suffix) > maxSheetName {
		r := []rune(name)
		name = string(r[:len(r)-1])
	}
	name += suffix
	if !s.book.take("sheet " + name) {
		s.book.fail(fmt.Errorf("sheet %q goes on in %q: the name is taken", s.name, name))
	}
	s.parts = append(s.parts, name)
	return name
}

// add appends a block, whose rows are already taken.
func (s *sheet) add(b block) {
	if s.full {
		s.book.fail(fmt.Errorf("sheet %q: nothing can stand below the long table %q", s.name, s.main.spec.name))
	}
	s.blocks = append(s.blocks, b)
}

// heading sets a heading above the next block.
func (s *sheet) heading(words string) {
	s.line(roleHeading, words)
}

// note sets a paragraph, broken into lines.
func (s *sheet) note(words string) {
	for _, l := range wrap(cleanLine(words), noteWidth) {
		s.line(roleNote, l)
	}
}

// heads returns the main table if no other stands below it: only then can its heads stay in sight, on the
// screen and on every page, without standing over the figures of another.
func (s *sheet) heads() *table {
	for _, b := range slices.Backward(s.blocks) {
		if t, ok := b.(*table); ok {
			if t == s.main {
				return t
			}
			return nil
		}
	}
	return nil
}

// gap leaves one row free.
func (s *sheet) gap() { s.next++ }

func (s *sheet) line(r role, words string) {
	s.add(line{row: s.next, role: r, words: cleanLine(words)})
	s.next++
}

// partTitle returns the title of the nth part: "Transactions (2 of 3)" where there are several.
func (s *sheet) partTitle(nth int) string {
	if len(s.parts) == 1 {
		return s.title
	}
	return fmt.Sprintf("%s (%d of %d)", s.title, nth+1, len(s.parts))
}

// line is a row of running text, which spreads over the empty cells to its right.
type line struct {
	row   int
	role  role
	words string
}

func (l line) emit(_ context.Context, w *sheetWriter, _ int) error {
	return w.line(l.row, l.role, l.words)
}

func (l line) extent(int) (row, cols int) { return l.row, 1 }
