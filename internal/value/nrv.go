package value

import (
	"fmt"

	"github.com/shopspring/decimal"

	"repose/ledger"
)

// Standard is the accounting standard under which stock is tested. The zero value is none.
type Standard uint8

// The standards.
const (
	IAS2   Standard = iota + 1 // IAS 2
	ASC330                     // FASB ASC 330, for stock not at LIFO or the retail method
)

// String returns the standard's name.
func (s Standard) String() string {
	switch s {
	case IAS2:
		return "IAS 2"
	case ASC330:
		return "ASC 330"
	}
	return ""
}

// Realisable is what a unit of mass of a product will bring: its estimated price less the estimated cost of completion
// and of the sale (IAS 2.6; ASC 330-10-20, from memory). The three are per the same unit.
type Realisable struct {
	Price, Completion, Sale decimal.Decimal
	Per                     ledger.MassUnit
}

// Of returns the net realisable value of a quantity, rounded half-even to the minor unit. Where costs eat the price it
// is zero: stock is worth no less than nothing, and what is owed beyond it is no matter of stock.
func (r Realisable) Of(q ledger.Mass, c Currency) (Money, error) {
	net := r.Price.Sub(r.Completion).Sub(r.Sale)
	if net.IsNegative() {
		net = decimal.Zero
	}
	return Price{net, r.Per}.Of(q, c)
}

// Held is a stock with its net realisable value, and what earlier tests wrote down on the part of it that is still there.
type Held struct {
	Stock   Stock
	Earlier Money // not negative
	Value   Money // net realisable value of the whole quantity
}

// Lower is what the lower of cost and net realisable value asks for. It is the outcome of a test: nothing is posted, and
// the cost of the stock stays what it is.
type Lower struct {
	Carrying  Money // what the stock may stand at
	WriteDown Money // further than earlier tests; an expense
	Reversal  Money // of what earlier tests wrote down; only under IAS 2
}

// Test compares a product's cost with its net realisable value.
//
// Under IAS 2 a write-down is taken back as far as the value has risen, and never beyond cost (IAS 2.33). Under ASC 330
// what was written down is the new cost, and stays (ASC 330-10-35-14, from memory); a loss expected to be made good within
// the same year is a matter of interim reports (ASC 270-10-45-6, from memory), and not reckoned here.
func (s Standard) Test(h Held) (Lower, error) {
	cost := h.Stock.lot.Cost
	if h.Earlier < 0 || h.Earlier > cost || h.Value < 0 {
		return Lower{}, fmt.Errorf("cost %d, earlier write-down %d, value %d minor units: want the write-down from zero to the cost, and no negative value",
			cost, h.Earlier, h.Value)
	}
	before := cost - h.Earlier
	switch s {
	case IAS2:
		after := min(cost, h.Value)
		return Lower{after, max(before-after, 0), max(after-before, 0)}, nil
	case ASC330:
		after := min(before, h.Value)
		return Lower{Carrying: after, WriteDown: before - after}, nil
	}
	return Lower{}, fmt.Errorf("no standard: want %s or %s", IAS2, ASC330)
}

// MonthsOfSupply returns how many months a quantity lasts if it goes on leaving as it did, rounded half-even to one place.
// ok is false where nothing left, for then it lasts for ever. It shows slow stock; whether stock is expected to sell
// within the operating cycle (IAS 1.66, from memory) is the yard's judgement.
func MonthsOfSupply(held, left ledger.Mass, months int) (supply decimal.Decimal, ok bool) {
	if held < 0 || left <= 0 || months <= 0 {
		return decimal.Zero, false
	}
	num := decimal.NewFromInt(int64(held)).Mul(decimal.NewFromInt(int64(months))).Shift(1)
	n := quotientHalfEven(num.BigInt(), decimal.NewFromInt(int64(left)).BigInt())
	return decimal.NewFromBigInt(n, -1), true
}
