package value_test

import (
	"fmt"
	"testing"

	"repose/internal/value"
	"repose/ledger"
)

// BenchmarkMonth values twelve products, each of which passes a part of its stone to the next, the last to the first, while
// some goes back to the plant.
func BenchmarkMonth(b *testing.B) {
	const products = 12
	m := value.Month{}
	for i := range products {
		f := value.Flow{Product: fmt.Sprintf("P%02d", i)}
		f.Moves[value.ColumnMade] = value.Lot{Quantity: ledger.Mass(10_000+i) * ledger.Tonne, Cost: value.Money(8_000_000 + 1000*i)}
		f.Moves[value.ColumnFed].Quantity = -500 * ledger.Tonne
		f.Moves[value.ColumnSold].Quantity = -9000 * ledger.Tonne
		m.Flows = append(m.Flows, f)
		m.Transfers = append(m.Transfers, value.Transfer{From: f.Product, To: fmt.Sprintf("P%02d", (i+1)%products), Lot: value.Lot{Quantity: 300 * ledger.Tonne}})
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := m.Value(); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkPerpetual(b *testing.B) {
	s, err := value.NewStock(value.Lot{Quantity: 1e6 * ledger.Tonne, Cost: 8e8})
	if err != nil {
		b.Fatal(err)
	}
	moves := make([]value.Movement, 10_000)
	for i := range moves {
		moves[i] = value.Movement{Column: value.ColumnSold, Lot: value.Lot{Quantity: -ledger.Mass(24_000+i) * ledger.Kilogram}}
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := value.Perpetual(s, moves); err != nil {
			b.Fatal(err)
		}
	}
}
