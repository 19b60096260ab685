package table

import (
	"bytes"
	"encoding/csv"
	"flag"
	"fmt"
	"io"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
)

// benchRows is small by default; -rows=1000000 nearly fills a sheet.
var benchRows = flag.Int("rows", 20_000, "rows of the tables that benchmarks read")

// benchTime is the instant of the first row of a benchmark's table.
var benchTime = time.Date(2026, 10, 1, 6, 0, 0, 0, time.UTC)

// benchRow returns row i of the benchmarks' table of 12 columns.
func benchRow(i int) []any {
	return []any{
		benchTime.Add(time.Duration(i) * time.Minute),
		fmt.Sprintf("T%07d", i), "north pile", "loader 1", fmt.Sprintf("truck %d", i%97), "customer " + fmt.Sprint(i%240),
		"20/40 gravel", i % 9, 20 + float64(i%9000)/1000, 41.5, "sale", "kept",
	}
}

var benchHeader = []any{
	"time", "ticket", "pile", "loader", "truck", "customer",
	"product", "passes", "net [t]", "gross [t]", "purpose", "status",
}

// benchCSV returns the benchmarks' table as CSV.
func benchCSV(b *testing.B) []byte {
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	cells := make([]string, len(benchHeader))
	write := func(row []any) {
		for i, v := range row {
			if t, ok := v.(time.Time); ok {
				v = t.Format(layoutDateTime)
			}
			cells[i] = fmt.Sprint(v)
		}
		if err := w.Write(cells); err != nil {
			b.Fatal(err)
		}
	}
	write(benchHeader)
	for i := range *benchRows {
		write(benchRow(i))
	}
	w.Flush()
	return out.Bytes()
}

// benchXLSX returns the benchmarks' table as a workbook with inline strings.
func benchXLSX(b *testing.B) []byte {
	f := excelize.NewFile()
	defer func() { _ = f.Close() }()
	sw, err := f.NewStreamWriter("Sheet1")
	if err != nil {
		b.Fatal(err)
	}
	if err := sw.SetRow("A1", benchHeader); err != nil {
		b.Fatal(err)
	}
	for i := range *benchRows {
		if err := sw.SetRow(fmt.Sprintf("A%d", i+2), benchRow(i)); err != nil {
			b.Fatal(err)
		}
	}
	if err := sw.Flush(); err != nil {
		b.Fatal(err)
	}
	var out bytes.Buffer
	if err := f.Write(&out); err != nil {
		b.Fatal(err)
	}
	return out.Bytes()
}

// drain counts the rows of r.
func drain(b *testing.B, r *Reader) {
	n := 0
	for {
		_, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			b.Fatal(err)
		}
		n++
	}
	if n != *benchRows {
		b.Fatalf("read %d rows, want %d", n, *benchRows)
	}
}

func BenchmarkCSV(b *testing.B) {
	data := benchCSV(b)
	b.Run("table", func(b *testing.B) {
		b.ReportAllocs()
		b.SetBytes(int64(len(data)))
		for b.Loop() {
			r, err := OpenCSV("bench.csv", bytes.NewReader(data), Layout{})
			if err != nil {
				b.Fatal(err)
			}
			drain(b, r)
		}
	})
	b.Run("peer=encoding-csv", func(b *testing.B) {
		b.ReportAllocs()
		b.SetBytes(int64(len(data)))
		for b.Loop() {
			r := csv.NewReader(bytes.NewReader(data))
			r.ReuseRecord = true
			for {
				if _, err := r.Read(); err == io.EOF {
					break
				} else if err != nil {
					b.Fatal(err)
				}
			}
		}
	})
}

func BenchmarkXLSX(b *testing.B) {
	data := benchXLSX(b)
	b.Run("table", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			w, err := OpenWorkbook("bench.xlsx", bytes.NewReader(data), int64(len(data)))
			if err != nil {
				b.Fatal(err)
			}
			r, err := w.Open("Sheet1", Layout{})
			if err != nil {
				b.Fatal(err)
			}
			drain(b, r)
		}
	})
	b.Run("peer=excelize", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			f, err := excelize.OpenReader(bytes.NewReader(data))
			if err != nil {
				b.Fatal(err)
			}
			rows, err := f.Rows("Sheet1")
			if err != nil {
				b.Fatal(err)
			}
			for rows.Next() {
				if _, err := rows.Columns(excelize.Options{RawCellValue: true}); err != nil {
					b.Fatal(err)
				}
			}
			if err := rows.Close(); err != nil {
				b.Fatal(err)
			}
			if err := f.Close(); err != nil {
				b.Fatal(err)
			}
		}
	})
}
