package sqlite

import (
	"errors"
	"fmt"
	"strings"

	"github.com/ncruces/go-sqlite3"

	"repose/internal/merkle"
	"repose/ledger"
)

// DraftRows is how many records a draft is best made of: as many as one statement names.
const DraftRows = 128

const nameParameters = 3

// insertNames is insertName for DraftRows records.
var insertNames = insertName + strings.Repeat(", (?, ?, ?)", DraftRows-1)

// Draft is records that have been made ready to be appended, as the first of their keys: most of the work needs no
// database, and can be done while the records before them are appended.
type Draft struct {
	recs  []ledger.Record
	lines []byte
	names []byte
	rows  []draftRow
	spans []ledger.Span
	write ledger.LineWriter
	err   error
}

// draftRow says where a record's line, spans and name end, and what its leaf is.
type draftRow struct {
	line, spans, name int
	leaf              merkle.Hash
}

// Draft makes records ready. It may be called beside the methods of the transaction that append, by one goroutine, and in
// the order in which the drafts will be appended. The draft keeps the slice and sets what Append sets.
func (tx *Tx) Draft(recs []ledger.Record) *Draft {
	var d *Draft
	select {
	case d = <-tx.drafts:
	default:
		d = &Draft{}
	}
	d.make(tx, recs, tx.drafted+tx.offset.Load())
	tx.drafted += int64(len(recs))
	return d
}

// make makes the records ready to stand in the log from a place on.
func (d *Draft) make(tx *Tx, recs []ledger.Record, first int64) {
	d.recs, d.err = recs, nil
	d.lines, d.names, d.rows, d.spans = d.lines[:0], d.names[:0], d.rows[:0], d.spans[:0]
	for i := range recs {
		rec := &recs[i]
		key := rec.Fact.Key()
		if d.err = check(rec, key); d.err != nil {
			return
		}
		rec.Seq, rec.Revision, rec.Recorded, rec.By = first+int64(i), 0, tx.now, tx.by
		start := len(d.lines)
		var spans []ledger.Span
		d.lines, spans = d.write.Append(d.lines, rec)
		leaf := merkle.LeafHash(d.lines[start:])
		d.spans = append(d.spans, spans...)
		d.names = appendName(d.names, rec.Fact.Kind(), rec.Yard, key)
		d.rows = append(d.rows, draftRow{len(d.lines), len(d.spans), len(d.names), leaf})
	}
}

// AppendDraft appends the first n records of a draft as Append does: up to the first that is not New, or replaces another, or
// to the last. Append says of that one what it is, and takes the others. The draft is not to be used again.
func (tx *Tx) AppendDraft(d *Draft) (n int, err error) {
	if err := tx.usable(); err != nil {
		return 0, err
	}
	defer func() {
		d.recs = nil
		select {
		case tx.drafts <- d:
		default:
		}
	}()
	n, err = tx.appendDraft(d)
	tx.offset.Add(int64(n - len(d.recs)))
	if err != nil {
		return n, tx.fail(fmt.Errorf("records from %s on: %w", d.recs[0].ID(), err))
	}
	return n, nil
}

func (tx *Tx) appendDraft(d *Draft) (n int, err error) {
	whole := len(d.recs)
	for i := range d.recs {
		if k := d.recs[i].Fact.Kind(); d.recs[i].Replaces != "" || k == ledger.KindSourceRecord || k == ledger.KindCloseRecord {
			whole = i
			break
		}
	}
	if whole == 0 {
		return 0, nil
	}
	if first := tx.tree.Size(); d.err == nil && d.recs[0].Seq != first {
		d.make(tx, d.recs, first) // fewer than were drafted before it have come to the log
	}
	if d.err != nil {
		return 0, d.err
	}
	if n, err = tx.takeNames(d, whole); err != nil {
		return 0, err
	}
	for i := range n {
		line, spans := 0, 0
		if i > 0 {
			line, spans = d.rows[i-1].line, d.rows[i-1].spans
		}
		// The spans count from the beginning of all lines.
		if err := tx.log(&d.recs[i], d.rows[i].leaf, d.lines[:d.rows[i].line], d.spans[spans:d.rows[i].spans], d.rows[i].line-line); err != nil {
			return 0, err
		}
	}
	return n, nil
}

// takeNames enters the names of the first of the draft's records until one is taken.
func (tx *Tx) takeNames(d *Draft, whole int) (n int, err error) {
	if whole == DraftRows {
		return tx.insertNames(d, tx.bulk, 0, whole)
	}
	for n < whole {
		took, err := tx.insertNames(d, tx.insertName, n, 1)
		if err != nil || took == 0 {
			return n, err
		}
		n++
	}
	return n, nil
}

// insertNames enters the names of count records from one on with a statement, and returns how many were not taken.
func (tx *Tx) insertNames(d *Draft, s *sqlite3.Stmt, from, count int) (n int, err error) {
	start := 0
	if from > 0 {
		start = d.rows[from-1].name
	}
	for i := range count {
		end := d.rows[from+i].name
		err := errors.Join(s.BindRawText(i*nameParameters+1, d.names[start:end]), s.BindInt64(i*nameParameters+2, 0),
			s.BindInt64(i*nameParameters+3, d.recs[from+i].Seq))
		if err != nil {
			return 0, err
		}
		start = end
	}
	err = s.Exec()
	if errors.Is(err, sqlite3.CONSTRAINT_PRIMARYKEY) {
		return int(tx.book.conn.Changes()), nil // those before it stay
	}
	return count, err
}
