package sqlite

import (
	"cmp"
	"fmt"
	"slices"
	"time"

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
	tallies tallies
	beyond  bool                 // the log goes on after the last batch: what follows is not of it
	said    map[int64]blockSums  // what the rows of blocks say of them, by id
	held    map[int64]*blockSums // what those that are being read hold
	line    []byte
	writer  ledger.LineWriter
	names   *sqlite3.Stmt
	name    []byte
}

type storedBatch struct {
	size     int64
	root     merkle.Hash
	frontier []byte
}

func (v *verifier) checkLog() error {
	c := &logCheck{verifier: v, tallies: tallies{}, said: map[int64]blockSums{}, held: map[int64]*blockSums{}}
	var err error
	if c.names, _, err = v.book.conn.Prepare("SELECT seq FROM name WHERE text = ? AND revision = ?"); err != nil {
		return err
	}
	defer c.names.Close()
	err = v.each("SELECT size, root, frontier FROM batch ORDER BY size", func(s *sqlite3.Stmt) error {
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
	infos, err := c.blocks()
	if err != nil {
		return err
	}
	for row, err := range v.book.rowsInLog(v.ctx, infos) {
		if err == nil {
			err = c.row(row)
		}
		if err != nil {
			return fmt.Errorf("from record %d on: %w", c.next, err)
		}
	}
	if c.beyond {
		return nil
	}
	v.whole = true
	if len(c.batches) > 0 {
		v.fault(AreaLog, &ledger.Record{Seq: c.next}, "missing, with all records after it: the log should hold %d", v.found.Head.Size)
	}
	return v.checkCount(AreaLog, "SELECT count(*) FROM name", c.found.Records, "names of records")
}

// blocks opens every block and returns those that can be read, in the order of their first places.
func (c *logCheck) blocks() (infos []blockInfo, err error) {
	err = c.each("SELECT "+blockColumns+", first_seq, last_seq, records, first_at, last_at, replacing FROM block ORDER BY first_seq", func(s *sqlite3.Stmt) error {
		bl, err := c.book.scanBlock(c.ctx, s)
		if err == nil {
			err = bl.ordered()
		}
		if isDamage(err) {
			c.fault(AreaLog, &ledger.Record{Seq: s.ColumnInt64(4)}, "%v", err)
			return nil
		} else if err != nil {
			return err
		}
		id := s.ColumnInt64(0)
		c.said[id] = blockSums{s.ColumnInt64(4), s.ColumnInt64(5), s.ColumnInt64(6), optional(s, 7), optional(s, 8), s.ColumnInt64(9)}
		infos = append(infos, blockInfo{id: id, firstSeq: bl.seqs[0]})
		return nil
	})
	slices.SortFunc(infos, func(a, b blockInfo) int { return cmp.Compare(a.firstSeq, b.firstSeq) })
	return infos, err
}

// ordered returns an error unless the block has records, each at a later place than the one before.
func (b *block) ordered() error {
	if len(b.seqs) == 0 {
		return fmt.Errorf("%w: an empty block", ErrDamaged)
	}
	for i, seq := range b.seqs[1:] {
		if seq <= b.seqs[i] {
			return recordError(seq, fmt.Errorf("%w: it does not stand after record %d", ErrDamaged, b.seqs[i]))
		}
	}
	return nil
}

// blockSums is what a block's row says of it besides its kind and yard.
type blockSums struct {
	firstSeq, lastSeq, records int64
	firstAt, lastAt            instantOrNone
	replacing                  int64
}

// instantOrNone is an instant in nanoseconds, or none.
type instantOrNone struct {
	nanos int64
	ok    bool
}

// String returns the sums in words.
func (s blockSums) String() string {
	at := func(t instantOrNone) string {
		if !t.ok {
			return "none"
		}
		return instant(t.nanos).Format(time.RFC3339Nano)
	}
	return fmt.Sprintf("%d records from %d to %d, instants from %s to %s, %d that replace others", s.records, s.firstSeq, s.lastSeq, at(s.firstAt), at(s.lastAt), s.replacing)
}

func optional(s *sqlite3.Stmt, column int) instantOrNone {
	return instantOrNone{s.ColumnInt64(column), s.ColumnType(column) != sqlite3.NULL}
}

// row checks the next record of the log, and its block after the last of it.
func (c *logCheck) row(row *cursor) error {
	bl, id := row.block, row.id
	rec := new(ledger.Record)
	damage := bl.record(row.next, rec)
	if damage != nil && !isDamage(damage) {
		return damage
	}
	if row.next == 0 {
		n := len(bl.seqs)
		c.held[id] = &blockSums{firstSeq: bl.seqs[0], lastSeq: bl.seqs[n-1], records: int64(n)}
	}
	held := c.held[id]
	if damage == nil {
		held.add(rec)
	}
	if !c.beyond {
		if err := c.record(bl, row.next, rec, damage); err != nil {
			return err
		}
	}
	if row.next == len(bl.seqs)-1 {
		if said := c.said[id]; *held != said {
			c.fault(AreaLog, &ledger.Record{Seq: said.firstSeq}, "block %d, from here on, holds %v, and its row says %v", id, *held, said)
		}
		delete(c.held, id)
	}
	return nil
}

// add counts a record.
func (s *blockSums) add(rec *ledger.Record) {
	if rec.Replaces != "" {
		s.replacing++
	}
	if rec.At.IsZero() {
		return
	}
	at := instantOrNone{rec.At.UnixNano(), true}
	if !s.firstAt.ok {
		s.firstAt, s.lastAt = at, at
	}
	s.firstAt.nanos, s.lastAt.nanos = min(s.firstAt.nanos, at.nanos), max(s.lastAt.nanos, at.nanos)
}

// record checks the next record of the log, or what keeps it from being read.
func (c *logCheck) record(bl *block, i int, rec *ledger.Record, damage error) error {
	seq := bl.seqs[i]
	if len(c.batches) == 0 {
		c.fault(AreaLog, &ledger.Record{Seq: seq}, "it lies beyond the last batch, and so does all that follows")
		c.beyond = true
		return nil
	}
	if seq < c.next {
		c.fault(AreaLog, &ledger.Record{Seq: seq}, "the log has this place twice")
		return nil
	}
	if seq > c.next {
		c.fault(AreaLog, &ledger.Record{Seq: c.next}, "missing: the log goes on with record %d", seq)
		c.broken, c.next = true, seq
	}
	c.next++
	c.found.Records++
	c.step()
	leaf := bl.leaf(i)
	if damage != nil {
		c.fault(AreaLog, &ledger.Record{Seq: seq}, "%v", damage)
	} else if err := c.check(bl, i, rec, leaf); err != nil {
		return err
	}
	c.tree.Append(leaf)
	for len(c.batches) > 0 && c.next >= c.batches[0].size {
		if err := c.endBatch(); err != nil {
			return err
		}
	}
	return nil
}

// check compares a record that could be read with what else its row says.
func (c *logCheck) check(bl *block, i int, rec *ledger.Record, leaf merkle.Hash) error {
	var spans []ledger.Span
	c.line, spans = c.writer.Append(c.line[:0], rec)
	fields, err := bl.fieldsOf(i)
	if err != nil {
		return err
	}
	key := rec.Fact.Key()
	switch {
	case !c.agree(fields, spans):
		c.fault(AreaLog, rec, "its fields are not stored as its line has them")
	case merkle.LeafHash(c.line) != leaf:
		c.fault(AreaLog, rec, "it does not have the hash that the log holds for it")
	case rec.Source.Row < 0, bl.sources[i] == 0 && bl.rows[i] != 0:
		c.fault(AreaLog, rec, "it has row %d of no file", bl.rows[i])
	}
	if err := c.checkName(rec, key); err != nil {
		return err
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
		if err := c.tallies.add(tallyKey{bl.sources[i], bl.kind}, rec); err != nil {
			c.fault(AreaLog, rec, "%v", err)
		}
	}
	return c.checkRevision(rec, key)
}

// agree reports whether fields have the names and values that lie at the spans of the line.
func (c *logCheck) agree(fields []ledger.Field, spans []ledger.Span) bool {
	return slices.EqualFunc(fields, spans, func(f ledger.Field, s ledger.Span) bool {
		text, err := ledger.UnescapeJSON(string(c.line[s.Start:s.End]))
		return err == nil && f.Name == s.Name && f.Value == text
	})
}

// checkName checks that the record can be found by what it is called.
func (c *logCheck) checkName(rec *ledger.Record, key string) error {
	c.name = appendName(c.name[:0], rec.Fact.Kind(), rec.Yard, key)
	defer c.names.Reset()
	if err := bind(c.names, rawText(c.name), rec.Revision); err != nil {
		return err
	}
	if !c.names.Step() || c.names.ColumnInt64(0) != rec.Seq {
		c.fault(AreaLog, rec, "it is not found by its name")
	}
	return c.names.Err()
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
	err := c.each("SELECT source, kind, first_seq, last_seq, first_key, last_key, records, net_g FROM tally WHERE batch = ?", func(s *sqlite3.Stmt) error {
		key := tallyKey{s.ColumnInt64(0), s.ColumnInt64(1)}
		t, ok := c.tallies[key]
		if !ok || t.first != s.ColumnInt64(2) || t.last != s.ColumnInt64(3) || t.firstFact.Key() != s.ColumnText(4) ||
			t.lastFact.Key() != s.ColumnText(5) || t.records != s.ColumnInt64(6) || int64(t.net) != s.ColumnInt64(7) {
			c.fault(AreaLog, &ledger.Record{Seq: s.ColumnInt64(2)}, "the tally of a file from here on does not agree with its records")
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
