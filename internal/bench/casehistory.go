package bench

import (
	"context"
	"fmt"
)

// Books of case c.
const (
	longBook  = "long.book"
	shortBook = "short.book"
)

// history runs case c: the last month of a long book against the same month of a short one, all earlier months closed.
func (b *Bench) history(ctx context.Context, rep *Report) error {
	long := b.Sizes.History
	short := long.last(b.Sizes.Recent)
	for _, side := range []struct {
		book, folder string
		size         Size
	}{{longBook, "long", long}, {shortBook, "short", short}} {
		if err := b.closedBook(ctx, side.book, side.folder, side.size); err != nil {
			return err
		}
	}
	period, months := long.period(long.Months-1), fmt.Sprintf("%d-month book", long.Months)
	peer := fmt.Sprintf("%d-month book", short.Months)
	for _, what := range []string{"reconcile", "close"} {
		once := func(book string) side {
			return func() (Figures, error) { return b.lastMonth(ctx, what, period, book) }
		}
		line := Line{Case: "c", What: fmt.Sprintf("%s of a month of %d loads, %s", what, long.share(long.Loads, long.Months-1), months), Peer: peer, Target: 1.1}
		if err := rep.add(b.compare(line, once(longBook), once(shortBook))); err != nil {
			return err
		}
	}
	return nil
}

// closedBook makes a book and closes all of its months but the last.
func (b *Bench) closedBook(ctx context.Context, book, folder string, s Size) error {
	if err := b.write(s, folder); err != nil {
		return err
	}
	if err := b.remove(book); err != nil {
		return err
	}
	if _, _, err := b.repose(ctx, book, "intake", folder); err != nil {
		return err
	}
	b.say("c: closing %d months", s.Months-1)
	for m := range s.Months - 1 {
		if _, _, err := b.repose(ctx, book, "close", s.period(m)); err != nil {
			return err
		}
	}
	return nil
}

// lastMonth runs a command on the open month. A close works on a copy, so that it can be done again.
func (b *Bench) lastMonth(ctx context.Context, what, period, book string) (Figures, error) {
	if what == "close" {
		const copied = "closing.book"
		if err := b.copyBook(book, copied); err != nil {
			return Figures{}, err
		}
		book = copied
	}
	_, f, err := b.repose(ctx, book, what, period)
	return f, err
}
