package sqlite_test

import (
	"context"
	"path/filepath"
	"strings"
	"testing"

	"github.com/ncruces/go-sqlite3"

	"repose/internal/sqlite"
	"repose/ledger"
)

// tamper changes a book with another program, past the triggers: they are dropped and made again.
func tamper(t *testing.T, path, sql string) {
	t.Helper()
	c, err := sqlite3.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	s, _, err := c.Prepare("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
	if err != nil {
		t.Fatal(err)
	}
	var drop, create strings.Builder
	for s.Step() {
		drop.WriteString("DROP TRIGGER " + s.ColumnText(0) + ";")
		create.WriteString(s.ColumnText(1) + ";")
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if err := c.Exec("PRAGMA foreign_keys = OFF; PRAGMA synchronous = OFF;" + drop.String() + sql + ";" + create.String()); err != nil {
		t.Fatalf("%s: %v", sql, err)
	}
}

// repacked returns SQL that changes the rows of some places in the log.
func repacked(t *testing.T, path string, edit func(sqlite.Row) []sqlite.Row) string {
	t.Helper()
	book := mustOpen(t, path, sqlite.ReadOnly)
	defer book.Close()
	sql, err := book.Repack(edit)
	if err != nil {
		t.Fatal(err)
	}
	return sql
}

// change changes the row at one place, and drop takes it away.
func change(t *testing.T, path string, seq int64, edit func(*sqlite.Row)) string {
	t.Helper()
	return repacked(t, path, func(r sqlite.Row) []sqlite.Row {
		if r.Seq == seq {
			edit(&r)
		}
		return []sqlite.Row{r}
	})
}

func drop(t *testing.T, path string, gone func(seq int64) bool) string {
	t.Helper()
	return repacked(t, path, func(r sqlite.Row) []sqlite.Row {
		if gone(r.Seq) {
			return nil
		}
		return []sqlite.Row{r}
	})
}

// setField gives a field of a row another value.
func setField(r *sqlite.Row, name, value string) {
	for i := range r.Fields {
		if r.Fields[i].Name == name {
			r.Fields[i].Value = value
		}
	}
}

// sealedEntries returns SQL that changes the entries of a close.
func sealedEntries(t *testing.T, path string, n int, edit func(*ledger.Entry)) string {
	t.Helper()
	book := mustOpen(t, path, sqlite.ReadOnly)
	defer book.Close()
	sql, err := book.RepackEntries(sealsOf(t, book.Latest())[n].Record, edit)
	if err != nil {
		t.Fatal(err)
	}
	return sql
}

// TestVerifyNamesTheFault changes one thing of a closed book at a time. The records of fillEveryTable are:
// 0 october.csv, 1 to 14 its rows, 15 the close of October, 16 november.csv, 17 to 19 its rows, 20
// corrections.csv, 21 its row, 22 the close of November.
func TestVerifyNamesTheFault(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.book")
	fillEveryTable(t, path)
	whole := read(t, path)
	one := func(e *ledger.Entry) bool { return e.Record.ID() == "load:NORTH:L1/1" }
	for name, test := range map[string]struct{ sql, want string }{
		"mass of a load": {change(t, path, 9, func(r *sqlite.Row) { setField(r, "net_g", "24000001") }),
			"log: record 9: load:NORTH:L1/1: october.csv row 10: it does not have the hash"},
		"mass and leaf": {change(t, path, 9, func(r *sqlite.Row) { setField(r, "net_g", "24000001"); r.Leaf[0]++ }),
			"log: record 9: load:NORTH:L1/1: october.csv row 10: it does not have the hash"},
		"a mass that is not written so": {change(t, path, 9, func(r *sqlite.Row) { setField(r, "net_g", "024000000") }),
			"log: record 9: load:NORTH:L1/1: october.csv row 10: its fields are not stored as its line has them"},
		"a field too many": {change(t, path, 9, func(r *sqlite.Row) { r.Fields = append(r.Fields, ledger.Field{Name: "x", Value: "y"}) }),
			"log: record 9: load:NORTH:L1/1: october.csv row 10: its fields are not stored as its line has them"},
		"body": {change(t, path, 9, func(r *sqlite.Row) { setField(r, "net_g", "much") }),
			"log: record 9: record 9: the book is damaged: load record: field net_g: not the body of a record"},
		"block": {`UPDATE block SET packed = x'0100' WHERE first_seq = 9`,
			"log: record 9: block 9: the book is damaged: not packed columns"},
		"key": {`UPDATE name SET text = 'load:NORTH:L1/1a' WHERE text = 'load:NORTH:L1/1'`,
			"log: record 9: load:NORTH:L1/1: october.csv row 10: it is not found by its name"},
		"name of another": {`UPDATE name SET seq = 10 WHERE text = 'load:NORTH:L1/1'`,
			"log: record 9: load:NORTH:L1/1: october.csv row 10: it is not found by its name"},
		"a name too many": {`INSERT INTO name VALUES ('load:NORTH:L1/77', 0, 9)`,
			"log: the book holds 24 names of records, and its log speaks of 23"},
		"instant": {`UPDATE block SET first_at = first_at + 1 WHERE first_seq = 9`,
			"log: record 9: block 9, from here on, holds 3 records from 9 to 11, instants from 2026-10-03T09:00:00Z to 2026-10-03T10:00:00Z, 0 that replace others, and its row says"},
		"no instant": {`UPDATE block SET first_at = NULL WHERE first_seq = 9`,
			"log: record 9: block 9, from here on, holds"},
		"replaced key": {`UPDATE block SET replacing = 0 WHERE first_seq = 21`,
			"log: record 21: block 17, from here on, holds"},
		"row of the file": {change(t, path, 9, func(r *sqlite.Row) { r.Line = 11 }),
			"log: record 9: load:NORTH:L1/1: october.csv row 11: it does not have the hash"},
		"file": {change(t, path, 9, func(r *sqlite.Row) { r.Source = 3 }),
			"log: record 9: load:NORTH:L1/1: corrections.csv row 10: it does not have the hash"},
		"yard": {`UPDATE block SET yard = (SELECT id FROM word WHERE text = 'clerk') WHERE first_seq = 9`,
			"log: record 9: load:clerk:L1/1: october.csv row 10: it does not have the hash"},
		"kind": {`UPDATE block SET kind = (SELECT id FROM word WHERE text = 'survey') WHERE first_seq = 9`,
			"log: record 9: record 9: the book is damaged: survey record"},
		"revision": {change(t, path, 21, func(r *sqlite.Row) { r.Revision = 2 }),
			"log: record 21: load:NORTH:L1/2#3: corrections.csv row 2: it does not have the hash"},
		"last record of a batch": {drop(t, path, func(seq int64) bool { return seq == 14 }), "log: record 14: missing: the log goes on with record 15"},
		"first record":           {drop(t, path, func(seq int64) bool { return seq == 0 }), "log: record 0: missing: the log goes on with record 1"},
		"end of the log":         {drop(t, path, func(seq int64) bool { return seq >= 20 }), "log: record 20: missing, with all records after it: the log should hold 23"},
		"a record too many": {repacked(t, path, func(r sqlite.Row) []sqlite.Row {
			rows := []sqlite.Row{r}
			if r.Seq == 11 {
				r.Seq = 23
				rows = append(rows, r)
			}
			return rows
		}), "log: record 23: it lies beyond the last batch"},
		"a place twice": {repacked(t, path, func(r sqlite.Row) []sqlite.Row {
			if r.Seq == 17 {
				r.Seq = 14
			}
			return []sqlite.Row{r}
		}), "log: record 14: the log has this place twice"},
		"two records for one another": {repacked(t, path, func(r sqlite.Row) []sqlite.Row {
			switch r.Seq {
			case 9:
				setField(&r, "ticket", "2")
			case 10:
				setField(&r, "ticket", "1")
			}
			return []sqlite.Row{r}
		}), "log: record 9: load:NORTH:L1/2: october.csv row 10: it does not have the hash"},
		"who took it in": {`UPDATE batch SET recorded_by = (SELECT id FROM word WHERE text = 'NORTH') WHERE size = 15`,
			"log: record 0: source::"},
		"when": {`UPDATE batch SET recorded_at = recorded_at + 1 WHERE size = 23`, "log: record 16: source::"},
		"root": {`UPDATE batch SET root = zeroblob(32) WHERE size = 15`,
			"log: the head over the first 15 records is not the one that was stored"},
		"frontier": {`UPDATE batch SET frontier = CAST(substr(frontier, 1, length(frontier) - 32) || zeroblob(32) AS BLOB) WHERE size = 15`,
			"log: the tree stored for the first 15 records does not have their head"},
		"a batch": {`DELETE FROM batch WHERE size = 16`, "log: record 15: close:NORTH:2026-10: it does not have the hash"},
		"tally": {`UPDATE tally SET net_g = net_g + 1 WHERE net_g > 0`,
			"log: record 8: the tally of a file from here on does not agree with its records"},
		"missing tally": {`DELETE FROM tally WHERE net_g = 51000000`, "log: record 17: the tally of a file from here on is missing"},
		"bytes of a file": {`UPDATE file_part SET deflated = (SELECT deflated FROM file_part WHERE id = 2) WHERE id = 1`,
			"files: record 0: source::"},
		"part of a file": {`DELETE FROM file_part WHERE id = 1`, "files: record 0: source::"},
		"garbage in a file": {`UPDATE file_part SET deflated = x'FFFF' WHERE id = 1`,
			"part 0 of a file cannot be inflated"},
		"length of a file": {`UPDATE file SET bytes = bytes + 1 WHERE id = 1`, "files: record 0: source::"},
		"a file too many": {`INSERT INTO file VALUES (9, zeroblob(32), 0)`,
			"files: the book holds 4 files, and its log speaks of 3"},
		"sealed mass": {sealedEntries(t, path, 0, func(e *ledger.Entry) {
			if one(e) {
				e.Legs[0].Solids++
			}
		}), "seals: record 15: close:NORTH:2026-10: the seal has"},
		"sealed account": {sealedEntries(t, path, 0, func(e *ledger.Entry) {
			if one(e) {
				e.Legs[0].To = ledger.PileID{Yard: testYard, Code: "P2"}.Account()
			}
		}), "seals: record 15: close:NORTH:2026-10: the seal has"},
		"sealed flags":    {sealedEntries(t, path, 0, func(e *ledger.Entry) { e.Flags = 0 }), "seals: record 15: close:NORTH:2026-10: the seal has"},
		"sealed moisture": {sealedEntries(t, path, 0, func(e *ledger.Entry) { e.Moisture = moisture("4.3") }), "seals: record 15: close:NORTH:2026-10: the seal has"},
		"sealed entry":    {`DELETE FROM sealed_block WHERE seal = 2`, "seals: record 22: close:NORTH:2026-11: the seal has 0 entries"},
		"sealed block":    {`UPDATE sealed_block SET packed = x'0100' WHERE seal = 1`, "seals: record 15: close:NORTH:2026-10"},
		"sealed record": {sealedEntries(t, path, 0, func(e *ledger.Entry) {
			if one(e) {
				e.Record.Seq = 21
			}
		}), "seals: record 15: close:NORTH:2026-10: it seals an entry of load:NORTH:L1/2#2, which is not of the yard or not older"},
		"sealed balance": {`UPDATE sealed_line SET line = replace(line, '"solids_g":"', '"solids_g":"1') WHERE seal = 1 AND line LIKE '{"balance":"pile:NORTH:P2"%'`,
			"seals: record 15: close:NORTH:2026-10: the balances before it and its entries do not give its closing balances"},
		"sealed comparison": {`UPDATE sealed_line SET line = '{}' WHERE kind = 'comparison' AND seal = 2`, "seals: record 22: close:NORTH:2026-11: the seal has"},
		"order of lines":    {`UPDATE sealed_line SET n = n + 100 WHERE seal = 1 AND n = 0`, "seals: record 15: close:NORTH:2026-10: the seal has"},
		"a seal":            {`DELETE FROM seal WHERE id = 2`, "seals: record 22: close:NORTH:2026-11: the seal has 0 entries"},
		"a reference":       {`DELETE FROM source WHERE id = 3`, "log: record 21: record 21: the book is damaged: no source 3"},
		"a trigger":         {`CREATE TRIGGER extra AFTER INSERT ON block BEGIN SELECT 1; END`, "structure: trigger extra: not part of a book"},
		"an index":          {`DROP INDEX block_by_instant`, "structure: index block_by_instant: not as this program makes it"},
		"a view":            {`CREATE VIEW heaviest AS SELECT max(packed) FROM block`, "structure: view heaviest: not part of a book"},
	} {
		t.Run(name, func(t *testing.T) {
			write(t, path, whole)
			tamper(t, path, test.sql)
			book := mustOpen(t, path, sqlite.ReadOnly)
			defer book.Close()
			v, err := book.Verify(context.Background(), nil)
			if err != nil {
				t.Fatal(err)
			}
			if len(v.Faults) == 0 || v.OK() {
				t.Fatalf("no fault found, want %q", test.want)
			}
			for _, f := range v.Faults {
				if strings.Contains(f.String(), test.want) {
					return
				}
			}
			t.Errorf("faults %q, want one with %q", v.Faults, test.want)
		})
	}
}

// TestVerifyReportsProgress counts up to the number of records, parts and entries.
func TestVerifyReportsProgress(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.book")
	closed := fillEveryTable(t, path)
	book := mustOpen(t, path, sqlite.ReadOnly)
	defer book.Close()
	want := int64(23 + 3 + len(closed[0].entries) + len(closed[1].entries))
	var done, total int64
	if _, err := book.Verify(context.Background(), func(d, n int64) { done, total = d, n }); err != nil || done != want || total != want {
		t.Errorf("progress ends with %d of %d, error %v, want %d", done, total, err, want)
	}
	if _, err := book.Verify(cancelled(), nil); err == nil {
		t.Error("a verification was finished after its context was done")
	}
}

// TestVerifyFindsAnyChange is for whatever the cases above do not think of: each field of each row of
// each table is changed in turn.
func TestVerifyFindsAnyChange(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.book")
	fillEveryTable(t, path)
	whole := read(t, path)
	for _, table := range []string{"word", "file", "file_part", "source", "block", "name", "batch", "tally", "seal",
		"sealed_block", "sealed_line"} {
		for _, column := range columnsOf(t, path, table) {
			if (table == "file_part" || table == "block") && column == "id" {
				continue // it says nothing
			}
			write(t, path, whole)
			tamperOne(t, path, table, column)
			book, err := sqlite.Open(context.Background(), path, sqlite.ReadOnly)
			if err != nil {
				t.Errorf("%s.%s: %v", table, column, err)
				continue
			}
			if v, err := book.Verify(context.Background(), nil); err != nil || v.OK() {
				t.Errorf("%s.%s: a change was not found, error %v", table, column, err)
			}
			book.Close()
		}
	}
}

func columnsOf(t *testing.T, path, table string) []string {
	t.Helper()
	c, err := sqlite3.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	s, _, err := c.Prepare("SELECT name FROM pragma_table_info(?)")
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := s.BindText(1, table); err != nil {
		t.Fatal(err)
	}
	var names []string
	for s.Step() {
		names = append(names, s.ColumnText(0))
	}
	if len(names) == 0 {
		t.Fatalf("table %s has no columns", table)
	}
	return names
}

// tamperOne gives a column another value of its type, wherever it has the value of the first row.
func tamperOne(t *testing.T, path, table, column string) {
	t.Helper()
	q := sqlite3.QuoteIdentifier(column)
	tamper(t, path, `PRAGMA ignore_check_constraints = ON;
		UPDATE `+table+` SET `+q+` = CASE typeof(`+q+`) WHEN 'integer' THEN `+q+` + 1000 WHEN 'blob' THEN CAST(`+q+` || x'00' AS BLOB)
			WHEN 'text' THEN `+q+` || 'x' ELSE 7 END
		WHERE `+q+` IS (SELECT `+q+` FROM `+table+` LIMIT 1)`)
}
