package intake_test

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"io"
	"testing"
	"time"

	"repose/internal/intake"
	"repose/ledger"
)

// The figures in the docs are for -rows=1000000.
var benchRows = flag.Int("rows", 20_000, "rows of the tables that benchmarks read")

// nothing is a sink that keeps nothing, so that reading alone is measured.
type nothing struct{}

func (nothing) AddFile(_ string, r io.Reader, _ string) (string, bool, error) {
	_, err := io.Copy(io.Discard, r)
	return "0000", true, err
}

func (nothing) Append(*ledger.Record) (intake.Outcome, *ledger.Record, error) {
	return intake.New, nil, nil
}

func benchKnown() intake.Known {
	return intake.Known{Yards: []ledger.Yard{{Code: "Y1", Zone: "Europe/London", Unit: ledger.UnitTonne}},
		Piles: []ledger.PileID{{Yard: "Y1", Code: "A"}, {Yard: "Y1", Code: "B"}}}
}

func benchRun(b *testing.B, name string, maps []*intake.Map, write func(w *bytes.Buffer, i int, at time.Time)) {
	var csv bytes.Buffer
	at := time.Date(2026, time.August, 1, 6, 0, 0, 0, time.UTC)
	write(&csv, -1, at)
	for i := range *benchRows {
		at = at.Add(7 * time.Second)
		write(&csv, i, at)
	}
	files, err := intake.Assign([]intake.Source{intake.InMemory(name, csv.Bytes())}, maps)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	b.SetBytes(int64(csv.Len()))
	for b.Loop() {
		rep, err := intake.Run(context.Background(), files, benchKnown(), nothing{}, nil)
		if err != nil || rep.Tables[0].New != *benchRows {
			b.Fatal(rep, err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(*benchRows), "ns/row")
}

func BenchmarkLoads(b *testing.B) {
	benchRun(b, "loads.csv", nil, func(w *bytes.Buffer, i int, at time.Time) {
		if i < 0 {
			w.WriteString("time,loader,ticket,pile,product,truck,customer,passes,net [t],purpose,status,replaces,tag job\n")
			return
		}
		fmt.Fprintf(w, "%s,L1,%d,A,20mm,T%d,C%d,4,%d.%02d,sale,kept,,J%d\n", at.Format(time.DateTime), 100000+i, i%97, i%240, 20+i%9, i%100, i%12)
	})
}

func BenchmarkMappedDeck(b *testing.B) {
	m := readMap(b, `
table = "deck"
delimiter = ";"
decimal = ","
thousands = "."
"date layout" = "DD.MM.YYYY HH:MM"
[columns]
time = "Datum"
ticket = "Schein"
truck = "Kennzeichen"
net = { from = "Netto", unit = "kg" }
status = "Status"
[constants]
deck = "D1"
[values.status]
"gut" = "kept"
"storniert" = "void"
`)
	benchRun(b, "export.csv", []*intake.Map{m}, func(w *bytes.Buffer, i int, at time.Time) {
		if i < 0 {
			w.WriteString("Datum;Schein;Kennzeichen;Netto;Status\n")
			return
		}
		fmt.Fprintf(w, "%s;%d;T%d;%d.%03d,0;gut\n", at.Format("02.01.2006 15:04"), 100000+i, i%97, 20+i%9, i%1000)
	})
}
