package book

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"strings"
	"time"

	"repose/internal/report"
	"repose/internal/sqlite"
	"repose/ledger"
)

// Reopening is a person's wish to open a closed month again.
type Reopening struct {
	Yard   string // may be empty where the book holds one
	Period ledger.Period
	Why    ledger.Restatement
	Reason string
	By     string
	Now    time.Time
	DryRun bool
}

// Reopen records that a person would open a closed month again, and with it every later one. It does nothing before
// another person has approved it. The closes that it would take back are returned, by month.
func Reopen(ctx context.Context, store *sqlite.Book, x Reopening) ([]sqlite.Seal, error) {
	if strings.TrimSpace(x.Reason) == "" {
		return nil, errors.New("a reopening needs a reason in words")
	}
	tx, err := store.Begin(ctx, x.By, x.Now)
	if err != nil {
		return nil, err
	}
	defer tx.Rollback()
	r, y, err := readYard(ctx, store, x.Yard)
	if err != nil {
		return nil, err
	}
	seals, err := r.closedFrom(ctx, y.Code, x.Period)
	if err != nil {
		return nil, err
	}
	of := seals[0].Record.ID()
	rec, err := ledger.NewRecord(y.Code, ledger.Reopening{Period: x.Period, Of: of, Why: x.Why, Reason: x.Reason, Decided: x.Now.UTC()})
	if err != nil {
		return nil, err
	}
	switch outcome, held, err := tx.Append(&rec); {
	case err != nil:
		return nil, err
	case outcome != sqlite.New:
		return nil, fmt.Errorf("%s: %s would open it again already; it waits for another person: repose approve %s", of, held.By, shortName(held))
	case x.DryRun:
		return seals, nil
	}
	return seals, tx.Commit()
}

// closedFrom returns the closes of a month and of all later ones; it is an error where the month is not closed.
func (r *Reader) closedFrom(ctx context.Context, yard string, p ledger.Period) ([]sqlite.Seal, error) {
	h, err := r.history(ctx, yard)
	if err != nil {
		return nil, err
	}
	i := h.sealed(p)
	if i < 0 {
		return nil, fmt.Errorf("%s of yard %s is not closed: %w", p, yard, ErrOrder)
	}
	return h.seals[i:], nil
}

// Closes returns every close of a month of a yard in the order in which they were made, also those taken back.
func (r *Reader) Closes(ctx context.Context, yard string, p ledger.Period) ([]*ledger.Record, error) {
	var closes []*ledger.Record
	for rec, err := range r.view.Records(ctx, ledger.KindCloseRecord) {
		if err != nil {
			return nil, err
		}
		if rec.Yard == yard && rec.Fact.(ledger.Close).Period == p {
			closes = append(closes, rec)
		}
	}
	return closes, nil
}

// Restatement sets the last close of a month against the one before it.
func (r *Reader) Restatement(ctx context.Context, yard string, p ledger.Period) (*report.Restatement, error) {
	closes, err := r.Closes(ctx, yard, p)
	if err != nil {
		return nil, err
	}
	if len(closes) < 2 {
		return nil, fmt.Errorf("%s of yard %s has no second close: want two closes to compare", p, yard)
	}
	before, after := closes[len(closes)-2], closes[len(closes)-1]
	was, err := r.sealedMonth(ctx, before, discard)
	if err != nil {
		return nil, err
	}
	is, err := r.sealedMonth(ctx, after, discard)
	if err != nil {
		return nil, err
	}
	res := report.NewRestatement(report.ClosedMonth{Month: was.Month, Register: was.Register, Close: before},
		report.ClosedMonth{Month: is.Month, Register: is.Register, Close: after})
	if wish, _, err := r.reopened(ctx, after); err != nil {
		return nil, err
	} else if wish != nil {
		f := wish.Fact.(ledger.Reopening)
		res.Why, res.Reason = f.Why.String(), fmt.Sprintf("%s (%s, by %s)", f.Reason, wish.ID(), wish.By)
	}
	names, err := r.fileNames(ctx)
	if err != nil {
		return nil, err
	}
	for rec, err := range r.store.At(after.Fact.(ledger.Close).LogSize).Records(ctx) {
		if err != nil {
			return nil, err
		}
		if rec.Seq >= before.Seq && (rec.Yard == yard || rec.Yard == "") {
			res.Record(rec, names[rec.Source.File])
		}
	}
	return res, pairEntries(r.store.SealedEntries(ctx, before), r.store.SealedEntries(ctx, after), func(b, a *ledger.Entry) {
		rec := b
		if b == nil {
			rec = a
		}
		res.Entry(b, a, names[rec.Record.Source.File])
	})
}

// reopened returns the reopening, and the word of the second person, after which a month was closed again: that of its
// earlier close, or of an earlier month's. Both are nil for a first close.
func (r *Reader) reopened(ctx context.Context, again *ledger.Record) (wish, word *ledger.Record, err error) {
	if again.Revision == 0 {
		return nil, nil, nil
	}
	approved, err := r.approvals(ctx)
	if err != nil {
		return nil, nil, err
	}
	period := again.Fact.(ledger.Close).Period
	for rec, err := range r.view.Records(ctx, ledger.KindReopeningRecord) {
		if err != nil {
			return nil, nil, err
		}
		second := approved[rec.ID()]
		if rec.Yard == again.Yard && second != nil && second.Seq < again.Seq && !period.Before(rec.Fact.(ledger.Reopening).Period) {
			wish, word = rec, second // the last one is what opened it
		}
	}
	return wish, word, nil
}

// restates says in words why a month was closed again; nothing for a first close.
func (r *Reader) restates(ctx context.Context, again *ledger.Record) (string, error) {
	wish, word, err := r.reopened(ctx, again)
	if err != nil || wish == nil {
		return "", err
	}
	f := wish.Fact.(ledger.Reopening)
	return fmt.Sprintf("opened again because of an %s: %s; by %s, approved by %s", f.Why, f.Reason, wish.By, word.By), nil
}

// fileNames returns what files are called, by SHA-256.
func (r *Reader) fileNames(ctx context.Context) (map[string]string, error) {
	files, err := r.view.Files(ctx)
	names := map[string]string{}
	for _, f := range files {
		names[f.SHA256] = f.Name
	}
	return names, err
}

// pairEntries hands the entries of two closes of one month to pair, record by record: nil where a close has none. Both
// come in the order of Record.Compare.
func pairEntries(before, after iter.Seq2[*ledger.Entry, error], pair func(b, a *ledger.Entry)) error {
	nextB, stopB := iter.Pull2(before)
	defer stopB()
	nextA, stopA := iter.Pull2(after)
	defer stopA()
	advance := func(next func() (*ledger.Entry, error, bool)) (*ledger.Entry, error) {
		e, err, _ := next()
		return e, err
	}
	b, err := advance(nextB)
	if err != nil {
		return err
	}
	a, err := advance(nextA)
	for err == nil && (b != nil || a != nil) {
		order := 0
		switch {
		case b == nil:
			order = 1
		case a == nil:
			order = -1
		default:
			order = b.Record.Compare(a.Record)
		}
		switch {
		case order < 0:
			pair(b, nil)
			b, err = advance(nextB)
		case order > 0:
			pair(nil, a)
			a, err = advance(nextA)
		default:
			pair(b, a)
			if b, err = advance(nextB); err == nil {
				a, err = advance(nextA)
			}
		}
	}
	return err
}
