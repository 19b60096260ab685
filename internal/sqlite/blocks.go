package sqlite

import (
	"container/heap"
	"context"
	"fmt"
	"iter"
	"slices"

	"github.com/ncruces/go-sqlite3"

	"repose/ledger"
)

// blockInfo is what is known of a block before it is read.
type blockInfo struct {
	id       int64
	firstSeq int64
	firstAt  int64
}

// infoColumns is what blockInfos reads, in its order.
const infoColumns = "id, first_seq, coalesce(first_at, 0)"

// blockInfos returns the blocks that a query selects by infoColumns. What an open transaction holds back is written first.
func (b *Book) blockInfos(ctx context.Context, sql string, args ...any) ([]blockInfo, error) {
	if err := b.settle(ctx); err != nil {
		return nil, err
	}
	var infos []blockInfo
	err := b.each(ctx, sql, args, func(s *sqlite3.Stmt) error {
		infos = append(infos, blockInfo{s.ColumnInt64(0), s.ColumnInt64(1), s.ColumnInt64(2)})
		return nil
	})
	return infos, err
}

// readBlock reads a block by its id.
func (b *Book) readBlock(ctx context.Context, id int64) (bl *block, err error) {
	err = b.each(ctx, "SELECT "+blockColumns+" FROM block WHERE id = ?", []any{id}, func(s *sqlite3.Stmt) error {
		bl, err = b.scanBlock(ctx, s)
		return err
	})
	if err == nil && bl == nil {
		err = b.explain(ctx, fmt.Errorf("%w: no block %d", ErrDamaged, id))
	}
	return bl, err
}

// maxHeld is how many blocks are kept to be looked into again.
const maxHeld = 96

// blockWith returns the block of a kind and yard that covers a place in the log, and which of its records has that place; -1
// where none has. The last block of each kind and yard is kept, since places are mostly asked for in the order of the log.
func (b *Book) blockWith(ctx context.Context, key blockKey, seq int64) (*block, int, error) {
	if bl := b.held[key]; bl != nil {
		if i := find(bl.seqs, seq); i >= 0 {
			return bl, i, nil
		}
	}
	if err := b.settle(ctx); err != nil {
		return nil, -1, err
	}
	var id int64
	err := b.each(ctx, `SELECT id FROM block WHERE yard = ? AND kind = ? AND first_seq <= ? ORDER BY first_seq DESC LIMIT 1`,
		[]any{key.yard, key.kind, seq}, func(s *sqlite3.Stmt) error {
			id = s.ColumnInt64(0)
			return nil
		})
	if err != nil || id == 0 {
		return nil, -1, err
	}
	bl, err := b.readBlock(ctx, id)
	if err != nil {
		return nil, -1, err
	}
	if b.held == nil || len(b.held) >= maxHeld {
		b.held = map[blockKey]*block{}
	}
	b.held[key] = bl
	return bl, find(bl.seqs, seq), nil
}

// cursor is a place in a block that is being read.
type cursor struct {
	block *block
	next  int            // record of the block
	rec   *ledger.Record // the one at next, where records are made ahead
	recs  []*ledger.Record
}

// merge reads blocks in one order of their records: all that may come next are open.
type merge struct {
	before func(x, y *cursor) bool
	open   []*cursor
}

func (m *merge) Len() int           { return len(m.open) }
func (m *merge) Less(i, j int) bool { return m.before(m.open[i], m.open[j]) }
func (m *merge) Swap(i, j int)      { m.open[i], m.open[j] = m.open[j], m.open[i] }
func (m *merge) Push(x any)         { m.open = append(m.open, x.(*cursor)) }
func (m *merge) Pop() any {
	last := m.open[len(m.open)-1]
	m.open = m.open[:len(m.open)-1]
	return last
}

// rowsInLog yields which record of which block comes next in the log, of the blocks of infos, which are in the order of
// their first places. A block is valid until the next step.
func (b *Book) rowsInLog(ctx context.Context, infos []blockInfo) iter.Seq2[*cursor, error] {
	return func(yield func(*cursor, error) bool) {
		m := &merge{before: func(x, y *cursor) bool { return x.block.seqs[x.next] < y.block.seqs[y.next] }}
		for len(infos) > 0 || m.Len() > 0 {
			for len(infos) > 0 && (m.Len() == 0 || infos[0].firstSeq <= m.open[0].block.seqs[m.open[0].next]) {
				bl, err := b.readBlock(ctx, infos[0].id)
				if err != nil {
					yield(nil, err)
					return
				}
				if infos = infos[1:]; len(bl.seqs) > 0 {
					heap.Push(m, &cursor{block: bl})
				}
			}
			if m.Len() == 0 {
				return
			}
			c := m.open[0]
			if !yield(c, nil) {
				return
			}
			if c.next++; c.next == len(c.block.seqs) {
				heap.Pop(m)
			} else {
				heap.Fix(m, 0)
			}
		}
	}
}

// recordsInLog yields the records of blocks that want says, in the order of the log. want may read the block.
func (b *Book) recordsInLog(ctx context.Context, infos []blockInfo, want func(bl *block, i int) (bool, error)) iter.Seq2[*ledger.Record, error] {
	return func(yield func(*ledger.Record, error) bool) {
		for c, err := range b.rowsInLog(ctx, infos) {
			var rec *ledger.Record
			wanted := err == nil
			if wanted {
				wanted, err = want(c.block, c.next)
			}
			if wanted && err == nil {
				rec = new(ledger.Record)
				err = c.block.record(c.next, rec)
			}
			if err != nil {
				yield(nil, b.explain(ctx, damaged(err)))
				return
			}
			if rec != nil && !yield(rec, nil) {
				return
			}
		}
	}
}

// recordsInTime yields the records of blocks that want says, in the order of ledger.Record.Compare. The blocks are in the
// order of their earliest instants, and every record of them has one.
func (b *Book) recordsInTime(ctx context.Context, infos []blockInfo, want func(*ledger.Record) bool) iter.Seq2[*ledger.Record, error] {
	return func(yield func(*ledger.Record, error) bool) {
		m := &merge{before: func(x, y *cursor) bool { return x.rec.Compare(y.rec) < 0 }}
		ahead := &readAhead{book: b, infos: infos, want: want}
		for len(infos) > 0 || m.Len() > 0 {
			for len(infos) > 0 && (m.Len() == 0 || infos[0].firstAt <= m.open[0].rec.At.UnixNano()) {
				recs, err := ahead.next(ctx)
				if err != nil {
					yield(nil, b.explain(ctx, err))
					return
				}
				if infos = infos[1:]; len(recs) > 0 {
					heap.Push(m, &cursor{rec: recs[0], recs: recs[1:]})
				}
			}
			if m.Len() == 0 {
				return
			}
			c := m.open[0]
			if !yield(c.rec, nil) {
				return
			}
			if len(c.recs) == 0 {
				heap.Pop(m)
				continue
			}
			c.rec, c.recs = c.recs[0], c.recs[1:]
			heap.Fix(m, 0)
		}
	}
}

// readAhead makes records of blocks before they are asked for, on goroutines beside the one that reads the blocks.
type readAhead struct {
	book    *Book
	infos   []blockInfo // that have not been read
	want    func(*ledger.Record) bool
	waiting []chan madeRecords
	depth   int
}

type madeRecords struct {
	recs []*ledger.Record
	err  error
}

// maxAhead is how many blocks are made ahead at most. A reader that stops early has few of them made.
const maxAhead = 4

// next returns the records of the next block.
func (r *readAhead) next(ctx context.Context) ([]*ledger.Record, error) {
	r.depth = min(max(2*r.depth, 1), maxAhead)
	for len(r.waiting) < r.depth && len(r.infos) > 0 {
		bl, err := r.book.readBlock(ctx, r.infos[0].id)
		made := make(chan madeRecords, 1)
		r.waiting, r.infos = append(r.waiting, made), r.infos[1:]
		if err != nil {
			made <- madeRecords{nil, err}
			break
		}
		go func() {
			recs, err := bl.inTime(r.want)
			made <- madeRecords{recs, err}
		}()
	}
	made := <-r.waiting[0]
	r.waiting = r.waiting[1:]
	return made.recs, made.err
}

// inTime returns the records of a block that want says, in the order of ledger.Record.Compare. They share their memory.
func (b *block) inTime(want func(*ledger.Record) bool) ([]*ledger.Record, error) {
	made := make([]ledger.Record, len(b.seqs))
	recs := make([]*ledger.Record, 0, len(b.seqs))
	for i := range b.seqs {
		if err := b.record(i, &made[i]); err != nil {
			return nil, err
		}
		if want(&made[i]) {
			recs = append(recs, &made[i])
		}
	}
	if !slices.IsSortedFunc(recs, (*ledger.Record).Compare) {
		slices.SortFunc(recs, (*ledger.Record).Compare)
	}
	return recs, nil
}
