package weights_test

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"repose/internal/screen"
	"repose/ledger"
)

// truckload is a truck of the hand-made yard with what both scales recorded. Tests change some.
type truckload struct {
	load     ledger.Load
	deck     ledger.DeckTicket
	noLoad   bool
	noTicket bool
	mass     float64 // t, truly
}

// March and April 2026 have 61 days, of perDay trucks each from six in the morning on.
const (
	march  = 31
	perDay = 40
)

// plain returns the trucks of two months without faults: two loaders in turn, three piles in turn, sixty trucks in turn that
// cross deck D after 4 to 12 minutes, weights within 0.8 %, tares within 60 kg.
func plain(seed uint64) []truckload {
	r := rand.New(rand.NewPCG(seed, 11))
	var all []truckload
	for n := range 61 * perDay {
		at := time.Date(2026, 3, 1+n/perDay, 6, 0, 0, 0, time.UTC).Add(time.Duration(n%perDay) * 16 * time.Minute)
		truck := n % 60
		pile := pileCodes[n%len(pileCodes)]
		net := 21 + 0.6*r.NormFloat64()
		shown := tonnes(net*(1+0.008*r.NormFloat64()), 10)
		tare := tonnes(11+float64(truck*37%40)/10+0.06*r.NormFloat64(), 20)
		name, customer := fmt.Sprintf("K%02d", truck), fmt.Sprintf("C%d", truck%7)
		l := ledger.Load{At: at, Loader: fmt.Sprintf("L%d", 1+n%2), Ticket: fmt.Sprintf("%05d", n), Pile: pile, Truck: name, Customer: customer,
			Passes: 4, Net: shown, Purpose: ledger.PurposeSale}
		c := ledger.DeckTicket{At: at.Add(time.Duration(240+r.IntN(480)) * time.Second), Deck: "D", Ticket: fmt.Sprintf("%05d", n),
			Truck: name, Customer: customer, Product: productOf[pile], Gross: tare + tonnes(net, 20), Tare: tare, Net: tonnes(net, 20)}
		all = append(all, truckload{load: l, deck: c, mass: net})
	}
	return all
}

// april returns which truckload is the nth of a day of April.
func april(day, n int) int { return (march+day-1)*perDay + n }

// yardOf derives April of the hand-made yard with these trucks and further facts.
func yardOf(t testing.TB, all []truckload, more ...ledger.Fact) *screen.Data {
	t.Helper()
	var b book
	b.register(t)
	for _, x := range all {
		if !x.noLoad {
			b.add(t, x.load)
		}
		if !x.noTicket {
			b.add(t, x.deck)
		}
	}
	b.add(t, more...)
	return b.data(t)
}

// setting is a policy record of the hand-made yard.
func setting(name, value string) ledger.Policy {
	return ledger.Policy{Name: ledger.PolicyName(name), Value: value, From: time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)}
}

// told is what tests compare of a finding.
type told struct {
	Rule    string
	Records []string
	Pile    string
	Effects []screen.Effect
}

func (x truckload) loadID() string { return "load:Y:" + x.load.Key() }
func (x truckload) deckID() string { return "deck:Y:" + x.deck.Key() }

// findings returns what the rules of the package find, but for their words.
func findings(t testing.TB, d *screen.Data) []told {
	t.Helper()
	var all []told
	for _, e := range found(t, d) {
		all = append(all, told{e.Rule, e.Records, e.Pile, e.Effects})
	}
	return all
}
