package sqlite

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
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

const insertName = `INSERT OR FAIL INTO name (text, revision, seq) VALUES (?, ?, ?)`

const selectRevisions = `SELECT seq FROM name WHERE text = ? ORDER BY revision`

const insertBlock = `INSERT INTO block (kind, yard, first_seq, last_seq, records, first_at, last_at, replacing, packed)
	VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`

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
	key := rec.Fact.Key()
	name := appendName(nil, rec.Fact.Kind(), rec.Yard, key)
	if err := check(rec, key); err != nil {
		return 0, nil, err
	}
	added := *rec
	added.Seq, added.Revision, added.Recorded, added.By = tx.tree.Size(), 0, tx.now, tx.by
	if rec.Replaces == key {
		added.Replaces = ""
	}
	inserted, err := tx.add(&added, name)
	if err != nil {
		return 0, nil, err
	}
	if !inserted {
		held, same, err := tx.find(&added, name)
		switch {
		case err != nil:
			return 0, nil, err
		case same:
			return Held, held, nil
		case rec.Replaces != key:
			return Conflicting, held, nil
		}
		added.Revision, added.Replaces = held.Revision+1, key
		if inserted, err = tx.add(&added, name); err != nil {
			return 0, nil, err
		} else if !inserted {
			return 0, nil, fmt.Errorf("%w: revision %d of its key is taken", ErrDamaged, added.Revision)
		}
	}
	*rec = added
	tx.offset.Add(1)
	return New, nil, nil
}

// appendName appends what a record is called whatever its revision: kind:yard:key.
func appendName(b []byte, kind ledger.Kind, yard, key string) []byte {
	b = append(append(b, kind.String()...), ':')
	b = append(append(b, yard...), ':')
	return append(b, key...)
}

// check refuses what cannot be kept.
func check(rec *ledger.Record, key string) error {
	if !utf8.ValidString(key) {
		return fmt.Errorf("key %q: want UTF-8", key)
	}
	if !utf8.ValidString(rec.Yard) {
		return fmt.Errorf("yard %q: want UTF-8", rec.Yard)
	}
	if !rec.At.IsZero() && !fits(rec.At) {
		return fmt.Errorf("instant %v: want a year from 1678 to 2261", rec.At)
	}
	return nil
}

// add appends the record unless its name is taken, and reports which.
func (tx *Tx) add(rec *ledger.Record, name []byte) (inserted bool, err error) {
	err = run(tx.insertName, rawText(name), rec.Revision, rec.Seq)
	if errors.Is(err, sqlite3.CONSTRAINT_PRIMARYKEY) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	var fields []ledger.Span
	tx.line, fields = tx.writer.Append(tx.line[:0], rec)
	return true, tx.log(rec, merkle.LeafHash(tx.line), tx.line, fields, len(tx.line))
}

// log puts a record whose name has been taken at the end of the log. Its fields lie at the spans of text; its line has size
// bytes.
func (tx *Tx) log(rec *ledger.Record, leaf merkle.Hash, text []byte, fields []ledger.Span, size int) error {
	w, err := tx.writerOf(kindOfYard{rec.Fact.Kind().String(), rec.Yard})
	if err != nil {
		return err
	}
	p := place{seq: rec.Seq, revision: int64(rec.Revision), replaces: rec.Replaces != "", hasAt: !rec.At.IsZero()}
	if p.hasAt {
		p.at = rec.At.UnixNano()
	}
	if rec.Source != (ledger.Source{}) {
		if p.source, err = tx.source(rec.Source); err != nil {
			return err
		}
		p.row = int64(rec.Source.Row)
		if err := tx.tallies.add(tallyKey{p.source, w.kind}, rec); err != nil {
			return err
		}
	}
	for !w.add(p, leaf, text, fields) {
		if err := tx.writeBlock(w); err != nil {
			return err
		}
	}
	w.size += size
	tx.waiting++
	tx.tree.Append(leaf)
	return nil
}

// kindOfYard is what the records of a block have in common.
type kindOfYard struct{ kind, yard string }

// writerOf returns what collects the records of a kind and yard.
func (tx *Tx) writerOf(k kindOfYard) (w *blockWriter, err error) {
	if w = tx.blocks[k]; w != nil {
		return w, nil
	}
	w = &blockWriter{limit: tx.book.blockRows}
	if w.kind, err = tx.word(k.kind); err != nil {
		return nil, err
	}
	if w.yard, err = tx.word(k.yard); err != nil {
		return nil, err
	}
	tx.blocks[k] = w
	return w, nil
}

// writeBlock writes a block that is full enough, and empties its writer.
func (tx *Tx) writeBlock(w *blockWriter) error {
	tx.packed = w.appendTo(tx.packed[:0])
	var firstAt, lastAt any
	if w.instants > 0 {
		firstAt, lastAt = w.firstAt, w.lastAt
	}
	err := run(tx.insertBlock, w.kind, w.yard, w.seqs[0], w.seqs[w.len()-1], w.len(), firstAt, lastAt, w.replacing, tx.packed)
	tx.waiting -= w.len()
	w.reset()
	return err
}

// settle writes what the transaction holds back, in the order of the log.
func (tx *Tx) settle() error {
	if tx.waiting == 0 {
		return nil
	}
	var full []*blockWriter
	for _, w := range tx.blocks {
		if w.len() > 0 {
			full = append(full, w)
		}
	}
	slices.SortFunc(full, func(v, w *blockWriter) int { return cmp.Compare(v.seqs[0], w.seqs[0]) })
	for _, w := range full {
		if err := tx.writeBlock(w); err != nil {
			return err
		}
	}
	return nil
}

// find returns the record of rec's key that has the same body, or else the latest of the key.
func (tx *Tx) find(rec *ledger.Record, name []byte) (held *ledger.Record, same bool, err error) {
	tx.line = rec.AppendBody(tx.line[:0])
	places, err := tx.revisions(name)
	if err != nil {
		return nil, false, err
	}
	var body []byte
	for _, seq := range places {
		if held, err = tx.book.at(tx.ctx, rec.Fact.Kind().String(), rec.Yard, seq); err != nil {
			return nil, false, err
		}
		if body = held.AppendBody(body[:0]); bytes.Equal(body, tx.line) {
			return held, true, nil
		}
	}
	if held == nil {
		return nil, false, fmt.Errorf("%w: its key is taken and cannot be found", ErrDamaged)
	}
	return held, false, nil
}

// revisions returns the places in the log of the records of a name, in order of their revisions.
func (tx *Tx) revisions(name []byte) (places []int64, err error) {
	s := tx.revision
	defer s.Reset()
	if err := bind(s, rawText(name)); err != nil {
		return nil, err
	}
	for s.Step() {
		places = append(places, s.ColumnInt64(0))
	}
	return places, s.Err()
}

// at returns the record at a place in the log, which is of a kind and yard.
func (b *Book) at(ctx context.Context, kind, yard string, seq int64) (*ledger.Record, error) {
	key, err := b.blockKey(ctx, kind, yard)
	if err != nil {
		return nil, err
	}
	bl, i, err := b.waiting(kindOfYard{kind, yard}, seq)
	if err == nil && i < 0 {
		bl, i, err = b.blockWith(ctx, key, seq)
	}
	if err != nil {
		return nil, b.explain(ctx, err)
	}
	if i < 0 {
		return nil, b.explain(ctx, recordError(seq, fmt.Errorf("%w: it has a name and is not in the log", ErrDamaged)))
	}
	rec := new(ledger.Record)
	return rec, b.explain(ctx, bl.record(i, rec))
}

// waiting is blockWith for what an open transaction has not made a block of.
func (b *Book) waiting(k kindOfYard, seq int64) (*block, int, error) {
	if b.tx == nil || b.tx.blocks[k] == nil {
		return nil, -1, nil
	}
	w := b.tx.blocks[k]
	i := find(w.seqs, seq)
	if i < 0 {
		return nil, -1, nil
	}
	bl, err := w.one(i)
	if err == nil {
		err = b.tie(bl)
	}
	return bl, 0, err
}

// blockKey returns the ids of a kind and a yard, 0 for a word that the book does not have.
func (b *Book) blockKey(ctx context.Context, kind, yard string) (blockKey, error) {
	key := blockKey{b.dict.wordIDs[kind], b.dict.wordIDs[yard]}
	if key.kind == 0 || key.yard == 0 {
		if err := b.load(ctx); err != nil {
			return key, b.explain(ctx, err)
		}
		key = blockKey{b.dict.wordIDs[kind], b.dict.wordIDs[yard]}
	}
	return key, nil
}
