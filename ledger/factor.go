package ledger

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/shopspring/decimal"
)

// factorPrefix begins the name of the policy that re-rates a belt: belt factor B1.
const factorPrefix = "belt factor "

// BeltFactor returns the name of the policy that re-rates a belt.
func BeltFactor(belt string) PolicyName { return PolicyName(factorPrefix + belt) }

// IsBeltFactor reports whether the policy re-rates a belt.
func (n PolicyName) IsBeltFactor() bool {
	belt, ok := strings.CutPrefix(string(n), factorPrefix)
	return ok && IsCode(belt)
}

// The bounds of a factor: what a belt weigher that works is off by is far inside them.
var minFactor, maxFactor = decimal.New(5, -1), decimal.New(2, 0)

// ParseFactor reads a belt factor such as 1.006: what a belt's masses are multiplied by from a day on.
func ParseFactor(s string) (decimal.Decimal, error) {
	f, err := ParseDecimal(strings.TrimSpace(s))
	if err != nil || f.LessThan(minFactor) || f.GreaterThan(maxFactor) {
		return decimal.Decimal{}, fmt.Errorf("%q: want a factor from 0.5 to 2, such as 1.006", s)
	}
	return f, nil
}

// Factor returns what the masses of a belt are multiplied by at an instant; ok is false where they stand as they are.
func (r *Register) Factor(yard, belt string, at time.Time) (factor decimal.Decimal, ok bool) {
	value, ok := r.Setting(yard, BeltFactor(belt), at)
	if !ok {
		return decimal.NewFromInt(1), false
	}
	factor, err := ParseFactor(value) // it was read once when the record was made
	return factor, err == nil && !factor.Equal(decimal.NewFromInt(1))
}

// BeltRating is the factor of a belt.
type BeltRating struct {
	Belt   string
	Factor decimal.Decimal
}

// ratings returns the factors of a yard's belts in force at an instant, in order of belt.
func (r *Register) ratings(yard string, at time.Time) []BeltRating {
	all := map[string]BeltRating{}
	for _, f := range r.policies[yard] {
		if belt := strings.TrimPrefix(string(f.Name), factorPrefix); f.Name.IsBeltFactor() {
			if factor, ok := r.Factor(yard, belt, at); ok {
				all[belt] = BeltRating{belt, factor}
			}
		}
	}
	list := make([]BeltRating, 0, len(all))
	for _, b := range all {
		list = append(list, b)
	}
	slices.SortFunc(list, func(a, b BeltRating) int { return strings.Compare(a.Belt, b.Belt) })
	return list
}

// rerate multiplies what a belt counted by its factor, rounded half-even to the gram, and flags the entry.
func (p *poster) rerate(e *Entry, belt string, made Mass) (Mass, error) {
	factor, ok := p.reg.Factor(p.yard, belt, e.Record.At)
	if !ok {
		return made, nil
	}
	e.Flags |= FlagFactor
	return massOf(decimal.NewFromInt(int64(made)).Mul(factor))
}
