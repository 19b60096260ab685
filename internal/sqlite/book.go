package sqlite

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/ncruces/go-sqlite3"

	"repose/internal/merkle"
	"repose/internal/packed"
	"repose/ledger"
)

// Book is an open book. It is not safe for use by several goroutines at once. Its reading methods may be
// nested, also inside the loop over one of its iterators, and see what an open transaction of this Book
// has appended.
type Book struct {
	path string
	conn *sqlite3.Conn
	dict dictionary
	tx   *Tx // the open transaction, or nil

	blockRows int           // how many records or entries a block that is written holds at most
	fetch     *sqlite3.Stmt // selectBlock, prepared at its first use
	registers registers
	seals     map[sealsOf][]Seal         // that were asked for
	small     map[int64]*block           // small blocks that were read
	held      map[blockKey]*block        // the block of a kind and yard that was looked into last
	accounts  map[string]ledger.Account  // those that were read, by their texts
	moistures map[string]ledger.DryBasis // the same
}

// Head is what a log comes down to: how many records it holds, and the Merkle tree head over them.
type Head struct {
	Size int64
	Root string // lower-case hex
}

// Head returns the head of what has been committed.
func (b *Book) Head(ctx context.Context) (Head, error) {
	f, err := b.frontier(ctx)
	return Head{f.Size(), f.Root().String()}, err
}

// frontier reads the state of the tree after the last batch.
func (b *Book) frontier(ctx context.Context) (merkle.Frontier, error) {
	var f merkle.Frontier
	err := b.each(ctx, "SELECT size, root, frontier FROM batch ORDER BY size DESC LIMIT 1", nil, func(s *sqlite3.Stmt) error {
		if err := f.UnmarshalBinary(s.ColumnRawBlob(2)); err != nil {
			return fmt.Errorf("%w: %v", ErrDamaged, err)
		}
		if root := f.Root(); f.Size() != s.ColumnInt64(0) || string(root[:]) != string(s.ColumnRawBlob(1)) {
			return fmt.Errorf("%w: the head over %d records does not follow from its frontier", ErrDamaged, s.ColumnInt64(0))
		}
		return nil
	})
	return f, err
}

// RootAt returns the Merkle tree head over the first size records, in lower-case hex, from the leaves in
// the log. It is how a head that was printed earlier is compared with the book; Verify tells whether the
// leaves are those of the records.
func (b *Book) RootAt(ctx context.Context, size int64) (string, error) {
	var f merkle.Frontier
	infos, err := b.blockInfos(ctx, "SELECT "+infoColumns+" FROM block WHERE first_seq < ? ORDER BY first_seq", size)
	if err != nil {
		return "", err
	}
	for c, err := range b.rowsInLog(ctx, infos) {
		if err != nil {
			return "", b.explain(ctx, err)
		}
		seq := c.block.seqs[c.next]
		if seq >= size {
			break
		}
		if seq != f.Size() {
			return "", b.explain(ctx, fmt.Errorf("%w: leaf %d is missing", ErrDamaged, f.Size()))
		}
		f.Append(c.block.leaf(c.next))
	}
	if err == nil && f.Size() != size {
		err = b.explain(ctx, fmt.Errorf("head over %d records: the log holds %d", size, f.Size()))
	}
	return f.Root().String(), err
}

// settle writes what an open transaction holds back, before anything is read.
func (b *Book) settle(ctx context.Context) error {
	if b.tx == nil {
		return nil
	}
	return b.explain(ctx, b.tx.settle())
}

// damaged says of an error about what is stored that the book is damaged, unless it says so itself.
func damaged(err error) error {
	if errors.Is(err, packed.ErrPacked) || errors.Is(err, ledger.ErrBody) {
		return fmt.Errorf("%w: %v", ErrDamaged, err)
	}
	return err
}

// SizeKnownAt returns how many records the log held at an instant, by the clock of those who took them
// in: the size after the last batch that says it was recorded by then.
func (b *Book) SizeKnownAt(ctx context.Context, t time.Time) (int64, error) {
	var size int64
	err := b.each(ctx, "SELECT max(size) FROM batch WHERE recorded_at <= ?", []any{nanos(t)}, func(s *sqlite3.Stmt) error {
		size = s.ColumnInt64(0)
		return nil
	})
	return size, err
}
