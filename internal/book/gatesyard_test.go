package book_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"repose/internal/book"
	"repose/internal/screen/screentest"
	"repose/internal/simyard"
	"repose/ledger"
)

// faultyYard returns the records of an invented yard in whose months numbers are missing, repeated and out of order and tests
// are stale, with corrections of a few loads, and settings for what is stale.
func faultyYard(t *testing.T, seed uint64) []ledger.Record {
	t.Helper()
	var faults []simyard.Fault
	for _, text := range []string{"missing:L1:1:2", "missing:L1:2:3", "repeated-number:L1:2:2", "out-of-order:L1:2:2", "outage-pad:L1:2:3",
		"split-load:L1:2:2", "stale-density:A:2:400d", "stale-moisture:A:2:200d"} {
		f, err := simyard.ParseFault(text)
		if err != nil {
			t.Fatal(err)
		}
		faults = append(faults, f)
	}
	y, err := simyard.Month(seed, faults...)
	if err != nil {
		t.Fatal(err)
	}
	all := screentest.TakeIn(t, y)
	for i := range len(all) {
		all[i].Source = ledger.Source{}
		l, ok := all[i].Fact.(ledger.Load)
		key := l.Key()
		switch {
		case !ok:
		case i%97 == 0: // under its own key: a second revision
			l.Net += ledger.Tonne
			all = append(all, record(t, l, key))
		case i%97 == 50: // under another number, which leaves its own missing
			l.Ticket += "9"
			all = append(all, record(t, l, key))
		}
	}
	for _, name := range []ledger.PolicyName{"rule stale density days", "rule stale moisture days"} {
		all = append(all, record(t, ledger.Policy{Name: name, Value: "150", From: at("2026-01-01 00:00")}, ""))
	}
	return all
}

func record(t *testing.T, f ledger.Fact, replaces string) ledger.Record {
	t.Helper()
	rec, err := ledger.NewRecord("SIM", f)
	if err != nil {
		t.Fatal(err)
	}
	rec.Replaces = replaces
	return rec
}

// A close waits for what the whole register of exceptions shows under the same rules, and for nothing else of it, though it
// keeps no records.
func TestGatesAreThoseOfTheRegister(t *testing.T) {
	ctx := context.Background()
	waits := map[string]bool{"missing number": true, "stale density": true, "stale moisture": true}
	seeds, found := uint64(8), map[string]int{}
	if testing.Short() {
		seeds = 2
	}
	for seed := range seeds {
		b := open(t)
		take(t, b, at("2026-06-01 00:00"), faultyYard(t, seed))
		r := read(t, b, time.Time{})
		for _, p := range []ledger.Period{period("2026-03"), period("2026-04")} {
			all, err := r.Exceptions(ctx, "SIM", p)
			if err != nil {
				t.Fatal(err)
			}
			var want, got []string
			for _, e := range all {
				if waits[e.Rule] {
					want = append(want, fmt.Sprintf("open-exception/%s %s: %s", e.ID, e.Rule, e.Seen))
					found[e.Rule]++
				}
			}
			m, err := r.Month(ctx, "SIM", p, func(*ledger.Entry) error { return nil })
			if err != nil {
				t.Fatal(err)
			}
			for range 2 { // asked twice, it says the same
				if got, err = exceptionGates(ctx, r, m); err != nil {
					t.Fatal(err)
				}
				if diff := cmp.Diff(want, got); diff != "" {
					t.Errorf("seed %d, %s (-register +gates):\n%s", seed, p, diff)
				}
			}
		}
	}
	for rule := range waits {
		if found[rule] == 0 {
			t.Errorf("no yard has an exception of rule %q", rule)
		}
	}
}

func exceptionGates(ctx context.Context, r *book.Reader, m *book.Month) (texts []string, err error) {
	gates, err := r.Gates(ctx, m)
	for _, g := range gates {
		if g.Kind == ledger.ProblemException {
			texts = append(texts, g.ID()+" "+g.Text)
		}
	}
	return texts, err
}
