package sqlite

import (
	"context"
	"fmt"
	"io/fs"
	"strings"
	"time"

	"repose/internal/merkle"
	"repose/ledger"
)

// OpenWithSteps is Open for a program whose formats are others.
func OpenWithSteps(ctx context.Context, path string, mode Mode, steps fs.FS) (*Book, error) {
	return open(ctx, path, mode, steps)
}

// SchemaFiles are the program's own steps.
func SchemaFiles() fs.FS { return schemaFiles }

// PartBytes is the size of a file's parts.
const PartBytes = partBytes

// Exec runs SQL on the book's own connection.
func (b *Book) Exec(sql string) error { return b.conn.Exec(sql) }

// SetBusyTimeout sets how long the book waits for other programs.
func (b *Book) SetBusyTimeout(d time.Duration) error { return b.conn.BusyTimeout(d) }

// SetBlockRows sets how many records or entries a block holds that is written from now on.
func (b *Book) SetBlockRows(n int) { b.blockRows = n }

// Checksum is checksum, for tests that forge pages.
func Checksum(content []byte) [checksumBytes]byte { return checksum(content) }

// Row is a record as a block holds it, for tests that change what is stored.
type Row struct {
	Seq, Revision, Source, Line int64
	Leaf                        merkle.Hash
	Fields                      []ledger.Field

	place place
	block int64
	key   blockKey
}

// Repack shows every row of the log to a function and returns SQL that puts in its place what the function returns, in the
// same blocks, whose own rows say what they then hold.
func (b *Book) Repack(edit func(Row) []Row) (string, error) {
	ctx := context.Background()
	infos, err := b.blockInfos(ctx, "SELECT "+infoColumns+" FROM block ORDER BY id")
	if err != nil {
		return "", err
	}
	var sql strings.Builder
	for _, info := range infos {
		bl, err := b.readBlock(ctx, info.id)
		if err != nil {
			return "", err
		}
		w := &blockWriter{blockKey: bl.blockKey, limit: blockRows}
		for i := range bl.seqs {
			rec := new(ledger.Record)
			if err := bl.record(i, rec); err != nil {
				return "", err
			}
			fields, _ := bl.fieldsOf(i)
			row := Row{bl.seqs[i], bl.revisions[i], bl.sources[i], bl.rows[i], bl.leaf(i), append([]ledger.Field(nil), fields...),
				place{hasAt: !rec.At.IsZero(), replaces: rec.Replaces != ""}, info.id, bl.blockKey}
			if row.place.hasAt {
				row.place.at = rec.At.UnixNano()
			}
			for _, r := range edit(row) {
				var text []byte
				var spans []ledger.Span
				for _, f := range r.Fields {
					start := len(text)
					quoted := ledger.AppendJSONString(nil, f.Value)
					text = append(text, quoted[1:len(quoted)-1]...)
					spans = append(spans, ledger.Span{Name: f.Name, Start: start, End: len(text)})
				}
				r.place.seq, r.place.revision, r.place.source, r.place.row = r.Seq, r.Revision, r.Source, r.Line
				if !w.add(r.place, r.Leaf, text, spans) {
					return "", fmt.Errorf("row %d does not fit", r.Seq)
				}
			}
		}
		fmt.Fprintf(&sql, "DELETE FROM block WHERE id = %d;", info.id)
		if w.len() == 0 {
			continue
		}
		first, last := "NULL", "NULL"
		if w.instants > 0 {
			first, last = fmt.Sprint(w.firstAt), fmt.Sprint(w.lastAt)
		}
		fmt.Fprintf(&sql, "INSERT INTO block VALUES (%d, %d, %d, %d, %d, %d, %s, %s, %d, x'%x');", info.id, w.kind, w.yard, w.seqs[0],
			w.seqs[w.len()-1], w.len(), first, last, w.replacing, w.appendTo(nil))
	}
	return sql.String(), nil
}

// RepackEntries does the same with the entries of a close.
func (b *Book) RepackEntries(rec *ledger.Record, edit func(*ledger.Entry)) (string, error) {
	ctx := context.Background()
	id, err := b.sealOf(ctx, rec)
	if err != nil {
		return "", err
	}
	w := &entryWriter{}
	for e, err := range b.SealedEntries(ctx, rec) {
		if err != nil {
			return "", err
		}
		edit(e)
		w.add(e)
	}
	return fmt.Sprintf("UPDATE sealed_block SET packed = x'%x' WHERE seal = %d", w.appendTo(nil), id), nil
}
