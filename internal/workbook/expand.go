package workbook

import (
	"errors"
	"strconv"
	"strings"
)

// resolve gives v the column's formula where it has none, and names cells in place of columns. A blank
// cell stays blank. The formula of a check is its condition, which becomes one of the two words.
func (t *table) resolve(v *value, c, i int) error {
	form := t.forms[c]
	if v.kind == 0 || v.formula == "" && form == nil {
		return nil
	}
	if v.formula != "" {
		own, err := parseTemplate(v.formula, t.index)
		if err != nil {
			return err
		}
		form = own
	}
	formula, err := t.expand(form, i)
	if v.kind == kindCheck {
		formula = "IF(" + formula + "," + quoted(wordOK) + "," + quoted(wordBroken) + ")"
	}
	v.formula = formula
	return err
}

// inTotal stands for the total row where a data row is counted.
const inTotal = -1

var (
	errNoRowAbove = errors.New("formula asks for the row above the first")
	errNoTotal    = errors.New("formula asks for a total that the table does not have")
	errSplitFirst = errors.New("formula runs down from the first row of a table that goes on in further sheets")
)

// expand writes a template out for data row i, or for the total row.
func (t *table) expand(form template, i int) (string, error) {
	here := cellRef{t.parts[0].sheet, 1, t.total}
	if i != inTotal {
		here = t.at(0, i)
	}
	var b strings.Builder
	for _, s := range form {
		b.WriteString(s.literal)
		if s.col < 0 {
			continue
		}
		to := cellRef{here.sheet, s.col + 1, here.row}
		switch s.at {
		case rowAbove:
			if i <= 0 {
				return "", errNoRowAbove
			}
			to = t.at(s.col, i-1)
		case firstRow:
			if len(t.parts) > 1 {
				return "", errSplitFirst
			}
			to = t.at(s.col, 0)
		case totalRow:
			if t.total == 0 {
				return "", errNoTotal
			}
			to.sheet, to.row = t.parts[0].sheet, t.total
		case thisRow:
		}
		switch {
		case to.sheet != here.sheet:
			b.WriteString(to.String())
		case s.at == totalRow || s.at == firstRow:
			b.WriteString("$" + columnLetters(to.col) + "$" + strconv.Itoa(to.row))
		default:
			b.WriteString(to.local())
		}
	}
	return b.String(), nil
}

// sumOf returns the sum of a column as it is written on the table's first sheet.
func (t *table) sumOf(c int) string {
	areas := t.column(t.spec.columns[c].key).areas
	words := make([]string, len(areas))
	for i, a := range areas {
		words[i] = a.local()
		if a.sheet != t.parts[0].sheet {
			words[i] = a.String()
		}
	}
	sum := "SUM(" + strings.Join(words, ",") + ")"
	if t.spec.places != "" {
		return "ROUND(" + sum + "," + t.spec.places + ")"
	}
	return sum
}
