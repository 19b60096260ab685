package book

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"repose/internal/sqlite"
	"repose/ledger"
)

// ErrSelf says that somebody would approve what they did themselves.
var ErrSelf = errors.New("another person has to approve it")

// Approving is a second person's word.
type Approving struct {
	Yard   string // may be empty where the book holds one
	ID     string // as Pending.ID names it
	By     string
	Now    time.Time
	DryRun bool
}

// Approve records that a second person agrees with what another did. By has to be of somebody else: see
// [ledger.SamePerson] for how little a name proves.
func Approve(ctx context.Context, store *sqlite.Book, a Approving) (Pending, error) {
	tx, err := store.Begin(ctx, a.By, a.Now)
	if err != nil {
		return Pending{}, err
	}
	defer tx.Rollback()
	r, y, err := readYard(ctx, store, a.Yard)
	if err != nil {
		return Pending{}, err
	}
	pending, err := r.Pending(ctx, y.Code)
	if err != nil {
		return Pending{}, err
	}
	for _, p := range pending {
		if p.ID != a.ID {
			continue
		}
		if ledger.SamePerson(p.Record.By, a.By) {
			return p, fmt.Errorf("%s was done by %s: %w", p.ID, p.Record.By, ErrSelf)
		}
		if err := put(tx, y.Code, ledger.Approval{Of: p.Record.ID(), Decided: a.Now.UTC()}); err != nil || a.DryRun {
			return p, err
		}
		return p, tx.Commit()
	}
	return Pending{}, fmt.Errorf("%q: nothing of that name waits for approval", a.ID)
}

// Waiving lets a close go on in spite of something.
type Waiving struct {
	Yard   string // may be empty where the book holds one
	Period ledger.Period
	Gate   string // as [ledger.Problem.ID] names it
	Reason string
	By     string
	Now    time.Time
	DryRun bool
}

// Waive records that a person lets the close of a month go on in spite of something that stands in its way. It counts
// once another person has approved it.
func Waive(ctx context.Context, store *sqlite.Book, w Waiving) (Gate, error) {
	if strings.TrimSpace(w.Reason) == "" {
		return Gate{}, errors.New("a waiver needs a reason in words")
	}
	tx, err := store.Begin(ctx, w.By, w.Now)
	if err != nil {
		return Gate{}, err
	}
	defer tx.Rollback()
	r, y, err := readYard(ctx, store, w.Yard)
	if err != nil {
		return Gate{}, err
	}
	m, err := r.Month(ctx, y.Code, w.Period, discard)
	if err != nil {
		return Gate{}, err
	}
	if m.Closed {
		return Gate{}, fmt.Errorf("%s of yard %s: %w", w.Period, y.Code, ErrClosed)
	}
	gates, err := r.Gates(ctx, m.Month)
	if err != nil {
		return Gate{}, err
	}
	for _, g := range gates {
		switch {
		case g.ID() != w.Gate:
			continue
		case !g.Kind.Waivable():
			return g, fmt.Errorf("%s cannot be waived; what settles it: %s", w.Gate, g.Kind.Settled())
		case g.State != GateOpen:
			return g, fmt.Errorf("%s is waived already, by %s", w.Gate, g.Waiver.By)
		}
		fact := ledger.Waiver{Period: w.Period, Gate: w.Gate, Text: g.Text, Reason: w.Reason, Decided: w.Now.UTC()}
		if err := put(tx, y.Code, fact); err != nil || w.DryRun {
			return g, err
		}
		return g, tx.Commit()
	}
	return Gate{}, fmt.Errorf("%q does not stand in the way of %s; see repose close %s --check", w.Gate, w.Period, w.Period)
}

// put appends a fact that nothing else of its key may have been said of.
func put(tx *sqlite.Tx, yard string, f ledger.Fact) error {
	rec, err := ledger.NewRecord(yard, f)
	if err != nil {
		return err
	}
	_, _, err = tx.Append(&rec)
	return err
}

func readYard(ctx context.Context, store *sqlite.Book, code string) (*Reader, ledger.Yard, error) {
	r, err := Read(ctx, store, time.Time{})
	if err != nil {
		return nil, ledger.Yard{}, err
	}
	y, err := r.Yard(code)
	return r, y, err
}
