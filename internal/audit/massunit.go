package audit

import (
	"crypto/sha256"
	"fmt"
	"math/big"
	"slices"
	"strings"

	"repose/ledger"
)

// MassUnit draws grams, and with each the item in which it lies: monetary-unit sampling with the gram as its unit, so that
// an item is the likelier to be drawn the more it weighs. The items are laid end to end in the order of their IDs' bytes.
// The interval is the mass of all by n, rounded down. The first gram is
//
//	SHA-256(seed), read as one number, modulo the interval, plus 1
//
// and one is drawn every interval from there to the end: n of them, or seldom one more where the interval was rounded. Every
// gram is as likely as any other. An item of an interval or more is always drawn; one of no mass never is, and wants
// another test. Items are in order of ID, each with its number of hits.
func MassUnit(seed string, n int, items []Item) (*Sample, error) {
	s, err := newSample(MethodMassUnit, seed, n, items)
	if err != nil {
		return nil, err
	}
	s.Interval = s.Population.Mass / ledger.Mass(n)
	if s.Interval == 0 {
		return nil, fmt.Errorf("sample of %d grams out of %d: want at least as many", n, int64(s.Population.Mass))
	}
	s.Start = startOf(seed, s.Interval)
	items = slices.Clone(items)
	slices.SortFunc(items, func(a, b Item) int { return strings.Compare(a.ID, b.ID) })
	next, end := s.Start, ledger.Mass(0)
	for _, i := range items {
		end += i.Mass
		if next > end {
			continue
		}
		hits := (end-next)/s.Interval + 1
		next += hits * s.Interval
		s.take(Selected{Item: i, Hits: int(hits)})
	}
	return s, nil
}

// startOf returns the first drawn gram. A digest of 256 bits leaves no bias worth naming in the remainder.
func startOf(seed string, interval ledger.Mass) ledger.Mass {
	digest := sha256.Sum256([]byte(seed))
	number := new(big.Int).SetBytes(digest[:])
	return ledger.Mass(number.Mod(number, big.NewInt(int64(interval))).Int64()) + 1
}
