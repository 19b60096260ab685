package book_test

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"

	"repose/internal/book"
	"repose/internal/sqlite"
	"repose/ledger"
)

// gatesOf returns what stands in the way of October, as "gate state".
func gatesOf(t *testing.T, b *sqlite.Book) (names []string, gates []book.Gate) {
	t.Helper()
	r := read(t, b, time.Time{})
	m, err := r.Month(context.Background(), "Y", october, func(*ledger.Entry) error { return nil })
	if err != nil {
		t.Fatal(err)
	}
	gates, err = r.Gates(context.Background(), m)
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range gates {
		names = append(names, g.ID()+" "+g.State.String())
	}
	return names, gates
}

func tryClose(b *sqlite.Book) error {
	_, err := book.Close(context.Background(), b, book.Closing{Yard: "Y", Period: october, By: "tester", Now: closing})
	return err
}

// cost is what something cost in October: of a product the first stock, of none the making.
func cost(product string, amount int64, currency string) ledger.Cost {
	c := ledger.Cost{Period: october, Product: product, What: ledger.CostOpening, Amount: decimal.NewFromInt(amount), Currency: currency}
	if product == "" {
		c.What = ledger.CostMaking
	}
	return c
}

// Every gate trips, and what can be waived is passed once one person has waived it and another approved; what cannot be
// is refused.
func TestGates(t *testing.T) {
	belt := ledger.Instrument{Code: "B1", Weighs: ledger.InstrumentBelt, From: at("2026-01-01 00:00"), Until: at("2026-10-10 00:00"), Certificate: "C-7"}
	reading := func(clock string, tonnes ledger.Mass) ledger.Production {
		return ledger.Production{At: at(clock), Belt: "B2", Pile: "P1", Reading: tonnes * ledger.Tonne, IsReading: true, ReadingUnit: ledger.UnitTonne}
	}
	bare := ledger.Survey{Survey: "S1", Pile: "P3", Start: at("2026-10-30 12:00"), End: at("2026-10-30 13:00"), VolumeM3: decimal.NewFromInt(1)}
	for name, c := range map[string]struct {
		facts []ledger.Fact
		gate  string
	}{
		"unknown pile":       {[]ledger.Fact{loadOut("1", "08:00", "P9", "T1", 20)}, "suspense/P9"},
		"no survey":          {[]ledger.Fact{ledger.Policy{Name: ledger.PolicySurveyEvery, Value: "1", From: at("2026-01-01 00:00")}, ledger.Pile{Code: "P2", Product: "S20", Closed: at("2026-09-02 00:00")}}, "no-survey/P1"},
		"no density":         {[]ledger.Fact{ledger.Product{Code: "S30"}, ledger.Pile{Code: "P3", Product: "S30"}, ledger.Opening{Pile: "P3", At: at("2026-10-01 00:00"), Mass: ledger.Tonne}, bare}, "no-density/P3"},
		"a fall":             {[]ledger.Fact{reading("2026-10-05 08:00", 900), reading("2026-10-05 16:00", 10)}, "totaliser-fell/production:Y:B2/2026-10-05T16:00:00Z"},
		"no product":         {[]ledger.Fact{ledger.Pile{Code: "P3", Product: "S99"}, ledger.Opening{Pile: "P3", At: at("2026-10-01 00:00"), Mass: ledger.Tonne}}, "no-product/P3"},
		"lapsed certificate": {[]ledger.Fact{belt, ledger.Production{At: at("2026-10-11 08:00"), Belt: "B1", Pile: "P1", Net: ledger.Tonne}}, "certificate-lapsed/B1"},
		"two currencies":     {[]ledger.Fact{cost("S20", 10, "EUR"), cost("", 10, "USD")}, "no-value/2026-10"},
		"made without cost":  {[]ledger.Fact{cost("S20", 10, "EUR"), ledger.Production{At: at("2026-10-11 08:00"), Belt: "B2", Pile: "P1", Net: ledger.Tonne}}, "no-value/costs"},
	} {
		t.Run(name, func(t *testing.T) {
			b := open(t)
			take(t, b, closing, append(yard(t, "never"), records(t, c.facts...)...))
			if names, _ := gatesOf(t, b); strings.Join(names, "; ") != c.gate+" open" && name != "no survey" {
				t.Fatalf("gates: %v, want %s alone", names, c.gate)
			}
			var refused *book.RefusedError
			if err := tryClose(b); !errors.As(err, &refused) || !strings.Contains(err.Error(), "settled by") {
				t.Fatalf("closed over it: %v", err)
			}
			waiveAll(t, b)
			if err := tryClose(b); err != nil {
				t.Errorf("waived and approved: %v", err)
			}
		})
	}
}

// waiveAll waives everything in the way of October, and has another person approve it; nobody approves their own.
func waiveAll(t *testing.T, b *sqlite.Book) {
	t.Helper()
	ctx := context.Background()
	_, gates := gatesOf(t, b)
	for _, g := range gates {
		w := book.Waiving{Period: october, Gate: g.ID(), Reason: "agreed with the controller", By: "clerk", Now: closing}
		if _, err := book.Waive(ctx, b, w); err != nil {
			t.Fatal(err)
		}
		if _, err := book.Waive(ctx, b, w); err == nil {
			t.Error("waived twice")
		}
	}
	if err := tryClose(b); err == nil {
		t.Error("closed on the word of one")
	}
	pending, err := read(t, b, time.Time{}).Pending(ctx, "Y")
	if err != nil || len(pending) != len(gates) {
		t.Fatalf("%d things wait for approval, want %d (%v)", len(pending), len(gates), err)
	}
	for _, p := range pending {
		for _, by := range []string{"clerk", "Clerk", "clerk (another-account)"} {
			if _, err := book.Approve(ctx, b, book.Approving{ID: p.ID, By: by, Now: closing}); !errors.Is(err, book.ErrSelf) {
				t.Errorf("%s approved what clerk did: %v", by, err)
			}
		}
		if _, err := book.Approve(ctx, b, book.Approving{ID: p.ID, By: "controller (clerk)", Now: closing}); err != nil {
			t.Error(err)
		}
	}
}

// An exception that the close waits for is waived in its register; a settlement that moved stone waits for a second
// person; neither can be waived at the close.
func TestGatesOfTheRegister(t *testing.T) {
	b := open(t)
	take(t, b, closing, append(yard(t, "never"), records(t, loadOut("1", "08:00", "P1", "T1", 20), loadOut("3", "09:00", "P1", "T2", 22))...))
	names, gates := gatesOf(t, b)
	e := the(t, b, october, "missing number")
	if len(names) != 1 || names[0] != "open-exception/"+e.ID+" open" {
		t.Fatalf("gates: %v", names)
	}
	if _, err := book.Waive(context.Background(), b, book.Waiving{Period: october, Gate: gates[0].ID(), Reason: "x", By: "clerk", Now: closing}); err == nil {
		t.Error("an exception was waived at the close")
	}
	resolve(t, b, book.Resolution{Exceptions: []string{e.ID}, How: book.HowLateLoad, Pile: "P1", Reason: "gate's list"})
	names, _ = gatesOf(t, b)
	if len(names) != 1 || !strings.HasPrefix(names[0], "second-person/") {
		t.Fatalf("gates: %v, want the second person's word alone", names)
	}
	id := strings.TrimSuffix(strings.TrimPrefix(names[0], "second-person/"), " open")
	if _, err := book.Approve(context.Background(), b, book.Approving{ID: id, By: "tester", Now: closing}); !errors.Is(err, book.ErrSelf) {
		t.Errorf("approved by the one who did it: %v", err)
	}
	if _, err := book.Approve(context.Background(), b, book.Approving{ID: id, By: "manager", Now: closing}); err != nil {
		t.Fatal(err)
	}
	seal(t, b, october)
}

// A close waits for what is stale only where the yard has said how old is too old.
func TestGateOfStaleTests(t *testing.T) {
	b := open(t)
	old := ledger.MoistureTest{Pile: "P1", Taken: at("2026-01-05 00:00")}
	take(t, b, closing, append(yard(t, "never"), records(t, old, loadOut("1", "08:00", "P1", "T1", 20))...))
	if names, _ := gatesOf(t, b); len(names) != 0 {
		t.Fatalf("gates: %v, want none without a policy", names)
	}
	take(t, b, closing, records(t, ledger.Policy{Name: "rule stale moisture days", Value: "60", From: at("2026-01-01 00:00")}))
	if names, _ := gatesOf(t, b); len(names) != 1 || !strings.HasPrefix(names[0], "open-exception/") {
		t.Fatalf("gates: %v, want the old moisture", names)
	}
}

// A conflict that nobody has decided stands in the way, and may be waived like another.
func TestGateOfAConflict(t *testing.T) {
	b := open(t)
	take(t, b, closing, append(yard(t, "never"), records(t, loadOut("1", "08:00", "P1", "T1", 20))...))
	take(t, b, closing, records(t, ledger.Conflict{Held: "load:Y:L1/1", Incoming: loadOut("1", "08:00", "P1", "T1", 22)}))
	names, _ := gatesOf(t, b)
	if len(names) != 1 || !strings.HasPrefix(names[0], "conflict/") {
		t.Fatalf("gates: %v, want the conflict", names)
	}
	if err := tryClose(b); err == nil {
		t.Fatal("closed over a conflict")
	}
	waiveAll(t, b)
	if err := tryClose(b); err != nil {
		t.Errorf("waived and approved: %v", err)
	}
}
