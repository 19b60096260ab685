package sqlite_test

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"repose/internal/sqlite"
)

// TestTwoProcessesWrite has two processes append at once. Each waits for the other, and both succeed.
func TestTwoProcessesWrite(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.book")
	even, evenOut := start(t, "even", path)
	odd, oddOut := start(t, "odd", path)
	for name, out := range map[string]io.Reader{"even": evenOut, "odd": oddOut} {
		if text, err := io.ReadAll(out); err != nil || len(text) > 0 {
			t.Errorf("%s writer: %s, error %v", name, text, err)
		}
	}
	if err := errors.Join(even.Wait(), odd.Wait()); err != nil {
		t.Fatal(err)
	}
	book := mustOpen(t, path, sqlite.ReadOnly)
	defer book.Close()
	if v, err := book.Verify(context.Background(), nil); err != nil || !v.OK() || v.Records != 2*writerBatches*writerRecords {
		t.Errorf("verification %+v, error %v, want %d records", v, err, 2*writerBatches*writerRecords)
	}
}

// TestBusy meets a writer that does not finish: writers and readers give up after a while, and go on when
// it has.
func TestBusy(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "a.book")
	first := mustOpen(t, path, sqlite.Create)
	defer first.Close()
	other := mustOpen(t, path, sqlite.ReadWrite)
	defer other.Close()
	if err := errors.Join(first.SetBusyTimeout(50*time.Millisecond), other.SetBusyTimeout(50*time.Millisecond)); err != nil {
		t.Fatal(err)
	}
	tx := begin(t, first, epoch())
	if err := addLoads(tx, 0, 1, 10); err != nil {
		t.Fatal(err)
	}
	if _, err := other.Begin(ctx, "other clerk", epoch()); !errors.Is(err, sqlite.ErrBusy) {
		t.Errorf("second writer: error %v, want ErrBusy", err)
	}
	if head, err := other.Head(ctx); err != nil || head.Size != 0 {
		t.Errorf("reader beside a writer that has written nothing to the file yet: %v, error %v, want an empty book", head, err)
	}

	// A reader in the middle of a look at the book holds off a commit; the batch is then lost, and says so.
	for _, err := range other.At(0).Records(ctx) {
		t.Error("a record in an empty book", err)
	}
	commit(t, tx)
	if err := other.Exec("BEGIN; SELECT count(*) FROM block"); err != nil {
		t.Fatal(err)
	}
	if err := appendLoads(first, 100, 1, 1); !errors.Is(err, sqlite.ErrBusy) {
		t.Errorf("commit while another reads: error %v, want ErrBusy", err)
	}
	if err := other.Exec("ROLLBACK"); err != nil {
		t.Fatal(err)
	}

	// Between two looks it does not, and the reader goes on with the records that it began with.
	next := 0
	for rec, err := range other.Latest().Records(ctx) {
		if err != nil {
			t.Fatal(err)
		}
		if next++; rec.Seq == 0 {
			if err := appendLoads(first, 200, 1, 1); err != nil {
				t.Errorf("commit beside a reader: %v", err)
			}
		}
	}
	if next != 10 {
		t.Errorf("%d records read, want 10", next)
	}
	if err := appendLoads(first, 100, 1, 1); err != nil {
		t.Errorf("commit when the other has read: %v", err)
	}
	if v, err := other.Verify(ctx, nil); err != nil || !v.OK() || v.Records != 12 {
		t.Errorf("verification %+v, error %v, want 12 records", v, err)
	}
}

// TestKill kills a writer again and again, in the middle of a batch whose pages have gone to the file in
// part. What it had committed is there, and nothing else, also when the book is opened to read first.
func TestKill(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.book")
	mustOpen(t, path, sqlite.Create).Close()
	undone := 0
	for round := range 4 {
		cmd, out := start(t, "endless", path)
		output := bufio.NewScanner(out)
		text := readUntil(t, output, "committed")
		for range round * 4 {
			text = append(text, readUntil(t, output, "")...)
		}
		if err := cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		for output.Scan() { // what it said before it died
			text = append(text, output.Text())
		}
		cmd.Wait() // killed, as asked
		hot := isHot(path + "-journal")
		if hot {
			undone++
		}
		book := mustOpen(t, path, sqlite.ReadOnly)
		v, err := book.Verify(context.Background(), nil)
		committed := lastOf(t, text, "committed")
		if err != nil || !v.OK() || v.Records < committed || v.Records > committed+7 {
			t.Errorf("round %d: verification %+v, error %v; want the %d records that were committed, or one batch more", round, v, err, committed)
		}
		if hot && isHot(path+"-journal") {
			t.Errorf("round %d: the journal of the write that was cut short is still there", round)
		}
		book.Close()
	}
	if undone == 0 {
		t.Error("no round was cut short in the middle of a write: the test has shown nothing")
	}
}

// isHot reports whether a journal holds anything to undo. A writer that has not come to that leaves one
// that is empty or zeroed at its beginning.
func isHot(path string) bool {
	journal, err := os.ReadFile(path)
	return err == nil && len(journal) > 0 && journal[0] != 0
}

// TestFull lets the book grow up to a limit. The batch that does not fit is dropped whole.
func TestFull(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "a.book")
	book := mustOpen(t, path, sqlite.Create)
	defer book.Close()
	if err := appendLoads(book, 0, 1, 100); err != nil {
		t.Fatal(err)
	}
	before, err := book.Head(ctx)
	if err != nil {
		t.Fatal(err)
	}
	size := len(read(t, path))
	if err := book.Exec(fmt.Sprintf("PRAGMA max_page_count = %d", size/pageSize+300)); err != nil {
		t.Fatal(err)
	}
	for name, do := range map[string]func(*sqlite.Tx) error{
		"records": func(tx *sqlite.Tx) error { return addLoads(tx, 1000, 1, 60_000) },
		"a file": func(tx *sqlite.Tx) error {
			_, _, err := tx.AddFile("noise", bytes.NewReader(noise(4<<20)), "")
			return err
		},
	} {
		tx := begin(t, book, epoch())
		err := do(tx)
		if !errors.Is(err, sqlite.ErrFull) {
			t.Errorf("%s: error %v, want ErrFull", name, err)
		}
		if again := tx.Commit(); !errors.Is(again, sqlite.ErrFull) {
			t.Errorf("%s: commit: error %v, want ErrFull", name, again)
		}
	}
	if got, err := book.Head(ctx); got != before || err != nil {
		t.Errorf("head afterwards: %v, error %v, want %v", got, err, before)
	}
	if err := appendLoads(book, 500_000, 1, 1); err != nil {
		t.Errorf("a batch that fits: %v", err)
	}
	if v, err := book.Verify(ctx, nil); err != nil || !v.OK() || v.Records != 101 {
		t.Errorf("verification %+v, error %v, want 101 records", v, err)
	}
}
