package sqlite

import (
	"errors"
	"fmt"
	"strings"

	"github.com/ncruces/go-sqlite3"

	"repose/internal/merkle"
	"repose/ledger"
)

// BulkRows is how many records AppendNew takes at once. More gains little: what is left is the work of the B-trees.
const BulkRows = 32

const recordParameters = 11

// insertRecords is insertRecord for BulkRows records.
var insertRecords = strings.Replace(insertRecord, "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
	"VALUES "+strings.TrimSuffix(strings.Repeat("(?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?), ", BulkRows), ", "), 1)

// bulk holds what AppendNew makes of records before they are in the log, to be used again.
type bulk struct {
	insert *sqlite3.Stmt // prepared at the first use
	lines  []byte
	ends   [BulkRows]int
	rows   [BulkRows]row
	leaves [BulkRows]merkle.Hash
}

// AppendNew adds BulkRows records to the log as Append does, in one statement, if every one of them is New and replaces
// none. ok is false, and nothing is added, where one is not, or where there are not that many: Append says of each what it
// is.
func (tx *Tx) AppendNew(recs []ledger.Record) (ok bool, err error) {
	if err := tx.usable(); err != nil {
		return false, err
	}
	if len(recs) != BulkRows {
		return false, nil
	}
	for i := range recs {
		if k := recs[i].Fact.Kind(); recs[i].Replaces != "" || k == ledger.KindSourceRecord || k == ledger.KindCloseRecord {
			return false, nil
		}
	}
	ok, err = tx.appendNew(recs)
	if err != nil {
		return false, tx.fail(fmt.Errorf("records from %s on: %w", recs[0].ID(), err))
	}
	return ok, nil
}

func (tx *Tx) appendNew(recs []ledger.Record) (ok bool, err error) {
	b := &tx.bulk
	if b.insert == nil {
		if b.insert, _, err = tx.book.conn.Prepare(insertRecords); err != nil {
			return false, err
		}
	}
	b.lines = b.lines[:0]
	for i := range recs {
		rec := &recs[i]
		if b.rows[i], err = tx.row(rec); err != nil {
			return false, err
		}
		rec.Seq, rec.Revision, rec.Recorded, rec.By = tx.tree.Size()+int64(i), 0, tx.now, tx.by
		start := len(b.lines)
		b.lines = rec.AppendLine(b.lines)
		b.ends[i], b.leaves[i] = len(b.lines), merkle.LeafHash(b.lines[start:])
	}
	if err := b.bind(recs); err != nil {
		return false, err
	}
	if err := b.insert.Exec(); errors.Is(err, sqlite3.CONSTRAINT_UNIQUE) {
		return false, nil // the statement as a whole has done nothing
	} else if err != nil {
		return false, err
	}
	for i := range recs {
		tx.tree.Append(b.leaves[i])
		if source, ok := b.rows[i].source.(int64); ok {
			if err := count(tx.tallies, tallyKey{source, b.rows[i].kind}, &recs[i]); err != nil {
				return false, err
			}
		}
	}
	return true, nil
}

// bind sets the parameters of the statement.
func (b *bulk) bind(recs []ledger.Record) error {
	s, start := b.insert, 0
	for i := range recs {
		r, n := &b.rows[i], i*recordParameters
		body := bodyOf(b.lines[start:b.ends[i]])
		start = b.ends[i]
		err := errors.Join(s.BindInt64(n+1, recs[i].Seq), s.BindInt64(n+2, r.kind), s.BindInt64(n+3, r.yard), s.BindText(n+4, r.key), s.BindInt64(n+5, 0),
			bindOptional(s, n+6, r.at), s.BindNull(n+7), bindOptional(s, n+8, r.source), bindOptional(s, n+9, r.row),
			s.BindBlob(n+10, b.leaves[i][:]), s.BindRawText(n+11, body))
		if err != nil {
			return err
		}
	}
	return nil
}

// bindOptional sets a parameter that is a whole number, or nil for none.
func bindOptional(s *sqlite3.Stmt, i int, v any) error {
	switch n := v.(type) {
	case int64:
		return s.BindInt64(i, n)
	case int:
		return s.BindInt64(i, int64(n))
	}
	return s.BindNull(i)
}
