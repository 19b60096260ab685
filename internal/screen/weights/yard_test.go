package weights_test

import (
	"context"
	"io"
	"iter"
	"slices"
	"strings"
	"testing"
	"time"

	"repose/internal/intake"
	"repose/internal/screen"
	"repose/internal/screen/weights"
	"repose/internal/simyard"
	"repose/ledger"
)

// shelf keeps the records of one intake in memory.
type shelf struct{ records []ledger.Record }

func (s *shelf) AddFile(name string, r io.Reader, _ string) (sha string, isNew bool, err error) {
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

// data returns what rules look at.
func (b derived) data(t testing.TB) *screen.Data {
	t.Helper()
	d, err := screen.NewData(screen.Input{Register: b.reg, Month: b.month, Entries: b.entries,
		Records: within(b.records, screen.Lead(b.month.Period, b.month.Zone), b.month.End().Add(screen.After))})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// screened derives the months of a book and returns what rules look at in the last of them.
func screened(t testing.TB, records []ledger.Record, yard, opening string, months int) *screen.Data {
	t.Helper()
	return openBook(t, records, yard, opening, months).data(t)
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

// generate invents a yard with faults.
func generate(t testing.TB, cfg simyard.Config, faults ...string) *simyard.Yard {
	t.Helper()
	for _, s := range faults {
		f, err := simyard.ParseFault(s)
		if err != nil {
			t.Fatal(err)
		}
		cfg.Faults = append(cfg.Faults, f)
	}
	y, err := simyard.Generate(cfg)
	if err != nil {
		t.Fatal(err)
	}
	return y
}

// month returns the second month of a quick invented yard with faults.
func month(t testing.TB, cfg simyard.Config, faults ...string) (*screen.Data, simyard.Truth) {
	t.Helper()
	y := generate(t, cfg, faults...)
	return screened(t, takeIn(t, y), "SIM", "2026-02", 3), y.Truth
}

// found runs the rules of the package.
func found(t testing.TB, d *screen.Data) []screen.Exception {
	t.Helper()
	all, err := screen.Run(d, weights.Rules())
	if err != nil {
		t.Fatal(err)
	}
	return all
}
