package sqlite_test

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"testing"

	"repose/internal/sqlite"
	"repose/ledger"
)

// The tests run this test program again as another process. Its role and the book come in variables of the
// environment; what it has to say, and its errors, go to standard output.
const (
	roleVariable = "REPOSE_TEST_ROLE"
	bookVariable = "REPOSE_TEST_BOOK"
)

func TestMain(m *testing.M) {
	role := os.Getenv(roleVariable)
	if role == "" {
		os.Exit(m.Run())
	}
	act, ok := roles()[role]
	if !ok {
		fmt.Println("no such role:", role)
		os.Exit(2)
	}
	if err := act(os.Getenv(bookVariable)); err != nil {
		fmt.Println("error:", err)
		os.Exit(1)
	}
}

func roles() map[string]func(book string) error {
	all := map[string]func(string) error{"even": writer(0), "odd": writer(1), "endless": endless, "look": look}
	addSystemRoles(all)
	return all
}

// withBook opens a book for a role.
func withBook(path string, mode sqlite.Mode, use func(*sqlite.Book) error) error {
	book, err := sqlite.Open(context.Background(), path, mode)
	if err != nil {
		return err
	}
	return errors.Join(use(book), book.Close())
}

// appendLoads commits a batch of loads with ticket numbers from first on, every step-th of them.
func appendLoads(book *sqlite.Book, first, step, n int) error {
	tx, err := book.Begin(context.Background(), "clerk", epoch())
	if err != nil {
		return err
	}
	defer tx.Rollback()
	if err := addLoads(tx, first, step, n); err != nil {
		return err
	}
	return tx.Commit()
}

func addLoads(tx *sqlite.Tx, first, step, n int) error {
	for i := range n {
		rec, err := ledger.NewRecord(testYard, load(fmt.Sprint(first+i*step), epoch(), "P1", 24))
		if err != nil {
			return err
		}
		if outcome, _, err := tx.Append(&rec); err != nil || outcome != sqlite.New {
			return fmt.Errorf("outcome %d: %w", outcome, err)
		}
	}
	return nil
}

// Sizes of what the writing roles commit.
const (
	writerBatches = 25
	writerRecords = 20
)

// writer commits batches of even or odd ticket numbers.
func writer(first int) func(string) error {
	return func(path string) error {
		return withBook(path, sqlite.Create, func(book *sqlite.Book) error {
			for batch := range writerBatches {
				if err := appendLoads(book, first+2*batch*writerRecords, 2, writerRecords); err != nil {
					return err
				}
			}
			return nil
		})
	}
}

// endless commits small batches, says so, and then fills a batch that it never commits, with so little
// memory that uncommitted pages go to the file.
func endless(path string) error {
	return withBook(path, sqlite.ReadWrite, func(book *sqlite.Book) error {
		head, err := book.Head(context.Background())
		if err != nil {
			return err
		}
		size := int(head.Size)
		for range 5 {
			if err := appendLoads(book, size, 1, 7); err != nil {
				return err
			}
			size += 7
			fmt.Println("committed", size)
		}
		if err := book.Exec("PRAGMA cache_size = -64"); err != nil {
			return err
		}
		tx, err := book.Begin(context.Background(), "clerk", epoch())
		if err != nil {
			return err
		}
		for {
			if err := addLoads(tx, size, 1, 100); err != nil {
				return err
			}
			size += 100
			fmt.Println("pending", size)
		}
	})
}

// look opens a book to read it, and says what it holds.
func look(path string) error {
	return withBook(path, sqlite.ReadOnly, func(book *sqlite.Book) error {
		v, err := book.Verify(context.Background(), nil)
		fmt.Printf("records %d, ok %v\n", v.Records, v.OK())
		return err
	})
}

// process is this test program in another role.
func process(t *testing.T, role, path string) *exec.Cmd {
	t.Helper()
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(program)
	cmd.Env = append(os.Environ(), roleVariable+"="+role, bookVariable+"="+path)
	cmd.Stderr = os.Stderr
	return cmd
}

// start starts a role and returns its standard output.
func start(t *testing.T, role, path string) (*exec.Cmd, io.Reader) {
	t.Helper()
	cmd := process(t, role, path)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	return cmd, out
}

// lastOf returns the number in the last line of text that begins with a word.
func lastOf(t *testing.T, text []string, word string) (last int64) {
	t.Helper()
	for _, line := range text {
		if number, ok := strings.CutPrefix(line, word+" "); ok {
			if _, err := fmt.Sscan(number, &last); err != nil {
				t.Fatal(err)
			}
		}
	}
	return last
}

// readUntil reads lines up to and including one with a prefix.
func readUntil(t *testing.T, r *bufio.Scanner, prefix string) (text []string) {
	t.Helper()
	for r.Scan() {
		text = append(text, r.Text())
		if strings.HasPrefix(r.Text(), prefix) {
			return text
		}
	}
	t.Fatalf("output ends with %q before %q", text, prefix)
	return nil
}
