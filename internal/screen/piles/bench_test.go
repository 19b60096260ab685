package piles

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/shopspring/decimal"

	"repose/internal/screen"
	"repose/internal/screen/screentest"
	"repose/ledger"
)

// busyYard returns the records of two months of a busy yard, with so many loads in each, out of twenty piles that are
// always about empty: their books fall below zero again and again. The months are March and April.
func busyYard(b *testing.B, loads int) []ledger.Record {
	b.Helper()
	const piles = 20
	facts := []ledger.Fact{ledger.Yard{Code: "Y", Name: "Busy yard", Zone: "Europe/London", Unit: ledger.UnitTonne}}
	for i := range piles {
		code, product := fmt.Sprintf("P%02d", i), fmt.Sprintf("G%02d", i)
		facts = append(facts, ledger.Product{Code: product}, ledger.Pile{Code: code, Product: product},
			ledger.Opening{Pile: code, At: time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC), Solids: 100 * ledger.Tonne, IsSolids: true},
			ledger.DensityTest{Pile: code, Taken: time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC), MoistTPerM3: decimal.RequireFromString("1.6"), Compaction: decimal.NewFromInt(1)})
		for month := time.March; month <= time.April; month++ {
			end := time.Date(2026, month, 30, 20, 0, 0, 0, time.UTC)
			facts = append(facts, ledger.Survey{Survey: fmt.Sprint("S", int(month)), Pile: code, Start: end.Add(-2 * time.Hour), End: end, VolumeM3: decimal.NewFromInt(60)})
		}
	}
	r := rand.New(rand.NewPCG(3, 4))
	for m := range 2 {
		from := time.Date(2026, time.March+time.Month(m), 1, 0, 0, 0, 0, time.UTC)
		step := from.AddDate(0, 1, 0).Sub(from) / time.Duration(loads)
		for i := range loads {
			n, at := m*loads+i, from.Add(time.Duration(i)*step)
			pile := n % piles
			code, net := fmt.Sprintf("P%02d", pile), ledger.Mass(18_000+r.IntN(4_000))*ledger.Kilogram
			load := ledger.Load{At: at, Loader: fmt.Sprintf("L%d", n%12), Ticket: fmt.Sprintf("%07d", n), Pile: code, Product: fmt.Sprintf("G%02d", pile),
				Truck: fmt.Sprintf("K%d", n%900), Customer: "C1", Net: net, Purpose: ledger.PurposeSale}
			facts = append(facts, load)
			if n%(5*piles) < piles {
				facts = append(facts, ledger.Production{At: at, Belt: fmt.Sprintf("B%02d", pile), Pile: code, Net: 5 * net})
			}
			if n%2000 == 7 {
				facts = append(facts, ledger.MoistureTest{Pile: code, Taken: at}, ledger.Transfer{At: at, Loader: "L0", From: code, Net: net},
					ledger.Feed{At: at, Instrument: "L0", Pile: code, Net: net})
			}
		}
	}
	records := make([]ledger.Record, len(facts))
	for i, f := range facts {
		rec, err := ledger.NewRecord("Y", f)
		if err != nil {
			b.Fatal(err)
		}
		rec.Seq = int64(i)
		records[i] = rec
	}
	return records
}

// BenchmarkRules looks through a month of 100,000 loads, with the month before, with all rules of the package.
func BenchmarkRules(b *testing.B) {
	book := screentest.Open(b, busyYard(b, 100_000), "Y", "2026-03", 2)
	d := book.Unmatched(b)
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		n = 0
		for _, r := range Rules() {
			r.Look(d, func(screen.Finding) { n++ })
		}
	}
	b.ReportMetric(float64(n), "findings")
}

// BenchmarkRule looks through the same month with one rule after another.
func BenchmarkRule(b *testing.B) {
	d := screentest.Open(b, busyYard(b, 100_000), "Y", "2026-03", 2).Unmatched(b)
	for _, r := range Rules() {
		b.Run(r.Info().Name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				r.Look(d, func(screen.Finding) {})
			}
		})
	}
}
