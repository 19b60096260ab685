package valuation_test

import (
	"fmt"
	"time"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"repose/ledger"
)

// drawn is a yard whose months are drawn one after another. Every pile opens with so much that nothing runs short.
type drawn struct {
	*yard
	t      *rapid.T
	n      int           // of facts, so that tickets differ
	change ledger.Pile   // what PB or PX becomes; without a code for nothing
	loads  []ledger.Load // that nothing replaces yet
}

// drawYard draws a yard with two piles of A, one of B, one of C, and one of A that is not its own.
func drawYard(t *rapid.T) *drawn {
	y := &drawn{yard: newYard(t, append(dryProducts(), ledger.Pile{Code: "PA2", Product: "A"}, density("PA"), density("PC"))...), t: t}
	for _, p := range []string{"PA", "PA2", "PB", "PC", "PX"} {
		y.add(ledger.Opening{Pile: p, At: at("2026-10-01 06:00"), Solids: y.mass(2e9, 5e9), IsSolids: true})
	}
	y.add(policy(ledger.ValueSharing, rapid.SampledFrom([]string{ledger.ShareByTonnes, ledger.ShareBySalesValue}).Draw(t, "sharing")),
		policy(ledger.ValueStandard, rapid.SampledFrom([]string{ledger.StandardIAS2, ledger.StandardASC330}).Draw(t, "standard")))
	if y.chance("normal") {
		y.add(policy(ledger.ValueNormal, "2000 t"))
	}
	if y.chance("rate") {
		y.add(policy(ledger.ExpectedShrinkage("A"), "1.7 % of load-out"), policy(ledger.ExpectedShrinkage("C"), "0.9 % of production"))
	}
	y.drawChange()
	return y
}

// drawChange draws what becomes of a pile in November: another product, another owner, at some time or as the month begins.
func (y *drawn) drawChange() {
	y.change = rapid.SampledFrom([]ledger.Pile{{}, {Code: "PB", Product: "C"}, {Code: "PB", Product: "B", Owner: "C1"}, {Code: "PX", Product: "A"},
		{Code: "PX", Product: "C"}}).Draw(y.t, "change")
	if y.change.Code == "" {
		return
	}
	y.change.Opened = rapid.SampledFrom([]time.Time{at("2026-11-01 00:00"), at("2026-11-12 12:00")}).Draw(y.t, "changed")
	y.add(y.change)
}

func (y *drawn) chance(what string) bool { return rapid.IntRange(0, 2).Draw(y.t, what) == 0 }

func (y *drawn) mass(low, high int64) ledger.Mass {
	return ledger.Mass(rapid.Int64Range(low, high).Draw(y.t, "grams"))
}

func (y *drawn) money(low, high int64) decimal.Decimal {
	return decimal.New(rapid.Int64Range(low, high).Draw(y.t, "cents"), -2)
}

// drawMonth draws what happens in a month, some of it a month late, and its costs and prices.
func (y *drawn) drawMonth(period string) {
	p := monthOf(y.t, period)
	start := p.Start(time.UTC)
	stops := y.chance("nothing made")
	if !stops {
		for _, pile := range []string{"PA", "PB", "PC", "PX"} {
			y.add(ledger.Production{At: start.Add(30 * time.Hour), Belt: "B-" + pile, Pile: pile, Net: y.mass(1e7, 5e8)})
		}
	}
	for range rapid.IntRange(0, 15).Draw(y.t, "moves") {
		y.n++
		when := start.Add(time.Duration(rapid.IntRange(2*24*60, 27*24*60).Draw(y.t, "minute")) * time.Minute)
		if period != "2026-10" && y.chance("late") {
			when = when.AddDate(0, -1, 0)
		}
		y.drawMove(when)
	}
	if len(y.loads) > 0 && y.chance("corrected") {
		l := y.loads[0]
		y.loads = y.loads[1:]
		l.Net, l.Void = y.mass(0, 2e7), y.chance("void")
		y.replace(l)
	}
	if y.chance("surveyed") {
		y.add(ledger.Survey{Survey: period, Pile: rapid.SampledFrom([]string{"PA", "PC"}).Draw(y.t, "surveyed pile"), Start: start.Add(480 * time.Hour),
			End: start.Add(481 * time.Hour), VolumeM3: decimal.New(rapid.Int64Range(1e6, 2e6).Draw(y.t, "litres"), -3)})
	}
	y.drawCosts(p, stops)
}

func (y *drawn) drawMove(when time.Time) {
	piles := []string{"PA", "PA2", "PB", "PC", "PX", "P9"}
	pile, net, ticket := rapid.SampledFrom(piles).Draw(y.t, "pile"), y.mass(1, 2e7), fmt.Sprint(y.n)
	switch rapid.IntRange(0, 5).Draw(y.t, "kind") {
	case 0:
		y.add(ledger.Return{At: when, Instrument: "D1", Ticket: ticket, Pile: pile, Net: net})
	case 1:
		y.add(ledger.Feed{At: when, Instrument: "L" + ticket, Pile: pile, Net: net})
	case 2, 3:
		if to := rapid.SampledFrom(piles).Draw(y.t, "to"); to != pile {
			y.add(ledger.Transfer{At: when, Loader: "L1", Ticket: ticket, From: pile, To: to, Net: net})
		}
	case 4:
		y.add(ledger.Correction{Exception: "E-" + ticket, Number: 1, At: when, From: ledger.End{Kind: ledger.KindPile, Name: pile},
			To: ledger.ExplainedBy("spillage"), Pile: pile, Net: net, Reason: "counted"})
	default:
		l := ledger.Load{At: when, Loader: "L1", Ticket: ticket, Pile: pile, Net: net,
			Purpose: rapid.SampledFrom([]ledger.Purpose{ledger.PurposeSale, ledger.PurposeInternal, ledger.PurposeFree}).Draw(y.t, "purpose")}
		y.add(l)
		y.loads = append(y.loads, l)
	}
}

// drawCosts draws costs that have something to lie on: of A and C always, of B while PB holds it, in common where something
// is made.
func (y *drawn) drawCosts(p ledger.Period, stops bool) {
	products := []string{"A", "C"}
	if y.change.Code != "PB" || p == monthOf(y.t, "2026-10") {
		products = append(products, "B")
	}
	say := func(what ledger.CostKind, product string, low, high int64) {
		y.n++
		c := cost(what, product, "0")
		c.Period, c.Centre, c.Amount = p, fmt.Sprint(y.n), y.money(low, high)
		y.add(c)
	}
	for _, product := range products {
		if p == monthOf(y.t, "2026-10") {
			say(ledger.CostOpening, product, 1e6, 1e8)
		}
		say(ledger.CostMaking, product, 1e5, 1e7)
		if y.chance("credit") {
			say(ledger.CostMaking, product, -1e5, 0)
		}
		if y.chance("bought") {
			say(ledger.CostPurchase, product, 0, 1e6)
		}
		if y.chance("fixed of one") {
			say(ledger.CostFixed, product, 0, 1e6)
		}
	}
	if y.chance("fixed") || !stops {
		say(ledger.CostFixed, "", 0, 1e7)
	}
	if !stops {
		say(ledger.CostMaking, "", 0, 1e7)
	}
	for _, product := range []string{"A", "B", "C"} {
		if p == monthOf(y.t, "2026-10") || y.chance("price") {
			y.add(ledger.Price{From: p, Product: product, Amount: y.money(100, 3000), Selling: y.money(0, 99), Per: ledger.UnitTonne, Currency: "EUR"})
		}
	}
}
