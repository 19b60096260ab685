package workbook

import (
	"repose/internal/report"

	"github.com/shopspring/decimal"
)

// money is the currency of a month that was put into money.
type money struct {
	currency string // three letters
	places   int    // decimals of its minor unit
	width    float64
}

// newMoney returns the currency of a value, with the width of a column that shows its largest amount.
func newMoney(v *report.Value) *money {
	m := &money{currency: v.Currency, places: int(-v.InProcess.Decimal().Exponent())}
	largest := decimal.Zero
	for _, l := range v.Products {
		largest = largest.Add(l.Opening.Decimal().Abs()).Add(l.Closing.Decimal().Abs()).Add(l.Worth.Decimal().Abs())
		for _, x := range l.Moves {
			largest = largest.Add(x.Cost.Decimal().Abs())
		}
	}
	for _, c := range v.Costs {
		largest = largest.Add(c.Amount.Decimal().Abs())
	}
	m.width = widthOfFigure(largest, m.places)
	return m
}

// minor returns an amount in minor units.
func minor(a report.Amount) int64 { return int64(a.Money) }

// amount is a cell of an amount in minor units.
func (m *money) amount(minor int64) value { return number(decimal.New(minor, -int32(m.places))) }

// of is a cell of an amount.
func (m *money) of(a report.Amount) value { return m.amount(minor(a)) }

// measure counts in minor units.
func (m *money) measure() measure {
	one := decimal.New(1, int32(m.places))
	return measure{m.currency, decimal.New(1, -int32(m.places)).String(), one.InexactFloat64(), paramMinor}
}

// column declares a column of amounts.
func (m *money) column(key, head, note string) column {
	return column{key: key, head: head, unit: m.currency, kind: kindNumber, places: m.places, width: m.width, note: note}
}

// control declares a column of the ledger's own amounts, beside what formulas work out.
func (m *money) control(key, head, note string) column {
	c := m.column(key, head, note)
	c.role = roleControl
	return c
}
