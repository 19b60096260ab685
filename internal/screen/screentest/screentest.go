// Package screentest builds the data that rules of the exception register look at, of facts that a test writes down.
package screentest

import (
	"testing"
	"time"

	"repose/internal/screen"
	"repose/ledger"
)

// Yard is the code of every yard here. Its clock is that of Europe/London.
const Yard = "Y"

// At reads an instant, YYYY-MM-DD HH:MM in UTC.
func At(s string) time.Time {
	t, err := time.Parse("2006-01-02 15:04", s)
	if err != nil {
		panic(err)
	}
	return t
}

// Row is a fact with what a record has beside it.
type Row struct {
	Fact     ledger.Fact
	Replaces string
	Recorded time.Time // when the book learnt of it; zero for when it happened
}

// Month returns the data of a month: its facts are entered from the month before on. Yards, products and piles have to be
// among them.
func Month(t testing.TB, month string, rows ...Row) *screen.Data {
	t.Helper()
	p, err := ledger.ParsePeriod(month)
	if err != nil {
		t.Fatal(err)
	}
	// Without the errors of measurement: what a test writes down is meant.
	return Open(t, recordsOf(t, rows), Yard, p.Previous().String(), 2).data(t, screen.Input{})
}

func recordsOf(t testing.TB, rows []Row) []ledger.Record {
	t.Helper()
	var records []ledger.Record
	for i, r := range rows {
		rec, err := ledger.NewRecord(Yard, r.Fact)
		if err != nil {
			t.Fatal(err)
		}
		rec.Seq, rec.Replaces, rec.Source.Row, rec.Recorded = int64(i), r.Replaces, i+1, r.Recorded
		if r.Replaces == r.Fact.Key() {
			rec.Revision = 1
		}
		if rec.Recorded.IsZero() {
			rec.Recorded = rec.At
		}
		records = append(records, rec)
	}
	return records
}

func within(records []ledger.Record, from, until time.Time) func(func(*ledger.Record, error) bool) {
	return func(yield func(*ledger.Record, error) bool) {
		for i := range records {
			if at := records[i].At; !at.IsZero() && !at.Before(from) && at.Before(until) && !yield(&records[i], nil) {
				return
			}
		}
	}
}

// Rows makes rows of facts alone.
func Rows(facts ...ledger.Fact) []Row {
	rows := make([]Row, len(facts))
	for i, f := range facts {
		rows[i].Fact = f
	}
	return rows
}

// Place returns a yard with piles P1 and P2 of products G1 and G2, dry, open from six to six on weekdays.
func Place() []ledger.Fact {
	facts := []ledger.Fact{ledger.Yard{Code: Yard, Name: "Test yard", Zone: "Europe/London", Unit: ledger.UnitTonne},
		ledger.Product{Code: "G1"}, ledger.Product{Code: "G2"}, ledger.Pile{Code: "P1", Product: "G1"}, ledger.Pile{Code: "P2", Product: "G2"}}
	for day := time.Monday; day <= time.Friday; day++ {
		facts = append(facts, ledger.Hours{Day: day.String(), Open: "06:00", Close: "18:00"})
	}
	return append(facts, ledger.Hours{Day: "Saturday"}, ledger.Hours{Day: "Sunday"})
}

// Load returns a load of 20 t for a customer by loader L1.
func Load(ticket, clock, pile, truck string) ledger.Load {
	return ledger.Load{At: At(clock), Loader: "L1", Ticket: ticket, Pile: pile, Truck: truck, Customer: "C1", Net: 20 * ledger.Tonne, Purpose: ledger.PurposeSale}
}

// Found returns what a rule finds in a month.
func Found(d *screen.Data, r screen.Rule) []screen.Finding {
	var all []screen.Finding
	r.Look(d, func(f screen.Finding) {
		if d.In(f.Time) {
			all = append(all, f)
		}
	})
	return all
}
