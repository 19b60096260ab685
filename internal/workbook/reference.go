package workbook

import (
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"
)

// cellRef is the place of one cell. Columns and rows count from 1.
type cellRef struct {
	sheet    string
	col, row int
}

// String returns the absolute reference with its sheet: 'Roll-forward'!$C$7.
func (c cellRef) String() string {
	return sheetPrefix(c.sheet) + "$" + columnLetters(c.col) + "$" + strconv.Itoa(c.row)
}

// local returns the reference as it is written on the cell's own sheet: C7. It is relative, so that a
// formula filled down by hand goes on meaning the same columns.
func (c cellRef) local() string { return columnLetters(c.col) + strconv.Itoa(c.row) }

// areaRef is the part of a column that lies on one sheet, from row first to row last.
type areaRef struct {
	sheet       string
	col         int
	first, last int
}

// String returns the absolute reference with its sheet: 'Roll-forward'!$C$7:$C$20.
func (a areaRef) String() string { return sheetPrefix(a.sheet) + a.local() }

func (a areaRef) local() string {
	col := "$" + columnLetters(a.col) + "$"
	return col + strconv.Itoa(a.first) + ":" + col + strconv.Itoa(a.last)
}

// plain returns the range without its sheet and without dollars, as formats and rules want it: C7:C20.
func (a areaRef) plain() string {
	return cellRef{col: a.col, row: a.first}.local() + ":" + cellRef{col: a.col, row: a.last}.local()
}

// columnLetters returns "A" for 1. A column beyond the sheet, which column counts rule out, is "#REF!".
func columnLetters(col int) string {
	name, err := excelize.ColumnNumberToName(col)
	if err != nil {
		return brokenRef
	}
	return name
}

// brokenRef stands in formulas for a reference that does not exist; the book then already holds the error.
const brokenRef = "#REF!"

// sheetPrefix returns the sheet's name as formulas want it, with the exclamation mark. Names of four
// letters and more, which no cell reference looks like, go unquoted.
func sheetPrefix(name string) string {
	letters := len(name) > 3
	for _, r := range name {
		letters = letters && (r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z')
	}
	if letters {
		return name + "!"
	}
	return "'" + strings.ReplaceAll(name, "'", "''") + "'!"
}

// quoted returns s as a text literal of a formula.
func quoted(s string) string { return `"` + strings.ReplaceAll(s, `"`, `""`) + `"` }
