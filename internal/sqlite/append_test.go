package sqlite_test

import (
	"context"
	"errors"
	"path/filepath"
	"testing"
	"time"

	"repose/internal/sqlite"
	"repose/ledger"
)

func TestAppendOutcomes(t *testing.T) {
	book := mustOpen(t, filepath.Join(t.TempDir(), "a.book"), sqlite.Create)
	defer book.Close()
	at := day(time.October, 3, 9)
	type row struct {
		load     ledger.Load
		replaces string
	}
	for i, test := range []struct {
		row      row
		outcome  sqlite.Outcome
		held     string // ID of the record that is returned
		appended string // ID of the record, if it is new
	}{
		{row{load("1", at, "P1", 24), ""}, sqlite.New, "", "load:NORTH:L1/1"},
		{row{load("1", at, "P1", 24), ""}, sqlite.Held, "load:NORTH:L1/1", ""},
		{row{load("1", at, "P1", 25), ""}, sqlite.Conflicting, "load:NORTH:L1/1", ""},
		{row{load("1", at, "P1", 25), "L1/1"}, sqlite.New, "", "load:NORTH:L1/1#2"},
		{row{load("1", at, "P1", 25), "L1/1"}, sqlite.Held, "load:NORTH:L1/1#2", ""},
		{row{load("1", at, "P1", 24), ""}, sqlite.Held, "load:NORTH:L1/1", ""},
		{row{load("1", at, "P1", 26), ""}, sqlite.Conflicting, "load:NORTH:L1/1#2", ""},
		{row{load("1", at, "P1", 26), "L1/7"}, sqlite.Conflicting, "load:NORTH:L1/1#2", ""},
		{row{load("1", at, "P1", 26), "L1/1"}, sqlite.New, "", "load:NORTH:L1/1#3"},
		{row{load("2", at, "P1", 26), "L1/1"}, sqlite.New, "", "load:NORTH:L1/2"},
		{row{load("3", at, "P1", 26), "L1/3"}, sqlite.New, "", "load:NORTH:L1/3"},
	} {
		rec, err := ledger.NewRecord(testYard, test.row.load)
		if err != nil {
			t.Fatal(err)
		}
		rec.Replaces = test.row.replaces
		before := rec
		tx := begin(t, book, at)
		outcome, held, err := tx.Append(&rec)
		if err != nil || outcome != test.outcome {
			t.Fatalf("row %d: outcome %d, error %v, want %d", i, outcome, err, test.outcome)
		}
		if test.held == "" && held != nil || test.held != "" && (held == nil || held.ID() != test.held) {
			t.Errorf("row %d: held %v, want %q", i, held, test.held)
		}
		if outcome == sqlite.New && rec.ID() != test.appended {
			t.Errorf("row %d: appended as %s, want %s", i, rec.ID(), test.appended)
		}
		if outcome != sqlite.New && (rec.Seq != before.Seq || rec.Revision != before.Revision || rec.By != before.By) {
			t.Errorf("row %d: a record that was not appended is set to %+v", i, rec)
		}
		commit(t, tx)
	}
}

// TestAppendRefuses appends what the book cannot hold. The batch is dropped with it, and the book goes on.
func TestAppendRefuses(t *testing.T) {
	ctx := context.Background()
	book := mustOpen(t, filepath.Join(t.TempDir(), "a.book"), sqlite.Create)
	defer book.Close()
	at := day(time.October, 3, 9)
	record := func(f ledger.Fact) ledger.Record {
		rec, err := ledger.NewRecord(testYard, f)
		if err != nil {
			t.Fatal(err)
		}
		return rec
	}
	unknownFile := record(load("1", at, "P1", 24))
	unknownFile.Source = ledger.Source{File: string(make([]byte, 64)), Row: 2}
	period := month(time.October)
	for name, rec := range map[string]ledger.Record{
		"a file that was not added": unknownFile,
		"an instant too far off":    record(load("1", time.Date(2300, 1, 1, 0, 0, 0, 0, time.UTC), "P1", 24)),
		"a key that is not text":    record(load("\xff", at, "P1", 24)),
		"a yard that is not text":   {Yard: "\xff", At: at, Fact: load("1", at, "P1", 24)},
		"a close":                   record(ledger.Close{Period: period, At: at}),
		"a file's own record":       record(ledger.SourceFile{Name: "a.csv", SHA256: string(make([]byte, 64))}),
	} {
		tx := begin(t, book, at)
		good := yardRecord(t, "NORTH", "")
		if _, _, err := tx.Append(&good); err != nil {
			t.Fatal(err)
		}
		_, _, err := tx.Append(&rec)
		if err == nil {
			t.Errorf("%s: accepted", name)
		}
		if _, _, again := tx.Append(&good); !errors.Is(again, err) {
			t.Errorf("%s: append after the error: %v, want the same error", name, again)
		}
		if again := tx.Commit(); !errors.Is(again, err) {
			t.Errorf("%s: commit after the error: %v, want the same error", name, again)
		}
		if err := tx.Rollback(); err != nil {
			t.Errorf("%s: rollback: %v", name, err)
		}
	}
	addYard(t, book, "NORTH")
	if v, err := book.Verify(ctx, nil); err != nil || !v.OK() || v.Records != 1 {
		t.Errorf("verification %+v, error %v, want one record", v, err)
	}
}

func TestTransactions(t *testing.T) {
	ctx := context.Background()
	book := mustOpen(t, filepath.Join(t.TempDir(), "a.book"), sqlite.Create)
	defer book.Close()
	for name, err := range map[string]error{
		"nobody":         second(book.Begin(ctx, "", epoch())),
		"not a name":     second(book.Begin(ctx, "\xff", epoch())),
		"no instant":     second(book.Begin(ctx, "clerk", time.Time{})),
		"a done context": second(book.Begin(cancelled(), "clerk", epoch())),
	} {
		if err == nil {
			t.Errorf("begin by %s: accepted", name)
		}
	}
	tx := begin(t, book, epoch())
	if _, err := book.Begin(ctx, "clerk", epoch()); err == nil {
		t.Error("a second transaction was begun within one book")
	}
	if _, err := book.Verify(ctx, nil); err == nil {
		t.Error("a book was verified in the middle of a transaction")
	}
	commit(t, tx) // of nothing
	if head, err := book.Head(ctx); head.Size != 0 || err != nil {
		t.Errorf("head after an empty commit: %v, error %v", head, err)
	}
	if err := tx.Commit(); !errors.Is(err, sqlite.ErrTx) {
		t.Errorf("second commit: error %v, want ErrTx", err)
	}
	if err := tx.Rollback(); err != nil {
		t.Errorf("rollback after commit: %v", err)
	}
}

// TestCloseDropsTheBatch closes a book in the middle of a transaction.
func TestCloseDropsTheBatch(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.book")
	book := mustOpen(t, path, sqlite.Create)
	tx := begin(t, book, epoch())
	if err := addLoads(tx, 0, 1, 10); err != nil {
		t.Fatal(err)
	}
	if err := book.Close(); err != nil {
		t.Fatal(err)
	}
	if err := book.Close(); err != nil {
		t.Errorf("closed again: %v", err)
	}
	if err := tx.Commit(); !errors.Is(err, sqlite.ErrTx) {
		t.Errorf("commit after close: error %v, want ErrTx", err)
	}
	book = mustOpen(t, path, sqlite.ReadOnly)
	defer book.Close()
	if v, err := book.Verify(context.Background(), nil); err != nil || !v.OK() || v.Records != 0 {
		t.Errorf("verification %+v, error %v, want an empty book", v, err)
	}
}

func second[T any](_ T, err error) error { return err }

func cancelled() context.Context {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	return ctx
}

// TestCancel ends the context in the middle of a transaction, and in the middle of reading.
func TestCancel(t *testing.T) {
	book := mustOpen(t, filepath.Join(t.TempDir(), "a.book"), sqlite.Create)
	defer book.Close()
	addYard(t, book, "NORTH")
	addYard(t, book, "SOUTH")
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	tx, err := book.Begin(ctx, "clerk", epoch())
	if err != nil {
		t.Fatal(err)
	}
	rec := yardRecord(t, "EAST", "")
	if _, _, err := tx.Append(&rec); err != nil {
		t.Fatal(err)
	}
	cancel()
	if err := tx.Commit(); !errors.Is(err, context.Canceled) {
		t.Errorf("commit after the context is done: error %v, want context.Canceled", err)
	}
	ctx, cancel = context.WithCancel(context.Background())
	defer cancel()
	n := 0
	for rec, err := range book.Latest().Records(ctx) {
		if n++; n == 1 {
			cancel()
			continue
		}
		if rec != nil || !errors.Is(err, context.Canceled) {
			t.Errorf("reading on after the context is done: %v, error %v, want context.Canceled", rec, err)
		}
	}
	if n != 2 {
		t.Errorf("%d steps, want a record and an error", n)
	}
	if v, err := book.Verify(context.Background(), nil); err != nil || !v.OK() || v.Records != 2 {
		t.Errorf("verification %+v, error %v, want two records", v, err)
	}
}

func TestHeads(t *testing.T) {
	ctx := context.Background()
	book := mustOpen(t, filepath.Join(t.TempDir(), "a.book"), sqlite.Create)
	defer book.Close()
	heads := []sqlite.Head{{Size: 0, Root: "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"}}
	for _, code := range []string{"NORTH", "SOUTH", "EAST"} {
		addYard(t, book, code)
		head, err := book.Head(ctx)
		if err != nil {
			t.Fatal(err)
		}
		heads = append(heads, head)
	}
	for _, want := range heads {
		if root, err := book.RootAt(ctx, want.Size); root != want.Root || err != nil {
			t.Errorf("root over %d records: %s, error %v, want %s", want.Size, root, err, want.Root)
		}
	}
	if root, err := book.RootAt(ctx, 4); err == nil {
		t.Errorf("root over more records than there are: %s", root)
	}
}

func TestLookup(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "a.book")
	fillEveryTable(t, path)
	book := mustOpen(t, path, sqlite.ReadOnly)
	defer book.Close()
	for text, want := range map[string][]string{
		"load:NORTH:L1/2":         {"load:NORTH:L1/2"},
		"load:NORTH:L1/2#2":       {"load:NORTH:L1/2#2"},
		"load:NORTH:L1/2#3":       nil,
		"L1/2":                    {"load:NORTH:L1/2", "load:NORTH:L1/2#2"},
		"2":                       {"load:NORTH:L1/2", "load:NORTH:L1/2#2"},
		"90":                      {"transfer:NORTH:L1/90"},
		"P1":                      {"pile:NORTH:P1"},
		"2026-10":                 {"close:NORTH:2026-10"},
		"":                        nil,
		"nothing of that kind":    nil,
		"load:NORTH":              nil,
		"load:SOUTH:L1/2":         nil,
		"feed:NORTH:L1/2":         nil,
		"load:NORTH:L1/2#x":       nil,
		"unheard of:NORTH:L1/2#2": nil,
	} {
		found, err := book.Lookup(ctx, text)
		if err != nil {
			t.Errorf("%q: %v", text, err)
			continue
		}
		var got []string
		for _, rec := range found {
			got = append(got, rec.ID())
		}
		if len(got) != len(want) {
			t.Errorf("%q: found %q, want %q", text, got, want)
			continue
		}
		for i := range want {
			if got[i] != want[i] {
				t.Errorf("%q: found %q, want %q", text, got, want)
			}
		}
	}
	if _, err := book.ByID(ctx, "load:NORTH:L1/77"); !errors.Is(err, sqlite.ErrNoRecord) {
		t.Errorf("an ID that is not there: error %v, want ErrNoRecord", err)
	}
}
