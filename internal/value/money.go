package value

import (
	"errors"
	"math/bits"
)

// Money is a signed amount in whole minor units of one currency: cents, where the currency has two decimals. What the
// currency is, and where the point stands, [Currency] knows. The zero Money is nothing.
//
// A Money made by this package lies within ±MaxMoney, so the sum of any two fits an int64.
type Money int64

// MaxMoney bounds an amount: fifteen digits, which a spreadsheet's number still holds exactly.
const MaxMoney Money = 1e15 - 1

// ErrMoneyRange says that an amount has more than fifteen digits in minor units.
var ErrMoneyRange = errors.New("money beyond fifteen digits of minor units")

// Add returns m + n, or ErrMoneyRange.
func (m Money) Add(n Money) (Money, error) { return (m + n).checked() }

// Sub returns m - n, or ErrMoneyRange.
func (m Money) Sub(n Money) (Money, error) { return (m - n).checked() }

func (m Money) checked() (Money, error) {
	if m > MaxMoney || m < -MaxMoney {
		return 0, ErrMoneyRange
	}
	return m, nil
}

// portion returns cost x part / whole, rounded half-even to the minor unit. The product is exact: it has 128 bits. No
// argument may be negative, and whole must be positive; the portion may be larger than the cost.
func portion(cost Money, part, whole uint64) (Money, error) {
	hi, lo := bits.Mul64(uint64(cost), part)
	if hi >= whole {
		return 0, ErrMoneyRange // the quotient would not fit 64 bits
	}
	q, r := bits.Div64(hi, lo, whole)
	if rest := whole - r; r > rest || r == rest && q%2 == 1 {
		q++
	}
	if q > uint64(MaxMoney) {
		return 0, ErrMoneyRange
	}
	return Money(q), nil
}
