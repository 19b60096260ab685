package ledger

import "strings"

// Column is one way in which stone and water come into a pile or leave it, as a roll-forward shows them.
type Column uint8

// The columns of a roll-forward. In are positive, out negative; weather, shrinkage and suspense may be
// either.
const (
	ColumnOpening Column = iota // opened in the period: the first stock of a pile
	ColumnProduction
	ColumnReturns
	ColumnTransferIn
	ColumnSale
	ColumnInternal
	ColumnFree
	ColumnTransferOut
	ColumnFeed
	ColumnWeather
	ColumnShrinkage // unexplained: what the book took over from surveys
	ColumnExplained // shrinkage with a cause
	ColumnExpected  // shrinkage that the yard allows for
	ColumnSuspense
	Columns // how many there are
)

var columnNames = [Columns]string{"opened", "production", "returns", "transfer in", "sale", "internal use",
	"free issue", "transfer out", "feed", "weather", "shrinkage", "explained", "expected", "suspense"}

// inward reports whether the column is one of what comes in.
func (c Column) inward() bool { return c <= ColumnTransferIn }

// String returns the column's heading.
func (c Column) String() string { return columnNames[c] }

// Flows is what a period did to a pile: every column, into the pile if positive.
type Flows [Columns]Amount

// Net returns the sum of all columns: closing less opening.
func (f *Flows) Net() Amount {
	var n Amount
	for _, a := range f {
		n.Solids += a.Solids
		n.Water += a.Water
	}
	return n
}

// ColumnOf says in which column a leg stands for one of its ends, given the account at the other.
func ColumnOf(other Account, into bool) Column {
	switch other.Kind {
	case KindOpening:
		return ColumnOpening
	case KindProduction:
		return ColumnProduction
	case KindReturns:
		return ColumnReturns
	case KindPile, KindTransit:
		if into {
			return ColumnTransferIn
		}
		return ColumnTransferOut
	case KindFeed:
		return ColumnFeed
	case KindWeather:
		return ColumnWeather
	case KindShrinkage:
		return shrinkageColumn(other.Name)
	case KindSuspense:
		return ColumnSuspense
	}
	switch other.Name { // out, by purpose
	case PurposeInternal.String():
		return ColumnInternal
	case PurposeFree.String():
		return ColumnFree
	}
	return ColumnSale
}

func shrinkageColumn(name string) Column {
	switch {
	case name == ShrinkageExpected:
		return ColumnExpected
	case strings.HasPrefix(name, explainedPrefix):
		return ColumnExplained
	}
	return ColumnShrinkage
}

// add enters an amount in a column, into the pile if positive.
func (f *Flows) add(c Column, a Amount) error {
	sum, err := f[c].Add(a)
	f[c] = sum
	return err
}
