package sqlite

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"sync/atomic"
	"time"
	"unicode/utf8"

	"github.com/ncruces/go-sqlite3"

	"repose/internal/merkle"
	"repose/ledger"
)

// Tx is one batch of additions to a book: all of it is committed, or nothing. An error of any of its
// methods ends it and drops the batch; the methods then return that error again.
type Tx struct {
	book    *Book
	ctx     context.Context
	by      string
	now     time.Time
	first   int64 // size of the log before
	tree    merkle.Frontier
	mark    mark
	tallies tallies
	sealer  *Sealer // of the close under way, or nil
	err     error   // why the transaction is over

	insertName, bulk, insertBlock, revision *sqlite3.Stmt

	blocks  map[kindOfYard]*blockWriter // what is not yet a block
	from    ledger.Source               // where the last record was read, and its id
	fromID  int64
	waiting int // how many records that are
	writer  ledger.LineWriter
	line    []byte // buffer of append
	packed  []byte // buffer of writeBlock

	drafts  chan *Draft  // to be used again
	drafted int64        // how many records have been drafted
	offset  atomic.Int64 // by how much the log is longer than there are records in drafts that were appended
}

// Begin starts a transaction of what a person takes in at an instant. It waits for other programs that
// write to the book, and holds them off until Commit or Rollback. The context covers all of it.
func (b *Book) Begin(ctx context.Context, by string, now time.Time) (*Tx, error) {
	switch {
	case b.tx != nil:
		return nil, b.explain(ctx, errors.New("a transaction is open already"))
	case by == "" || !utf8.ValidString(by):
		return nil, b.explain(ctx, fmt.Errorf("taken in by %q: want a name", by))
	case !fits(now):
		return nil, b.explain(ctx, fmt.Errorf("taken in at %v: want a year from 1678 to 2261", now))
	}
	b.conn.SetInterrupt(ctx)
	if err := b.conn.Exec("BEGIN IMMEDIATE"); err != nil {
		return nil, b.explain(ctx, err)
	}
	tx := &Tx{book: b, ctx: ctx, by: by, now: now.UTC().Round(0), tallies: tallies{},
		blocks: map[kindOfYard]*blockWriter{}, drafts: make(chan *Draft, maxDrafts)}
	b.tx = tx
	err := b.load(ctx)
	tx.mark = b.dict.mark()
	if err == nil {
		err = tx.start()
	}
	if err != nil {
		return nil, tx.fail(err)
	}
	return tx, nil
}

func (tx *Tx) start() (err error) {
	b := tx.book
	if tx.tree, err = b.frontier(tx.ctx); err != nil {
		return err
	}
	tx.first = tx.tree.Size()
	tx.offset.Store(tx.first)
	for _, p := range []struct {
		s   **sqlite3.Stmt
		sql string
	}{{&tx.insertName, insertName}, {&tx.bulk, insertNames}, {&tx.insertBlock, insertBlock}, {&tx.revision, selectRevisions}} {
		if *p.s, _, err = b.conn.Prepare(p.sql); err != nil {
			return err
		}
	}
	return nil
}

// maxDrafts is how many drafts are kept to be used again.
const maxDrafts = 64

// Head returns the head over all records so far, with those of this transaction.
func (tx *Tx) Head() Head { return Head{tx.tree.Size(), tx.tree.Root().String()} }

// Commit makes the batch part of the book. When it returns nil, the batch is on the disk.
func (tx *Tx) Commit() error {
	if err := tx.usable(); err != nil {
		return err
	}
	if tx.sealer != nil {
		return tx.fail(errors.New("a close is under way: want Finish before Commit"))
	}
	if tx.tree.Size() == tx.first {
		return tx.Rollback() // no record, and so no trace of what was looked up for some
	}
	if err := errors.Join(tx.settle(), tx.writeBatch()); err != nil {
		return tx.fail(err)
	}
	if err := tx.book.conn.Exec("COMMIT"); err != nil {
		return tx.fail(err)
	}
	return tx.release(ErrTx)
}

// Rollback drops the batch. After Commit or an error it does nothing, so it can be deferred.
func (tx *Tx) Rollback() error {
	if tx.book.tx != tx {
		return nil
	}
	tx.book.dict.cut(tx.mark)
	return tx.release(ErrTx)
}

// fail drops the batch because of an error and returns it, explained.
func (tx *Tx) fail(err error) error {
	err = tx.book.explain(tx.ctx, err)
	tx.book.dict.cut(tx.mark)
	if undone := tx.release(err); undone != nil {
		tx.err = errors.Join(err, undone)
	}
	return tx.err
}

// release gives the connection back and rolls back what has not been committed. From now on the methods
// return why.
func (tx *Tx) release(why error) error {
	tx.err = why
	tx.book.tx = nil
	for _, s := range []*sqlite3.Stmt{tx.insertName, tx.bulk, tx.insertBlock, tx.revision} {
		s.Close()
	}
	tx.blocks, tx.waiting = nil, 0
	tx.book.held, tx.book.small = nil, nil // blocks that are rolled back are none
	if tx.book.registers.size > tx.first {
		tx.book.registers = registers{}
	}
	maps.DeleteFunc(tx.book.seals, func(of sealsOf, _ []Seal) bool { return of.size > tx.first })
	if tx.sealer != nil {
		tx.sealer.release()
	}
	return tx.book.explain(context.Background(), rollBack(tx.book.conn))
}

// usable returns why the transaction is over, if it is, and sets its context on the connection.
func (tx *Tx) usable() error {
	if tx.err != nil {
		return tx.err
	}
	tx.book.conn.SetInterrupt(tx.ctx)
	return nil
}

// exec runs a statement that returns no rows.
func (tx *Tx) exec(sql string, args ...any) error {
	return each(tx.ctx, tx.book.conn, sql, args, ignore)
}

// number runs a query for one number.
func (tx *Tx) number(sql string, args ...any) (n int64, err error) {
	err = each(tx.ctx, tx.book.conn, sql, args, func(s *sqlite3.Stmt) error {
		n = s.ColumnInt64(0)
		return nil
	})
	return n, err
}

// word returns the id of a text in the dictionary, which it is added to where it is new.
func (tx *Tx) word(text string) (int64, error) {
	d := &tx.book.dict
	if id, ok := d.wordIDs[text]; ok {
		return id, nil
	}
	if !utf8.ValidString(text) {
		return 0, fmt.Errorf("%q: want UTF-8", text)
	}
	if err := tx.exec("INSERT INTO word (id, text) VALUES (?, ?)", len(d.words)+1, text); err != nil {
		return 0, err
	}
	d.addWord(text)
	return int64(len(d.words)), nil
}

// source returns the id of where a record was read; its file must be in the book.
func (tx *Tx) source(s ledger.Source) (id int64, err error) {
	if s.Row = 0; tx.fromID != 0 && s == tx.from {
		return tx.fromID, nil
	}
	defer func() { tx.from, tx.fromID = s, id }()
	d := &tx.book.dict
	if id, ok := d.sourceIDs[s]; ok {
		return id, nil
	}
	file, _, err := tx.book.file(tx.ctx, s.File)
	if err != nil {
		return 0, err
	}
	if err := tx.exec("INSERT INTO source (id, file, sheet) VALUES (?, ?, ?)", len(d.sources)+1, file, s.Sheet); err != nil {
		return 0, err
	}
	d.addSource(s)
	return int64(len(d.sources)), nil
}

// tallyKey is what a tally counts: records of a kind from a source, by their ids.
type tallyKey struct{ source, kind int64 }

type tally struct {
	first, last, records int64
	firstFact, lastFact  ledger.Fact
	net                  ledger.Mass
}

// tallies count the records of a batch.
type tallies map[tallyKey]*tally

func (t tallies) add(key tallyKey, rec *ledger.Record) error {
	counted := t[key]
	if counted == nil {
		counted = &tally{first: rec.Seq, firstFact: rec.Fact}
		t[key] = counted
	}
	return counted.add(rec)
}

func (t *tally) add(rec *ledger.Record) error {
	t.last, t.lastFact = rec.Seq, rec.Fact
	t.records++
	var err error
	t.net, err = t.net.Add(netOf(rec.Fact))
	return err
}

// netOf returns the as-weighed mass that a movement states.
func netOf(f ledger.Fact) ledger.Mass {
	switch f := f.(type) {
	case ledger.Load:
		if !f.Void {
			return f.Net
		}
	case ledger.DeckTicket:
		if !f.Void {
			return f.Net
		}
	case ledger.Production:
		return f.Net
	case ledger.Transfer:
		return f.Net
	case ledger.Feed:
		return f.Net
	case ledger.Return:
		return f.Net
	}
	return 0
}

// writeBatch closes the batch.
func (tx *Tx) writeBatch() error {
	size := tx.tree.Size()
	frontier, err := tx.tree.MarshalBinary()
	if err != nil {
		return err
	}
	by, err := tx.word(tx.by)
	if err != nil {
		return err
	}
	root := tx.tree.Root()
	if err := tx.exec("INSERT INTO batch (size, root, frontier, recorded_at, recorded_by) VALUES (?, ?, ?, ?, ?)",
		size, root[:], frontier, tx.now.UnixNano(), by); err != nil {
		return err
	}
	for key, t := range tx.tallies {
		if err := tx.exec(`INSERT INTO tally (batch, source, kind, first_seq, last_seq, first_key, last_key, records, net_g)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`, size, key.source, key.kind, t.first, t.last, t.firstFact.Key(), t.lastFact.Key(), t.records, int64(t.net)); err != nil {
			return err
		}
	}
	return nil
}
