package value

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"repose/ledger"
)

// Flow is what a month did to one product. Columns that follow from others are left empty: transfers, which the month
// lists, and the cost of what was made again. What was fed is negative or zero.
type Flow struct {
	Product string
	Opening Stock
	Moves   Moves
}

// Transfer is stone that became another product: blended, or told to be another. The quantity is positive. The cost is
// the month's to find, and must be zero before.
type Transfer struct {
	From, To string
	Lot
}

// Month is what a yard did in one calendar month, with the costs that lie on it.
type Month struct {
	Flows     []Flow // one a product
	Transfers []Transfer
	InProcess Money // cost of stone that was fed before and is not made again
}

// Line is one product over the month. Opening plus all moves is closing, in mass and in money.
type Line struct {
	Product string
	Opening Stock
	Moves   Moves
	Closing Stock
}

// Average is the cost and the quantity at whose ratio the month's columns at the average went: opening and all that came
// at its own cost.
func (l Line) Average() (Lot, error) {
	own, err := l.Moves.sum(0, ColumnExpected+1)
	if err != nil {
		return Lot{}, err
	}
	return l.Opening.lot.Add(own)
}

// Valued is a month with the cost of every quantity.
type Valued struct {
	Lines     []Line     // in order of product
	Transfers []Transfer // in order of from and to, one for each two products
	InProcess Money      // at the end: zero, unless stone was fed and nothing made
}

// ErrCircle says that stone goes round between products, or to the plant and back, and hardly any of it leaves or stays, or
// that more goes round than came at its own cost: each round would make it dearer.
var ErrCircle = errors.New("stone goes round between products or through the plant, and hardly any leaves")

// passesMax bounds the passes of Value: enough for 999 parts of 1,000 that go round.
const passesMax = 100_000

// Value gives every quantity of the month its cost, each product at one average ([Periodic]).
//
// A transfer costs the receiving product what it cost the sending one. Stone that was fed costs what it cost in the pile;
// that goes to the products that were made, by tonnes, each share taken off as [Stock.Issue] does. Both make the averages
// depend on each other, in circles too. So they are found together, by passes: the first takes transfers and feeding to
// cost nothing, each next takes what the one before found, until nothing changes by a minor unit. No share falls when a
// cost rises by a minor unit, so the costs only rise from pass to pass and come to rest, at the least that agree. They are
// then exact in the sense of [Stock.Issue]: nothing is lost. Where the part r of a product goes round and comes back,
// its cost may lie 1/(1-r) minor units a rounding below the solution of the equations, and another's above.
//
// Credits must be covered by costs that a product has of its own. The order of flows and transfers plays no part.
func (m Month) Value() (Valued, error) {
	r, err := newReckoning(m)
	if err != nil {
		return Valued{}, err
	}
	for n := range passesMax {
		again, err := r.pass()
		switch {
		case n > 0 && errors.Is(err, ErrMoneyRange):
			return Valued{}, ErrCircle // the first pass had room: it has grown since
		case err != nil:
			return Valued{}, err
		case !again:
			return Valued{Lines: r.lines, Transfers: r.transfers, InProcess: r.left}, nil
		}
	}
	return Valued{}, ErrCircle
}

// reckoning is a month while its costs are being found.
type reckoning struct {
	flows     []Flow // in order of product
	transfers []Transfer
	made      ledger.Mass // of all products
	inProcess Money

	remade []Money // by flow
	lines  []Line
	left   Money
}

func newReckoning(m Month) (*reckoning, error) {
	r := &reckoning{flows: slices.Clone(m.Flows), inProcess: m.InProcess,
		remade: make([]Money, len(m.Flows)), lines: make([]Line, len(m.Flows))}
	if m.InProcess < 0 {
		return nil, fmt.Errorf("cost in process of %d minor units: want none negative", m.InProcess)
	}
	slices.SortFunc(r.flows, func(a, b Flow) int { return cmp.Compare(a.Product, b.Product) })
	for i, f := range r.flows {
		if i > 0 && f.Product == r.flows[i-1].Product {
			return nil, fmt.Errorf("product %q is there twice: want one flow each", f.Product)
		}
		for c, l := range f.Moves {
			if Column(c).derived() && l != (Lot{}) {
				return nil, fmt.Errorf("product %q: %s of %v: want it empty, it is derived", f.Product, Column(c), l.Quantity)
			}
		}
		if fed := f.Moves[ColumnFed].Quantity; fed > 0 {
			return nil, fmt.Errorf("product %q: fed %v: want it out of the stock, negative", f.Product, fed)
		}
		var err error
		if r.made, err = r.made.Add(max(f.Moves[ColumnMade].Quantity, 0)); err != nil {
			return nil, err
		}
	}
	return r, r.merge(m.Transfers)
}

// merge makes one transfer of all between the same two products.
func (r *reckoning) merge(all []Transfer) error {
	all = slices.Clone(all)
	slices.SortFunc(all, func(a, b Transfer) int {
		return cmp.Or(cmp.Compare(a.From, b.From), cmp.Compare(a.To, b.To))
	})
	for _, t := range all {
		if t.Quantity <= 0 || t.Cost != 0 || t.From == t.To || !r.has(t.From) || !r.has(t.To) {
			return fmt.Errorf("transfer of %v from %q to %q, cost %d: want a quantity without cost, between two products of the month",
				t.Quantity, t.From, t.To, t.Cost)
		}
		if n := len(r.transfers) - 1; n >= 0 && r.transfers[n].From == t.From && r.transfers[n].To == t.To {
			sum, err := r.transfers[n].Lot.Add(t.Lot)
			if err != nil {
				return err
			}
			r.transfers[n].Lot = sum
			continue
		}
		r.transfers = append(r.transfers, t)
	}
	return nil
}

func (r *reckoning) has(product string) bool {
	_, ok := slices.BinarySearchFunc(r.flows, product, func(f Flow, p string) int { return cmp.Compare(f.Product, p) })
	return ok
}
