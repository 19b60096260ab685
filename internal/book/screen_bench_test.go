package book_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"repose/internal/book"
	"repose/ledger"
)

// busyMonth is a month of n loads by six loaders and of as many deck tickets, with a tenth as many in the month before.
// One load in 200 has no ticket, one ticket in 200 no load, one record in 1,000 is of two trucks.
func busyMonth(n int) []ledger.Fact {
	r := rand.New(rand.NewPCG(1, 2))
	facts := make([]ledger.Fact, 0, 2*n)
	number := map[string]int{}
	next := func(instrument string) string {
		number[instrument]++
		return fmt.Sprintf("%s-%06d", instrument, number[instrument])
	}
	month := func(start time.Time, n int) {
		for i := range n {
			at := start.Add(time.Duration(float64(i) / float64(n) * 30 * 24 * float64(time.Hour))).Truncate(time.Second)
			loader, deck := fmt.Sprintf("L%d", 1+i%6), fmt.Sprintf("D%d", 1+i%3)
			kg := ledger.Mass(20_000 + r.IntN(8_000))
			truck := fmt.Sprintf("V%04d", i%900)
			pile := pileCodes[r.IntN(len(pileCodes))]
			net := (kg + ledger.Mass(150*r.NormFloat64())) / 10 * 10 * ledger.Kilogram
			if i%1000 == 7 {
				net *= 2
			}
			if i%200 != 3 {
				facts = append(facts, ledger.Load{At: at, Loader: loader, Ticket: next(loader), Pile: pile, Product: "S20", Truck: truck,
					Customer: fmt.Sprintf("C%d", i%40), Passes: 4, Net: net, Purpose: ledger.PurposeSale})
			}
			if i%200 != 5 {
				facts = append(facts, ledger.DeckTicket{At: at.Add(time.Duration(300+r.IntN(300)) * time.Second), Deck: deck, Ticket: next(deck),
					Truck: truck, Customer: fmt.Sprintf("C%d", i%40), Product: "S20", Gross: (kg + 14_000) * ledger.Kilogram,
					Tare: ledger.Mass(13_900+20*r.IntN(10)) * ledger.Kilogram, Net: kg / 20 * 20 * ledger.Kilogram})
			}
		}
	}
	month(at("2026-10-01 01:00"), n/10)
	month(at("2026-11-01 01:00"), n)
	return facts
}

// BenchmarkExceptions looks through a month with every rule, from the book's file to the register.
func BenchmarkExceptions(b *testing.B) {
	for _, n := range []int{10_000, 100_000} {
		b.Run(fmt.Sprintf("%dLoads", n), func(b *testing.B) {
			store := open(b)
			take(b, store, closing, append(yard(b, "never"), records(b, busyMonth(n)...)...))
			r, err := book.Read(context.Background(), store, time.Time{})
			if err != nil {
				b.Fatal(err)
			}
			b.ReportAllocs()
			found := 0
			for b.Loop() {
				all, err := r.Exceptions(context.Background(), "Y", november)
				if err != nil {
					b.Fatal(err)
				}
				found = len(all)
			}
			b.ReportMetric(float64(found), "exceptions")
		})
	}
}
