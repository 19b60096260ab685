package workbook

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"
)

// TemplateTable is one table of an empty intake workbook, which becomes a sheet.
type TemplateTable struct {
	Name    string // of the table, and of its sheet
	Note    string // what it is for
	Columns []TemplateColumn
}

// TemplateColumn is one column of an intake table.
type TemplateColumn struct {
	Head     string // as intake reads it, with its unit in brackets: "net [t]"
	Required bool   // every row needs it
	Note     string // what it holds
	Example  string
	Choices  []string // the only words it takes; nil for any
	Holds    TemplateFormat
}

// TemplateFormat says how a spreadsheet shows what is typed into a column. The zero value is text.
type TemplateFormat uint8

// The formats of a column.
const (
	TemplateText    TemplateFormat = iota + 1 // kept as typed: 007 stays 007
	TemplateNumber                            // a number
	TemplateInstant                           // a date and a time of day
	TemplateDate                              // a date
)

// kind returns the kind of cell that a format shows.
func (f TemplateFormat) kind() kind {
	switch f {
	case TemplateNumber:
		return kindAny
	case TemplateInstant:
		return kindInstant
	case TemplateDate:
		return kindDate
	}
	return kindText
}

// String returns what a person types.
func (f TemplateFormat) String() string {
	switch f {
	case TemplateNumber:
		return "number"
	case TemplateInstant:
		return "date and time"
	case TemplateDate:
		return "date"
	}
	return "text"
}

// readMeSheet is a name that intake passes over.
const readMeSheet = "read me"

// WriteTemplate writes an empty intake workbook to w: a sheet that explains every column, and a sheet for
// each table, with its header in the first row. The same tables give the same bytes.
func WriteTemplate(ctx context.Context, w io.Writer, tables []TemplateTable) error {
	b := newBook(properties{
		title:    "Intake tables",
		subtitle: "Empty tables to be filled in and taken in",
		author:   programName,
		program:  programName,
		made:     time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC), // any fixed instant
		zone:     time.UTC,
		page:     pageText{headLeft: programName, headRight: "intake tables"},
	})
	readMe := b.sheet(readMeSheet, "How to fill in these tables")
	for _, t := range tables {
		if err := b.bareSheet(t.Name).form(t.Columns); err != nil {
			return fmt.Errorf("table %q: %w", t.Name, err)
		}
	}
	declareReadMe(readMe, tables)
	return b.write(ctx, w)
}

// declareReadMe declares the sheet that explains the others.
func declareReadMe(s *sheet, tables []TemplateTable) {
	s.note("One row is one fact. Fill in the tables you need; sheets may stay empty or be deleted. A bold head must be filled in every row, a slanted one may be left empty.")
	s.note("The unit in square brackets may be changed for another that intake knows, such as [short ton], and then holds for the whole column. Decimal point, no thousands separator.")
	s.note("A column of your own goes under a head that begins with tag, such as tag job. A sheet whose name begins with # is passed over, and so is this one.")
	s.gap()
	var rows [][]value
	for _, t := range tables {
		rows = append(rows, []value{text(t.Name), {}, {}, {}, {}, {}, text(t.Note)})
		for _, c := range t.Columns {
			need := "may be empty"
			if c.Required {
				need = "needed"
			}
			rows = append(rows, []value{text(t.Name), text(c.Head), text(need), text(c.Holds.String()), orBlank(c.Example), orBlank(strings.Join(c.Choices, ", ")), text(c.Note)})
		}
	}
	s.table(tableSpec{
		name: "ReadMe", count: len(rows), rows: rowsOf(rows...), main: true, frozen: 2,
		columns: []column{
			{key: "sheet", head: "Sheet", kind: kindText, width: 13},
			{key: "column", head: "Column", kind: kindText, width: 24},
			{key: "need", head: "Needed", kind: kindText, width: 14},
			{key: "holds", head: "Type in", kind: kindText, width: 14},
			{key: "example", head: "Example", kind: kindText, width: 20, wrap: true},
			{key: "choices", head: "One of", kind: kindText, width: 22, wrap: true},
			{key: "note", head: "What it holds", kind: kindText, width: 64, wrap: true},
		},
	})
}
