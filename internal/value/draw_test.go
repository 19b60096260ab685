package value_test

import (
	"fmt"

	"pgregory.net/rapid"

	"repose/internal/value"
	"repose/ledger"
)

// yard is a month while it is drawn, with what there is still of each product.
type yard struct {
	value.Month
	has []ledger.Mass
}

// drawMonth draws a month in which no more goes out than there is. A way out takes all of it now and then.
func drawMonth(t *rapid.T) value.Month {
	n := rapid.IntRange(1, 4).Draw(t, "products")
	y := yard{value.Month{Flows: make([]value.Flow, n), InProcess: value.Money(rapid.Int64Range(0, 10_000_000).Draw(t, "in process"))}, make([]ledger.Mass, n)}
	for i := range n {
		y.drawIn(t, i)
	}
	for range rapid.IntRange(0, 5).Draw(t, "transfers") {
		y.drawTransfer(t, rapid.IntRange(0, n-1).Draw(t, "from"), rapid.IntRange(0, n-1).Draw(t, "to"))
	}
	for i := range n {
		moves := &y.Flows[i].Moves
		back := ledger.Mass(rapid.Int64Range(0, int64(y.has[i]/10)).Draw(t, "returned"))
		fed := (y.has[i] + back) / 4
		y.has[i] += back - fed
		moves[value.ColumnReturned].Quantity, moves[value.ColumnFed].Quantity = back, -fed
		for _, c := range []value.Column{value.ColumnUnexplained, value.ColumnFree, value.ColumnSold} {
			moves[c].Quantity = -y.drawOut(t, i)
		}
	}
	return y.Month
}

// drawIn draws what there was of a product and what came in at its own cost.
func (y *yard) drawIn(t *rapid.T, i int) {
	draw := func(what string) value.Lot {
		q := ledger.Mass(rapid.Int64Range(0, 5_000_000_000).Draw(t, what))
		if q == 0 {
			return value.Lot{}
		}
		return value.Lot{Quantity: q, Cost: value.Money(rapid.Int64Range(0, 10_000_000).Draw(t, what+" cost"))}
	}
	f := &y.Flows[i]
	f.Product = fmt.Sprintf("P%d", i+1)
	var err error
	if f.Opening, err = value.NewStock(draw("opening")); err != nil {
		t.Fatal(err)
	}
	f.Moves[value.ColumnMade], f.Moves[value.ColumnBought] = draw("made"), draw("bought")
	all := f.Opening.Lot().Quantity + f.Moves[value.ColumnMade].Quantity + f.Moves[value.ColumnBought].Quantity
	lost := ledger.Mass(rapid.Int64Range(0, int64(all/10)).Draw(t, "expected"))
	f.Moves[value.ColumnExpected].Quantity = -lost
	y.has[i] = all - lost
}

// drawTransfer passes all or a part of one product to a later one, or up to a third to an earlier one, so that circles end.
func (y *yard) drawTransfer(t *rapid.T, from, to int) {
	if from == to {
		return
	}
	q := y.drawOut(t, from)
	if from > to {
		y.has[from] += q - q/3
		q /= 3
	}
	if q > 0 {
		y.has[to] += q
		y.Transfers = append(y.Transfers, value.Transfer{From: y.Flows[from].Product, To: y.Flows[to].Product, Lot: value.Lot{Quantity: q}})
	}
}

// drawOut takes all there is of a product, or up to a half.
func (y *yard) drawOut(t *rapid.T, i int) ledger.Mass {
	q := y.has[i]
	if rapid.IntRange(0, 3).Draw(t, "all") != 0 {
		q = ledger.Mass(rapid.Int64Range(0, int64(q/2)).Draw(t, "out"))
	}
	y.has[i] -= q
	return q
}
