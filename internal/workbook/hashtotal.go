package workbook

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
)

// checkCells adds the checks that no single figure of the workbook can be changed unseen: for every column of figures its
// sum, where no check has that already, and for every table the number of its cells that still hold a formula. The entries
// have checks of their own. Nothing here says that a figure is right, only that it is the one that was written.
func (d *closeBook) checkCells() {
	for _, s := range d.book.sheets {
		for _, b := range s.blocks {
			if t, ok := b.(*table); ok && t != d.entries {
				d.checkTable(t)
			}
		}
	}
}

func (d *closeBook) checkTable(t *table) {
	about := t.sheet.name
	if t.spec.title != "" {
		about += ", " + t.spec.title
	}
	columns := make([]columnValues, len(t.spec.columns))
	formulas, row := int64(0), 0
	for values, err := range t.spec.rows {
		if err != nil {
			d.book.fail(err)
			return
		}
		for i, v := range values {
			if v.kind != 0 && (v.formula != "" || t.forms[i] != nil) {
				columns[i].computed = true
				formulas++
			} else if v.kind != 0 && v.kind != kindText && v.kind != kindCheck {
				d.addFigure(&columns[i], v, t.spec.columns[i].kind, row)
			}
		}
		row++
	}
	for i, c := range t.spec.columns {
		if x := columns[i]; x.any && !x.computed {
			m, sum, formula := d.totalOf(&c, t.column(c.key), x)
			d.hashTotal(t, fmt.Sprintf("%s: hash total of the column %s", about, c.head), checkRow{measure: m, found: computed(formula, sum), control: sum,
				tolerance: roundingOf(t.spec.count, x.size*m.perUnit), see: t.cell(c.key, x.first)})
		}
	}
	d.countFormulas(t, about, formulas, columns)
}

// hashTotal adds the sum of a column, unless a check has it, or the total below the column, against a value.
func (d *closeBook) hashTotal(t *table, what string, c checkRow) {
	total := brokenRef
	if t.total > 0 {
		total = cellRef{t.parts[0].sheet, c.see.col, t.total}.String()
	}
	if !slices.ContainsFunc(d.checks, func(other checkRow) bool {
		return other.control.formula == "" && (other.found.formula == c.found.formula || other.found.formula == total)
	}) {
		c.what = what
		d.check(c)
	}
}

// countFormulas adds the check that every cell of a table that held a formula still does. Of a long table only the total
// has any.
func (d *closeBook) countFormulas(t *table, about string, n int64, columns []columnValues) {
	top, last := t.parts[0].firstRow(), max(t.parts[0].lastRow(), t.total)
	if t.spec.long {
		top, last, n = t.total, t.total, 0
	}
	for _, v := range t.spec.total {
		n += bit(v.formula != "" || summed(v))
	}
	if n == 0 {
		return
	}
	// A second engine takes a plain truth value for a formula, so that columns of them are passed over.
	var found []string
	from := 0
	for i := range len(t.spec.columns) + 1 {
		if i == len(t.spec.columns) || t.spec.columns[i].kind == kindBool && !columns[i].computed {
			if i > from {
				area := "$" + columnLetters(from+1) + "$" + strconv.Itoa(top) + ":$" + columnLetters(i) + "$" + strconv.Itoa(last)
				found = append(found, "SUMPRODUCT(--_xlfn.ISFORMULA("+sheetPrefix(t.sheet.name)+area+"))") // a function of 2013, which the format marks so
			}
			from = i + 1
		}
	}
	d.check(checkRow{about + ": cells that hold their formula", inCounts, computed(strings.Join(found, "+"), integer(n)), integer(n), 0, cellRef{t.sheet.name, 1, top}})
}

// columnValues adds up the figures of a column.
type columnValues struct {
	any      bool
	first    int     // row of the first
	computed bool    // formulas work some of them out
	grams    int64   // of masses
	others   float64 // fractions of a gram; or numbers, counts, days, each in its unit
	size     float64 // of all without their signs, in the unit
}

// addFigure adds a figure of a column of a kind. In a column of any kind it counts as the spreadsheet keeps it.
func (d *closeBook) addFigure(sum *columnValues, v value, column kind, row int) {
	if !sum.any {
		sum.any, sum.first = true, row
	}
	x := v.f
	switch {
	case column == kindAny:
		x = d.kept(v)
	case v.kind == kindTonnes:
		sum.grams += v.n
		sum.others += v.f
		sum.size += math.Abs(float64(v.n)) / inTonnes.perUnit
		return
	case v.kind == kindInteger || v.kind == kindDate || v.kind == kindBool:
		x = float64(v.n)
	case v.kind == kindInstant:
		x = d.sinceStart(time.UnixMilli(v.n))
	default:
		x = fifteenDigits(x)
	}
	sum.others += x
	sum.size += math.Abs(x)
}

// kept returns a figure as a cell keeps it.
func (d *closeBook) kept(v value) float64 {
	content, err := v.content(d.month.Zone)
	if err != nil {
		d.book.fail(err)
	}
	switch x := content.(type) {
	case int64:
		return float64(x)
	case float64:
		return x
	}
	return 0 // a sum passes over it
}

// totalOf returns what a column counts in, its sum, and the formula of that.
func (d *closeBook) totalOf(c *column, s span, sum columnValues) (measure, value, string) {
	switch c.kind {
	case kindTonnes:
		return inTonnes, value{kind: kindTonnes, n: sum.grams, f: sum.others}, s.sum()
	case kindInstant:
		return inDays, float(sum.others), sinceStart(s, d.params.ref(paramStart))
	case kindInteger, kindDate:
		return inCounts, integer(int64(sum.others)), s.sum()
	case kindBool:
		return inCounts, integer(int64(sum.others)), "COUNTIF(" + s.areas[0].String() + ",TRUE)"
	case kindNumber:
		if d.money != nil && c.unit == d.money.currency {
			m := d.money.measure()
			return m, d.money.amount(int64(math.Round(sum.others * m.perUnit))), s.sum()
		}
	}
	return inFractions, float(sum.others), s.sum()
}

// checkTolerances adds the check, as the last, that no tolerance has been widened.
func (d *closeBook) checkTolerances() {
	sum := int64(0)
	for _, c := range d.checks {
		sum += c.tolerance
	}
	all := integer(sum)
	d.check(checkRow{"Checks: hash total of the column Tolerance", inCounts, computed("SUM({tolerance@first}:{tolerance})", all), all, 0, d.entries.cell("order", 0)})
}

// counted adds the check that a table has as many rows as the program hands over, by a column that every row fills.
func (d *closeBook) counted(what string, t *table, key string, rows int) {
	n := integer(int64(rows))
	d.check(checkRow{what, inCounts, computed(t.column(key).call("COUNTA", ","), n), n, 0, t.cell(key, 0)})
}
