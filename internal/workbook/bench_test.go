package workbook

import (
	"io"
	"testing"
	"time"

	"github.com/shopspring/decimal"
)

// BenchmarkWrite writes a table of 10,000 rows and 12 columns. The library's share is most of it; what is
// our own must not grow with the rows already written.
func BenchmarkWrite(b *testing.B) {
	const rows = 10_000
	columns := []column{
		{key: "ticket", head: "Ticket", kind: kindText}, {key: "at", head: "Time", kind: kindInstant},
		{key: "from", head: "From", kind: kindText, isKey: true}, {key: "to", head: "To", kind: kindText, isKey: true},
		{key: "solids", head: "Solids", kind: kindTonnes}, {key: "water", head: "Water", kind: kindTonnes},
		{key: "wet", head: "As weighed", kind: kindTonnes, formula: "{solids}+{water}"}, {key: "moisture", head: "Moisture", kind: kindPercent},
		{key: "passes", head: "Passes", kind: kindInteger}, {key: "late", head: "Late", kind: kindBool},
		{key: "source", head: "Source", kind: kindText}, {key: "row", head: "Row", kind: kindInteger},
	}
	at, moisture := time.Date(2026, 10, 1, 6, 0, 0, 0, time.UTC), decimal.RequireFromString("4.25")
	source := func(yield func([]value, error) bool) {
		row := make([]value, len(columns))
		for i := range int64(rows) {
			row[0], row[1], row[2], row[3] = text("T-004711"), instant(at.Add(time.Duration(i)*time.Minute)), text("pile 0/4"), text("out sale")
			row[4], row[5], row[6], row[7] = tonnes(23_000_000+i), tonnes(900_000), tonnes(23_900_000+i), percent(moisture)
			row[8], row[9], row[10], row[11] = integer(5), boolean(i%7 == 0), text("loads.csv"), integer(i)
			if !yield(row, nil) {
				return
			}
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		bk := newBook(sampleProps(b))
		bk.sheet("Movements", "Movements").table(tableSpec{name: "Movements", columns: columns, count: rows, rows: source, long: true})
		if err := bk.write(b.Context(), io.Discard); err != nil {
			b.Fatal(err)
		}
	}
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
