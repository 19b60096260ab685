package screentest

import (
	"context"
	"errors"
	"io"
	"slices"
	"strings"
	"testing"
	"time"

	"repose/internal/intake"
	"repose/internal/measure"
	"repose/internal/screen"
	"repose/internal/simyard"
	"repose/ledger"
)

// shelf keeps the records of one intake in memory, and refuses what a book would ask about.
type shelf struct{ records []ledger.Record }

func (s *shelf) AddFile(_ string, r io.Reader, _ string) (sha string, isNew bool, err error) {
	_, err = io.Copy(io.Discard, r)
	return strings.Repeat("0", 64), true, err
}

func (s *shelf) Append(rec *ledger.Record) (intake.Outcome, *ledger.Record, error) {
	s.records = append(s.records, *rec)
	return intake.New, nil, nil
}

// TakeIn gives the tables of an invented yard to the real intake and returns its records in order.
func TakeIn(t testing.TB, y *simyard.Yard) []ledger.Record {
	t.Helper()
	var sources []intake.Source
	for _, f := range y.Files {
		sources = append(sources, intake.InMemory(f.Name, f.Content))
	}
	files, err := intake.Assign(sources, nil)
	if err != nil {
		t.Fatal(err)
	}
	var s shelf
	if _, err := intake.Run(context.Background(), files, intake.Known{}, &s, nil); err != nil {
		var bad *intake.RowErrors
		if errors.As(err, &bad) {
			t.Fatalf("refused: %v", bad)
		}
		t.Fatal(err)
	}
	slices.SortFunc(s.records, func(a, b ledger.Record) int { return a.Compare(&b) })
	return s.records
}

// Book is a book of some months, of which the last is looked at.
type Book struct {
	records []ledger.Record
	reg     *ledger.Register
	month   *ledger.Month
	entries []*ledger.Entry
}

// cutOff is how long after a month's end a truck may be weighed out: the default of the policy.
const cutOff = 2 * time.Hour

// Open derives the months of a book of a yard, from the first one on. It sorts the records.
func Open(t testing.TB, records []ledger.Record, yard, first string, months int) Book {
	t.Helper()
	slices.SortFunc(records, func(a, b ledger.Record) int { return a.Compare(&b) })
	reg, err := ledger.NewRegister(records)
	if err != nil {
		t.Fatal(err)
	}
	p, err := ledger.ParsePeriod(first)
	if err != nil {
		t.Fatal(err)
	}
	b := Book{records: records, reg: reg}
	zone, _ := reg.Zone(yard)
	state := ledger.NewState()
	for range months {
		b.entries = nil
		b.month, err = ledger.Derive(ledger.Input{Register: reg, Yard: yard, Period: p, Opening: state,
			Records: within(records, p.Start(zone), p.End(zone).Add(cutOff))}, func(e *ledger.Entry) error {
			b.entries = append(b.entries, e)
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		state, p = b.month.Closing, p.Next()
	}
	return b
}

// Data returns what rules look at in the last month.
func (b Book) Data(t testing.TB) *screen.Data {
	t.Helper()
	return b.data(t, screen.Input{Sigma: b.sigmas(t)})
}

// Unmatched is Data without the matching of trucks, which takes longer than all else.
func (b Book) Unmatched(t testing.TB) *screen.Data {
	t.Helper()
	return b.data(t, screen.Input{Sigma: b.sigmas(t), Unmatched: true})
}

// data fills in what every input has.
func (b Book) data(t testing.TB, in screen.Input) *screen.Data {
	t.Helper()
	in.Register, in.Month, in.Entries = b.reg, b.month, b.entries
	in.Records = within(b.records, screen.Lead(b.month.Period, b.month.Zone), b.month.End().Add(screen.After))
	d, err := screen.NewData(in)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// sigmas returns the standard uncertainties of the last month's balances.
func (b Book) sigmas(t testing.TB) map[string]float64 {
	t.Helper()
	var balances []ledger.Balance
	for _, c := range b.month.Comparisons {
		if x, ok := c.Balance(); ok {
			balances = append(balances, x)
		}
	}
	observed, err := measure.Build(b.reg, b.month.Yard.Code, balances, []measure.MonthPairs{{Period: b.month.Period, Pairs: b.month.Pairs}})
	if err != nil {
		t.Fatal(err)
	}
	figures, err := observed.Judge(1)
	if err != nil {
		t.Fatal(err)
	}
	sigma := map[string]float64{}
	for id, f := range figures {
		sigma[id] = f.Sigma
	}
	return sigma
}
