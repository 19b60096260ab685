package table

import (
	"fmt"
	"io"
	"path"
	"slices"
	"strings"
)

// Workbook is an .xlsx file opened for reading its sheets. It must not be used
// by more than one goroutine at a time.
type Workbook struct {
	name     string
	archive  *archive
	sheets   []sheet
	date1904 bool // serial 0 is 1904-01-01
	formats  []numberFormat
	strings  *sharedStrings
	texts    string // part of the shared strings, "" if there are none
	read     bool   // strings has been read
}

// sheet is a worksheet of a workbook. Chart sheets hold no cells.
type sheet struct {
	name   string
	hidden bool
	part   string
}

// relationship is a link from one part to another (ECMA-376 part 2, 6.5).
type relationship struct {
	id     string
	kind   string // last element of its type, the same in both conformance classes
	target string // part
}

// OpenWorkbook reads the list of sheets of an .xlsx file of so many bytes.
// name stands in positions. r must stay readable as long as the Workbook or
// one of its Readers is used; there is nothing to close.
func (l Limits) OpenWorkbook(name string, r io.ReaderAt, size int64) (*Workbook, error) {
	a, err := openArchive(name, r, size, l)
	if err != nil {
		return nil, err
	}
	w := &Workbook{name: name, archive: a}
	main, err := w.mainPart()
	if err != nil {
		return nil, err
	}
	rels, err := w.relationships(main)
	if err != nil {
		return nil, err
	}
	if err := w.readMain(main, rels); err != nil {
		return nil, err
	}
	for _, rel := range rels {
		switch rel.kind {
		case "styles":
			if w.formats, err = w.readFormats(rel.target); err != nil {
				return nil, err
			}
		case "sharedStrings":
			w.texts = rel.target
		}
	}
	return w, nil
}

// mainPart returns the part that holds the list of sheets.
func (w *Workbook) mainPart() (string, error) {
	rels, err := w.relationships("")
	if err != nil {
		return "", err
	}
	for _, rel := range rels {
		if rel.kind != "officeDocument" {
			continue
		}
		if path.Ext(rel.target) == ".bin" {
			return "", w.archive.fail("a binary workbook (.xlsb)", "an .xlsx workbook")
		}
		return rel.target, nil
	}
	return "", w.archive.fail("a zip archive without a workbook", "an .xlsx workbook")
}

// relationships reads the links from a part, or from the whole archive if part
// is "". Links to outside are left out.
func (w *Workbook) relationships(part string) ([]relationship, error) {
	folder, base := path.Split(part)
	x, err := w.archive.open(folder+"_rels/"+base+".rels", w.name)
	if err != nil {
		return nil, err
	}
	if err := x.root("Relationships"); err != nil {
		return nil, err
	}
	var rels []relationship
	err = x.each(func(name string) error {
		if name != "Relationship" {
			return x.skip()
		}
		rel, outside, err := x.relationship(folder)
		if err != nil {
			return err
		}
		if !outside {
			rels = append(rels, rel)
		}
		if len(rels) > w.archive.limits.Parts {
			return x.fail("too many relationships", fmt.Sprintf("at most %d", w.archive.limits.Parts), nil)
		}
		return x.skip()
	})
	if err != nil {
		return nil, err
	}
	return rels, x.rest()
}

// relationship reads the attributes of a Relationship element. Its target is
// relative to folder unless it begins with a slash.
func (x *xmlReader) relationship(folder string) (rel relationship, outside bool, err error) {
	var mode string
	for _, f := range []struct {
		attr string
		to   *string
	}{{"Id", &rel.id}, {"Type", &rel.kind}, {"Target", &rel.target}, {"TargetMode", &mode}} {
		if *f.to, err = x.attr(f.attr); err != nil {
			return rel, false, err
		}
	}
	if mode == "External" {
		return rel, true, nil
	}
	rel.kind = path.Base(rel.kind)
	part := strings.TrimPrefix(rel.target, "/")
	if part == rel.target {
		part = folder + part
	}
	if part = path.Clean(part); !safeName(part) {
		return rel, false, x.fail("the relationship target "+quote(rel.target), "a part inside the archive", nil)
	}
	rel.target = part
	return rel, false, nil
}

// readMain reads the list of sheets and the date system.
func (w *Workbook) readMain(part string, rels []relationship) error {
	x, err := w.archive.open(part, w.name)
	if err != nil {
		return err
	}
	if err := x.root("workbook"); err != nil {
		return err
	}
	err = x.each(func(name string) error {
		switch name {
		case "workbookPr":
			v, err := x.attr("date1904")
			if err != nil {
				return err
			}
			w.date1904 = v == "1" || v == "true" || v == "on"
			return x.skip()
		case "sheets":
			return x.each(func(name string) error {
				if name != "sheet" {
					return x.skip()
				}
				if err := w.addSheet(x, rels); err != nil {
					return err
				}
				return x.skip()
			})
		default:
			return x.skip()
		}
	})
	if err != nil {
		return err
	}
	return x.rest()
}

// addSheet reads the attributes of a sheet element.
func (w *Workbook) addSheet(x *xmlReader, rels []relationship) error {
	name, err := x.attr("name")
	if err != nil {
		return err
	}
	state, err := x.attr("state")
	if err != nil {
		return err
	}
	id := ""
	for _, a := range x.attrs { // r:id, under whatever prefix
		if strings.HasSuffix(string(a.name), ":id") {
			if id, err = x.value(a); err != nil {
				return err
			}
		}
	}
	i := slices.IndexFunc(rels, func(r relationship) bool { return r.id == id })
	switch {
	case i < 0:
		return x.fail(fmt.Sprintf("the sheet %s with the unknown relationship %s", quote(name), quote(id)),
			"one that the workbook's relationships list", nil)
	case rels[i].kind != "worksheet":
		return nil
	case w.find(name) != nil:
		return x.fail("the sheet name "+quote(name)+" twice", "one sheet of each name", nil)
	case len(w.sheets) == w.archive.limits.Parts:
		return x.fail("too many sheets", fmt.Sprintf("at most %d", w.archive.limits.Parts), nil)
	}
	w.sheets = append(w.sheets, sheet{name: name, hidden: state == "hidden" || state == "veryHidden", part: rels[i].target})
	return nil
}

// find returns the sheet of this name, which ignores case, or nil.
func (w *Workbook) find(name string) *sheet {
	for i := range w.sheets {
		if strings.EqualFold(w.sheets[i].name, name) {
			return &w.sheets[i]
		}
	}
	return nil
}

// Sheets returns the names of the sheets that hold cells, hidden ones too, in
// the workbook's order.
func (w *Workbook) Sheets() []string {
	names := make([]string, len(w.sheets))
	for i, s := range w.sheets {
		names[i] = s.name
	}
	return names
}

// Hidden reports whether the workbook hides the sheet of this name.
func (w *Workbook) Hidden(sheet string) bool {
	s := w.find(sheet)
	return s != nil && s.hidden
}

// Open reads the header of a sheet, whose name ignores case. It may be called
// any number of times, and again for the same sheet.
func (w *Workbook) Open(sheet string, lay Layout) (*Reader, error) {
	s := w.find(sheet)
	if s == nil {
		return nil, w.archive.fail("no sheet "+quote(sheet), "one of "+quote(strings.Join(w.Sheets(), ", ")))
	}
	name := w.name + "[" + s.name + "]"
	headerRow, err := lay.headerRow()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if !w.read {
		if w.strings, err = w.readStrings(); err != nil {
			return nil, err
		}
		w.read = true
	}
	src, err := w.openSheet(s.part, name, headerRow)
	if err != nil {
		return nil, err
	}
	return newReader(name, src, headerRow)
}
