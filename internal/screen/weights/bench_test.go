package weights_test

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"repose/internal/screen"
	"repose/internal/screen/screentest"
	"repose/internal/screen/weights"
	"repose/ledger"
)

// busyYard returns the records of two months of a busy yard, with so many loads in each: twelve loaders and
// three deck scales, day and night. One load in 200 is missing, and one ticket.
func busyYard(t testing.TB, loads int) []ledger.Record {
	t.Helper()
	var b book
	b.register(t)
	r := rand.New(rand.NewPCG(1, 2))
	tares := map[int]int{}
	start := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	for m := range 2 {
		from := start.AddDate(0, m, 0)
		step := from.AddDate(0, 1, 0).Sub(from) / time.Duration(loads)
		for i := range loads {
			n := m*loads + i
			truck := (n*7 + r.IntN(5)) % 900
			if tares[truck] == 0 {
				tares[truck] = 11_000 + r.IntN(4_000)
			}
			net := 20 + r.NormFloat64()
			at := from.Add(time.Duration(i) * step)
			name, pile := fmt.Sprintf("K%d", truck), pileCodes[n%len(pileCodes)]
			if n%200 != 3 {
				b.add(t, ledger.Load{At: at, Loader: fmt.Sprintf("L%d", n%12), Ticket: fmt.Sprintf("%07d", n), Pile: pile, Truck: name, Customer: "C1",
					Passes: 4, Net: tonnes(net*(1+0.01*r.NormFloat64()), 10), Purpose: ledger.PurposeSale})
			}
			if n%200 != 5 {
				tare, shown := tonnes(float64(tares[truck])/1000+0.06*r.NormFloat64(), 20), tonnes(net, 20)
				b.add(t, ledger.DeckTicket{At: at.Add(time.Duration(200+r.IntN(500)) * time.Second), Deck: fmt.Sprintf("D%d", n%3),
					Ticket: fmt.Sprintf("%07d", n), Truck: name, Customer: "C1", Product: productOf[pile], Gross: tare + shown, Tare: tare, Net: shown})
			}
		}
	}
	return b.records
}

// BenchmarkRules looks through a month of 100,000 loads and as many tickets, with the month before, with all rules of the
// package: that they have looked at nothing before, without the matching.
func BenchmarkRules(b *testing.B) {
	book := screentest.Open(b, busyYard(b, 100_000), "Y", "2026-03", 2)
	b.ReportAllocs()
	for b.Loop() {
		b.StopTimer()
		d := book.Data(b)
		b.StartTimer()
		n := 0
		for _, r := range weights.Rules() {
			r.Look(d, func(screen.Finding) { n++ })
		}
		b.ReportMetric(float64(n), "findings")
	}
}
