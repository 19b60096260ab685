package piles

import (
	"context"
	"io"
	"iter"
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

// shelf keeps the records of one intake in memory.
type shelf struct{ records []ledger.Record }

func (s *shelf) AddFile(_ string, r io.Reader, _ string) (sha string, isNew bool, err error) {
	_, err = io.Copy(io.Discard, r)
	return strings.Repeat("0", 64), true, err
}

func (s *shelf) Append(rec *ledger.Record) (intake.Outcome, *ledger.Record, error) {
	s.records = append(s.records, *rec)
	return intake.New, nil, nil
}

// takeIn gives the tables of an invented yard to the real intake.
func takeIn(t testing.TB, y *simyard.Yard) []ledger.Record {
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
		t.Fatal(err)
	}
	return s.records
}

// derived is a book of some months of which the last is looked at.
type derived struct {
	records []ledger.Record
	reg     *ledger.Register
	month   *ledger.Month
	entries []*ledger.Entry
}

// openBook derives the months of a book, from an opening one on.
func openBook(t testing.TB, records []ledger.Record, yard, opening string, months int) derived {
	t.Helper()
	slices.SortFunc(records, func(a, b ledger.Record) int { return a.Compare(&b) })
	reg, err := ledger.NewRegister(records)
	if err != nil {
		t.Fatal(err)
	}
	p, err := ledger.ParsePeriod(opening)
	if err != nil {
		t.Fatal(err)
	}
	b := derived{records: records, reg: reg}
	zone, _ := reg.Zone(yard)
	state := ledger.NewState()
	for range months {
		b.entries = nil
		b.month, err = ledger.Derive(ledger.Input{Register: reg, Yard: yard, Period: p, Opening: state,
			Records: within(records, p.Start(zone), p.End(zone))}, func(e *ledger.Entry) error {
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

// data returns what rules look at, with loads and tickets matched or not: that takes longer than all else.
func (b derived) data(t testing.TB, unmatched bool) *screen.Data {
	t.Helper()
	d, err := screen.NewData(screen.Input{Register: b.reg, Month: b.month, Entries: b.entries, Sigma: b.sigmas(t), Unmatched: unmatched,
		Records: within(b.records, screen.Lead(b.month.Period, b.month.Zone), b.month.End().Add(screen.After))})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// sigmas returns the standard uncertainties of the month's balances.
func (b derived) sigmas(t testing.TB) map[string]float64 {
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

func within(records []ledger.Record, from, until time.Time) iter.Seq2[*ledger.Record, error] {
	return func(yield func(*ledger.Record, error) bool) {
		for i := range records {
			if at := records[i].At; !at.Before(from) && at.Before(until) && !yield(&records[i], nil) {
				return
			}
		}
	}
}
