package rules_test

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
	"repose/internal/screen/rules"
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
	slices.SortFunc(s.records, func(a, b ledger.Record) int { return a.Compare(&b) })
	return s.records
}

func within(records []ledger.Record, from, until time.Time) iter.Seq2[*ledger.Record, error] {
	return func(yield func(*ledger.Record, error) bool) {
		for i := range records {
			if at := records[i].At; at.IsZero() || at.Before(from) || !at.Before(until) {
				continue
			}
			if !yield(&records[i], nil) {
				return
			}
		}
	}
}

// screened derives the book up to a month and looks through that month.
func screened(t testing.TB, records []ledger.Record, yard string, first, last ledger.Period) []screen.Exception {
	t.Helper()
	d := dataOf(t, records, yard, first, last)
	all, err := screen.Run(d, rules.All())
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func dataOf(t testing.TB, records []ledger.Record, yard string, first, last ledger.Period) *screen.Data {
	t.Helper()
	reg, err := ledger.NewRegister(records)
	if err != nil {
		t.Fatal(err)
	}
	zone, _ := reg.Zone(yard)
	state := ledger.NewState()
	var m *ledger.Month
	var entries []*ledger.Entry
	for p := first; !last.Before(p); p = p.Next() {
		entries = nil
		m, err = ledger.Derive(ledger.Input{Register: reg, Yard: yard, Period: p, Opening: state,
			Records: within(records, p.Start(zone), p.End(zone).Add(2*time.Hour))}, func(e *ledger.Entry) error {
			entries = append(entries, e)
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		state = m.Closing
	}
	d, err := screen.NewData(screen.Input{Register: reg, Month: m, Entries: entries, Sigma: sigmas(t, reg, m),
		Records: within(records, screen.Lead(last, zone), m.End().Add(screen.After))})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// sigmas returns the standard uncertainties of the month's balances.
func sigmas(t testing.TB, reg *ledger.Register, m *ledger.Month) map[string]float64 {
	t.Helper()
	var balances []ledger.Balance
	for _, c := range m.Comparisons {
		if b, ok := c.Balance(); ok {
			balances = append(balances, b)
		}
	}
	observed, err := measure.Build(reg, m.Yard.Code, balances, []measure.MonthPairs{{Period: m.Period, Pairs: m.Pairs}})
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

func period(s string) ledger.Period {
	p, err := ledger.ParsePeriod(s)
	if err != nil {
		panic(err)
	}
	return p
}

// simulated looks through the second month of an invented yard.
func simulated(t testing.TB, y *simyard.Yard) []screen.Exception {
	t.Helper()
	return screened(t, takeIn(t, y), "SIM", period("2026-02"), period("2026-04"))
}
