package sqlite

import (
	"container/heap"
	"context"
	"fmt"
	"iter"
	"slices"
	"time"

	"github.com/ncruces/go-sqlite3"

	"repose/ledger"
)

// blockInfo is what is known of a block before it is read.
type blockInfo struct {
	id       int64
	firstSeq int64
	firstAt  int64 // of the records that have an instant, as lastAt
	lastAt   int64
	small    *block // nil for a large one, which is read when it is needed
}

// infoColumns is what blockInfos reads, in its order: with the bytes of small blocks, which are most of the time asked for
// many at once.
const infoColumns = "id, kind, yard, CASE WHEN records <= 16 THEN packed END, first_seq, coalesce(first_at, 0), coalesce(last_at, 0)"

// blockInfos returns the blocks that a query selects by infoColumns. What an open transaction holds back is written first.
func (b *Book) blockInfos(ctx context.Context, sql string, args ...any) ([]blockInfo, error) {
	if err := b.settle(ctx); err != nil {
		return nil, err
	}
	var infos []blockInfo
	err := b.each(ctx, sql, args, func(s *sqlite3.Stmt) error {
		info := blockInfo{id: s.ColumnInt64(0), firstSeq: s.ColumnInt64(4), firstAt: s.ColumnInt64(5), lastAt: s.ColumnInt64(6)}
		info.small = b.small[info.id]
		if info.small == nil && s.ColumnType(3) != sqlite3.NULL {
			if bl, err := b.scanBlock(ctx, s); err == nil { // an error is told of when the block is read
				info.small = bl
				b.keep(info.id, bl)
			}
		}
		infos = append(infos, info)
		return nil
	})
	return infos, err
}

const selectBlock = "SELECT " + blockColumns + " FROM block WHERE id = ?"

// readBlock reads a block by its id.
func (b *Book) readBlock(ctx context.Context, id int64) (bl *block, err error) {
	b.conn.SetInterrupt(ctx)
	if b.fetch == nil {
		if b.fetch, _, err = b.conn.Prepare(selectBlock); err != nil {
			return nil, b.explain(ctx, err)
		}
	}
	s := b.fetch
	defer s.Reset()
	if err := s.BindInt64(1, id); err != nil {
		return nil, b.explain(ctx, err)
	}
	if !s.Step() {
		if err := s.Err(); err != nil {
			return nil, b.explain(ctx, err)
		}
		return nil, b.explain(ctx, fmt.Errorf("%w: no block %d", ErrDamaged, id))
	}
	bl, err = b.scanBlock(ctx, s)
	return bl, b.explain(ctx, err)
}

// Blocks of a few records are kept: closes, approvals and the like, one of which is written at a time, and which are asked
// for again and again. infoColumns says how small they are.
const maxSmall = 8192

// block is readBlock, but for small blocks that have been read.
func (b *Book) block(ctx context.Context, info blockInfo) (*block, error) {
	if info.small != nil {
		return info.small, nil
	}
	return b.readBlock(ctx, info.id)
}

func (b *Book) keep(id int64, bl *block) {
	if b.small == nil || len(b.small) >= maxSmall {
		b.small = map[int64]*block{}
	}
	b.small[id] = bl
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
	id    int64 // of the block
	block *block
	next  int // record of the block

	rec  *ledger.Record   // the next, where records are made ahead
	recs []*ledger.Record // those after it
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
				bl, err := b.block(ctx, infos[0])
				if err != nil {
					yield(nil, err)
					return
				}
				if len(bl.seqs) > 0 {
					heap.Push(m, &cursor{id: infos[0].id, block: bl})
				}
				infos = infos[1:]
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

// recordsInLog yields the records of blocks that want says, in the order of the log. The blocks are in the order of their
// first places. want may read the block.
func (b *Book) recordsInLog(ctx context.Context, infos []blockInfo, want func(bl *block, i int) (bool, error)) iter.Seq2[*ledger.Record, error] {
	return b.merged(ctx, infos, order{
		make:   func(_ blockInfo, bl *block) ([]*ledger.Record, error) { return bl.inLog(want) },
		begins: func(info blockInfo, rec *ledger.Record) bool { return info.firstSeq <= rec.Seq },
		before: func(x, y *cursor) bool { return x.rec.Seq < y.rec.Seq },
	})
}

// window says which records are wanted by their instants, in nanoseconds, and their places in the log. Records without an
// instant are not. first and last, and fromSeq, are in it; size is not.
type window struct{ first, last, fromSeq, size int64 }

func (w window) holds(seq, at int64) bool {
	return seq >= w.fromSeq && seq < w.size && at >= w.first && at <= w.last
}

// covers reports whether all records of a block are in the window.
func (w window) covers(info blockInfo, bl *block) bool {
	return len(bl.seqs) > 0 && w.holds(bl.seqs[0], info.firstAt) && w.holds(bl.seqs[len(bl.seqs)-1], info.lastAt)
}

// recordsInTime yields the records of blocks that lie in a window, in the order of ledger.Record.Compare. The blocks are in
// the order of their earliest instants.
func (b *Book) recordsInTime(ctx context.Context, infos []blockInfo, in window) iter.Seq2[*ledger.Record, error] {
	return b.merged(ctx, infos, order{
		make: func(info blockInfo, bl *block) ([]*ledger.Record, error) {
			if in.covers(info, bl) {
				return bl.sorted(every)
			}
			return bl.inTime(in)
		},
		begins: func(info blockInfo, rec *ledger.Record) bool { return info.firstAt <= rec.At.UnixNano() },
		before: func(x, y *cursor) bool { return x.rec.Compare(y.rec) < 0 },
	})
}

// order is an order of records: how those of a block are made in it, whether a block may begin before or at a record, and
// which of two comes first.
type order struct {
	make   func(blockInfo, *block) ([]*ledger.Record, error)
	begins func(blockInfo, *ledger.Record) bool
	before func(x, y *cursor) bool
}

// merged yields the records of blocks in an order, in which the blocks stand by their beginnings.
func (b *Book) merged(ctx context.Context, infos []blockInfo, o order) iter.Seq2[*ledger.Record, error] {
	return func(yield func(*ledger.Record, error) bool) {
		m := &merge{before: o.before}
		ahead, rest := &readAhead{book: b, infos: infos, make: o.make}, infos
		for len(rest) > 0 || m.Len() > 0 {
			for len(rest) > 0 && (m.Len() == 0 || o.begins(rest[0], m.open[0].rec)) {
				recs, err := ahead.next(ctx)
				if err != nil {
					yield(nil, b.explain(ctx, damaged(err)))
					return
				}
				if rest = rest[1:]; len(recs) > 0 {
					heap.Push(m, &cursor{rec: recs[0], recs: recs[1:]})
				}
			}
			if m.Len() == 0 {
				return
			}
			if ctx.Err() != nil { // what has been made ahead does not ask
				yield(nil, b.explain(ctx, context.Cause(ctx)))
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
	make    func(blockInfo, *block) ([]*ledger.Record, error)
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
		info := r.infos[0]
		bl, err := r.book.block(ctx, info)
		made := make(chan madeRecords, 1)
		r.waiting, r.infos = append(r.waiting, made), r.infos[1:]
		work := func() {
			recs, err := r.make(info, bl)
			made <- madeRecords{recs, err}
		}
		switch {
		case err != nil:
			made <- madeRecords{nil, err}
		case info.small != nil:
			work() // it is kept, and so may be read by others
		default:
			go work()
		}
	}
	made := <-r.waiting[0]
	r.waiting = r.waiting[1:]
	return made.recs, made.err
}

// inLog returns the records of a block that want says, in the order of the log. They share their memory.
func (b *block) inLog(want func(bl *block, i int) (bool, error)) ([]*ledger.Record, error) {
	var wanted []int
	for i := range b.seqs {
		ok, err := want(b, i)
		if err != nil {
			return nil, err
		}
		if ok {
			wanted = append(wanted, i)
		}
	}
	made := make([]ledger.Record, len(wanted))
	recs := make([]*ledger.Record, len(wanted))
	for n, i := range wanted {
		if err := b.record(i, &made[n]); err != nil {
			return nil, err
		}
		recs[n] = &made[n]
	}
	return recs, nil
}

// inTime returns the records of a block that lie in a window, in the order of ledger.Record.Compare. They share their
// memory. Of the others, only the instants are read.
func (b *block) inTime(in window) ([]*ledger.Record, error) {
	return b.sorted(func(bl *block, i int) (bool, error) { return bl.within(in, i) })
}

// within reports whether a record lies in a window. Its kind is one that has an instant.
func (b *block) within(in window, i int) (bool, error) {
	if err := b.unpack(); err != nil {
		return false, err
	}
	if b.instants == nil {
		b.instants = b.column(b.kindWord.InstantField())
	}
	if b.instants == nil {
		return false, recordError(b.seqs[i], fmt.Errorf("%w: a %s without an instant", ErrDamaged, b.kindWord))
	}
	at, err := time.Parse(time.RFC3339Nano, b.instants[i])
	if err != nil {
		return false, recordError(b.seqs[i], fmt.Errorf("%w: %v", ErrDamaged, err))
	}
	return in.holds(b.seqs[i], at.UnixNano()), nil
}

// sorted is inLog in the order of ledger.Record.Compare.
func (b *block) sorted(want func(bl *block, i int) (bool, error)) ([]*ledger.Record, error) {
	recs, err := b.inLog(want)
	if err == nil && !slices.IsSortedFunc(recs, (*ledger.Record).Compare) {
		slices.SortFunc(recs, (*ledger.Record).Compare)
	}
	return recs, err
}
