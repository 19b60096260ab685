package sqlite

import (
	"bytes"
	"errors"
	"fmt"
	"unicode/utf8"

	"github.com/ncruces/go-sqlite3"

	"repose/internal/merkle"
	"repose/ledger"
)

// Outcome is what became of a record that was appended. The zero value is no outcome.
type Outcome uint8

// The outcomes.
const (
	New         Outcome = iota + 1 // it is in the log now
	Held                           // the book holds this very record already
	Conflicting                    // the book holds another record of its natural key
)

const insertRecord = `INSERT INTO record (seq, kind, yard, key, revision, at, replaces, source, row, leaf, body)
	VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`

const selectRevisions = `SELECT ` + recordColumns + ` FROM record r
	WHERE r.kind = ? AND r.yard = ? AND r.key = ? ORDER BY r.revision`

// Append adds a record to the log. Its natural key is its yard, kind and key:
//
//   - New, where the book holds none of that key, or where rec replaces its own key: it is then the next
//     revision. Seq, Revision, Recorded and By of rec are set; a first revision that says it replaces its
//     own key replaces nothing.
//   - Held, where the book holds a record of that key with the same body, whatever its revision; held is
//     that record.
//   - Conflicting otherwise; held is the latest revision, and nothing is added.
//
// The file of rec.Source must have been added. Files and closes are recorded by AddFile and Seal.
func (tx *Tx) Append(rec *ledger.Record) (outcome Outcome, held *ledger.Record, err error) {
	if err := tx.usable(); err != nil {
		return 0, nil, err
	}
	if k := rec.Fact.Kind(); k == ledger.KindSourceRecord || k == ledger.KindCloseRecord {
		return 0, nil, tx.fail(fmt.Errorf("record %s: want AddFile or Seal to write it", rec.ID()))
	}
	outcome, held, err = tx.append(rec)
	if err != nil {
		return 0, nil, tx.fail(fmt.Errorf("record %s: %w", rec.ID(), err))
	}
	return outcome, held, nil
}

// append tries the record as the first of its key, which most are, and looks further only when that place
// is taken.
func (tx *Tx) append(rec *ledger.Record) (Outcome, *ledger.Record, error) {
	r, err := tx.row(rec)
	if err != nil {
		return 0, nil, err
	}
	added := *rec
	added.Seq, added.Revision, added.Recorded, added.By = tx.tree.Size(), 0, tx.now, tx.by
	if rec.Replaces == r.key {
		added.Replaces = ""
	}
	inserted, err := tx.add(&added, r)
	if err != nil {
		return 0, nil, err
	}
	if !inserted {
		held, same, err := tx.find(r)
		switch {
		case err != nil:
			return 0, nil, err
		case same:
			return Held, held, nil
		case rec.Replaces != r.key:
			return Conflicting, held, nil
		}
		added.Revision, added.Replaces = held.Revision+1, r.key
		if _, err := tx.add(&added, r); err != nil {
			return 0, nil, err
		}
	}
	*rec = added
	return New, nil, nil
}

// row is what a record is in the table besides itself.
type row struct {
	kind, yard      int64
	key             string
	at, source, row any // nil for none
}

func (tx *Tx) row(rec *ledger.Record) (row, error) {
	r := row{key: rec.Fact.Key()}
	if !utf8.ValidString(r.key) {
		return row{}, fmt.Errorf("key %q: want UTF-8", r.key)
	}
	if !rec.At.IsZero() {
		if !fits(rec.At) {
			return row{}, fmt.Errorf("instant %v: want a year from 1678 to 2261", rec.At)
		}
		r.at = rec.At.UnixNano()
	}
	var err error
	if r.kind, err = tx.word(rec.Fact.Kind().String()); err != nil {
		return row{}, err
	}
	if r.yard, err = tx.word(rec.Yard); err != nil {
		return row{}, err
	}
	if rec.Source == (ledger.Source{}) {
		return r, nil
	}
	source, err := tx.source(rec.Source)
	if err != nil {
		return row{}, err
	}
	r.source = source
	if rec.Source.Row > 0 {
		r.row = rec.Source.Row
	}
	return r, nil
}

// add inserts the record unless its place is taken, and reports which.
func (tx *Tx) add(rec *ledger.Record, r row) (inserted bool, err error) {
	tx.line = rec.AppendLine(tx.line[:0])
	leaf := merkle.LeafHash(tx.line)
	var replaces any
	if rec.Replaces != "" {
		replaces = rec.Replaces
	}
	err = run(tx.insert, rec.Seq, r.kind, r.yard, r.key, rec.Revision, r.at, replaces, r.source, r.row,
		leaf[:], rawText(bodyOf(tx.line)))
	if errors.Is(err, sqlite3.CONSTRAINT_UNIQUE) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	tx.tree.Append(leaf)
	if source, ok := r.source.(int64); ok {
		err = count(tx.tallies, tallyKey{source, r.kind}, rec)
	}
	return true, err
}

// bodyOf returns the body within a record's line. A quote inside a value is escaped, so this sequence
// stands before the body and nowhere else before that.
func bodyOf(line []byte) []byte {
	_, body, _ := bytes.Cut(line, []byte(`,"body":`))
	return bytes.TrimSuffix(body, []byte("}"))
}

// find returns the record of the key whose body is the one in tx.line, or else the latest of the key.
func (tx *Tx) find(r row) (held *ledger.Record, same bool, err error) {
	s := tx.revision
	defer s.Reset()
	if err := bind(s, r.kind, r.yard, r.key); err != nil {
		return nil, false, err
	}
	body := bodyOf(tx.line)
	for !same && s.Step() {
		same = bytes.Equal(s.ColumnRawText(bodyColumn), body)
		if held, err = tx.book.scan(tx.ctx, s); err != nil {
			return nil, false, err
		}
	}
	if err := s.Err(); err != nil {
		return nil, false, err
	}
	if held == nil {
		return nil, false, fmt.Errorf("%w: its key is taken and cannot be found", ErrDamaged)
	}
	return held, same, nil
}
