package book_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/shopspring/decimal"

	"repose/internal/book"
	"repose/internal/sqlite"
	"repose/ledger"
)

// loadOut is a load of loader L1 out of a pile in October.
func loadOut(ticket, clock, pile, truck string, tonnes ledger.Mass) ledger.Load {
	return ledger.Load{At: at("2026-10-05 " + clock), Loader: "L1", Ticket: ticket, Pile: pile, Truck: truck, Net: tonnes * ledger.Tonne, Purpose: ledger.PurposeSale}
}

// exceptions returns the register of a month.
func exceptions(t testing.TB, b *sqlite.Book, p ledger.Period) []book.Exception {
	t.Helper()
	r, err := book.Read(context.Background(), b, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	all, err := r.Exceptions(context.Background(), "Y", p)
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// the returns the only exception of a rule in a month.
func the(t testing.TB, b *sqlite.Book, p ledger.Period, rule string) book.Exception {
	t.Helper()
	var of []book.Exception
	for _, e := range exceptions(t, b, p) {
		if e.Rule == rule {
			of = append(of, e)
		}
	}
	if len(of) != 1 {
		t.Fatalf("%d exceptions of rule %q in %s, want one", len(of), rule, p)
	}
	return of[0]
}

// tryResolve settles an exception, or says why it cannot be.
func tryResolve(b *sqlite.Book, res book.Resolution) (book.Resolved, error) {
	res.By, res.Now = "tester", closing
	all, err := book.Resolve(context.Background(), b, res)
	if err != nil {
		return book.Resolved{}, err
	}
	return all[0], nil
}

func resolve(t testing.TB, b *sqlite.Book, res book.Resolution) book.Resolved {
	t.Helper()
	done, err := tryResolve(b, res)
	if err != nil {
		t.Fatal(err)
	}
	return done
}

// A load that was entered twice is voided by a record of its own. The exception stays in the register though the
// records do not show it any more, and can be opened again.
func TestSettleByEntry(t *testing.T) {
	b := open(t)
	take(t, b, closing, append(yard(t, "never"), records(t, loadOut("1", "08:00", "P1", "T1", 20), loadOut("2", "08:04", "P1", "T1", 20))...))
	e := the(t, b, october, "near twin")
	res := book.Resolution{Exceptions: []string{e.ID}, How: book.HowVoid, Reason: "entered twice, seen with the driver's copy", DryRun: true}
	for range 2 { // the first changes nothing
		done := resolve(t, b, res)
		if len(done.Wrote) != 1 || done.Wrote[0].ID() != "load:Y:L1/2#2" || done.Status != ledger.ExceptionSettled {
			t.Fatalf("wrote %v, %v", done.Wrote, done.Status)
		}
		res.DryRun = false
	}
	if got := solidsAt(t, b, at("2026-10-31 00:00"), time.Time{})["P1"]; got != 980*ledger.Tonne {
		t.Errorf("%v left, want 980 t: one load of the two counts", got)
	}
	gone := the(t, b, october, "near twin")
	if gone.ID != e.ID || gone.Status != ledger.ExceptionSettled || !gone.Gone || gone.Settled().Reason != res.Reason || gone.Mass != e.Mass {
		t.Errorf("after settling the register has %+v", gone)
	}
	if _, err := tryResolve(b, book.Resolution{Exceptions: []string{e.ID}, How: book.HowWaive, Reason: "again"}); err == nil {
		t.Error("settled twice")
	}
	resolve(t, b, book.Resolution{Exceptions: []string{e.ID}, How: book.HowReopen, Reason: "the driver has two copies"})
	if got := the(t, b, october, "near twin"); got.Status != ledger.ExceptionOpen {
		t.Errorf("reopened and %v", got.Status)
	}
	resolve(t, b, book.Resolution{Exceptions: []string{e.ID}, How: book.HowExplain, Reason: res.Reason})
	if got := the(t, b, october, "near twin"); got.Status != ledger.ExceptionExplained {
		t.Errorf("explained and %v", got.Status)
	}
}

// A number that is missing is settled by a late load of an estimated mass.
func TestSettleGapByEstimate(t *testing.T) {
	b := open(t)
	take(t, b, closing, append(yard(t, "never"), records(t, loadOut("1", "08:00", "P1", "T1", 20), loadOut("2", "09:00", "P1", "T2", 22), loadOut("4", "10:00", "P1", "T3", 21))...))
	e := the(t, b, october, "missing number")
	if e.Mass != 21*ledger.Tonne {
		t.Fatalf("the gap is %v, want 21 t", e.Mass)
	}
	if _, err := tryResolve(b, book.Resolution{Exceptions: []string{e.ID}, How: book.HowLateLoad, Reason: "gate's list"}); err == nil || !strings.Contains(err.Error(), "--pile") {
		t.Errorf("a late load out of no pile: %v", err)
	}
	done := resolve(t, b, book.Resolution{Exceptions: []string{e.ID}, How: book.HowLateLoad, Pile: "P1", Reason: "the truck is on the gate's list"})
	want := ledger.Correction{Exception: e.ID, Number: 1, At: e.Time, From: ledger.End{Kind: ledger.KindPile, Name: "P1"},
		To: ledger.End{Kind: ledger.KindOut, Name: "sale"}, Pile: "P1", Net: 21 * ledger.Tonne, Estimated: true, Reason: "the truck is on the gate's list"}
	if diff := cmp.Diff(ledger.Fact(want), done.Wrote[0].Fact); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if got := solidsAt(t, b, at("2026-10-31 00:00"), time.Time{})["P1"]; got != (1000-20-22-21-21)*ledger.Tonne {
		t.Errorf("%v left", got)
	}
}

// A record of several trucks is split with its total kept to the gram.
func TestSplitKeepsTheTotal(t *testing.T) {
	b := open(t)
	facts := []ledger.Fact{}
	for i := range 20 {
		facts = append(facts, loadOut(fmt.Sprint(i+1), fmt.Sprintf("%02d:%02d", 7+i/4, 15*(i%4)), "P1", fmt.Sprint("T", i%7), 24))
	}
	lumped := loadOut("21", "13:00", "P1", "T3", 0)
	lumped.Net = 96*ledger.Tonne + 400*ledger.Kilogram + 1
	take(t, b, closing, append(yard(t, "never"), records(t, append(facts, lumped)...)...))
	e := the(t, b, october, "merged load")
	if _, err := tryResolve(b, book.Resolution{Exceptions: []string{e.ID}, How: book.HowSplit, Reason: "four trucks"}); err == nil {
		t.Error("split without the number of trucks")
	}
	done := resolve(t, b, book.Resolution{Exceptions: []string{e.ID}, How: book.HowSplit, Parts: 4, Reason: "four trucks on one record"})
	var sum ledger.Mass
	for _, rec := range done.Wrote {
		sum += rec.Fact.(ledger.Load).Net
	}
	if len(done.Wrote) != 4 || sum != lumped.Net {
		t.Errorf("%d records of %v, want 4 of %v", len(done.Wrote), sum, lumped.Net)
	}
	left := 1000*ledger.Tonne - 20*24*ledger.Tonne - lumped.Net
	if got := solidsAt(t, b, at("2026-10-31 00:00"), time.Time{})["P1"]; got != left {
		t.Errorf("%v left, want %v", got, left)
	}
}

// Once a closed month has taken a survey of the pile, an exception from before it moves no stone a second time: the
// loss goes from what was unexplained to its cause.
func TestExplainAfterTheBookTookTheSurvey(t *testing.T) {
	b := open(t)
	surveyed := ledger.Survey{Survey: "S1", Pile: "P1", Start: at("2026-10-30 12:00"), End: at("2026-10-30 13:00")}
	surveyed.VolumeM3 = decimal.NewFromInt(458) // 916 t; the book says 937
	take(t, b, closing, append(yard(t, "always"), records(t, loadOut("1", "08:00", "P1", "T1", 20), loadOut("2", "09:00", "P1", "T2", 22), loadOut("4", "10:00", "P1", "T3", 21), surveyed)...))
	e := the(t, b, october, "missing number")
	_, err := book.Close(context.Background(), b, book.Closing{Yard: "Y", Period: october, By: "tester", Now: closing})
	var refused *book.RefusedError
	if !errors.As(err, &refused) || refused.Problems[0].Kind != ledger.ProblemException || refused.Problems[0].Subject != e.ID {
		t.Errorf("closed over a gap in the numbers: %v", err)
	}
	resolve(t, b, book.Resolution{Exceptions: []string{e.ID}, How: book.HowWaive, Reason: "nobody remembers"})
	if err := tryClose(b); err == nil {
		t.Error("closed over an exception that one person waived")
	}
	approveAll(t, b, "manager")
	seal(t, b, october)
	resolve(t, b, book.Resolution{Exceptions: []string{e.ID}, How: book.HowReopen, Reason: "the gate's list has turned up"})
	_, err = tryResolve(b, book.Resolution{Exceptions: []string{e.ID}, How: book.HowLateLoad, Pile: "P1", Reason: "on the gate's list"})
	if err == nil || !strings.Contains(err.Error(), "--how explain --cause") {
		t.Errorf("a late load after the survey was taken: %v", err)
	}
	resolve(t, b, book.Resolution{Exceptions: []string{e.ID}, How: book.HowExplain, Pile: "P1", Cause: "late-ticket", Reason: "on the gate's list"})
	r, err := book.Read(context.Background(), b, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	m, err := r.Month(context.Background(), "Y", november, func(*ledger.Entry) error { return nil })
	if err != nil {
		t.Fatal(err)
	}
	shrinkage := func(name string) ledger.Mass {
		return m.Closing.Balances[ledger.Account{Kind: ledger.KindShrinkage, Yard: "Y", Name: name}].Solids
	}
	if got := shrinkage("explained late-ticket"); got != 21*ledger.Tonne {
		t.Errorf("explained: %v, want 21 t", got)
	}
	if got := shrinkage(ledger.ShrinkageUnexplained); got != 0 {
		t.Errorf("unexplained: %v, want nothing left", got)
	}
	if got := m.Closing.Balances[ledger.PileID{Yard: "Y", Code: "P1"}.Account()].Solids; got != 916*ledger.Tonne {
		t.Errorf("the pile holds %v, want the surveyed 916 t", got)
	}
}

// approveAll has a person approve what waits for one.
func approveAll(t *testing.T, b *sqlite.Book, by string) {
	t.Helper()
	pending, err := read(t, b, time.Time{}).Pending(context.Background(), "Y")
	if err != nil || len(pending) == 0 {
		t.Fatalf("%d things wait for a second person, error %v", len(pending), err)
	}
	for _, p := range pending {
		if _, err := book.Approve(context.Background(), b, book.Approving{ID: p.ID, By: by, Now: closing}); err != nil {
			t.Fatal(err)
		}
	}
}
