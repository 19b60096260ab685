package piles

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"repose/ledger"
)

// carried is a transfer of which one end may be empty.
func carried(clock, ticket, from, to string, tonnes ledger.Mass) ledger.Transfer {
	return ledger.Transfer{At: at(clock), Loader: "L1", Ticket: ticket, From: from, To: to, Net: tonnes * ledger.Tonne}
}

// Two halves of about one mass and one time are one transfer: then nothing is missing anywhere. What came from nowhere by
// itself is missing from some pile, and what came nowhere is not.
func TestTwoHalvesOfATransfer(t *testing.T) {
	pair := wants(t, october(t, carried("2026-10-05 08:00", "1", "P1", "", 20), carried("2026-10-05 09:00", "2", "", "P2", 20)), oneSided{},
		"transfer:Y:L1/1", "transfer:Y:L1/2")
	seen(t, pair[0], "transfer:Y:L1/2 with 20.000 t at 2026-10-05 10:00 may be the other half", "transfer:Y:L1/1", "transfer:Y:L1/2")
	seen(t, pair[1], "transfer:Y:L1/1 with 20.000 t", "transfer:Y:L1/2", "transfer:Y:L1/1")
	for name, second := range map[string]ledger.Transfer{"later": carried("2026-10-05 11:00", "2", "", "P2", 20), "heavier": carried("2026-10-05 09:00", "2", "", "P2", 22),
		"to itself": carried("2026-10-05 09:00", "2", "", "P1", 20), "the same end": carried("2026-10-05 09:00", "2", "P2", "", 20)} {
		t.Run(name, func(t *testing.T) {
			found := wants(t, october(t, carried("2026-10-05 08:00", "1", "P1", "", 20), second), oneSided{}, "transfer:Y:L1/1", "transfer:Y:L1/2")
			for _, f := range found {
				if len(f.Records) != 1 || f.Effects != nil {
					t.Errorf("%v %v", f.Records, f.Effects)
				}
				if fromNowhere := strings.Contains(f.Seen, "where from"); fromNowhere != (f.Unplaced == f.Mass) {
					t.Errorf("%s: %v of a pile that is not told", f.Seen, f.Unplaced)
				}
			}
		})
	}
}

// The pile that the stated product may have come from is looked for at the time of the load.
func TestProductNotHeldByPilesOfTheDay(t *testing.T) {
	wrong := load("1", "2026-10-20 08:00", "P1", "V1")
	wrong.Product = "G2"
	for name, c := range map[string]struct {
		pile    ledger.Pile
		effects int
	}{
		"another since":   {ledger.Pile{Code: "P3", Product: "G2", Opened: at("2026-10-10 00:00")}, 0},
		"another to come": {ledger.Pile{Code: "P3", Product: "G2", Opened: at("2026-10-25 00:00")}, 2},
		"another gone":    {ledger.Pile{Code: "P3", Product: "G2", Closed: at("2026-10-15 00:00")}, 2},
	} {
		t.Run(name, func(t *testing.T) {
			if f := wants(t, october(t, wrong, c.pile), notHeld{}, "load:Y:L1/1")[0]; len(f.Effects) != c.effects {
				t.Errorf("%s: effects %v", f.Seen, f.Effects)
			}
		})
	}
}

// Loads here and there of P2 that were keyed as P1's, where the deck scale has the right product.
func TestMirroredDifferenceByTheDeck(t *testing.T) {
	var facts []ledger.Fact
	var keyed []string
	for n := range 40 {
		pile, product, clock := "P1", "G1", fmt.Sprintf("2026-10-%02d %02d:00", 5+n/4%5, 8+n%4+4*(n/20))
		if n%2 == 1 {
			pile, product = "P2", "G2"
		}
		l := load(fmt.Sprint(n), clock, pile, fmt.Sprint("V", n))
		if n%10 == 7 {
			l.Pile = "P1"
			keyed = append(keyed, fmt.Sprintf("load:Y:L1/%d", n))
		}
		deck := ledger.DeckTicket{At: at(clock).Add(6e11), Deck: "D1", Ticket: l.Ticket, Truck: l.Truck, Customer: "C1", Product: product, Net: l.Net}
		facts = append(facts, l, deck)
	}
	facts = append(facts, survey("P1", "2026-10-30 12:00", 300), survey("P2", "2026-10-30 12:00", 300)) // 20 loads left each
	f := wants(t, october(t, facts...), mirrored{}, "P2/P1")[0]
	slices.Sort(keyed)
	slices.Sort(f.Records[2:]) // the surest come first
	seen(t, f, "the deck scale has G2 for loads of P1, 4 times: 80.000 t of solids", append([]string{"survey:Y:S10/P2", "survey:Y:S10/P1"}, keyed...)...)
}

// What a yard expects to lose of what it makes is entered beside it, and is nothing that the belt counted.
func TestBeltWhileIdleLeavesAllowancesOut(t *testing.T) {
	policy := ledger.Policy{Name: "expected shrinkage G1", Value: "1 % of production", From: at("2026-01-01 00:00")}
	reading := func(clock string, tonnes ledger.Mass) ledger.Production {
		return ledger.Production{At: at(clock), Belt: "B1", Pile: "P1", Reading: tonnes * ledger.Tonne, IsReading: true, ReadingUnit: ledger.UnitTonne}
	}
	d := october(t, policy, reading("2026-10-05 18:00", 1000), reading("2026-10-06 03:00", 1100))
	allowed := false
	for _, e := range d.Entries {
		allowed = allowed || len(e.Legs) == 2
	}
	if f := wants(t, d, idle{}, "2026-10-06/B1")[0]; f.Mass != 100*ledger.Tonne || !allowed {
		t.Errorf("%v counted in the night, an allowance beside it: %v", f.Mass, allowed)
	}
}

// Feed of several piles in a day is of none.
func TestFeedAsNewOfSeveralPiles(t *testing.T) {
	feed := func(clock, pile string) ledger.Feed {
		return ledger.Feed{At: at(clock), Instrument: "L1", Pile: pile, Net: 30 * ledger.Tonne}
	}
	for other, want := range map[string]string{"P1": "P1", "P2": ""} {
		f := wants(t, october(t, feed("2026-10-05 08:00", "P1"), feed("2026-10-05 08:30", other), made("2026-10-05 09:30", "B1", "P2", 100)),
			feedAsNew{}, "2026-10-05")[0]
		if f.Pile != want || f.Mass != 60*ledger.Tonne {
			t.Errorf("fed of P1 and %s: %v of pile %q, want %q", other, f.Mass, f.Pile, want)
		}
	}
}
