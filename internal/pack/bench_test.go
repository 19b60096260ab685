package pack

import (
	"context"
	"fmt"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"repose/ledger"
)

// benchLoads is how many loads the month of the benchmarks has.
const benchLoads = 10_000

// bigBook is a book of one month with many loads.
func bigBook(t testing.TB, loads int) (*testBook, *ledger.Record) {
	b := newBook(t)
	start := day(time.October, 1, 0)
	facts := []ledger.Fact{ledger.Yard{Code: testYard, Zone: "Etc/UTC", Unit: ledger.UnitTonne},
		ledger.Product{Code: "14-20", Reference: moisture(t, "3")}, ledger.Pile{Code: "P1", Product: "14-20"},
		ledger.Opening{Pile: "P1", At: start, Solids: 5_000_000 * ledger.Tonne, IsSolids: true}}
	for i := range loads {
		facts = append(facts, load(strconv.Itoa(i), start.Add(time.Duration(1+i%600)*time.Hour), "P1", 20+i%9))
	}
	b.takeIn(day(time.October, 31, 9), testYard, "loads.csv", facts...)
	rec, _ := b.close(time.October, ledger.NewState())
	return b, rec
}

func BenchmarkWrite(b *testing.B) {
	book, rec := bigBook(b, benchLoads)
	dir := b.TempDir()
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		n++
		if _, err := Write(context.Background(), filepath.Join(dir, fmt.Sprint(n)), book.contents(rec), nil); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkVerify(b *testing.B) {
	book, rec := bigBook(b, benchLoads)
	dir := filepath.Join(b.TempDir(), "pack")
	written, err := Write(context.Background(), dir, book.contents(rec), nil)
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(written.Bytes)
	b.ReportAllocs()
	for b.Loop() {
		mustVerify(b, dir)
	}
}
