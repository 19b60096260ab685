package tickets

import (
	"fmt"
	"testing"
	"time"

	"repose/internal/screen"
	"repose/internal/screen/screentest"
	"repose/ledger"
)

// busyYard returns two months of a yard with so many loads in each: twelve loaders with counters of their own, a deck
// ticket for every tenth load, one number in 500 lost, and one load in 100 void.
func busyYard(loads int) []ledger.Fact {
	facts := screentest.Place()
	start := at("2026-09-01 00:00")
	step := 61 * 24 * time.Hour / time.Duration(2*loads)
	for i := range 2 * loads {
		loader, n := i%12, i/12
		if n%500 == 7 {
			continue
		}
		when, net := start.Add(time.Duration(i)*step), ledger.Mass(950+i*7919%100)*20*ledger.Kilogram
		truck := fmt.Sprint("V", i*31%900)
		facts = append(facts, ledger.Load{At: when, Loader: fmt.Sprint("L", loader), Ticket: fmt.Sprintf("%06d", n+1), Pile: "P1", Truck: truck, Customer: "C1",
			Net: net, Purpose: ledger.PurposeSale, Void: n%100 == 3})
		if i%10 == 0 {
			tare := ledger.Mass(600+i*31%900+i%7) * 20 * ledger.Kilogram
			facts = append(facts, ledger.DeckTicket{At: when.Add(9 * time.Minute), Deck: "D1", Ticket: fmt.Sprintf("W%06d", i/10+1), Truck: truck, Customer: "C1",
				Product: "G1", Gross: tare + net, Tare: tare, Net: net})
		}
	}
	return facts
}

// BenchmarkRules looks through a month of 100,000 loads, with the month before, with all rules of the package, each alone
// and all together, when the series are there: BenchmarkSeries makes them.
func BenchmarkRules(b *testing.B) {
	d := october(b, busyYard(100_000)[len(screentest.Place()):]...)
	seriesOf(d)
	for _, r := range append([]screen.Rule{nil}, Rules()...) {
		rules, name := []screen.Rule{r}, "all"
		if r == nil {
			rules = Rules()
		} else {
			name = r.Info().Name
		}
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			n := 0
			for b.Loop() {
				n = 0
				for _, rule := range rules {
					rule.Look(d, func(screen.Finding) { n++ })
				}
			}
			b.ReportMetric(float64(n), "findings")
		})
	}
}

// BenchmarkSeries sorts two months of 100,000 loads each into their series, which is what the rules about numbers share.
func BenchmarkSeries(b *testing.B) {
	d := october(b, busyYard(100_000)[len(screentest.Place()):]...)
	b.ReportAllocs()
	for b.Loop() {
		collect(d)
	}
}
