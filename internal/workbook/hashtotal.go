package workbook

import (
	"fmt"
	"math"
	"time"
)

// hashTotals adds a check for every column of figures of a table on one sheet that no formula works out: its sum, which
// means nothing and changes with every single cell, against that of the figures as they were written. Columns without a
// figure have none.
func (d *closeBook) hashTotals(about string, t *table) {
	for i, c := range t.spec.columns {
		if s, ok := d.columnSum(t, i); ok {
			d.check(checkRow{fmt.Sprintf("%s: hash total of the column %s", about, c.head), s.measure, computed(s.formula, s.sum), s.sum, s.tolerance, t.cell(c.key, s.first)})
		}
	}
}

// columnTotal is the sum of a column: the formula over its cells, and what these hold.
type columnTotal struct {
	measure   measure
	formula   string
	sum       value
	tolerance int64
	first     int // row of the first figure
}

// columnSum returns the sum of column number i; ok is false where it holds no figures, or where formulas work them out.
func (d *closeBook) columnSum(t *table, i int) (s columnTotal, ok bool) {
	c := &t.spec.columns[i]
	if t.spec.count == 0 || c.formula != "" || c.kind == kindText || c.kind == kindCheck {
		return s, false
	}
	var sum columnValues
	row := 0
	for values, err := range t.spec.rows {
		if err != nil {
			d.book.fail(err)
			return s, false
		}
		v := values[i]
		if v.formula != "" {
			return s, false
		}
		if v.kind != 0 && v.kind != kindText {
			if !ok {
				s.first = row
			}
			ok = true
			d.addFigure(&sum, v, c.kind)
		}
		row++
	}
	s.measure, s.sum, s.formula = d.totalOf(c, t.column(c.key), sum)
	s.tolerance = roundingOf(t.spec.count, sum.size*s.measure.perUnit)
	return s, ok
}

// columnValues adds up the figures of a column.
type columnValues struct {
	grams  int64
	others float64 // fractions of a gram; or numbers, counts, days, each in its unit
	size   float64 // of all without their signs, in the unit
}

// addFigure adds a figure of a column of a kind. In a column of any kind it counts as the spreadsheet keeps it.
func (d *closeBook) addFigure(sum *columnValues, v value, column kind) {
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
			return d.money.measure(), d.money.amount(int64(math.Round(sum.others * d.money.measure().perUnit))), s.sum()
		}
	}
	return inFractions, float(sum.others), s.sum()
}

// counted adds the check that a table has as many rows as the program hands over, by a column that every row fills.
func (d *closeBook) counted(what string, t *table, key string, rows int) {
	n := integer(int64(rows))
	d.check(checkRow{what, inCounts, computed(t.column(key).call("COUNTA", ","), n), n, 0, t.cell(key, 0)})
}
