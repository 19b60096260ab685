package simyard_test

import (
	"context"
	"errors"
	"io"
	"iter"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"repose/internal/intake"
	"repose/internal/simyard"
	"repose/ledger"
)

// shelf keeps the records of one intake in memory and refuses what a book would ask about.
type shelf struct{ records []ledger.Record }

func (s *shelf) AddFile(name string, r io.Reader, _ string) (sha string, isNew bool, err error) {
	_, err = io.Copy(io.Discard, r)
	return strings.Repeat("0", 64), true, err
}

func (s *shelf) Append(rec *ledger.Record) (intake.Outcome, *ledger.Record, error) {
	s.records = append(s.records, *rec)
	return intake.New, nil, nil
}

// takeIn gives the tables to the real intake.
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
		var bad *intake.RowErrors
		if errors.As(err, &bad) {
			t.Fatalf("refused: %v", bad)
		}
		t.Fatal(err)
	}
	slices.SortFunc(s.records, func(a, b ledger.Record) int { return a.Compare(&b) })
	return s.records
}

// derive runs the ledger over the months of a book that opens at the end of 2025, the opening day's first.
func derive(t testing.TB, records []ledger.Record, months int) (*ledger.Register, []*ledger.Month) {
	t.Helper()
	return deriveFrom(t, records, "2025-12", months)
}

// deriveFrom runs the ledger over the months of a book, from that of the opening day on.
func deriveFrom(t testing.TB, records []ledger.Record, opening string, months int) (*ledger.Register, []*ledger.Month) {
	t.Helper()
	reg, err := ledger.NewRegister(records)
	if err != nil {
		t.Fatal(err)
	}
	p, err := ledger.ParsePeriod(opening)
	if err != nil {
		t.Fatal(err)
	}
	state := ledger.NewState()
	var all []*ledger.Month
	for range months + 1 {
		m, err := ledger.Derive(ledger.Input{Register: reg, Yard: "SIM", Period: p, Opening: state,
			Records: within(records, p.Start(time.UTC), p.End(time.UTC))}, func(*ledger.Entry) error { return nil })
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, m)
		state, p = m.Closing, p.Next()
	}
	return reg, all
}

func within(records []ledger.Record, from, until time.Time) iter.Seq2[*ledger.Record, error] {
	return func(yield func(*ledger.Record, error) bool) {
		for i := range records {
			if at := records[i].At; at.Before(from) || !at.Before(until) {
				continue
			}
			if !yield(&records[i], nil) {
				return
			}
		}
	}
}

// The real intake takes the tables in, and the ledger makes of them the residuals that the simple reader
// makes, from survey to survey.
func TestRealIntakeAndLedger(t *testing.T) {
	cfg := coarse(2, everyFault...)
	y := generate(t, cfg)
	want := balancesOf(t, y)
	records := takeIn(t, y)
	total := 0
	for _, f := range y.Files {
		total += strings.Count(string(f.Content), "\n") - 1
	}
	if len(records) != total {
		t.Errorf("%d records taken in of %d rows", len(records), total)
	}
	_, months := derive(t, records, cfg.Months)
	for k, m := range months {
		if len(m.Problems) != 0 {
			t.Errorf("month %d has problems: %+v", k, m.Problems)
		}
		if len(m.Comparisons) != len(y.Truth.Piles) {
			t.Errorf("month %d has %d comparisons, want one a pile", k, len(m.Comparisons))
		}
		for _, c := range m.Comparisons {
			residual, ok := c.Residual()
			switch {
			case !ok || len(c.InWindow) != 0 || len(c.Straddling) != 0 || c.Outcome != ledger.OutcomeTakeSurvey:
				t.Errorf("month %d, pile %s: %+v, want a base, a quiet survey, and one that is taken", k, c.Pile.Code, c)
			case k > 0 && math.Abs(float64(residual)/1e6-want.residual(cell{c.Pile.Code, k})) > 0.01:
				t.Errorf("month %d, pile %s: residual %s, want %.3f t", k, c.Pile.Code, residual, want.residual(cell{c.Pile.Code, k}))
			}
		}
	}
}
