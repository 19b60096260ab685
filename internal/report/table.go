package report

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"github.com/shopspring/decimal"

	"repose/ledger"
)

// Table is a report on the screen: text to the left, numbers to the right, a rule above the last row if
// it is a total.
type Table struct {
	Heads   []string
	Numbers []bool // by column: right-aligned
	Rows    [][]string
	Total   bool // the last row is a total
}

// NewTable returns a table with the given column heads. A head that begins with ">" is of a column of
// numbers, without the sign.
func NewTable(heads ...string) *Table {
	t := &Table{}
	for _, h := range heads {
		name, isNumber := strings.CutPrefix(h, ">")
		t.Heads = append(t.Heads, name)
		t.Numbers = append(t.Numbers, isNumber)
	}
	return t
}

// Row adds a row.
func (t *Table) Row(cells ...string) { t.Rows = append(t.Rows, cells) }

// WriteTo writes the table as aligned text.
func (t *Table) WriteTo(w io.Writer) (int64, error) {
	widths := make([]int, len(t.Heads))
	for _, row := range append([][]string{t.Heads}, t.Rows...) {
		for i, c := range row {
			widths[i] = max(widths[i], utf8.RuneCountInString(c))
		}
	}
	var b strings.Builder
	rule := func() {
		for i, n := range widths {
			if i > 0 {
				b.WriteString("  ")
			}
			b.WriteString(strings.Repeat("-", n))
		}
		b.WriteByte('\n')
	}
	t.line(&b, widths, t.Heads)
	rule()
	for i, row := range t.Rows {
		if t.Total && i == len(t.Rows)-1 {
			rule()
		}
		t.line(&b, widths, row)
	}
	n, err := io.WriteString(w, b.String())
	return int64(n), err
}

func (t *Table) line(b *strings.Builder, widths []int, cells []string) {
	var line strings.Builder
	for i, c := range cells {
		if i > 0 {
			line.WriteString("  ")
		}
		pad := strings.Repeat(" ", widths[i]-utf8.RuneCountInString(c))
		if t.Numbers[i] {
			line.WriteString(pad + c)
		} else {
			line.WriteString(c + pad)
		}
	}
	b.WriteString(strings.TrimRight(line.String(), " "))
	b.WriteByte('\n')
}

// Unit writes masses for a reader in the yard's unit, with thousands parted and the same number of
// places in every row.
type Unit struct {
	Mass   ledger.MassUnit
	Places int32
}

// YardUnit returns how a yard reads masses on the screen: tonnes or tons to one place, pounds and
// kilograms to none.
func YardUnit(u ledger.MassUnit) Unit {
	switch u {
	case ledger.UnitShortTon, ledger.UnitLongTon, ledger.UnitTonne:
		return Unit{u, 1}
	}
	return Unit{u, 0}
}

// Format returns the mass as text, rounded half-even to the unit's places.
func (u Unit) Format(m ledger.Mass) string { return thousands(m.In(u.Mass, u.Places), u.Places) }

// optional formats a mass that may be missing.
func (u Unit) optional(t *Tonnes) string {
	if t == nil {
		return "-"
	}
	return u.Format(t.Mass())
}

func formatPercent(p *Percent, places int32) string {
	if p == nil {
		return "-"
	}
	return decimal.Decimal(*p).StringFixedBank(places)
}

// PercentText returns part as a percentage of whole with two places, or "-" where whole is zero.
func PercentText(part, whole ledger.Mass) string { return formatPercent(percentOf(part, whole), 2) }

// thousands writes a number with a comma between groups of three digits.
func thousands(d decimal.Decimal, places int32) string {
	s := d.Abs().StringFixed(places)
	whole, fraction, _ := strings.Cut(s, ".")
	var b strings.Builder
	if d.IsNegative() && strings.ContainsAny(s, "123456789") {
		b.WriteByte('-')
	}
	for i, c := range whole {
		if i > 0 && (len(whole)-i)%3 == 0 {
			b.WriteByte(',')
		}
		b.WriteRune(c)
	}
	if fraction != "" {
		b.WriteString("." + fraction)
	}
	return b.String()
}

// plural writes a count with its noun.
func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
