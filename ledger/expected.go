package ledger

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/shopspring/decimal"
)

// RateBasis is what an expected shrinkage is a per cent of. The zero value is none.
type RateBasis uint8

// The bases.
const (
	RateOfProduction RateBasis = iota + 1
	RateOfLoadOut              // what is loaded out, for whatever purpose
)

var rateBasisNames = [...]string{RateOfProduction: "production", RateOfLoadOut: "load-out"}

// String returns production or load-out.
func (b RateBasis) String() string { return nameOf(rateBasisNames[:], int(b)) }

// Rate is what a yard expects a product to lose, by wind, degradation and spillage, in per cent of solids. It goes out
// of the book with every record that it is a per cent of, into a shrinkage account of its own; a survey then shows by
// how much it was wrong.
type Rate struct {
	Percent decimal.Decimal
	Of      RateBasis
}

// expectedPrefix begins the name of the policy of a product's rate: expected shrinkage 20mm.
const expectedPrefix = "expected shrinkage "

// ExpectedShrinkage returns the name of the policy of a product's rate.
func ExpectedShrinkage(product string) PolicyName { return PolicyName(expectedPrefix + product) }

// IsExpectedShrinkage reports whether the policy is the rate of a product.
func (n PolicyName) IsExpectedShrinkage() bool {
	product, ok := strings.CutPrefix(string(n), expectedPrefix)
	return ok && IsCode(product)
}

// maxRate bounds a rate: more than a fifth is no allowance.
var maxRate = decimal.NewFromInt(20)

// ParseRate reads a rate such as "0.8 % of production", "0.5 of load-out" or "0.8".
func ParseRate(s string) (Rate, error) {
	number, basis, stated := strings.Cut(s, " of ")
	r := Rate{Of: RateOfProduction}
	if stated {
		r.Of = RateBasis(max(indexFold(rateBasisNames[:], strings.TrimSpace(basis)), 0))
	}
	var err error
	r.Percent, err = ParseDecimal(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(number), "%")))
	if err != nil || r.Of == 0 || r.Percent.IsNegative() || r.Percent.GreaterThan(maxRate) {
		return Rate{}, fmt.Errorf("%q: want a per cent from 0 to 20 of production or load-out, such as 0.8 %% of production", s)
	}
	return r, nil
}

// Rate returns what a yard expects a product to lose at an instant; ok is false where it has not said.
func (r *Register) Rate(yard, product string, at time.Time) (rate Rate, ok bool) {
	value, ok := r.Setting(yard, ExpectedShrinkage(product), at)
	if !ok {
		return Rate{}, false
	}
	rate, err := ParseRate(value) // it was read once when the record was made
	return rate, err == nil && !rate.Percent.IsZero()
}

// ProductRate is the rate of a product.
type ProductRate struct {
	Product string
	Rate
}

// rates returns what a yard expects products to lose at an instant, in order of product.
func (r *Register) rates(yard string, at time.Time) []ProductRate {
	var all []ProductRate
	seen := map[string]bool{}
	for _, f := range r.policies[yard] {
		product := strings.TrimPrefix(string(f.Name), expectedPrefix)
		if !f.Name.IsExpectedShrinkage() || seen[product] {
			continue
		}
		seen[product] = true
		if rate, ok := r.Rate(yard, product, at); ok {
			all = append(all, ProductRate{product, rate})
		}
	}
	slices.SortFunc(all, func(a, b ProductRate) int { return strings.Compare(a.Product, b.Product) })
	return all
}

// allow takes what is expected to be lost with an entry's stone out of the pile, rounded half-even to the gram, with the
// water that goes with it. An entry that takes stone back, such as a totaliser's correction, takes its allowance back too.
func (p *poster) allow(e *Entry, pile string, of RateBasis) error {
	id := PileID{p.yard, pile}
	if !p.reg.rated[p.yard] || !p.reg.Known(id) {
		return nil
	}
	rate, ok := p.reg.Rate(p.yard, p.reg.Pile(id, e.Record.At).Product, e.Record.At)
	if !ok || rate.Of != of {
		return nil
	}
	var solids Mass
	for _, l := range e.Legs {
		switch id.Account() {
		case l.To:
			solids += l.Solids
		case l.From:
			solids -= l.Solids
		}
	}
	if of == RateOfLoadOut {
		solids = -solids
	}
	lost, err := massOf(decimal.NewFromInt(int64(solids)).Mul(rate.Percent).Shift(-2))
	if err != nil {
		return err
	}
	water, err := e.Moisture.Water(lost)
	if err != nil {
		return err
	}
	return e.leg(id.Account(), p.account(KindShrinkage, ShrinkageExpected), Amount{lost, water})
}
