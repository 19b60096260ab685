package workbook

import (
	"fmt"
	"strings"

	"repose/ledger"
)

// massColumn declares a column of masses, wide enough for the largest of the month.
func (d *closeBook) massColumn(key, head, note string) column {
	return column{key: key, head: head, kind: kindTonnes, width: d.massWidth, note: note}
}

// controlColumn declares a column of the ledger's own masses, beside what formulas work out.
func (d *closeBook) controlColumn(key, head, note string) column {
	c := d.massColumn(key, head, note)
	c.role = roleControl
	return c
}

// wordColumn declares a column of texts that are broken into lines.
func wordColumn(key, head string, width float64, note string) column {
	return column{key: key, head: head, kind: kindText, width: width, wrap: true, note: note}
}

// auditorColumns are left empty for the reader's tick and reference.
func auditorColumns() []column {
	return []column{
		{key: "tick", head: "Tick", kind: kindText, role: roleInput, width: 6, note: "left empty for the auditor's mark; its legend is below"},
		{key: "reference", head: "Ref.", kind: kindText, role: roleInput, width: 9, note: "left empty for the auditor's reference"},
	}
}

// sumRow returns a row of totals: a word, blanks up to the first of the masses, the masses, and blanks
// after them.
func sumRow(before int, masses []ledger.Mass, after int) []value {
	row := make([]value, before, before+len(masses)+after)
	row[0] = text("All")
	for _, m := range masses {
		row = append(row, mass(m))
	}
	return append(row, make([]value, after)...)
}

// headline returns a column's name with a capital.
func headline(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// cells are the values of a row by the keys of their columns. What is not named stays blank.
type cells map[string]value

// row puts cells in the order of columns.
func (d *closeBook) row(columns []column, c cells) []value {
	row := make([]value, len(columns))
	known := 0
	for i, col := range columns {
		if v, ok := c[col.key]; ok {
			row[i] = v
			known++
		}
	}
	if known != len(c) {
		d.book.fail(fmt.Errorf("row of %d cells: %d of them have a column", len(c), known))
	}
	return row
}

// setFormulas gives columns the formulas named by their keys.
func setFormulas(columns []column, formulas map[string]string) []column {
	for i := range columns {
		if f, ok := formulas[columns[i].key]; ok {
			columns[i].formula = f
		}
	}
	return columns
}
