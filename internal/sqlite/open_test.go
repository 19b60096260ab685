package sqlite_test

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/fstest"

	"github.com/ncruces/go-sqlite3"

	"repose/internal/sqlite"
	"repose/ledger"
)

func write(t *testing.T, path string, content []byte) {
	t.Helper()
	if err := os.WriteFile(path, content, 0o666); err != nil {
		t.Fatal(err)
	}
}

func read(t *testing.T, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// yardRecord is a small valid record.
func yardRecord(t fataler, code, name string) ledger.Record {
	t.Helper()
	rec, err := ledger.NewRecord(code, ledger.Yard{Code: code, Name: name, Zone: "Etc/UTC", Unit: ledger.UnitTonne})
	if err != nil {
		t.Fatal(err)
	}
	return rec
}

// appendYard commits one record.
func appendYard(book *sqlite.Book, rec ledger.Record) error {
	tx, err := book.Begin(context.Background(), "clerk", epoch())
	if err != nil {
		return err
	}
	defer tx.Rollback()
	outcome, _, err := tx.Append(&rec)
	if err != nil {
		return err
	}
	if outcome != sqlite.New {
		return fmt.Errorf("outcome %d, want New", outcome)
	}
	return tx.Commit()
}

func addYard(t fataler, book *sqlite.Book, code string) {
	t.Helper()
	if err := appendYard(book, yardRecord(t, code, "")); err != nil {
		t.Fatal(err)
	}
}

func TestOpenForeignFiles(t *testing.T) {
	dir := t.TempDir()
	other := filepath.Join(dir, "other.db")
	c, err := sqlite3.Open(other)
	if err == nil {
		err = errors.Join(c.Exec("CREATE TABLE t(x); PRAGMA application_id = 7"), c.Close())
	}
	if err != nil {
		t.Fatal(err)
	}
	var archive bytes.Buffer
	z := zip.NewWriter(&archive)
	_, err = z.Create("xl/workbook.xml")
	if err := errors.Join(err, z.Close()); err != nil {
		t.Fatal(err)
	}
	book := filepath.Join(dir, "a.book")
	mustOpen(t, book, sqlite.Create).Close()
	whole := read(t, book)
	for name, test := range map[string]struct {
		content []byte
		want    string
	}{
		"csv":         {[]byte("yard,name,time zone\nNORTH,North Pit,Etc/UTC\n"), `found a file that begins with "yard,name,time zone\nNORT"`},
		"zip":         {archive.Bytes(), "found a zip archive, such as a workbook"},
		"other":       {read(t, other), "found a database of another program (application id 0x7)"},
		"head of one": {whole[:60], "found only the first 60 bytes of one: the file has been truncated"},
		"short":       {whole[:5], "found only the first 5 bytes of one"},
		"cut":         {whole[:len(whole)-100], "the file has been truncated"},
	} {
		path := filepath.Join(dir, "test.book")
		write(t, path, test.content)
		for _, mode := range []sqlite.Mode{sqlite.ReadOnly, sqlite.ReadWrite, sqlite.Create} {
			_, err := sqlite.Open(context.Background(), path, mode)
			if !errors.Is(err, sqlite.ErrNotABook) || !strings.Contains(err.Error(), test.want) || !strings.Contains(err.Error(), path) {
				t.Errorf("%s, mode %d: error %v, want ErrNotABook with the path and %q", name, mode, err, test.want)
			}
			if got := read(t, path); !bytes.Equal(got, test.content) {
				t.Errorf("%s, mode %d: the file was changed", name, mode)
			}
		}
	}
}

func TestOpenMissingEmptyAndFolder(t *testing.T) {
	dir := t.TempDir()
	ctx := context.Background()
	missing, empty := filepath.Join(dir, "missing.book"), filepath.Join(dir, "empty.book")
	write(t, empty, nil)
	for _, mode := range []sqlite.Mode{sqlite.ReadOnly, sqlite.ReadWrite} {
		if _, err := sqlite.Open(ctx, missing, mode); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("missing file, mode %d: error %v, want fs.ErrNotExist", mode, err)
		}
		if _, err := sqlite.Open(ctx, empty, mode); !errors.Is(err, sqlite.ErrNotABook) || !strings.Contains(err.Error(), "an empty file") {
			t.Errorf("empty file, mode %d: error %v, want ErrNotABook and that it is empty", mode, err)
		}
	}
	if _, err := os.Stat(missing); err == nil {
		t.Error("opening a missing book made one")
	}
	if _, err := sqlite.Open(ctx, dir, sqlite.Create); !errors.Is(err, sqlite.ErrNotABook) || !strings.Contains(err.Error(), "a folder") {
		t.Errorf("a folder: error %v, want ErrNotABook and that it is a folder", err)
	}
	if _, err := sqlite.Open(ctx, filepath.Join(dir, "no", "such.book"), sqlite.Create); err == nil {
		t.Error("a book was made in a folder that does not exist")
	}
	for _, path := range []string{missing, empty} {
		book := mustOpen(t, path, sqlite.Create)
		addYard(t, book, "NORTH")
		book.Close()
		book = mustOpen(t, path, sqlite.Create)
		if head, err := book.Head(ctx); head.Size != 1 || err != nil {
			t.Errorf("%s: %d records after Create of an existing book, error %v, want 1", path, head.Size, err)
		}
		book.Close()
	}
}

// TestOpenOddNames opens names that mean something else to SQLite.
func TestOpenOddNames(t *testing.T) {
	t.Chdir(t.TempDir())
	for _, path := range []string{":memory:", "file:a.book?mode=memory", "a book's \"name\"%20#?.book"} {
		book := mustOpen(t, path, sqlite.Create)
		addYard(t, book, "NORTH")
		book.Close()
		if info, err := os.Stat(path); err != nil || info.Size() == 0 {
			t.Errorf("%q: no book of that name was written: %v", path, err)
		}
		book = mustOpen(t, path, sqlite.ReadOnly)
		if head, err := book.Head(context.Background()); head.Size != 1 || err != nil {
			t.Errorf("%q: %d records, error %v, want 1", path, head.Size, err)
		}
		book.Close()
	}
	if _, err := sqlite.Open(context.Background(), "", sqlite.Create); err == nil {
		t.Error("a book without a name was opened")
	}
}

// A book of a build that kept a row a record is refused in words, and left as it is.
func TestBookOfAnUnreleasedBuild(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.book")
	mustOpen(t, path, sqlite.Create).Close()
	c, err := sqlite3.Open(path)
	if err == nil {
		err = errors.Join(c.Exec("CREATE TABLE record (seq INTEGER PRIMARY KEY) STRICT"), c.Close())
	}
	if err != nil {
		t.Fatal(err)
	}
	before := read(t, path)
	for _, mode := range []sqlite.Mode{sqlite.ReadOnly, sqlite.ReadWrite, sqlite.Create} {
		if _, err := sqlite.Open(context.Background(), path, mode); !errors.Is(err, sqlite.ErrOlder) || !strings.Contains(err.Error(), "before its first release") {
			t.Errorf("mode %d: error %v, want ErrOlder", mode, err)
		}
	}
	if !bytes.Equal(before, read(t, path)) {
		t.Error("the file was changed")
	}
}

// futureSteps are those of a program with one format more.
func futureSteps(t *testing.T, sql string) fs.FS {
	t.Helper()
	first, err := fs.ReadFile(sqlite.SchemaFiles(), "schema/1.sql")
	if err != nil {
		t.Fatal(err)
	}
	return fstest.MapFS{"schema/1.sql": {Data: first}, "schema/2.sql": {Data: []byte(sql)}}
}

func TestMigrate(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "a.book")
	book := mustOpen(t, path, sqlite.Create)
	addYard(t, book, "NORTH")
	head, err := book.Head(ctx)
	book.Close()
	if err != nil {
		t.Fatal(err)
	}

	broken := futureSteps(t, "CREATE TABLE note (id INTEGER PRIMARY KEY) STRICT; INSERT INTO nowhere VALUES (1)")
	if _, err := sqlite.OpenWithSteps(ctx, path, sqlite.ReadWrite, broken); err == nil || !strings.Contains(err.Error(), "format 2") {
		t.Errorf("a step that fails: error %v, want one that names format 2", err)
	}
	mustOpen(t, path, sqlite.ReadWrite).Close() // it is still of format 1

	steps := futureSteps(t, "CREATE TABLE note (id INTEGER PRIMARY KEY) STRICT")
	if _, err := sqlite.OpenWithSteps(ctx, path, sqlite.ReadOnly, steps); !errors.Is(err, sqlite.ErrOlder) {
		t.Errorf("older book, read only: error %v, want ErrOlder", err)
	}
	for range 2 { // the second time finds nothing to do
		book, err = sqlite.OpenWithSteps(ctx, path, sqlite.ReadWrite, steps)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := book.Head(ctx); got != head || err != nil {
			t.Errorf("head after migration: %v, error %v, want %v", got, err, head)
		}
		if err := book.Exec("INSERT INTO note DEFAULT VALUES"); err != nil {
			t.Errorf("the step of format 2 was not taken: %v", err)
		}
		book.Close()
	}
	for _, mode := range []sqlite.Mode{sqlite.ReadOnly, sqlite.ReadWrite, sqlite.Create} {
		if _, err := sqlite.Open(ctx, path, mode); !errors.Is(err, sqlite.ErrNewer) {
			t.Errorf("newer book, mode %d: error %v, want ErrNewer", mode, err)
		}
	}
}

// TestCreateAtOnce has several makers of one book, each of which must find it whole.
func TestCreateAtOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.book")
	var group sync.WaitGroup
	for _, code := range []string{"NORTH", "SOUTH", "EAST", "WEST"} {
		rec := yardRecord(t, code, "")
		group.Go(func() {
			book, err := sqlite.Open(context.Background(), path, sqlite.Create)
			if err != nil {
				t.Error(err)
				return
			}
			defer book.Close()
			if err := appendYard(book, rec); err != nil {
				t.Error(err)
			}
		})
	}
	group.Wait()
	book := mustOpen(t, path, sqlite.ReadOnly)
	defer book.Close()
	if v, err := book.Verify(context.Background(), nil); err != nil || !v.OK() || v.Records != 4 {
		t.Errorf("verification %+v, error %v, want 4 records", v, err)
	}
}

// TestTablesAreAppendOnly tries to change a row of every table, and to remove one.
func TestTablesAreAppendOnly(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.book")
	fillEveryTable(t, path)
	book := mustOpen(t, path, sqlite.ReadWrite)
	defer book.Close()
	c, err := sqlite3.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	s, _, err := c.Prepare("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	tables := 0
	for s.Step() {
		tables++
		name := s.ColumnText(0)
		column := map[string]string{"batch": "root", "sealed_line": "line", "tally": "records",
			"sealed_block": "packed", "block": "packed", "name": "seq", "file": "bytes", "file_part": "n", "word": "text",
			"source": "sheet", "seal": "record"}[name]
		for _, sql := range []string{"UPDATE " + name + " SET " + column + " = " + column, "DELETE FROM " + name} {
			if err := book.Exec(sql); err == nil || !strings.Contains(err.Error(), "append-only") {
				t.Errorf("%s: error %v, want that the book is append-only", sql, err)
			}
		}
	}
	if tables != 11 {
		t.Errorf("%d tables, want 11", tables)
	}
	if v, err := book.Verify(context.Background(), nil); err != nil || !v.OK() {
		t.Errorf("verification %+v, error %v", v, err)
	}
}
