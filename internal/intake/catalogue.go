package intake

import (
	"strings"

	"repose/ledger"
)

// Table describes one input table.
type Table struct {
	Name    string
	Kind    ledger.Kind // of the records that its rows become
	Note    string      // what it is for, in a clerk's words
	Columns []Column

	// OneOf lists groups of columns of which every row fills exactly one, so that a header needs at least
	// one of them.
	OneOf [][]string

	build builder
}

// builder makes the fact of a row, and what it needs to know beside the row.
type builder struct {
	fact func(*row) ledger.Fact

	// corrected returns the natural key of the record that a row replaces, where its column "replaces"
	// says value, which is not a whole key. It is called only with facts that the same builder made.
	corrected func(r *row, f ledger.Fact, value string) string

	// instrument and ticket name the columns that put the rows of one machine in the order in which they
	// happened; zero where the table has none.
	instrument, ticket field
}

// Column describes one column of a table.
type Column struct {
	Name    string
	Need    Need
	Holds   Dimension
	Words   []string // of a Word
	Default string   // what a blank cell means, where that is not simply "not stated"
	Note    string   // in a clerk's words

	field field
}

// Need says whether a column may be left out.
type Need uint8

// The needs of a column. Columns named in Table.OneOf are Optional.
const (
	Required   Need = iota + 1 // the column must be there and every cell filled
	MayBeBlank                 // the column must be there; a blank cell goes to suspense
	Optional
)

var needNames = [...]string{Required: "required", MayBeBlank: "may be blank", Optional: "optional"}

// String returns required, may be blank or optional.
func (n Need) String() string { return needNames[n] }

// TagPrefix begins the header of a column that is kept with the record under the yard's own name.
const TagPrefix = "tag "

// Heading returns the column's header with the usual unit of its dimension: "net [t]".
func (c Column) Heading() string {
	units := c.Holds.Units()
	if len(units) == 0 || c.Holds == PercentPoint {
		return c.Name
	}
	return c.Name + " [" + units[0] + "]"
}

// Tables returns the catalogue in the order in which tables are read: what a row names stands in a table
// before it.
func Tables() []Table {
	tables := []Table{
		yardsTable(), productsTable(), pilesTable(), instrumentsTable(), hoursTable(), policyTable(),
		openingTable(), moisturesTable(), densitiesTable(),
		productionTable(), loadsTable(), deckTable(), transfersTable(), feedTable(), returnsTable(),
		surveysTable(), costsTable(), pricesTable(),
	}
	for i := range tables {
		t := &tables[i]
		if t.ofYard() {
			t.Columns = append([]Column{column(fYard, Optional, Code,
				"may be left out where the book has one yard")}, t.Columns...)
		}
		t.Columns = append(t.Columns, column(fReplaces, Optional, Text, replacesNote(t)))
	}
	return tables
}

func replacesNote(t *Table) string {
	what := "the record's key"
	switch {
	case t.build.ticket != 0:
		what = "the ticket, of the same " + t.build.instrument.String() + ","
	case t.Kind == ledger.KindSurveyRecord:
		what = "the survey number, of the same pile,"
	case t.Kind == ledger.KindCostRecord || t.Kind == ledger.KindPriceRecord:
		what = "the period, for the same product,"
	case t.Kind >= ledger.KindOpeningRecord:
		what = "the time"
	case t.Kind == ledger.KindPileRecord:
		what = "the pile"
	case t.Kind == ledger.KindInstrumentRecord:
		what = "the instrument"
	case t.Kind == ledger.KindPolicyRecord:
		what = "the name"
	}
	return "a row that corrects an earlier one: " + what + " of the record it takes the place of, or its whole key as the book prints it (with /)"
}

// ofYard reports whether the table's records belong to a yard that a column or the book must name.
func (t *Table) ofYard() bool {
	return t.Kind != ledger.KindYardRecord && t.Kind != ledger.KindProductRecord
}

// find returns the column of a name whatever its case and blanks, or nil.
func (t *Table) find(name string) *Column {
	for i := range t.Columns {
		if fold(t.Columns[i].Name) == fold(name) {
			return &t.Columns[i]
		}
	}
	return nil
}

func (t *Table) columnNames() []string {
	names := make([]string, len(t.Columns))
	for i := range t.Columns {
		names[i] = t.Columns[i].Name
	}
	return names
}

// catalogue is the tables by name.
type catalogue []Table

func (c catalogue) find(name string) *Table {
	for i := range c {
		if c[i].Name == name {
			return &c[i]
		}
	}
	return nil
}

// named returns the table that a file or sheet name stands for, or nil: the name in lower case up to the
// first hyphen, point, blank, opening bracket, or underscore before a digit.
func (c catalogue) named(name string) *Table {
	name = strings.ToLower(strings.TrimSpace(name))
	end := strings.IndexAny(name, "-. \t(")
	if end < 0 {
		end = len(name)
	}
	for i := 0; i+1 < end; i++ {
		if name[i] == '_' && name[i+1] >= '0' && name[i+1] <= '9' {
			end = i
		}
	}
	return c.find(name[:end])
}

func (c catalogue) names() string {
	names := make([]string, len(c))
	for i := range c {
		names[i] = c[i].Name
	}
	return strings.Join(names, ", ")
}

// column describes a column whose blank cells, if it may have any, mean "not stated".
func column(f field, need Need, holds Dimension, note string) Column {
	return Column{Name: f.String(), Need: need, Holds: holds, Note: note, field: f}
}

// choice describes a column of a fixed list of words. otherwise is what a blank cell means; empty where
// the column must be filled.
func choice(f field, words []string, otherwise, note string) Column {
	c := Column{Name: f.String(), Need: Required, Holds: Word, Words: words, Default: otherwise, Note: note, field: f}
	if otherwise != "" {
		c.Need = Optional
	}
	return c
}

// fold makes two spellings of a name one: case and blanks do not matter.
func fold(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), "")) }

// indexFolded returns the index of a name whatever its case and blanks, or -1.
func indexFolded(names []string, s string) int {
	s = fold(s)
	for i, n := range names {
		if fold(n) == s {
			return i
		}
	}
	return -1
}
