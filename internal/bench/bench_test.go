package bench

import (
	"context"
	"flag"
	"io"
	"path/filepath"
	"testing"
	"time"

	"repose/internal/book"
	"repose/internal/intake"
	"repose/internal/sqlite"
	"repose/internal/workbook"
	"repose/ledger"
)

// The profiles of docs/performance.md are of -loads=300000.
var benchLoads = flag.Int("loads", 3_000, "loads of the month that benchmarks work on")

// into is a transaction of a book as intake wants it.
type into struct{ tx *sqlite.Tx }

func (s into) AddFile(name string, r io.Reader, mapSHA string) (string, bool, error) {
	return s.tx.AddFile(name, r, mapSHA)
}

func (s into) Append(rec *ledger.Record) (intake.Outcome, *ledger.Record, error) {
	outcome, held, err := s.tx.Append(rec)
	if outcome != sqlite.New {
		return 0, held, err
	}
	return intake.New, held, err
}

func (s into) Draft(recs []ledger.Record) func() (int, error) {
	d := s.tx.Draft(recs)
	return func() (int, error) { return s.tx.AppendDraft(d) }
}

// benchMonth writes the tables of a month.
func benchMonth(b *testing.B) string {
	s := Full(1).Month
	s.Loads, s.Readings = *benchLoads, *benchLoads/300
	dir := b.TempDir()
	if err := s.Write(dir); err != nil {
		b.Fatal(err)
	}
	return dir
}

// fill makes a book of a folder of tables.
func fill(b *testing.B, dir, path string) {
	ctx := context.Background()
	store, err := sqlite.Open(ctx, path, sqlite.Create)
	if err != nil {
		b.Fatal(err)
	}
	defer store.Close()
	files, err := intake.Plan([]string{dir}, nil)
	if err != nil {
		b.Fatal(err)
	}
	tx, err := store.Begin(ctx, "clerk", closingDay())
	if err != nil {
		b.Fatal(err)
	}
	if _, err := intake.Run(ctx, files, intake.Known{}, into{tx}, nil); err != nil {
		b.Fatal(err)
	}
	if err := tx.Commit(); err != nil {
		b.Fatal(err)
	}
}

// closingDay is when the month is closed.
func closingDay() time.Time { return Full(1).Month.Start.AddDate(0, 1, 3) }

// reader opens the benchmark's book.
func reader(b *testing.B, path string, mode sqlite.Mode) (*sqlite.Book, *book.Reader) {
	store, err := sqlite.Open(b.Context(), path, mode)
	if err != nil {
		b.Fatal(err)
	}
	r, err := book.Read(b.Context(), store, time.Time{})
	if err != nil {
		b.Fatal(err)
	}
	return store, r
}

// BenchmarkWriteTables writes the tables.
func BenchmarkWriteTables(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		benchMonth(b)
	}
}

// BenchmarkIntake takes a month into a new book.
func BenchmarkIntake(b *testing.B) {
	dir := benchMonth(b)
	b.ReportAllocs()
	for b.Loop() {
		fill(b, dir, filepath.Join(b.TempDir(), "b.book"))
	}
}

// BenchmarkClose closes a month, and rolls it back.
func BenchmarkClose(b *testing.B) {
	path := filepath.Join(b.TempDir(), "b.book")
	fill(b, benchMonth(b), path)
	period, err := ledger.ParsePeriod(Full(1).Month.period(0))
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		store, _ := reader(b, path, sqlite.ReadWrite)
		if _, err := book.Close(b.Context(), store, book.Closing{Yard: "Y01", Period: period, By: "clerk", Now: closingDay(), DryRun: true}); err != nil {
			b.Fatal(err)
		}
		store.Close()
	}
}

// BenchmarkStock asks for the balances at the end of an open month.
func BenchmarkStock(b *testing.B) {
	path := filepath.Join(b.TempDir(), "b.book")
	fill(b, benchMonth(b), path)
	b.ReportAllocs()
	for b.Loop() {
		store, r := reader(b, path, sqlite.ReadOnly)
		if _, err := r.Stock(b.Context(), "", Full(1).Month.month(1).Add(-1)); err != nil {
			b.Fatal(err)
		}
		store.Close()
	}
}

// BenchmarkWorkbook writes the workbook of an open month.
func BenchmarkWorkbook(b *testing.B) {
	path := filepath.Join(b.TempDir(), "b.book")
	fill(b, benchMonth(b), path)
	period, err := ledger.ParsePeriod(Full(1).Month.period(0))
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		store, r := reader(b, path, sqlite.ReadOnly)
		c, err := r.CloseReport(b.Context(), "Y01", period)
		if err != nil {
			b.Fatal(err)
		}
		if err := workbook.Write(b.Context(), io.Discard, c); err != nil {
			b.Fatal(err)
		}
		store.Close()
	}
}
