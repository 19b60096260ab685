package sqlite_test

import (
	"context"
	"path/filepath"
	"strings"
	"testing"

	"github.com/ncruces/go-sqlite3"

	"repose/internal/sqlite"
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

// TestVerifyNamesTheFault changes one thing of a closed book at a time. The records of fillEveryTable are:
// 0 october.csv, 1 to 14 its rows, 15 the close of October, 16 november.csv, 17 to 19 its rows, 20
// corrections.csv, 21 its row, 22 the close of November.
func TestVerifyNamesTheFault(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.book")
	fillEveryTable(t, path)
	whole := read(t, path)
	for name, test := range map[string]struct{ sql, want string }{
		"mass of a load": {`UPDATE record SET body = replace(body, '"24000000"', '"24000001"') WHERE seq = 9`,
			"log: record 9: load:NORTH:L1/1: october.csv row 10: it does not have the hash"},
		"mass and leaf": {`UPDATE record SET body = replace(body, '"24000000"', '"24000001"'), leaf = zeroblob(32) WHERE seq = 9`,
			"log: record 9: load:NORTH:L1/1: october.csv row 10: it does not have the hash"},
		"order of a body": {`UPDATE record SET body = '{"code":"NORTH","zone":"Etc/UTC","name":"North Pit","unit":"t"}' WHERE seq = 1`,
			"log: record 1: yard:NORTH:NORTH: october.csv row 2: its body is not in canonical form"},
		"body": {`UPDATE record SET body = '{' WHERE seq = 9`,
			"log: record 9: record 9: the book is damaged: not the body of a record"},
		"key": {`UPDATE record SET key = 'L1/1a' WHERE seq = 9`,
			"log: record 9: load:NORTH:L1/1: october.csv row 10: its key, instant or replaced key is stored otherwise"},
		"instant": {`UPDATE record SET at = at + 1 WHERE seq = 9`,
			"log: record 9: load:NORTH:L1/1: october.csv row 10: its key, instant or replaced key is stored otherwise"},
		"no instant": {`UPDATE record SET at = NULL WHERE seq = 9`,
			"log: record 9: load:NORTH:L1/1: october.csv row 10: its key, instant or replaced key is stored otherwise"},
		"replaced key": {`UPDATE record SET replaces = NULL WHERE seq = 21`,
			"log: record 21: load:NORTH:L1/2#2: corrections.csv row 2: its key, instant or replaced key is stored otherwise"},
		"row of the file": {`UPDATE record SET row = 11 WHERE seq = 9`,
			"log: record 9: load:NORTH:L1/1: october.csv row 11: it does not have the hash"},
		"file": {`UPDATE record SET source = (SELECT max(id) FROM source) WHERE seq = 9`,
			"log: record 9: load:NORTH:L1/1: corrections.csv row 10: it does not have the hash"},
		"yard": {`UPDATE record SET yard = (SELECT id FROM word WHERE text = 'clerk') WHERE seq = 9`,
			"log: record 9: load:clerk:L1/1: october.csv row 10: it does not have the hash"},
		"kind": {`UPDATE record SET kind = (SELECT id FROM word WHERE text = 'survey') WHERE seq = 9`,
			"log: record 9: record 9: the book is damaged: survey record"},
		"revision": {`UPDATE record SET revision = 2 WHERE seq = 21`,
			"log: record 21: load:NORTH:L1/2#3: corrections.csv row 2: it does not have the hash"},
		"last record of a batch": {`DELETE FROM record WHERE seq = 14`, "log: record 14: missing: the log goes on with record 15"},
		"first record":           {`DELETE FROM record WHERE seq = 0`, "log: record 0: missing: the log goes on with record 1"},
		"end of the log":         {`DELETE FROM record WHERE seq >= 20`, "log: record 20: missing, with all records after it: the log should hold 23"},
		"a record too many": {`INSERT INTO record SELECT 23, kind, yard, 'L1/9', 0, at, replaces, source, row, leaf, body FROM record WHERE seq = 9`,
			"log: record 23: it lies beyond the last batch"},
		"two records for one another": {`UPDATE record SET seq = 99 WHERE seq = 9; UPDATE record SET seq = 9 WHERE seq = 10; UPDATE record SET seq = 10 WHERE seq = 99`,
			"log: record 9: load:NORTH:L1/2: october.csv row 11: it does not have the hash"},
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
		"sealed mass": {`UPDATE sealed_leg SET solids_g = solids_g + 1 WHERE seal = 1 AND water_g = 967370`,
			"seals: record 15: close:NORTH:2026-10: the seal has"},
		"sealed account": {`UPDATE sealed_leg SET to_account = (SELECT id FROM word WHERE text = 'pile:NORTH:P2') WHERE seal = 1 AND water_g = 967370`,
			"seals: record 15: close:NORTH:2026-10: the seal has"},
		"sealed flags":    {`UPDATE sealed_entry SET flags = 0 WHERE flags > 0`, "seals: record 15: close:NORTH:2026-10: the seal has"},
		"sealed moisture": {`UPDATE sealed_entry SET moisture_pct = '4.3' WHERE moisture_pct = '4.2'`, "seals: record 15: close:NORTH:2026-10: the seal has"},
		"sealed entry":    {`DELETE FROM sealed_leg WHERE seal = 2; DELETE FROM sealed_entry WHERE seal = 2`, "seals: record 22: close:NORTH:2026-11: the seal has 0 entries"},
		"sealed record": {`UPDATE sealed_entry SET record = 21 WHERE record = 9`,
			"seals: record 15: close:NORTH:2026-10: it seals an entry of load:NORTH:L1/2#2, which is not of the yard or not older"},
		"sealed balance": {`UPDATE sealed_line SET line = replace(line, '"solids_g":"', '"solids_g":"1') WHERE seal = 1 AND line LIKE '{"balance":"pile:NORTH:P2"%'`,
			"seals: record 15: close:NORTH:2026-10: the balances before it and its entries do not give its closing balances"},
		"sealed comparison": {`UPDATE sealed_line SET line = '{}' WHERE kind = 'comparison' AND seal = 2`, "seals: record 22: close:NORTH:2026-11: the seal has"},
		"order of lines":    {`UPDATE sealed_line SET n = n + 100 WHERE seal = 1 AND n = 0`, "seals: record 15: close:NORTH:2026-10: the seal has"},
		"a seal":            {`DELETE FROM seal WHERE id = 2`, "seals: record 22: close:NORTH:2026-11: the seal has 0 entries"},
		"a reference":       {`DELETE FROM source WHERE id = 3`, "structure: row 21 of table record refers to a row of table source that is not there"},
		"a trigger":         {`CREATE TRIGGER extra AFTER INSERT ON record BEGIN SELECT 1; END`, "structure: trigger extra: not part of a book"},
		"an index":          {`DROP INDEX record_by_instant`, "structure: index record_by_instant: not as this program makes it"},
		"a view":            {`CREATE VIEW heaviest AS SELECT max(body) FROM record`, "structure: view heaviest: not part of a book"},
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
	for _, table := range []string{"word", "file", "file_part", "source", "record", "batch", "tally", "seal",
		"sealed_entry", "sealed_leg", "sealed_line"} {
		for _, column := range columnsOf(t, path, table) {
			if table == "file_part" && column == "id" {
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
