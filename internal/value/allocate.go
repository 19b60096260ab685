package value

import (
	"fmt"
	"math/bits"
	"slices"

	"repose/ledger"
)

// Allocate splits a total by weights, masses or moneys, so that the parts sum to it exactly: each part is its exact share
// rounded down, and the minor units that this leaves over go one each to the largest remainders, of equal ones to the
// earlier. So no part is a whole minor unit from its exact share. Neither the total nor a weight may be negative, and one
// weight must be positive unless the total is zero.
func Allocate[W ledger.Mass | Money](total Money, weights []W) ([]Money, error) {
	var whole uint64
	for i, w := range weights {
		var carry uint64
		whole, carry = bits.Add64(whole, uint64(w), 0)
		if w < 0 || carry != 0 {
			return nil, fmt.Errorf("weight %d is %d: want none negative, and a sum within 64 bits", i+1, int64(w))
		}
	}
	parts := make([]Money, len(weights))
	if total < 0 || total > 0 && whole == 0 {
		return nil, fmt.Errorf("total of %d minor units over weights of %d: want neither negative, and a weight", total, whole)
	}
	if total == 0 {
		return parts, nil
	}
	type share struct {
		part int
		rest uint64
	}
	shares, left := make([]share, len(weights)), total
	for i, w := range weights {
		hi, lo := bits.Mul64(uint64(total), uint64(w))
		q, r := bits.Div64(hi, lo, whole) // total < 2^63 and w <= whole, so the quotient fits
		parts[i], shares[i] = Money(q), share{i, r}
		left -= parts[i]
	}
	slices.SortStableFunc(shares, func(a, b share) int {
		switch {
		case a.rest > b.rest:
			return -1
		case a.rest < b.rest:
			return 1
		}
		return 0
	})
	for i := range int(left) {
		parts[shares[i].part]++
	}
	return parts, nil
}
