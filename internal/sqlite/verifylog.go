package sqlite

import (
	"bytes"
	"fmt"

	"github.com/ncruces/go-sqlite3"

	"repose/internal/merkle"
	"repose/ledger"
)

// logCheck goes through the log once, from the first record to the last.
type logCheck struct {
	*verifier
	tree    merkle.Frontier // over the leaves as they are stored
	broken  bool            // the tree has lost a leaf: no head before the next batch can be told
	next    int64           // the place that the next record should have
	batches []storedBatch   // those that have not been reached
	tallies map[tallyKey]*tally
	line    []byte
}

type storedBatch struct {
	size     int64
	root     merkle.Hash
	frontier []byte
}

func (v *verifier) checkLog() error {
	c := &logCheck{verifier: v, tallies: map[tallyKey]*tally{}}
	err := v.each("SELECT size, root, frontier FROM batch ORDER BY size", func(s *sqlite3.Stmt) error {
		b := storedBatch{size: s.ColumnInt64(0), frontier: s.ColumnBlob(2, nil)}
		if n := copy(b.root[:], s.ColumnRawBlob(1)); n != len(s.ColumnRawBlob(1)) {
			v.fault(AreaLog, nil, "the head over the first %d records is too long", b.size)
		}
		c.batches = append(c.batches, b)
		v.found.Head = Head{b.size, b.root.String()}
		return nil
	})
	if err != nil {
		return err
	}
	err = v.each(`SELECT `+recordColumns+`, r.key, r.at, r.replaces, r.leaf FROM record r ORDER BY r.seq`, c.record)
	if err != nil {
		return fmt.Errorf("from record %d on: %w", c.next, err)
	}
	v.whole = true
	if len(c.batches) > 0 {
		v.fault(AreaLog, &ledger.Record{Seq: c.next}, "missing, with all records after it: the log should hold %d", v.found.Head.Size)
	}
	return nil
}

// record checks the next row of the log.
func (c *logCheck) record(s *sqlite3.Stmt) error {
	seq := s.ColumnInt64(seqColumn)
	if len(c.batches) == 0 {
		c.fault(AreaLog, &ledger.Record{Seq: seq}, "it lies beyond the last batch, and so does all that follows")
		return errStop
	}
	if seq > c.next {
		c.fault(AreaLog, &ledger.Record{Seq: c.next}, "missing: the log goes on with record %d", seq)
		c.broken, c.next = true, seq
	}
	c.next++
	c.found.Records++
	c.step()
	stored := s.ColumnRawBlob(leafColumn)
	if len(stored) != merkle.Size {
		c.fault(AreaLog, &ledger.Record{Seq: seq}, "its leaf has %d bytes", len(stored))
		c.broken = true
		return nil
	}
	leaf := merkle.Hash(stored)
	rec, err := c.book.scan(c.ctx, s)
	switch {
	case isDamage(err):
		c.fault(AreaLog, &ledger.Record{Seq: seq}, "%v", err)
	case err != nil:
		return err
	default:
		if err := c.check(s, rec, leaf); err != nil {
			return err
		}
	}
	c.tree.Append(leaf)
	for len(c.batches) > 0 && c.next >= c.batches[0].size {
		if err := c.endBatch(); err != nil {
			return err
		}
	}
	return nil
}

// The columns that follow recordColumns in the query of checkLog.
const (
	keyColumn = iota + nextColumn
	atColumn
	replacesColumn
	leafColumn
)

// check compares a record that could be read with what else its row says.
func (c *logCheck) check(s *sqlite3.Stmt, rec *ledger.Record, leaf merkle.Hash) error {
	c.line = rec.AppendLine(c.line[:0])
	key := rec.Fact.Key()
	hasAt := s.ColumnType(atColumn) != sqlite3.NULL
	switch {
	case !bytes.Equal(bodyOf(c.line), s.ColumnRawText(bodyColumn)):
		c.fault(AreaLog, rec, "its body is not in canonical form")
	case merkle.LeafHash(c.line) != leaf:
		c.fault(AreaLog, rec, "it does not have the hash that the log holds for it")
	case key != s.ColumnText(keyColumn), rec.Replaces != s.ColumnText(replacesColumn),
		hasAt == rec.At.IsZero(), hasAt && s.ColumnInt64(atColumn) != rec.At.UnixNano():
		c.fault(AreaLog, rec, "its key, instant or replaced key is stored otherwise than in its body")
	case rec.Source.Row < 0, rec.Source.Row != s.ColumnInt(rowColumn):
		c.fault(AreaLog, rec, "it has row %d of no file", s.ColumnInt(rowColumn))
	}
	switch f := rec.Fact.(type) {
	case ledger.SourceFile:
		c.files = append(c.files, rec)
	case ledger.Reopening:
		c.trail[rec.Yard] = append(c.trail[rec.Yard], rec)
	case ledger.Approval:
		c.trail[rec.Yard] = append(c.trail[rec.Yard], rec)
		if err := c.checkApproval(rec, f.Of); err != nil {
			return err
		}
	case ledger.Close:
		c.checkReopened(rec, f.Period)
		c.closes, c.trail[rec.Yard] = append(c.closes, rec), append(c.trail[rec.Yard], rec)
		if root := c.tree.Root().String(); f.LogSize != rec.Seq || !c.broken && f.LogRoot != root {
			c.fault(AreaLog, rec, "it states the head %s of %d records; the log before it has %s of %d",
				f.LogRoot, f.LogSize, root, rec.Seq)
		}
	}
	if rec.Source != (ledger.Source{}) {
		if err := count(c.tallies, tallyKey{s.ColumnInt64(sourceColumn), s.ColumnInt64(kindColumn)}, rec); err != nil {
			c.fault(AreaLog, rec, "%v", err)
		}
	}
	return c.checkRevision(rec, key)
}

// checkReopened checks that no close of the month stood when it was closed.
func (c *logCheck) checkReopened(rec *ledger.Record, p ledger.Period) {
	for _, earlier := range ledger.Standing(c.trail[rec.Yard]) {
		if earlier.Fact.(ledger.Close).Period == p {
			c.fault(AreaLog, rec, "it closes a month that is closed already, by %s", earlier.ID())
		}
	}
}

// checkApproval checks that a second person approved what a first one did.
func (c *logCheck) checkApproval(rec *ledger.Record, of string) error {
	done, err := c.book.byID(c.ctx, of)
	switch {
	case err != nil && !isDamage(err):
		return err
	case err != nil || done == nil || done.Seq > rec.Seq:
		c.fault(AreaLog, rec, "it approves %s, which was not on record before it", of)
	case ledger.SamePerson(done.By, rec.By):
		c.fault(AreaLog, rec, "%s approves what they did themselves", rec.By)
	}
	return nil
}

// checkRevision checks that a further record of a key says so, and comes after the one before.
func (c *logCheck) checkRevision(rec *ledger.Record, key string) error {
	if rec.Revision == 0 {
		return nil
	}
	before, err := c.book.revision(c.ctx, rec.Fact.Kind().String(), rec.Yard, key, rec.Revision-1)
	if err != nil && !isDamage(err) {
		return err
	}
	if before == nil || before.Seq > rec.Seq || rec.Replaces != key {
		c.fault(AreaLog, rec, "it is revision %d of its key, and does not replace one before it", rec.Revision)
	}
	return nil
}

// endBatch compares the tree with the head that was stored when the batch was committed, and goes on from
// the stored tree if they differ, so that later batches are judged by themselves.
func (c *logCheck) endBatch() error {
	b := c.batches[0]
	c.batches = c.batches[1:]
	holds := !c.broken && c.next == b.size && c.tree.Root() == b.root
	if !holds {
		c.fault(AreaLog, nil, "the head over the first %d records is not the one that was stored, %s", b.size, b.root)
	}
	if err := c.checkTallies(b.size); err != nil {
		return err
	}
	var stored merkle.Frontier
	if err := stored.UnmarshalBinary(b.frontier); err != nil || stored.Size() != b.size || stored.Root() != b.root {
		c.fault(AreaLog, nil, "the tree stored for the first %d records does not have their head", b.size)
		c.broken = c.broken || !holds
		return nil
	}
	if !holds {
		c.tree, c.broken = stored, c.next != b.size
	}
	return nil
}

// checkTallies compares what was counted in a batch with what was stored.
func (c *logCheck) checkTallies(batch int64) error {
	err := c.each("SELECT source, kind, first_seq, last_seq, records, net_g FROM tally WHERE batch = ?", func(s *sqlite3.Stmt) error {
		key := tallyKey{s.ColumnInt64(0), s.ColumnInt64(1)}
		stored := tally{s.ColumnInt64(2), s.ColumnInt64(3), s.ColumnInt64(4), ledger.Mass(s.ColumnInt64(5))}
		counted, ok := c.tallies[key]
		if !ok || *counted != stored {
			c.fault(AreaLog, &ledger.Record{Seq: stored.first}, "the tally of a file from here on does not agree with its records")
		}
		delete(c.tallies, key)
		return nil
	}, batch)
	for _, t := range c.tallies {
		c.fault(AreaLog, &ledger.Record{Seq: t.first}, "the tally of a file from here on is missing")
	}
	clear(c.tallies)
	return err
}
