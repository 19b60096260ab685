package weights_test

import (
	"math"
	"testing"

	"repose/internal/screen"
	"repose/ledger"
)

// The hand-made yard: two piles of sand and one of gravel.
var (
	pileCodes = []string{"N", "S", "G"}
	productOf = map[string]string{"N": "sand", "S": "sand", "G": "gravel"}
)

// book collects the records of a hand-made yard Y in UTC.
type book struct{ records []ledger.Record }

func (b *book) add(t testing.TB, facts ...ledger.Fact) {
	t.Helper()
	for _, f := range facts {
		rec, err := ledger.NewRecord("Y", f)
		if err != nil {
			t.Fatal(err)
		}
		if f.Kind() == ledger.KindProductRecord {
			rec.Yard = ""
		}
		b.records = append(b.records, rec)
	}
}

func (b *book) register(t testing.TB) {
	t.Helper()
	b.add(t, ledger.Yard{Code: "Y", Name: "Hand-made", Zone: "UTC", Unit: ledger.UnitTonne})
	for _, code := range pileCodes {
		b.add(t, ledger.Pile{Code: code, Product: productOf[code]})
	}
}

// data derives the second of the book's months, April 2026.
func (b *book) data(t testing.TB) *screen.Data {
	t.Helper()
	return screened(t, b.records, "Y", "2026-03", 2)
}

// tonnes returns a mass in steps of a display of so many kg.
func tonnes(v float64, step int) ledger.Mass {
	return ledger.Mass(math.Round(v*1000/float64(step))) * ledger.Mass(step) * ledger.Kilogram
}
