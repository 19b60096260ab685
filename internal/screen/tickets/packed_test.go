package tickets

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"repose/internal/screen"
	"repose/internal/screen/screentest"
	"repose/ledger"
)

// What was packed comes out again, whatever the numbers, masses and steps of time.
func TestPackedRecords(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var want []numbered
		var p packed
		var last numbered
		for range rapid.IntRange(0, 50).Draw(rt, "records") {
			step := time.Duration(rapid.Int64Range(0, int64(40*24*time.Hour)).Draw(rt, "step"))
			if rapid.Bool().Draw(rt, "whole seconds") {
				step = step.Truncate(time.Second)
			}
			last = numbered{last.at + step, rapid.Int64Min(0).Draw(rt, "number"), ledger.Mass(rapid.Int64Range(0, int64(ledger.MaxMass)).Draw(rt, "net")),
				rapid.Uint32().Draw(rt, "form"), last.place + uint32(rapid.IntRange(1, 1<<20).Draw(rt, "places"))}
			p.add(last)
			want = append(want, last)
		}
		if diff := cmp.Diff(want, p.appendTo(nil), cmp.AllowUnexported(numbered{})); diff != "" {
			rt.Fatalf("(-want +got):\n%s", diff)
		}
	})
}

// A form and a number name the record that they were taken from.
func TestFormNamesItsRecord(t *testing.T) {
	for _, f := range []ledger.Fact{
		load("000123", "2026-10-05 08:00", "P1", "V1"), load(" a-7 x", "2026-10-05 08:01", "P1", "V1"), load("2026/10/007", "2026-10-05 08:02", "", ""),
		load("9223372036854775807", "2026-10-05 08:03", "P1", "V1"), load("Ü-0", "2026-10-05 08:04", "P1", "V1"),
		ledger.Transfer{At: at("2026-10-05 08:00"), Loader: "L1", Ticket: "T-01", From: "P1", To: "P2"},
		ledger.DeckTicket{At: at("2026-10-05 08:00"), Deck: "D1", Ticket: "W/01"},
		ledger.Return{At: at("2026-10-05 08:00"), Instrument: "D1", Ticket: "R-01", Pile: "P1"},
	} {
		n := NewNumbers(screentest.Yard, period(t, "2026-10"), time.UTC)
		rec := ledger.Record{Yard: screentest.Yard, At: at("2026-10-05 08:00"), Fact: f, Revision: 3}
		n.Add(&rec)
		for s := range n.all() {
			if diff := cmp.Diff(rec.ID(), n.of(s.rows[0]).record(n.yard, s.rows[0].number)); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		}
		if len(n.forms) != 1 {
			t.Errorf("%s: %d forms, want one", rec.ID(), len(n.forms))
		}
	}
}

func period(t testing.TB, s string) ledger.Period {
	t.Helper()
	p, err := ledger.ParsePeriod(s)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// The numbers alone, of whichever month first, say what the whole records say; and the month before is not counted twice.
func TestNumbersWithoutRecords(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		d := screentest.Month(t, "2026-10", append(screentest.Rows(screentest.Place()...), anyRows(rt)...)...)
		standing := slices.Collect(inOrder(recordsOf(d.Loads), recordsOf(d.Transfers), recordsOf(d.Deck), recordsOf(d.Returns), recordsOf(d.Production)))
		n := NewNumbers(d.Yard, d.Month.Period, d.Zone)
		earlier := func() {
			err := n.Precede(func(yield func(*ledger.Record, error) bool) {
				for _, rec := range standing {
					if !yield(rec, nil) {
						return
					}
				}
			})
			if err != nil {
				rt.Fatal(err)
			}
		}
		if rapid.Bool().Draw(rt, "month before first") {
			earlier()
		}
		for _, rec := range standing {
			n.Add(rec)
		}
		earlier()
		bare, err := screen.NewData(screen.Input{Register: d.Register, Month: d.Month, Unmatched: true})
		if err != nil {
			rt.Fatal(err)
		}
		n.Seed(bare)
		if diff := cmp.Diff(screentest.Found(d, missing{}), screentest.Found(bare, missing{})); diff != "" {
			rt.Errorf("missing numbers (-of records +of numbers):\n%s", diff)
		}
		if diff := cmp.Diff(Sequences(d), Sequences(bare), cmp.AllowUnexported(Gap{}, border{})); diff != "" {
			rt.Errorf("sequences (-of records +of numbers):\n%s", diff)
		}
	})
}
