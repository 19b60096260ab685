package intake

import (
	"bytes"
	"cmp"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"repose/internal/table"
)

// Source is a file to take in.
type Source struct {
	Path string // as the user named it; its base name says which table it is
	Open func() (Content, error)
}

// Content is an opened file of a fixed size.
type Content interface {
	io.ReaderAt
	io.Closer
	Size() int64
}

// OnDisk returns a file of the file system.
func OnDisk(path string) Source {
	return Source{path, func() (Content, error) {
		f, err := os.Open(path)
		if err != nil {
			return nil, err
		}
		info, err := f.Stat()
		if err != nil {
			return nil, errors.Join(err, f.Close())
		}
		return diskContent{f, info.Size()}, nil
	}}
}

// diskContent is a file as long as it was when it was opened: what another program appends to it
// meanwhile is not read, so that what is read is what the book keeps.
type diskContent struct {
	*os.File
	size int64
}

func (c diskContent) Size() int64 { return c.size }

// InMemory returns a file that is held in memory.
func InMemory(path string, data []byte) Source {
	return Source{path, func() (Content, error) { return memoryContent{bytes.NewReader(data)}, nil }}
}

type memoryContent struct{ *bytes.Reader }

func (memoryContent) Close() error { return nil }

// File is a source with the tables that are in it.
type File struct {
	Source
	Map        *Map // nil where the headers are the tables' own
	Parts      []Part
	PassedOver []string // sheets that hold no table, such as notes
}

// Part is one table of a file: the whole of a CSV file, or a sheet.
type Part struct{ Sheet, Table string }

// Plan finds the files that paths name and the tables in them. A folder stands for the .csv and .xlsx
// files in it, and for those that a map's glob matches, but not for folders in it, files that begin with
// a point or with ~$ (a spreadsheet's lock), or column maps. What is wrong with names of files or sheets
// comes as *RowErrors.
func Plan(paths []string, maps []*Map) ([]File, error) {
	var sources []Source
	for _, p := range paths {
		info, err := os.Stat(p)
		if err != nil {
			return nil, err
		}
		if !info.IsDir() {
			sources = append(sources, OnDisk(p))
			continue
		}
		inside, err := folder(p, maps)
		if err != nil {
			return nil, err
		}
		sources = append(sources, inside...)
	}
	return Assign(sources, maps)
}

// folder lists the files of a folder that may be tables.
func folder(dir string, maps []*Map) ([]Source, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var sources []Source
	for _, e := range entries {
		name := e.Name()
		ext := strings.ToLower(filepath.Ext(name))
		if e.IsDir() || strings.HasPrefix(name, ".") || strings.HasPrefix(name, "~$") || ext == ".toml" {
			continue
		}
		matched := slices.ContainsFunc(maps, func(m *Map) bool { return m.matches(name) })
		if matched || ext == ".csv" || ext == ".xlsx" {
			sources = append(sources, OnDisk(filepath.Join(dir, name)))
		}
	}
	if len(sources) == 0 {
		return nil, &RowErrors{Total: 1, Errors: []*table.Error{{File: dir, Found: "a folder without tables", Wanted: "files named *.csv or *.xlsx in it"}}}
	}
	return sources, nil
}

// Assign finds the tables in files, each named once, and returns the files in the order of their names.
//
// A map with a glob claims the files whose base name matches. One without claims those whose name says
// its own table or none; a workbook, if it has the map's sheet or none that is named after a table.
// Whatever no map claims is the table that its name says, and a workbook the tables that the names of its
// sheets say.
func Assign(sources []Source, maps []*Map) ([]File, error) {
	p := planner{tables: Tables(), maps: maps}
	sources = slices.Clone(sources)
	slices.SortFunc(sources, func(a, b Source) int {
		return cmp.Or(strings.Compare(base(a.Path), base(b.Path)), strings.Compare(filepath.Clean(a.Path), filepath.Clean(b.Path)))
	})
	sources = slices.CompactFunc(sources, func(a, b Source) bool { return filepath.Clean(a.Path) == filepath.Clean(b.Path) })
	var files []File
	for _, s := range sources {
		f, err := p.assign(s)
		if err != nil {
			return nil, err
		}
		files = append(files, f)
	}
	return files, p.errs.err()
}

// base returns the name of a file without its folder.
func base(path string) string { return filepath.Base(path) }

type planner struct {
	tables catalogue
	maps   []*Map
	errs   RowErrors
}

func (p *planner) fail(file, found, wanted string) {
	p.errs.add(&table.Error{File: file, Found: found, Wanted: wanted})
}

func (p *planner) assign(s Source) (File, error) {
	f := File{Source: s}
	name := base(s.Path)
	ext := filepath.Ext(name)
	own := p.tables.named(strings.TrimSuffix(name, ext))
	var ok bool
	if f.Map, ok = p.claim(name, own); !ok {
		return f, nil
	}
	if strings.EqualFold(ext, ".xlsx") {
		err := p.assignSheets(&f, own)
		return f, err
	}
	switch {
	case f.Map != nil:
		f.Parts = []Part{{Table: f.Map.table.Name}}
	case own == nil:
		p.fail(name, "a file that no table and no column map claims",
			"a name that begins with one of "+p.tables.names()+", or a column map for it")
	case !strings.EqualFold(ext, ".csv"):
		p.fail(name, "a file that is neither .csv nor .xlsx", "one of them, or a column map that matches it")
	default:
		f.Parts = []Part{{Table: own.Name}}
	}
	return f, nil
}

// claim returns the map that claims a file, or nil for none; ok is false where several do.
func (p *planner) claim(name string, own *Table) (m *Map, ok bool) {
	for _, globs := range []bool{true, false} {
		var claims []*Map
		for _, m := range p.maps {
			hasGlob := m.text.Match != ""
			if hasGlob == globs && (m.matches(name) || !hasGlob && (own == nil || own.Name == m.table.Name)) {
				claims = append(claims, m)
			}
		}
		if len(claims) > 1 {
			p.fail(name, "a file that the column maps "+claims[0].name+" and "+claims[1].name+" both claim", "a match in each that tells them apart")
			return nil, false
		}
		if len(claims) == 1 {
			return claims[0], true
		}
	}
	return nil, true
}

// assignSheets finds the tables among the sheets of a workbook.
func (p *planner) assignSheets(f *File, own *Table) (err error) {
	c, err := f.Open()
	if err != nil {
		return err
	}
	defer func() {
		if cerr := c.Close(); err == nil {
			err = cerr
		}
	}()
	name := base(f.Path)
	w, err := table.OpenWorkbook(name, c, c.Size())
	if bad, ok := err.(*table.Error); ok {
		p.errs.add(bad)
		return nil
	}
	if err != nil {
		return err
	}
	sheets := w.Sheets()
	isTable := func(sheet string) bool { return p.tables.named(sheet) != nil }
	if f.Map != nil && f.Map.text.Match == "" && slices.ContainsFunc(sheets, isTable) && !containsFold(sheets, f.Map.text.Sheet) {
		f.Map = nil
	}
	if f.Map != nil {
		p.assignMapped(f, name, sheets)
		return nil
	}
	for _, sheet := range sheets {
		switch {
		case isTable(sheet):
			f.Parts = append(f.Parts, Part{sheet, p.tables.named(sheet).Name})
		case passedOver(sheet):
			f.PassedOver = append(f.PassedOver, sheet)
		case own != nil && len(sheets) == 1:
			f.Parts = []Part{{sheet, own.Name}}
		default:
			p.fail(name+"["+sheet+"]", "a sheet that no table claims",
				"a name that begins with one of "+p.tables.names()+"; or with # for a sheet to be passed over, as notes, read me and lists are")
		}
	}
	return nil
}

// assignMapped finds the sheet that a map means.
func (p *planner) assignMapped(f *File, name string, sheets []string) {
	want := f.Map.text.Sheet
	if want == "" && len(sheets) == 1 {
		want = sheets[0]
	}
	i := slices.IndexFunc(sheets, func(s string) bool { return strings.EqualFold(s, want) })
	if i < 0 {
		p.fail(name, "the sheets "+quoteAll(sheets), `one named by sheet = "..." in `+f.Map.name)
		return
	}
	f.Parts = []Part{{sheets[i], f.Map.table.Name}}
	for j, s := range sheets {
		if j != i {
			f.PassedOver = append(f.PassedOver, s)
		}
	}
}

func containsFold(names []string, name string) bool {
	return slices.ContainsFunc(names, func(s string) bool { return strings.EqualFold(s, name) })
}

// passedOver reports whether a sheet's name says that it holds no table.
func passedOver(sheet string) bool {
	switch fold(sheet) {
	case "notes", "readme", "lists":
		return true
	}
	return strings.HasPrefix(strings.TrimSpace(sheet), "#")
}
