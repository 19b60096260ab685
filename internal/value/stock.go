package value

import (
	"errors"
	"fmt"

	"repose/ledger"
)

// Lot is a quantity of one product, with what it cost. Where it moves, both are positive into the stock and negative
// out of it.
type Lot struct {
	Quantity ledger.Mass
	Cost     Money
}

// Add returns the sum of two lots, or the error of the mass or the money that leaves its bounds.
func (l Lot) Add(m Lot) (Lot, error) {
	q, err := l.Quantity.Add(m.Quantity)
	if err != nil {
		return Lot{}, err
	}
	c, err := l.Cost.Add(m.Cost)
	if err != nil {
		return Lot{}, err
	}
	return Lot{q, c}, nil
}

// Neg returns the lot with both signs turned.
func (l Lot) Neg() Lot { return Lot{-l.Quantity, -l.Cost} }

// Errors of a stock.
var (
	ErrShort     = errors.New("more goes out than there is")
	ErrNoAverage = errors.New("nothing in stock, so no average cost")
	ErrBareCost  = errors.New("cost with no quantity to lie on")
	ErrCredit    = errors.New("cost below zero")
)

// Stock is what lies of one product and what it cost: the pair is its average cost, exactly. Neither is negative, and
// where there is no quantity there is no cost. It is a value, comparable; the zero Stock is empty.
type Stock struct{ lot Lot }

// NewStock returns a stock of a lot that already lies there.
func NewStock(l Lot) (Stock, error) { return Stock{}.Receive(l) }

// Lot returns the quantity and its cost. Their ratio is the average; [Lot.Per] shows it.
func (s Stock) Lot() Lot { return s.lot }

// Receive takes in a quantity at its own cost. A quantity without cost lowers the average, a cost without quantity
// raises it, such as a bill that comes late. A negative quantity without cost is a normal loss: what it cost stays
// with the rest, whose average rises.
func (s Stock) Receive(in Lot) (Stock, error) {
	sum, err := s.lot.Add(in)
	switch {
	case err != nil:
		return s, err
	case sum.Quantity < 0:
		return s, fmt.Errorf("%w: %v of %v", ErrShort, -in.Quantity, s.lot.Quantity)
	case sum.Cost < 0:
		return s, fmt.Errorf("%w: %d minor units", ErrCredit, sum.Cost)
	case sum.Quantity == 0 && sum.Cost != 0:
		return s, fmt.Errorf("%w: %d minor units", ErrBareCost, sum.Cost)
	}
	return Stock{sum}, nil
}

// Issue takes a quantity out at the average. Its cost is rounded half-even to the minor unit, and what that leaves over
// stays in the stock; the last gram takes all the cost that is left. So what came in is what went out and what is
// there, always. An issue of more than there is is ErrShort, and changes nothing.
func (s Stock) Issue(q ledger.Mass) (Stock, Lot, error) {
	switch {
	case q < 0:
		return s, Lot{}, fmt.Errorf("issue of %v: want no negative quantity", q)
	case q > s.lot.Quantity:
		return s, Lot{}, fmt.Errorf("%w: %v of %v", ErrShort, q, s.lot.Quantity)
	case q == 0:
		return s, Lot{}, nil
	}
	cost, err := portion(s.lot.Cost, uint64(q), uint64(s.lot.Quantity))
	if err != nil {
		return s, Lot{}, err
	}
	return Stock{Lot{s.lot.Quantity - q, s.lot.Cost - cost}}, Lot{q, cost}, nil
}

// Return takes a quantity in at the average, rounded half-even to the minor unit: what was issued and comes back. Where
// nothing lies there is no average, and it is ErrNoAverage: such a quantity is received, at a cost that somebody says.
func (s Stock) Return(q ledger.Mass) (Stock, Lot, error) {
	switch {
	case q < 0:
		return s, Lot{}, fmt.Errorf("return of %v: want no negative quantity", q)
	case q == 0:
		return s, Lot{}, nil
	case s.lot.Quantity == 0:
		return s, Lot{}, fmt.Errorf("%w: return of %v", ErrNoAverage, q)
	}
	cost, err := portion(s.lot.Cost, uint64(q), uint64(s.lot.Quantity))
	if err != nil {
		return s, Lot{}, err
	}
	back := Lot{q, cost}
	after, err := s.Receive(back)
	return after, back, err
}

// Move takes a signed quantity at the average: in if positive, out if negative. It returns what moved with its cost,
// both of that sign.
func (s Stock) Move(q ledger.Mass) (Stock, Lot, error) {
	if q >= 0 {
		return s.Return(q)
	}
	after, out, err := s.Issue(-q)
	return after, out.Neg(), err
}
