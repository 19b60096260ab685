package bench

import (
	"context"
	"encoding/csv"
	"fmt"
	"path/filepath"
	"strconv"
	"strings"
)

// peerDB is the database of the sqlite3 shell.
const peerDB = "peer.db"

// importScript is the plain import of a file of loads: text columns, one unique index, one transaction. The settings are
// those that served the shell best.
const importScript = `PRAGMA journal_mode=WAL;
PRAGMA synchronous=NORMAL;
PRAGMA cache_size=-65536;
BEGIN;
CREATE TABLE loads(time TEXT,yard TEXT,loader TEXT,ticket TEXT,pile TEXT,product TEXT,truck TEXT,customer TEXT,passes TEXT,net TEXT,purpose TEXT,status TEXT);
CREATE UNIQUE INDEX loads_ticket ON loads(ticket);
.mode csv
.import --skip 1 %s loads
COMMIT;
SELECT count(*) FROM loads;
`

// importRest puts the other tables that move stone beside the loads.
const importRest = `.mode csv
CREATE TABLE production(time TEXT,yard TEXT,belt TEXT,pile TEXT,net TEXT);
.import --skip 1 %s production
CREATE TABLE opening(yard TEXT,pile TEXT,time TEXT,mass TEXT,moisture TEXT);
.import --skip 1 %s opening
`

// sums are the balances of all piles at an instant, as weighed, in steps of 10 kg.
const sums = `SELECT yard, pile, sum(steps) FROM (
 SELECT yard, pile, CAST(round(mass*100) AS INTEGER) AS steps FROM opening
 UNION ALL SELECT yard, pile, CAST(round(net*100) AS INTEGER) FROM production WHERE time < '%[1]s'
 UNION ALL SELECT yard, pile, -CAST(round(net*100) AS INTEGER) FROM loads WHERE time < '%[1]s' AND status = 'kept'
) GROUP BY yard, pile ORDER BY yard, pile;
`

func yearFile(name string) string { return filepath.ToSlash(filepath.Join(yearFolder, name)) }

// sql runs the shell on the peer's database.
func (b *Bench) sql(ctx context.Context, script string) (string, Figures, error) {
	out, f, err := b.run(ctx, run{command: b.SQLite, args: []string{"-bail", "-batch", peerDB}, input: script})
	return string(out), f, err
}

// importLoads makes the peer's database of the file of loads.
func (b *Bench) importLoads(ctx context.Context) (Figures, error) {
	if err := b.remove(peerDB, peerDB+"-wal", peerDB+"-shm"); err != nil {
		return Figures{}, err
	}
	out, f, err := b.sql(ctx, fmt.Sprintf(importScript, yearFile("loads.csv")))
	if err != nil {
		return f, err
	}
	lines := strings.Fields(out)
	if want := strconv.Itoa(b.Sizes.Year.Loads); len(lines) == 0 || lines[len(lines)-1] != want {
		return f, fmt.Errorf("the peer imported %q, want %s rows at its end", out, want)
	}
	return f, nil
}

// sumLoads adds up all piles' balances before an instant in SQL.
func (b *Bench) sumLoads(ctx context.Context, before string) (balances, Figures, error) {
	out, f, err := b.sql(ctx, ".mode csv\n"+fmt.Sprintf(sums, before))
	if err != nil {
		return nil, f, err
	}
	rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	if err != nil {
		return nil, f, fmt.Errorf("what the peer said: %w", err)
	}
	held := balances{}
	for _, row := range rows {
		if len(row) != 3 {
			return nil, f, fmt.Errorf("what the peer said: %q, want yard, pile and sum", row)
		}
		steps, err := strconv.ParseInt(row[2], 10, 64)
		if err != nil {
			return nil, f, fmt.Errorf("what the peer said: %w", err)
		}
		held[row[0]+"/"+row[1]] = float64(steps) / perTonne
	}
	return held, f, nil
}
