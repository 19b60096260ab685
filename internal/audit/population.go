package audit

import (
	"errors"
	"fmt"
	"math/big"
	"slices"
	"strings"

	"repose/ledger"
)

// Item is one thing that may be drawn: a ticket, an entry, a row of a source file.
type Item struct {
	ID      string
	Mass    ledger.Mass // solids, zero or more: how much it is, whichever way it went
	Stratum string      // what it belongs to, such as a pile; may be empty
}

// Total is a number of items and their mass.
type Total struct {
	Count int
	Mass  ledger.Mass
}

func (t *Total) add(m ledger.Mass) (err error) {
	t.Count++
	t.Mass, err = t.Mass.Add(m)
	return err
}

// Stratum is a part of a population.
type Stratum struct {
	Name       string
	Population Total
	Drawn      Total
}

// Method says how a sample was drawn. The zero value is no method.
type Method uint8

// The methods.
const (
	MethodRandom Method = iota + 1
	MethodStratified
	MethodMassUnit
)

var methodNames = [...]string{MethodRandom: "random", MethodStratified: "stratified", MethodMassUnit: "mass unit"}

// String returns random, stratified or mass unit.
func (m Method) String() string { return methodNames[m] }

// Sample is what was drawn, with the totals of what it was drawn from: without them nobody can see that the population
// was whole.
type Sample struct {
	Method     Method
	Seed       string
	Asked      int // how many items, or for mass units how many grams, were to be drawn
	Population Total
	Drawn      Total
	Strata     []Stratum // in order of name

	// Of mass units only: from one drawn gram to the next, and the first one, from 1 to Interval.
	Interval, Start ledger.Mass

	Selected []Selected
}

// Selected is a drawn item.
type Selected struct {
	Item
	Digest string // SHA-256 in hex that ranked it; empty for mass units
	Hits   int    // drawn grams that lie in it, for mass units; else 1
}

// newSample checks the population and totals it. Items must have distinct IDs, or it would be open which of two was
// drawn. A seed of several lines is refused, because seed and ID are told apart by a line's end.
func newSample(method Method, seed string, n int, items []Item) (*Sample, error) {
	switch {
	case seed == "" || strings.Contains(seed, "\n"):
		return nil, fmt.Errorf("seed %q: want one line of text", seed)
	case n < 1:
		return nil, fmt.Errorf("sample of %d: want at least 1", n)
	}
	s := &Sample{Method: method, Seed: seed, Asked: n}
	seen := make(map[string]bool, len(items))
	strata := map[string]*Stratum{}
	for _, i := range items {
		switch {
		case i.ID == "":
			return nil, errors.New("item without an ID")
		case seen[i.ID]:
			return nil, fmt.Errorf("item %q is in the population twice", i.ID)
		case i.Mass < 0:
			return nil, fmt.Errorf("item %q: mass %v: want zero or more", i.ID, i.Mass)
		}
		seen[i.ID] = true
		if strata[i.Stratum] == nil {
			strata[i.Stratum] = &Stratum{Name: i.Stratum}
		}
		if err := errors.Join(s.Population.add(i.Mass), strata[i.Stratum].Population.add(i.Mass)); err != nil {
			return nil, fmt.Errorf("population: %w", err)
		}
	}
	for _, st := range strata {
		s.Strata = append(s.Strata, *st)
	}
	slices.SortFunc(s.Strata, func(a, b Stratum) int { return strings.Compare(a.Name, b.Name) })
	return s, nil
}

// take notes drawn items. Their mass cannot leave the bounds within which that of the population lies.
func (s *Sample) take(drawn ...Selected) {
	s.Selected = append(s.Selected, drawn...)
	for _, d := range drawn {
		st := s.stratum(d.Stratum)
		for _, t := range []*Total{&s.Drawn, &st.Drawn} {
			t.Count++
			t.Mass += d.Mass
		}
	}
}

// stratum returns the stratum of a name that is in the population.
func (s *Sample) stratum(name string) *Stratum {
	i, _ := slices.BinarySearchFunc(s.Strata, name, func(st Stratum, name string) int { return strings.Compare(st.Name, name) })
	return &s.Strata[i]
}

// proportion returns m x num / den rounded half-even to the gram; den is above zero.
func proportion(m, num, den ledger.Mass) (ledger.Mass, error) {
	product := new(big.Int).Mul(big.NewInt(int64(m)), big.NewInt(int64(num)))
	q, r := product.DivMod(product, big.NewInt(int64(den)), new(big.Int))
	if c := r.Lsh(r, 1).Cmp(big.NewInt(int64(den))); c > 0 || c == 0 && q.Bit(0) == 1 {
		q.Add(q, big.NewInt(1))
	}
	if !q.IsInt64() {
		return 0, ledger.ErrMassRange
	}
	return ledger.Mass(q.Int64()).Add(0) // within bounds or an error
}
