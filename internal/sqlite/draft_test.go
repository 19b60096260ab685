package sqlite_test

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"repose/internal/sqlite"
	"repose/ledger"
)

// TestDraftsAreAppend takes the same rows in by drafts made ahead, falling back on Append where they stop, and by Append alone: the
// outcomes and the heads agree, whatever the rows repeat, contradict or replace.
func TestDraftsAreAppend(t *testing.T) {
	dir := t.TempDir()
	n := 0
	rapid.Check(t, func(rt *rapid.T) {
		var rows []ledger.Record
		tickets := rapid.SampledFrom([]int{40, 1000}).Draw(rt, "tickets") // few of them collide often
		for i := range rapid.IntRange(0, 4*sqlite.DraftRows).Draw(rt, "rows") {
			f := load(fmt.Sprint(i), day(time.October, 3, 9), "P1", 20+rapid.IntRange(0, 1).Draw(rt, "tonnes"))
			if rapid.IntRange(0, 9).Draw(rt, "again") == 0 {
				f.Ticket = fmt.Sprint(rapid.IntRange(0, tickets).Draw(rt, "ticket"))
			}
			rec, err := ledger.NewRecord(testYard, f)
			if err != nil {
				rt.Fatal(err)
			}
			if rapid.IntRange(0, 60).Draw(rt, "replaces") == 0 {
				rec.Replaces = rec.Fact.Key()
			}
			rows = append(rows, rec)
		}
		n++
		one, oneHead := takenIn(rt, filepath.Join(dir, fmt.Sprint(n, "a.book")), rows, 1)
		many, manyHead := takenIn(rt, filepath.Join(dir, fmt.Sprint(n, "b.book")), rows, sqlite.DraftRows)
		if strings.Join(one, " ") != strings.Join(many, " ") || oneHead != manyHead {
			rt.Errorf("one by one: %v, head %v\nmany at once: %v, head %v", one, oneHead, many, manyHead)
		}
	})
}

// takenIn takes rows in, as many at once as said, and returns their outcomes and the head of the verified book.
func takenIn(t *rapid.T, path string, rows []ledger.Record, atOnce int) (outcomes []string, head sqlite.Head) {
	ctx := context.Background()
	book, err := sqlite.Open(ctx, path, sqlite.Create)
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	book.SetBlockRows(50)
	tx, err := book.Begin(ctx, "clerk", day(time.November, 1, 9))
	if err != nil {
		t.Fatal(err)
	}
	sha, _, err := tx.AddFile("loads.csv", strings.NewReader("rows"), "")
	if err != nil {
		t.Fatal(err)
	}
	for i := range rows {
		rows[i].Source = ledger.Source{File: sha, Row: 2}
	}
	var drafts []*sqlite.Draft
	var drafted [][]ledger.Record
	for len(rows) > 0 {
		batch := append([]ledger.Record(nil), rows[:min(atOnce, len(rows))]...)
		rows = rows[len(batch):]
		drafted = append(drafted, batch)
		if atOnce > 1 {
			drafts = append(drafts, tx.Draft(batch))
		}
	}
	for i, batch := range drafted {
		n := 0
		if atOnce > 1 {
			if n, err = tx.AppendDraft(drafts[i]); err != nil {
				t.Fatal(err)
			}
		}
		for i := range batch {
			outcome := sqlite.New
			if i >= n {
				if outcome, _, err = tx.Append(&batch[i]); err != nil {
					t.Fatal(err)
				}
			}
			outcomes = append(outcomes, fmt.Sprint(outcome))
		}
	}
	if err := tx.Commit(); err != nil {
		t.Fatal(err)
	}
	v, err := book.Verify(ctx, nil)
	if err != nil || !v.OK() {
		t.Fatalf("verification %+v, error %v", v, err)
	}
	return outcomes, v.Head
}
