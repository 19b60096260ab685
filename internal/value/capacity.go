package value

import (
	"fmt"

	"repose/ledger"
)

// Overhead is a period's fixed cost of making, which does not depend on how much is made.
type Overhead struct {
	Fixed  Money
	Normal ledger.Mass // what the plant makes in such a period on average under normal circumstances
	Actual ledger.Mass
}

// Absorption is where a period's fixed overhead goes: into the stock that was made, or into the period's expense. The two
// sum to it.
type Absorption struct {
	Absorbed    Money
	Unallocated Money // cost of idle capacity
	Rate        Lot   // the fixed cost, with the quantity it is spread over: [Lot.Per] shows the rate
}

// Absorb spreads fixed overhead at normal capacity (IAS 2.13; ASC 330-10-30-3 to 30-7, from memory): low output does not
// make a tonne dearer, its idle cost is an expense; where more than normal is made the rate falls, so that no tonne bears
// more than it cost. What is absorbed is rounded half-even to the minor unit, the rest is unallocated.
func (o Overhead) Absorb() (Absorption, error) {
	if o.Fixed < 0 || o.Normal <= 0 || o.Actual < 0 {
		return Absorption{}, fmt.Errorf("fixed cost of %d minor units, %v made of %v normal: want a normal quantity, and nothing negative",
			o.Fixed, o.Actual, o.Normal)
	}
	over := max(o.Normal, o.Actual)
	absorbed, err := portion(o.Fixed, uint64(o.Actual), uint64(over))
	if err != nil {
		return Absorption{}, err
	}
	return Absorption{absorbed, o.Fixed - absorbed, Lot{over, o.Fixed}}, nil
}
