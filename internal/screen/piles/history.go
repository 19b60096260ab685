package piles

import (
	"slices"
	"time"

	"repose/internal/screen"
	"repose/ledger"
)

// How far back tests are looked for where the rows hold fewer.
const mostTests = 36

// moisturesOf returns the tests of the month and the month before, by pile or product, in order, each list with what the
// register has before them where it is short: a yard that samples once a month has two.
func moisturesOf(d *screen.Data) map[string][]ledger.MoistureTest {
	groups := map[string][]ledger.MoistureTest{}
	for _, m := range d.Moistures {
		groups[subject(m.Fact.Pile, m.Fact.Product)] = append(groups[subject(m.Fact.Pile, m.Fact.Product)], m.Fact)
	}
	for key, list := range groups {
		pile := list[0].Pile
		if pile == "" {
			continue // the register tells tests by pile
		}
		groups[key] = extended(list, mostTests, func(m ledger.MoistureTest) time.Time { return m.Taken }, func(at time.Time) (ledger.MoistureTest, bool) {
			m, ok := d.Register.MoistureTest(ledger.PileID{Yard: d.Yard, Code: pile}, at)
			return m, ok && m.Pile == pile
		})
	}
	return groups
}

// subject names what a test was taken of.
func subject(pile, product string) string { return pile + "/" + product }

// extended puts before a list of tests those that were in force before its first, until it has so many.
func extended[T any](list []T, most int, taken func(T) time.Time, inForce func(at time.Time) (T, bool)) []T {
	var earlier []T
	first := taken(list[0])
	for len(earlier)+len(list) < most {
		t, ok := inForce(first.Add(-1))
		if !ok || !taken(t).Before(first) { // none, or a later one for want of any
			break
		}
		earlier, first = append(earlier, t), taken(t)
	}
	slices.Reverse(earlier)
	return append(earlier, list...)
}
