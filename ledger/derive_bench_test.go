package ledger_test

import (
	"fmt"
	"testing"
	"time"

	"repose/ledger"
)

// busyOctober returns a month of a yard with twenty piles, four loaders and a deck scale that weighs every tenth truck. One load
// in a hundred was corrected.
func busyOctober(t testing.TB, loads int) ledger.Input {
	y := newYard(t)
	for i := range 20 {
		code := fmt.Sprintf("P%02d", i)
		y.add(pile(code), ledger.MoistureTest{Pile: code, Taken: at("2026-09-01 00:00"), Moisture: mustDry(t, "4.2")},
			ledger.Opening{Pile: code, At: at("2026-10-01 00:00"), Mass: tons(100_000)})
	}
	for i := range 4 {
		y.add(ledger.Instrument{Code: fmt.Sprint("L", i), Weighs: ledger.InstrumentLoader, From: at("2026-01-01 00:00")})
	}
	step := 30 * 24 * time.Hour / time.Duration(loads)
	for i := range loads {
		l := ledger.Load{At: at("2026-10-01 06:00").Add(time.Duration(i) * step), Loader: fmt.Sprint("L", i%4), Ticket: fmt.Sprintf("%06d", i),
			Pile: fmt.Sprintf("P%02d", i*7%20), Truck: fmt.Sprint("T", i%97), Net: tons(20) + ledger.Mass(i%600)*10*ledger.Kilogram, Purpose: ledger.PurposeSale}
		y.add(l)
		if i%10 == 0 {
			y.add(ledger.DeckTicket{At: l.At.Add(5 * time.Minute), Deck: "D1", Ticket: l.Ticket, Truck: l.Truck, Net: l.Net})
		}
		if i%100 == 50 {
			l.Net += tons(1)
			y.replace(l.Key(), l)
		}
	}
	return y.input("2026-10", ledger.NewState())
}

// BenchmarkDerive enters a month of 100,000 loads, without the reading of records.
func BenchmarkDerive(b *testing.B) {
	in := busyOctober(b, 100_000)
	b.ReportAllocs()
	entries := 0
	for b.Loop() {
		m, err := ledger.Derive(in, func(*ledger.Entry) error { return nil })
		if err != nil {
			b.Fatal(err)
		}
		entries = m.Entries
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(entries), "ns/entry")
}
