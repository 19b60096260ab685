package sqlite_test

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"repose/internal/sqlite"
	"repose/ledger"
)

// benchRecords is how many loads a benchmark works on.
const benchRecords = 300_000

// benchStart is the instant of the first of them; they follow one another in five-second steps, so that
// they fill a little more than half a month.
func benchStart() time.Time { return time.Date(2026, 10, 1, 0, 0, 0, 0, time.UTC) }

func benchLoad(i int, file string) ledger.Record {
	rec, err := ledger.NewRecord("NORTH", ledger.Load{At: benchStart().Add(time.Duration(i) * 5 * time.Second),
		Loader: fmt.Sprintf("L%d", i%3+1), Ticket: fmt.Sprintf("%07d", 1_000_000+i), Pile: fmt.Sprintf("P%d", i%9+1),
		Product: "14/20", Truck: fmt.Sprintf("T%03d", i%240), Customer: fmt.Sprintf("C%04d", i%900), Passes: 5,
		Net: ledger.Mass(20_000+i%9_000) * ledger.Kilogram, Purpose: ledger.PurposeSale})
	if err != nil {
		panic(err)
	}
	rec.Source = ledger.Source{File: file, Row: i + 2}
	return rec
}

func benchLoads(file string) []ledger.Record {
	records := make([]ledger.Record, benchRecords)
	for i := range records {
		records[i] = benchLoad(i, file)
	}
	return records
}

// fillBook makes a book of one file and its loads, in one transaction.
func fillBook(tb testing.TB, path string, loads []ledger.Record) {
	tb.Helper()
	ctx := context.Background()
	book, err := sqlite.Open(ctx, path, sqlite.Create)
	if err != nil {
		tb.Fatal(err)
	}
	defer book.Close()
	tx, err := book.Begin(ctx, "clerk", benchStart())
	if err != nil {
		tb.Fatal(err)
	}
	if _, _, err := tx.AddFile("loads.csv", strings.NewReader(benchFile), ""); err != nil {
		tb.Fatal(err)
	}
	for i := range loads {
		rec := loads[i]
		if outcome, _, err := tx.Append(&rec); err != nil || outcome != sqlite.New {
			tb.Fatal(outcome, err)
		}
	}
	if err := tx.Commit(); err != nil {
		tb.Fatal(err)
	}
}

// benchFile stands for the file that the loads came from.
const benchFile = "loads"

func benchFileSHA() string {
	sum := sha256.Sum256([]byte(benchFile))
	return hex.EncodeToString(sum[:])
}

func BenchmarkAppend(b *testing.B) {
	loads := benchLoads(benchFileSHA())
	b.ReportAllocs()
	for b.Loop() {
		fillBook(b, filepath.Join(b.TempDir(), "bench.book"), loads)
	}
	b.ReportMetric(float64(benchRecords)*float64(b.N)/b.Elapsed().Seconds(), "records/s")
}

func openBench(b *testing.B) *sqlite.Book {
	b.Helper()
	path := filepath.Join(b.TempDir(), "bench.book")
	fillBook(b, path, benchLoads(benchFileSHA()))
	book, err := sqlite.Open(context.Background(), path, sqlite.ReadOnly)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { book.Close() })
	b.ReportAllocs()
	return book
}

func BenchmarkMovements(b *testing.B) {
	book := openBench(b)
	for b.Loop() {
		n := 0
		for _, err := range book.Latest().Movements(context.Background(), "NORTH", benchStart(), benchStart().AddDate(0, 1, 0)) {
			if err != nil {
				b.Fatal(err)
			}
			n++
		}
		if n != benchRecords {
			b.Fatalf("%d records, want %d", n, benchRecords)
		}
	}
	b.ReportMetric(float64(benchRecords)*float64(b.N)/b.Elapsed().Seconds(), "records/s")
}

func BenchmarkVerify(b *testing.B) {
	book := openBench(b)
	for b.Loop() {
		v, err := book.Verify(context.Background(), nil)
		if err != nil || !v.OK() {
			b.Fatal(v.Faults, err)
		}
	}
	b.ReportMetric(float64(benchRecords)*float64(b.N)/b.Elapsed().Seconds(), "records/s")
}
