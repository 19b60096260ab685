package book_test

import (
	"context"
	"encoding/json"
	"errors"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/shopspring/decimal"

	"repose/internal/book"
	"repose/ledger"
)

// twoYears is a yard whose only densities and moistures are two years older than its last survey, with a load that was weighed
// then and taken in late.
func twoYears(t *testing.T) []ledger.Record {
	facts := []ledger.Fact{
		ledger.MoistureTest{Pile: "P1", Taken: at("2024-10-01 06:00"), Moisture: dry(t, "5")},
		ledger.MoistureTest{Pile: "P1", Taken: at("2024-11-01 06:00"), Moisture: dry(t, "3")},
		loadOut("1", "08:00", "P1", "T1", 20), loadOut("2", "09:00", "P1", "T2", 20),
	}
	for _, end := range []string{"2024-10-31 18:00", "2026-10-30 18:00"} {
		facts = append(facts, ledger.Survey{Survey: end[:7], Pile: "P1", Start: at(end), End: at(end), VolumeM3: decimal.NewFromInt(480)})
	}
	return append(drawn(t, "always"), records(t, facts...)...)
}

func dry(t *testing.T, pct string) ledger.DryBasis {
	t.Helper()
	m, err := ledger.NewDryBasis(decimal.RequireFromString(pct))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// A reader that leaves older tests out gives the figures of one that has them, in a closed month and in an open one.
func TestReadRecent(t *testing.T) {
	b, ctx := open(t), context.Background()
	all := twoYears(t)
	take(t, b, closing, all)
	for _, stage := range []string{"open", "closed"} {
		var said [2]string
		for i, read := range []func() (*book.Reader, error){
			func() (*book.Reader, error) { return book.Read(ctx, b, time.Time{}) },
			func() (*book.Reader, error) { return book.ReadRecent(ctx, b, time.Time{}) },
		} {
			r, err := read()
			if err != nil {
				t.Fatal(err)
			}
			m, err := r.Month(ctx, "Y", october, func(*ledger.Entry) error { return nil })
			if err != nil {
				t.Fatal(err)
			}
			rec, err := r.Reconciliation(ctx, m)
			if err != nil {
				t.Fatal(err)
			}
			stock, err := r.Stock(ctx, "Y", at("2026-10-31 12:00"))
			if err != nil {
				t.Fatal(err)
			}
			if r.Err() != nil {
				t.Fatal(r.Err())
			}
			if moisture, _ := m.Register.Moisture(ledger.PileID{Yard: "Y", Code: "P1"}, m.Start()); !moisture.Equal(dry(t, "3")) {
				t.Errorf("%s: %v", stage, moisture)
			}
			text, err := json.MarshalIndent([]any{rec, stock, m.SealLines()}, "", "  ")
			if err != nil {
				t.Fatal(err)
			}
			said[i] = string(text)
		}
		if d := cmp.Diff(said[0], said[1]); d != "" {
			t.Errorf("%s (-all +recent):\n%s", stage, d)
		}
		if stage == "open" {
			for p := period("2024-10"); !october.Before(p); p = p.Next() {
				seal(t, b, p)
			}
		}
	}
}

// What cannot be read is no answer: the reader says so, and a close does not go on.
func TestReadRecentFails(t *testing.T) {
	b := open(t)
	take(t, b, closing, twoYears(t))
	ctx, cancel := context.WithCancel(context.Background())
	r, err := book.ReadRecent(ctx, b, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	cancel()
	r.Register().Moisture(ledger.PileID{Yard: "Y", Code: "P1"}, at("2026-10-05 00:00"))
	if !errors.Is(r.Err(), context.Canceled) {
		t.Errorf("%v, want the reader to say that it was stopped", r.Err())
	}
}

// Nor is what a month of another reader could not read.
func TestReadRecentFailsElsewhere(t *testing.T) {
	b, whole := open(t), context.Background()
	take(t, b, closing, twoYears(t))
	ctx, cancel := context.WithCancel(whole)
	r, err := book.ReadRecent(ctx, b, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	m, err := r.Month(whole, "Y", october, func(*ledger.Entry) error { return nil })
	if err != nil {
		t.Fatal(err)
	}
	if _, err := read(t, b, time.Time{}).Reconciliation(whole, m); err != nil {
		t.Fatal(err)
	}
	cancel()
	m.Register.Moisture(ledger.PileID{Yard: "Z", Code: "P1"}, m.Start()) // of a yard that has not been read
	if _, err := read(t, b, time.Time{}).Reconciliation(whole, m); !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want the reconciliation to say that the month's reader was stopped", err)
	}
}
