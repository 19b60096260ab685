package workbook

import (
	"errors"
	"io"
	"iter"
	"strconv"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/xuri/excelize/v2"
)

// benchRows is how many rows the tables of benchmarks have.
const benchRows = 10_000

// benchColumns are the columns of a table of loads.
func benchColumns() []column {
	return []column{
		{key: "ticket", head: "Ticket", kind: kindText}, {key: "at", head: "Time", kind: kindInstant},
		{key: "from", head: "From", kind: kindText, isKey: true}, {key: "to", head: "To", kind: kindText, isKey: true},
		{key: "solids", head: "Solids", kind: kindTonnes}, {key: "water", head: "Water", kind: kindTonnes},
		{key: "wet", head: "As weighed", kind: kindTonnes}, {key: "moisture", head: "Moisture", kind: kindPercent},
		{key: "passes", head: "Passes", kind: kindInteger}, {key: "late", head: "Late", kind: kindBool},
		{key: "source", head: "Source", kind: kindText}, {key: "row", head: "Row", kind: kindInteger},
	}
}

// benchSource yields its rows.
func benchSource(yield func([]value, error) bool) {
	at, moisture := time.Date(2026, 10, 1, 6, 0, 0, 0, time.UTC), decimal.RequireFromString("4.25")
	row := make([]value, len(benchColumns()))
	for i := range int64(benchRows) {
		row[0], row[1], row[2], row[3] = text("T-004711"), instant(at.Add(time.Duration(i)*time.Minute)), text("pile 0/4"), text("out sale")
		row[4], row[5], row[6], row[7] = tonnes(23_000_000+i), tonnes(900_000), tonnes(23_900_000+i), percent(moisture)
		row[8], row[9], row[10], row[11] = integer(5), boolean(i%7 == 0), text("loads.csv"), integer(i)
		if !yield(row, nil) {
			return
		}
	}
}

// BenchmarkWriteLong writes a long table of 10,000 rows and 12 columns. What a row takes must not grow with the rows
// already written. BenchmarkBareWriter is what it is held against.
func BenchmarkWriteLong(b *testing.B) { benchmarkTable(b, tableSpec{long: true}) }

// BenchmarkWriteMain writes the same rows through the library, as tables are written that are not declared long.
func BenchmarkWriteMain(b *testing.B) { benchmarkTable(b, tableSpec{main: true}) }

func benchmarkTable(b *testing.B, spec tableSpec) {
	spec.name, spec.columns, spec.count, spec.rows = "Movements", benchColumns(), benchRows, benchSource
	b.ReportAllocs()
	for b.Loop() {
		bk := newBook(sampleProps(b))
		bk.sheet("Movements", "Movements").table(spec)
		if err := bk.write(b.Context(), io.Discard); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkBareWriter has the library's stream writer write the same cells and nothing else, with its own compression.
func BenchmarkBareWriter(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if err := writeBare(benchSource, len(benchColumns())); err != nil {
			b.Fatal(err)
		}
	}
}

func writeBare(source iter.Seq2[[]value, error], columns int) error {
	f := excelize.NewFile()
	style, err := f.NewStyle(&excelize.Style{NumFmt: 4})
	if err != nil {
		return err
	}
	w, err := f.NewStreamWriter("Sheet1")
	if err != nil {
		return err
	}
	cells, n := make([]any, columns), 0
	for row := range source {
		n++
		for i, v := range row {
			content, err := v.content(time.UTC)
			if err != nil {
				return err
			}
			cells[i] = excelize.Cell{StyleID: style, Value: content}
		}
		if err := w.SetRow("A"+strconv.Itoa(n), cells); err != nil {
			return err
		}
	}
	return errors.Join(w.Flush(), f.Write(io.Discard), f.Close())
}

// BenchmarkWriteClose writes the workbook of a month of some 5,000 entries.
func BenchmarkWriteClose(b *testing.B) {
	c := busyClose(b, 5_000)
	b.ReportAllocs()
	for b.Loop() {
		if err := Write(b.Context(), io.Discard, c); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkWriteExceptions writes the workbook of a month with 5,000 exceptions.
func BenchmarkWriteExceptions(b *testing.B) {
	c := hostileClose(b)
	c.Screening = testScreening(c.Month, 5_000)
	b.ReportAllocs()
	for b.Loop() {
		if err := Write(b.Context(), io.Discard, c); err != nil {
			b.Fatal(err)
		}
	}
}
