package measure

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/shopspring/decimal"

	"repose/ledger"
)

// BenchmarkAnalyse looks for causes in yards of growing size over 24 months, of which the first twelve are
// history: what `causes` does once the balances have been read.
func BenchmarkAnalyse(b *testing.B) {
	for _, piles := range []int{6, 15, 30, 60} {
		b.Run(fmt.Sprintf("piles=%d", piles), func(b *testing.B) {
			reg, balances := benchYard(b, piles, 24)
			b.ReportAllocs()
			for b.Loop() {
				o, err := Build(reg, "Y", balances, nil)
				if err != nil {
					b.Fatal(err)
				}
				a, err := Analyse(o)
				if err != nil || len(a.Causes) == 0 {
					b.Fatal(err)
				}
			}
		})
	}
}

// benchYard invents balances of piles that are surveyed every month, fed by a belt for six piles each, and
// loaded out by two loaders.
func benchYard(b *testing.B, piles, months int) (*ledger.Register, []ledger.Balance) {
	random := rand.New(rand.NewPCG(1, uint64(piles)))
	var records []ledger.Record
	add := func(f ledger.Fact) ledger.Record {
		rec, err := ledger.NewRecord("Y", f)
		if err != nil {
			b.Fatal(err)
		}
		records = append(records, rec)
		return rec
	}
	add(ledger.Yard{Code: "Y", Zone: "UTC", Unit: ledger.UnitTonne})
	start := at("2024-01-01")
	mass := func(t float64) ledger.Mass { return ledger.Mass(t * float64(ledger.Tonne)) }
	var balances []ledger.Balance
	for p := range piles {
		id := ledger.PileID{Yard: "Y", Code: fmt.Sprintf("P%02d", p)}
		add(ledger.Pile{Code: id.Code, Product: "S"})
		test := ledger.DensityTest{Pile: id.Code, Taken: start, MoistTPerM3: decimal.New(16, -1), Compaction: decimal.NewFromInt(1), U: pct("3")}
		add(test)
		stock := 10000 + 20000*random.Float64()
		opening := ledger.Base{Record: "opening:Y:" + id.Code, At: start, Solids: mass(stock)}
		for m := range months {
			when := start.AddDate(0, m+1, 0).Add(-time.Hour)
			s := ledger.Survey{Survey: fmt.Sprint("S", m), Pile: id.Code, Start: when, End: when, VolumeM3: decimal.NewFromInt(1000), VolumeU: pct("1.12")}
			rec := add(s)
			made, sold := 3000+2000*random.Float64(), 3000+2000*random.Float64()
			base := opening
			base.In, base.Out = mass(made), mass(sold)
			base.Streams = ledger.Streams{
				{Way: ledger.ColumnProduction, Instrument: fmt.Sprint("B", p/6)}: {Solids: mass(made), Weighings: 30},
				{Way: ledger.ColumnSale, Instrument: fmt.Sprint("L", p%2)}:       {Solids: -mass(sold), Weighings: 200},
			}
			stock += made - sold
			found := mass(stock * (1 + 0.0112*random.NormFloat64()))
			balances = append(balances, ledger.Balance{Pile: id, Product: "S", Survey: rec.ID(), At: when, Found: found, DensityTest: test.Key(), Base: base})
			opening = ledger.Base{Record: rec.ID(), At: when, Solids: found}
		}
	}
	reg, err := ledger.NewRegister(records)
	if err != nil {
		b.Fatal(err)
	}
	return reg, balances
}
