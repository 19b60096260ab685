package sqlite_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"iter"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/shopspring/decimal"

	"repose/internal/sqlite"
	"repose/ledger"
)

const testYard = "NORTH"

func month(m time.Month) ledger.Period {
	p, err := ledger.NewPeriod(2026, m)
	if err != nil {
		panic(err)
	}
	return p
}

func day(m time.Month, d, hour int) time.Time { return time.Date(2026, m, d, hour, 0, 0, 0, time.UTC) }

func moisture(s string) ledger.DryBasis {
	m, err := ledger.NewDryBasis(decimal.RequireFromString(s))
	if err != nil {
		panic(err)
	}
	return m
}

func load(ticket string, at time.Time, pile string, tonnes int) ledger.Load {
	return ledger.Load{At: at, Loader: "L1", Ticket: ticket, Pile: pile, Product: "14-20", Truck: "T" + ticket,
		Net: ledger.Mass(tonnes) * ledger.Tonne, Purpose: ledger.PurposeSale}
}

// octoberFacts are a month of two piles. One load's pile is unknown, and its code needs quoting.
func octoberFacts() []ledger.Fact {
	return []ledger.Fact{
		ledger.Yard{Code: testYard, Name: "North Pit", Zone: "Etc/UTC", Unit: ledger.UnitTonne},
		ledger.Product{Code: "14-20", Reference: moisture("3")},
		ledger.Pile{Code: "P1", Product: "14-20"},
		ledger.Pile{Code: "P2", Product: "14-20"},
		ledger.Policy{Name: ledger.PolicyAdjust, Value: "always", From: day(time.October, 1, 0)},
		ledger.Opening{Pile: "P1", At: day(time.October, 1, 0), Solids: 5000 * ledger.Tonne, IsSolids: true},
		ledger.MoistureTest{Pile: "P1", Taken: day(time.October, 1, 1), Moisture: moisture("4.2"), Tests: 3},
		ledger.Production{At: day(time.October, 2, 18), Belt: "B1", Pile: "P1", Net: 900 * ledger.Tonne},
		load("1", day(time.October, 3, 9), "P1", 24),
		load("2", day(time.October, 3, 9), "P1", 27),
		load("3", day(time.October, 3, 10), `P"9\`, 20),
		ledger.Transfer{At: day(time.October, 5, 7), Loader: "L1", Ticket: "90", From: "P1", To: "P2", Net: 300 * ledger.Tonne},
		ledger.DensityTest{Product: "14-20", Taken: day(time.October, 20, 9), MoistTPerM3: decimal.RequireFromString("1.6"),
			Moisture: moisture("3"), Compaction: decimal.NewFromInt(1)},
		ledger.Survey{Survey: "S1", Pile: "P1", Start: day(time.October, 31, 8), End: day(time.October, 31, 9),
			VolumeM3: decimal.NewFromInt(3550)},
	}
}

// appendFacts appends facts as the rows of a file of that name.
func appendFacts(t *testing.T, tx *sqlite.Tx, name string, facts ...ledger.Fact) {
	t.Helper()
	sha, _, err := tx.AddFile(name, strings.NewReader("the rows of "+name), "")
	if err != nil {
		t.Fatal(err)
	}
	for i, f := range facts {
		yard := testYard
		if f.Kind() == ledger.KindProductRecord {
			yard = ""
		}
		rec, err := ledger.NewRecord(yard, f)
		if err != nil {
			t.Fatal(err)
		}
		if f.Kind() == ledger.KindLoadRecord && name == "corrections.csv" {
			rec.Replaces = f.Key()
		}
		rec.Source = ledger.Source{File: sha, Row: i + 2}
		if outcome, held, err := tx.Append(&rec); err != nil || outcome != sqlite.New {
			t.Fatalf("%s: outcome %v, held %v, error %v", rec.ID(), outcome, held, err)
		}
	}
}

func begin(t *testing.T, book *sqlite.Book, now time.Time) *sqlite.Tx {
	t.Helper()
	tx, err := book.Begin(context.Background(), "clerk", now)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { tx.Rollback() })
	return tx
}

func commit(t *testing.T, tx *sqlite.Tx) {
	t.Helper()
	if err := tx.Commit(); err != nil {
		t.Fatal(err)
	}
}

// derive enters a month as a close does: its own records, after those that came too late for the last one.
func derive(t *testing.T, book *sqlite.Book, p ledger.Period, opening ledger.State, lateFrom int64) (*ledger.Month, []*ledger.Entry) {
	t.Helper()
	ctx := context.Background()
	view := book.Latest()
	records, err := view.Registers(ctx)
	if err != nil {
		t.Fatal(err)
	}
	reg, err := ledger.NewRegister(records)
	if err != nil {
		t.Fatal(err)
	}
	start := p.Start(time.UTC)
	in := ledger.Input{Register: reg, Yard: testYard, Period: p, Opening: opening,
		Records: view.Movements(ctx, testYard, start, p.End(time.UTC)),
		Entered: func(id string) (*ledger.Entry, error) { return view.SealedEntry(ctx, id, sealsOf(t, view)) }}
	if lateFrom > 0 {
		own := in.Records
		in.Records = func(yield func(*ledger.Record, error) bool) {
			for _, records := range []iter.Seq2[*ledger.Record, error]{view.Late(ctx, testYard, start, lateFrom), own} {
				for rec, err := range records {
					if !yield(rec, err) {
						return
					}
				}
			}
		}
	}
	var entries []*ledger.Entry
	m, err := ledger.Derive(in, func(e *ledger.Entry) error {
		entries = append(entries, e)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return m, entries
}

func sealsOf(t *testing.T, view sqlite.View) []sqlite.Seal {
	t.Helper()
	seals, err := view.Seals(context.Background(), testYard)
	if err != nil {
		t.Fatal(err)
	}
	return seals
}

// seal closes a month as it is derived.
func seal(t *testing.T, tx *sqlite.Tx, m *ledger.Month, entries []*ledger.Entry, now time.Time) *ledger.Record {
	t.Helper()
	s, err := tx.Seal(testYard, m.Period)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if err := s.Entry(e); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.State(m.Closing); err != nil {
		t.Fatal(err)
	}
	if err := s.Line("comparison", fmt.Sprintf(`{"surveys":"%d"}`, len(m.Comparisons))); err != nil {
		t.Fatal(err)
	}
	rec, err := s.Finish(now)
	if err != nil {
		t.Fatal(err)
	}
	return rec
}

// closedMonth is what was sealed of a month.
type closedMonth struct {
	month   *ledger.Month
	entries []*ledger.Entry
	record  *ledger.Record
}

// fillEveryTable makes a book in which October and November are sealed. In November a load and a
// correction of another came in for October.
func fillEveryTable(t *testing.T, path string) []closedMonth { return fillBlocks(t, path, 512) }

// fillBlocks is fillEveryTable with blocks of a size.
func fillBlocks(t *testing.T, path string, rows int) []closedMonth {
	t.Helper()
	book := mustOpen(t, path, sqlite.Create)
	defer book.Close()
	book.SetBlockRows(rows)
	tx := begin(t, book, day(time.October, 31, 18))
	appendFacts(t, tx, "october.csv", octoberFacts()...)
	commit(t, tx)

	tx = begin(t, book, day(time.November, 2, 9))
	october, entries := derive(t, book, month(time.October), ledger.NewState(), 0)
	closed := []closedMonth{{october, entries, seal(t, tx, october, entries, day(time.November, 2, 9))}}
	commit(t, tx)

	tx = begin(t, book, day(time.November, 30, 18))
	appendFacts(t, tx, "november.csv", load("4", day(time.October, 30, 9), "P2", 25), load("5", day(time.November, 7, 9), "P2", 26),
		ledger.MoistureTest{Pile: "P2", Taken: day(time.November, 8, 1), Moisture: moisture("5.5"), Tests: 1})
	appendFacts(t, tx, "corrections.csv", load("2", day(time.October, 3, 9), "P1", 22))
	state, err := book.SealedState(context.Background(), closed[0].record)
	if err != nil {
		t.Fatal(err)
	}
	november, entries := derive(t, book, month(time.November), state, closed[0].record.Fact.(ledger.Close).LogSize)
	closed = append(closed, closedMonth{november, entries, seal(t, tx, november, entries, day(time.December, 1, 9))})
	commit(t, tx)
	return closed
}

// sameMoisture compares moistures as numbers.
var sameMoisture = cmp.Comparer(ledger.DryBasis.Equal)

// entryLines are entries in a form that shows every difference.
func entryLines(entries []*ledger.Entry) []string {
	var out []string
	for _, e := range entries {
		out = append(out, fmt.Sprintf("%s period %s flags %d legs %v", e.Record.AppendLine(nil), e.Period, e.Flags, e.Legs))
	}
	return out
}

func TestSealedMonthsComeBack(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "a.book")
	closed := fillEveryTable(t, path)
	book := mustOpen(t, path, sqlite.ReadOnly)
	defer book.Close()
	seals, err := book.Latest().Seals(ctx, testYard)
	if err != nil || len(seals) != len(closed) {
		t.Fatalf("%d seals, error %v, want %d", len(seals), err, len(closed))
	}
	for i, want := range closed {
		if seals[i].Record.ID() != want.record.ID() || seals[i].Close.Period != want.month.Period || seals[i].Close.LogSize != want.record.Seq {
			t.Errorf("seal %d: %+v, want the close %s at %d", i, seals[i], want.record.ID(), want.record.Seq)
		}
		var entries []*ledger.Entry
		for e, err := range book.SealedEntries(ctx, want.record) {
			if err != nil {
				t.Fatal(err)
			}
			entries = append(entries, e)
		}
		if d := cmp.Diff(entryLines(want.entries), entryLines(entries)); d != "" {
			t.Errorf("%s: entries (-sealed +read):\n%s", want.month.Period, d)
		}
		for j, e := range entries {
			if !cmp.Equal(e.Moisture, want.entries[j].Moisture, sameMoisture) {
				t.Errorf("moisture of %s: %v, want %v", e.Record.ID(), e.Moisture, want.entries[j].Moisture)
			}
		}
		state, err := book.SealedState(ctx, want.record)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(want.month.Closing.Lines(), state.Lines()); d != "" {
			t.Errorf("%s: closing state (-sealed +read):\n%s", want.month.Period, d)
		}
		lines, err := book.SealedLines(ctx, want.record, "comparison")
		if err != nil || !slices.Equal(lines, []string{fmt.Sprintf(`{"surveys":"%d"}`, len(want.month.Comparisons))}) {
			t.Errorf("%s: comparison lines %q, error %v", want.month.Period, lines, err)
		}
	}
	if v, err := book.Verify(ctx, nil); err != nil || !v.OK() || v.Seals != 2 || v.Files != 3 {
		t.Errorf("verification %+v, error %v, want 2 seals and 3 files", v, err)
	}
}

// TestSealedEntry looks for the entry of a record that was sealed, corrected, late, or never entered.
func TestSealedEntry(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "a.book")
	closed := fillEveryTable(t, path)
	book := mustOpen(t, path, sqlite.ReadOnly)
	defer book.Close()
	for id, want := range map[string]ledger.Period{
		"load:NORTH:L1/1":   month(time.October),
		"load:NORTH:L1/2":   month(time.October),
		"load:NORTH:L1/2#2": month(time.November), // takes the first back, and enters itself
		"load:NORTH:L1/4":   month(time.November), // late
	} {
		e, err := book.Latest().SealedEntry(ctx, id, sealsOf(t, book.Latest()))
		if err != nil || e == nil || e.Period != want || e.Record.ID() != id {
			t.Errorf("sealed entry of %s: %+v, error %v, want one in %s", id, e, err, want)
		}
	}
	before := book.At(closed[1].record.Seq)
	for view, id := range map[sqlite.View]string{book.Latest(): "pile:NORTH:P1", before: "load:NORTH:L1/4", book.At(3): "no ID"} {
		if e, err := view.SealedEntry(ctx, id, sealsOf(t, view)); e != nil || err != nil {
			t.Errorf("sealed entry of %s: %+v, error %v, want none", id, e, err)
		}
	}
	reversal, err := book.Latest().SealedEntry(ctx, "load:NORTH:L1/2#2", sealsOf(t, book.Latest()))
	if err != nil || len(reversal.Legs) != 2 || reversal.Flags&ledger.FlagReversal == 0 {
		t.Errorf("the correction is sealed as %+v, error %v, want a reversal of two legs", reversal, err)
	}
}

// TestSealText recomputes the hash of a seal from its text, as a reader of the book would, and checks
// that the text is what the package's documentation says.
func TestSealText(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "a.book")
	closed := fillEveryTable(t, path)
	book := mustOpen(t, path, sqlite.ReadOnly)
	defer book.Close()
	for _, c := range closed {
		var text bytes.Buffer
		if err := book.WriteSeal(ctx, c.record, &text); err != nil {
			t.Fatal(err)
		}
		sum := sha256.Sum256(text.Bytes())
		if got, want := hex.EncodeToString(sum[:]), c.record.Fact.(ledger.Close).SealSHA256; got != want {
			t.Errorf("%s: the text has SHA-256 %s, its close says %s", c.month.Period, got, want)
		}
		if c.month.Period != month(time.October) {
			continue
		}
		for _, want := range []string{
			`entry {"seq":9,"record":"load:NORTH:L1/1","moisture_pct_dry":"4.2","legs":[{"from":"pile:NORTH:P1","to":"out:NORTH:sale","solids_g":"23032630","water_g":"967370"}]}` + "\n",
			`entry {"seq":11,"record":"load:NORTH:L1/3","flags":520,"legs":[{"from":"suspense:NORTH:P\"9\\","to":"out:NORTH:sale","solids_g":"20000000","water_g":"0"}]}` + "\n",
			`state {"balance":"pile:NORTH:P2",`,
			`comparison {"surveys":"1"}` + "\n",
		} {
			if !strings.Contains(text.String(), want) {
				t.Errorf("the text lacks %s\n%s", want, text.String())
			}
		}
	}
}

func TestSealRefuses(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "a.book")
	closed := fillEveryTable(t, path)
	book := mustOpen(t, path, sqlite.ReadWrite)
	defer book.Close()
	entry, state := closed[0].entries[0], closed[0].month.Closing
	stranger := &ledger.Entry{Record: &ledger.Record{Yard: testYard, Fact: load("9", day(time.October, 9, 9), "P1", 1), Seq: 999}}
	december := month(time.December)
	for name, do := range map[string]func(*sqlite.Tx) error{
		"a closed month": func(tx *sqlite.Tx) error { _, err := tx.Seal(testYard, month(time.October)); return err },
		"an entry after a line": sealing(december, func(s *sqlite.Sealer) error {
			return errors.Join(s.State(state), s.Entry(entry))
		}),
		"a record that is not in the log": sealing(december, func(s *sqlite.Sealer) error { return s.Entry(stranger) }),
		"an entry twice": sealing(december, func(s *sqlite.Sealer) error {
			return errors.Join(s.Entry(entry), s.Entry(entry))
		}),
		"an end without a state": sealing(december, func(s *sqlite.Sealer) error { _, err := s.Finish(day(time.December, 31, 0)); return err }),
		"a line of two lines":    sealing(december, func(s *sqlite.Sealer) error { return s.Line("policy", "{}\nentry {}") }),
		"a kind of two words":    sealing(december, func(s *sqlite.Sealer) error { return s.Line("a b", "{}") }),
		"a line called entry":    sealing(december, func(s *sqlite.Sealer) error { return s.Line("entry", "{}") }),
		"two closes at once": func(tx *sqlite.Tx) error {
			_, err := tx.Seal(testYard, december)
			_, err2 := tx.Seal("SOUTH", december)
			return errors.Join(err, err2)
		},
		"a commit halfway": func(tx *sqlite.Tx) error {
			s, err := tx.Seal(testYard, december)
			if err != nil {
				return err
			}
			return errors.Join(s.Entry(entry), tx.Commit())
		},
		"a line after the end": sealing(december, func(s *sqlite.Sealer) error {
			err := s.State(state)
			if _, err := s.Finish(day(time.December, 31, 0)); err != nil {
				return nil
			}
			return errors.Join(err, s.Line("policy", "{}"))
		}),
	} {
		tx := begin(t, book, day(time.December, 31, 0))
		err := do(tx)
		if err == nil {
			t.Errorf("%s: accepted", name)
		}
		if name == "a closed month" && !errors.Is(err, sqlite.ErrSealed) {
			t.Errorf("%s: error %v, want ErrSealed", name, err)
		}
		tx.Rollback()
	}
	open := &ledger.Record{Yard: testYard, Seq: 1, Fact: ledger.Close{Period: december}}
	if _, err := book.SealedState(ctx, open); !errors.Is(err, sqlite.ErrNotSealed) {
		t.Errorf("state of an open month: error %v, want ErrNotSealed", err)
	}
	for _, err := range book.SealedEntries(ctx, open) {
		if !errors.Is(err, sqlite.ErrNotSealed) {
			t.Errorf("entries of an open month: error %v, want ErrNotSealed", err)
		}
	}
	if v, err := book.Verify(ctx, nil); err != nil || !v.OK() || v.Seals != 2 {
		t.Errorf("after all of it: verification %+v, error %v", v, err)
	}
}

func sealing(p ledger.Period, do func(*sqlite.Sealer) error) func(*sqlite.Tx) error {
	return func(tx *sqlite.Tx) error {
		s, err := tx.Seal(testYard, p)
		if err != nil {
			return nil // seen as accepted
		}
		return do(s)
	}
}

// reopen has the clerk ask for a month to be opened again, and somebody approve it.
func reopen(t *testing.T, book *sqlite.Book, rec *ledger.Record, by string, now time.Time) {
	t.Helper()
	tx := begin(t, book, now)
	wish, err := ledger.NewRecord(testYard, ledger.Reopening{Period: rec.Fact.(ledger.Close).Period, Of: rec.ID(), Why: ledger.RestateError,
		Reason: "a ticket was wrong", Decided: now})
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := tx.Append(&wish); err != nil {
		t.Fatal(err)
	}
	if n := len(sealsOf(t, book.Latest())); n != 2 {
		t.Errorf("a wish alone leaves %d closes standing, want 2", n)
	}
	commit(t, tx)
	if tx, err = book.Begin(context.Background(), by, now); err != nil {
		t.Fatal(err)
	}
	word, err := ledger.NewRecord(testYard, ledger.Approval{Of: wish.ID(), Decided: now})
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := tx.Append(&word); err != nil {
		t.Fatal(err)
	}
	commit(t, tx)
}

// TestReopenedMonthIsSealedAgain takes a close back and seals the month a second time: both seals stay readable and
// hold, a later month's close falls with it, and the book as known before reads as before.
func TestReopenedMonthIsSealedAgain(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "a.book")
	closed := fillEveryTable(t, path)
	book := mustOpen(t, path, sqlite.ReadWrite)
	defer book.Close()
	before := closed[1].record.Seq + 1
	reopen(t, book, closed[0].record, "controller", day(time.December, 5, 9))
	if seals := sealsOf(t, book.Latest()); len(seals) != 0 {
		t.Fatalf("%d closes stand after October was opened again, want none", len(seals))
	}
	tx := begin(t, book, day(time.December, 6, 9))
	october, entries := derive(t, book, month(time.October), ledger.NewState(), 0)
	again := seal(t, tx, october, entries, day(time.December, 6, 9))
	commit(t, tx)
	if again.ID() != "close:NORTH:2026-10#2" || again.Replaces != "2026-10" {
		t.Errorf("the second close is %s and replaces %q", again.ID(), again.Replaces)
	}
	if seals := sealsOf(t, book.Latest()); len(seals) != 1 || seals[0].Record.ID() != again.ID() {
		t.Errorf("standing closes %+v, want the second of October alone", seals)
	}
	if seals := sealsOf(t, book.At(before)); len(seals) != 2 || seals[0].Record.ID() != closed[0].record.ID() {
		t.Errorf("as known before: %+v, want the first closes of October and November", seals)
	}
	// The load that came too late for the first close is in the second.
	e, err := book.Latest().SealedEntry(ctx, "load:NORTH:L1/4", sealsOf(t, book.Latest()))
	if err != nil || e == nil || e.Period != month(time.October) || e.Flags&ledger.FlagLate != 0 {
		t.Errorf("the late load is sealed as %+v, error %v, want in October and not late", e, err)
	}
	for _, rec := range []*ledger.Record{closed[0].record, closed[1].record, again} {
		var text bytes.Buffer
		if err := book.WriteSeal(ctx, rec, &text); err != nil {
			t.Fatal(err)
		}
		sum := sha256.Sum256(text.Bytes())
		if got, want := hex.EncodeToString(sum[:]), rec.Fact.(ledger.Close).SealSHA256; got != want {
			t.Errorf("%s: the text has SHA-256 %s, its close says %s", rec.ID(), got, want)
		}
	}
	if v, err := book.Verify(ctx, nil); err != nil || !v.OK() || v.Seals != 3 {
		t.Errorf("verification %+v, error %v, want 3 seals that hold", v, err)
	}
	tx = begin(t, book, day(time.December, 7, 9))
	if _, err := tx.Seal(testYard, month(time.October)); !errors.Is(err, sqlite.ErrSealed) {
		t.Errorf("a third close without a reopening: error %v, want ErrSealed", err)
	}
}

// TestSelfApprovalIsFound has one person ask and approve, which the program refuses and another program might write.
func TestSelfApprovalIsFound(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.book")
	closed := fillEveryTable(t, path)
	book := mustOpen(t, path, sqlite.ReadWrite)
	defer book.Close()
	reopen(t, book, closed[0].record, "Clerk", day(time.December, 5, 9))
	v, err := book.Verify(context.Background(), nil)
	if err != nil || len(v.Faults) != 1 || !strings.Contains(v.Faults[0].Text, "approves what they did themselves") {
		t.Errorf("verification %+v, error %v, want one fault that names the approval", v, err)
	}
}

// TestBlocksOfAnySize writes the same book in blocks of any size: what it says is the same.
func TestBlocksOfAnySize(t *testing.T) {
	dir := t.TempDir()
	fillEveryTable(t, filepath.Join(dir, "whole.book"))
	want, err := dump(t, filepath.Join(dir, "whole.book"))
	if err != nil {
		t.Fatal(err)
	}
	for rows := range 5 {
		path := filepath.Join(dir, fmt.Sprint(rows))
		closed := fillBlocks(t, path, rows+1)
		got, err := dump(t, path)
		if d := cmp.Diff(want, got); d != "" || err != nil {
			t.Errorf("blocks of %d: error %v (-whole +blocks):\n%s", rows+1, err, d)
		}
		book := mustOpen(t, path, sqlite.ReadOnly)
		if v, err := book.Verify(context.Background(), nil); err != nil || !v.OK() {
			t.Errorf("blocks of %d: verification %+v, error %v", rows+1, v, err)
		}
		seals := sealsOf(t, book.Latest())
		for _, c := range closed {
			for _, e := range c.entries {
				found, err := book.Latest().SealedEntry(context.Background(), e.Record.ID(), seals)
				if err != nil || found == nil || found.Record.ID() != e.Record.ID() {
					t.Errorf("blocks of %d: sealed entry of %s: %v, error %v", rows+1, e.Record.ID(), found, err)
				}
			}
		}
		book.Close()
	}
}
