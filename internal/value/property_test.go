package value_test

import (
	"math/big"
	"testing"

	"pgregory.net/rapid"

	"repose/internal/value"
	"repose/ledger"
)

// TestPerpetualKeepsMassAndMoney lets a stock go through any movements that it can.
func TestPerpetualKeepsMassAndMoney(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, err := value.NewStock(value.Lot{Quantity: ledger.Mass(rapid.Int64Range(1, 1e12).Draw(t, "opening")), Cost: value.Money(rapid.Int64Range(0, 1e9).Draw(t, "cost"))})
		if err != nil {
			t.Fatal(err)
		}
		sum, has := s.Lot(), s.Lot().Quantity
		var moves []value.Movement
		for range rapid.IntRange(1, 30).Draw(t, "movements") {
			var m value.Movement
			switch rapid.IntRange(0, 3).Draw(t, "kind") {
			case 0:
				m = bought(value.Lot{Quantity: ledger.Mass(rapid.Int64Range(1, 1e12).Draw(t, "in")), Cost: value.Money(rapid.Int64Range(0, 1e9).Draw(t, "cost"))})
			case 1:
				m = value.Movement{Column: value.ColumnExpected, Lot: value.Lot{Quantity: -has / 100}}
			default:
				m = value.Movement{Column: value.ColumnSold, Lot: value.Lot{Quantity: -ledger.Mass(rapid.Int64Range(0, int64(has)).Draw(t, "out"))}}
			}
			has += m.Quantity
			moves = append(moves, m)
		}
		steps, err := value.Perpetual(s, moves)
		if err != nil {
			t.Fatal(err)
		}
		before := s.Lot()
		for _, step := range steps {
			if sum, err = sum.Add(step.Moved.Lot); err != nil {
				t.Fatal(err)
			}
			after := step.After.Lot()
			if sum != after || after.Quantity < 0 || after.Cost < 0 || after.Quantity == 0 && after.Cost != 0 {
				t.Fatalf("%+v leaves %+v, want %+v", step.Moved, after, sum)
			}
			if step.Moved.Column == value.ColumnSold {
				atAverage(t, before, step.Moved.Neg())
			}
			before = after
		}
	})
}

// atAverage checks that what went out costs its exact portion, within half a minor unit.
func atAverage(t *rapid.T, stock, out value.Lot) {
	if stock.Quantity == 0 {
		return
	}
	exact := big.NewRat(int64(out.Quantity), int64(stock.Quantity))
	exact.Mul(exact, new(big.Rat).SetInt64(int64(stock.Cost)))
	off := exact.Sub(exact, new(big.Rat).SetInt64(int64(out.Cost)))
	if off.Abs(off).Cmp(big.NewRat(1, 2)) > 0 {
		t.Fatalf("%+v of %+v is off by %s minor units", out, stock, off.FloatString(3))
	}
}

func TestAllocationSumsAndIsFair(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		total := value.Money(rapid.Int64Range(0, int64(value.MaxMoney)).Draw(t, "total"))
		weights := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) ledger.Mass {
			return ledger.Mass(rapid.Int64Range(0, int64(ledger.MaxMass)).Draw(t, "weight"))
		}), 1, 12).Draw(t, "weights")
		weights = append(weights, 1)
		parts, err := value.Allocate(total, weights)
		if err != nil {
			t.Fatal(err)
		}
		whole, sum := new(big.Int), value.Money(0)
		for i, w := range weights {
			whole.Add(whole, big.NewInt(int64(w)))
			sum += parts[i]
		}
		if sum != total {
			t.Fatalf("parts %v sum to %d, want %d", parts, sum, total)
		}
		for i, w := range weights {
			exact := new(big.Rat).SetFrac(new(big.Int).Mul(big.NewInt(int64(w)), big.NewInt(int64(total))), whole)
			off := exact.Sub(exact, new(big.Rat).SetInt64(int64(parts[i])))
			if off.Abs(off).Cmp(big.NewRat(1, 1)) >= 0 || w == 0 && parts[i] != 0 {
				t.Fatalf("part %d is off by %s minor units", i+1, off.FloatString(3))
			}
		}
	})
}
