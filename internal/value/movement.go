package value

import (
	"fmt"

	"repose/ledger"
)

// Movement is one thing that happened to a stock. The quantity is positive into the stock. The cost counts where the
// column comes at its own cost, and must be zero where it goes at the average.
type Movement struct {
	Column Column
	Lot
}

// Step is a movement with the cost it had, positive into the stock, and the stock after it.
type Step struct {
	Moved Movement
	After Stock
}

// Perpetual follows a stock movement by movement: the moving weighted average. The order of movements matters, for each
// issue goes at the average of its moment.
func Perpetual(opening Stock, moves []Movement) ([]Step, error) {
	steps := make([]Step, 0, len(moves))
	s := opening
	for i, m := range moves {
		after, moved, err := s.apply(m)
		if err != nil {
			return nil, fmt.Errorf("movement %d, %s: %w", i+1, m.Column, err)
		}
		s = after
		steps = append(steps, Step{Movement{m.Column, moved}, s})
	}
	return steps, nil
}

func (s Stock) apply(m Movement) (Stock, Lot, error) {
	if err := m.check(); err != nil {
		return s, Lot{}, err
	}
	if m.Column.AtOwnCost() {
		after, err := s.Receive(m.Lot)
		return after, m.Lot, err
	}
	return s.Move(m.Quantity)
}

// check refuses a cost where the average says it, and one of a normal loss, which has none.
func (m Movement) check() error {
	switch {
	case m.Column >= Columns:
		return fmt.Errorf("column %d: want less than %d", m.Column, Columns)
	case m.Cost != 0 && (!m.Column.AtOwnCost() || m.Column == ColumnExpected):
		return fmt.Errorf("cost of %d minor units: want none", m.Cost)
	case m.Quantity != 0 && m.Column == ColumnRemade:
		return fmt.Errorf("quantity of %v: want cost alone", m.Quantity)
	}
	return nil
}

// Moves is what a period did to a product: every column, into the stock if positive.
type Moves [Columns]Lot

// Net returns the sum of all columns: closing less opening.
func (m *Moves) Net() (Lot, error) { return m.sum(0, Columns) }

// sum returns the sum of the columns from first up to but not including end.
func (m *Moves) sum(first, end Column) (sum Lot, err error) {
	for _, l := range m[first:end] {
		if sum, err = sum.Add(l); err != nil {
			return Lot{}, err
		}
	}
	return sum, nil
}

// Periodic values a period at one average: all that comes at its own cost is taken in, then what comes back at the
// average, then what goes out, column by column. Costs of columns that go at the average must be zero; in the result
// they are filled in. Within the period the order of movements plays no part.
func Periodic(opening Stock, in Moves) (Moves, Stock, error) {
	out := in
	for c := range Columns {
		if err := (Movement{c, in[c]}).check(); err != nil {
			return in, opening, fmt.Errorf("%s: %w", c, err)
		}
	}
	own, err := in.sum(0, ColumnExpected+1)
	if err != nil {
		return in, opening, err
	}
	s, err := opening.Receive(own)
	if err != nil {
		return in, opening, fmt.Errorf("at own cost: %w", err)
	}
	for _, back := range []ledger.Mass{1, -1} { // what comes back first, so that it can go out again
		for c := ColumnExpected + 1; c < Columns; c++ {
			if in[c].Quantity == 0 || in[c].Quantity > 0 != (back > 0) {
				continue
			}
			if s, out[c], err = s.Move(in[c].Quantity); err != nil {
				return in, opening, fmt.Errorf("%s: %w", c, err)
			}
		}
	}
	return out, s, nil
}
