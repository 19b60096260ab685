package intake

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"repose/internal/table"
)

// heading is a column's header taken apart.
type heading struct {
	name string
	unit string // from square brackets at the end; empty for none
}

func parseHeading(s string) heading {
	s = strings.TrimSpace(s)
	if open := strings.LastIndexByte(s, '['); open >= 0 && strings.HasSuffix(s, "]") {
		return heading{strings.TrimSpace(s[:open]), strings.TrimSpace(s[open+1 : len(s)-1])}
	}
	return heading{name: s}
}

// tagName returns the yard's own name of a column headed "tag NAME".
func tagName(s string) (name string, ok bool) {
	s = strings.TrimSpace(s) + " " // a prefix without a name has lost its blank
	if len(s) < len(TagPrefix) || !strings.EqualFold(s[:len(TagPrefix)], TagPrefix) {
		return "", false
	}
	return strings.TrimSpace(s[len(TagPrefix):]), true
}

// binding ties the columns of one file to the fields of its table.
type binding struct {
	table   *Table
	file    string // the reader's name, which positions begin with
	row     int    // of the header
	columns [fieldCount]boundColumn
	tags    []boundTag // in order of name, so that equal rows of different files have equal records
	ignored []string   // columns of the file that a map does not name

	mapped   *Map // nil where the file has the table's own headers
	numbers  numberFormat
	layout   *dateLayout // of texts; nil for ISO
	repeated pass

	errs []*table.Error
}

// boundColumn says where the cells of a field come from and how they are written.
type boundColumn struct {
	spec     *Column // nil where the table has no such column
	at       int     // index of the cell; -1 for none
	clockAt  int     // index of the cell that holds the time of day, where at holds the date; else -1
	constant string  // stands for every cell, where not empty
	key      string  // of the map
	unit     unit
	words    map[string]string // theirs to ours; nil for none
	ours     []string          // what words translates to
}

// bound reports whether the column has cells.
func (c *boundColumn) bound() bool { return c.at >= 0 || c.constant != "" }

// boundTag is a column that is kept under the yard's own name.
type boundTag struct {
	name     string
	at       int // -1 for a constant
	constant string
}

func newBinding(t *Table, r *table.Reader) *binding {
	b := &binding{table: t, file: r.Name(), row: r.Header().Number}
	for f := range b.columns {
		b.columns[f] = boundColumn{at: -1, clockAt: -1}
	}
	for i := range t.Columns {
		b.columns[t.Columns[i].field].spec = &t.Columns[i]
	}
	return b
}

// bindHeader ties a file whose header has the table's own names.
func bindHeader(t *Table, r *table.Reader) *binding {
	b := newBinding(t, r)
	for i, cell := range r.Header().Cells {
		if strings.TrimSpace(cell) == "" {
			continue // the reader reports it if it holds anything
		}
		if name, ok := tagName(cell); ok {
			b.addTag(boundTag{name: name, at: i}, i)
			continue
		}
		h := parseHeading(cell)
		spec := t.find(h.name)
		if spec == nil {
			b.fail(i, quote(cell), b.wantedName(h.name))
			continue
		}
		c := &b.columns[spec.field]
		if c.bound() {
			b.fail(i, quote(cell)+" a second time", "each column once")
			continue
		}
		c.at = i
		b.setUnit(c, h.unit, i)
	}
	b.checkNeeds()
	return b
}

// fail notes an error of the header at cell i, or of the whole header where i is -1.
func (b *binding) fail(i int, found, wanted string) {
	b.errs = append(b.errs, &table.Error{File: b.file, Row: b.row, Column: i + 1, Found: found, Wanted: wanted})
}

func (b *binding) wantedName(name string) string {
	short, _, _ := strings.Cut(name, "(") // a unit in round brackets
	names := b.table.columnNames()
	if n := nearest(short, names); n != "" {
		return fmt.Sprintf("a column of %s (did you mean %q?), or %q before a name of your own", b.table.Name,
			b.table.find(n).Heading(), TagPrefix)
	}
	return fmt.Sprintf("a column of %s: %s; or %q before a name of your own", b.table.Name, strings.Join(names, ", "), TagPrefix)
}

// addTag adds a column of the yard's own, found at cell i.
func (b *binding) addTag(t boundTag, i int) {
	place, twice := slices.BinarySearchFunc(b.tags, t.name, func(t boundTag, name string) int { return strings.Compare(t.name, name) })
	switch {
	case t.name == "":
		b.fail(i, strconv.Quote(TagPrefix)+" without a name", "a name of your own after it")
	case twice:
		b.fail(i, quote(TagPrefix+t.name)+" a second time", "each column once")
	default:
		b.tags = slices.Insert(b.tags, place, t)
	}
}

// setUnit sets the unit of a column found at cell i.
func (b *binding) setUnit(c *boundColumn, name string, i int) {
	var ok bool
	if c.unit, ok = c.spec.Holds.parseUnit(name); ok {
		return
	}
	found := fmt.Sprintf("%q in %q", c.spec.Name, name)
	if name == "" {
		found = strconv.Quote(c.spec.Name) + " without a unit"
	}
	b.fail(i, found, wantedUnits(c.spec))
}

// wantedUnits lists the headers that a column may have.
func wantedUnits(c *Column) string {
	units := c.Holds.Units()
	if units == nil {
		return strconv.Quote(c.Name) + " without a unit"
	}
	var b strings.Builder
	b.WriteString(c.Name)
	for i, u := range units {
		switch {
		case i > 0 && i == len(units)-1:
			b.WriteString(" or")
		case i > 0:
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, " [%s]", u)
	}
	if c.Holds == Moisture {
		b.WriteString(", as dry and wet basis are different figures")
	}
	return b.String()
}

// checkNeeds looks for columns that must be there and are not.
func (b *binding) checkNeeds() {
	for i := range b.table.Columns {
		c := &b.table.Columns[i]
		if c.Need != Optional && !b.columns[c.field].bound() {
			b.fail(-1, "no column "+strconv.Quote(c.Name), "one headed "+strconv.Quote(c.Heading()))
		}
	}
	for _, group := range b.table.OneOf {
		if !slices.ContainsFunc(group, func(name string) bool { return b.columns[b.table.find(name).field].bound() }) {
			b.fail(-1, "none of the columns "+quoteAll(group), "one of them")
		}
	}
}
