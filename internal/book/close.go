package book

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"repose/internal/sqlite"
	"repose/internal/valuation"
	"repose/ledger"
)

// RefusedError lists everything that stands in the way of a close.
type RefusedError struct {
	Yard     string
	Period   ledger.Period
	Problems []ledger.Problem
}

// Error names every reason.
func (e *RefusedError) Error() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s of yard %s cannot be closed:", e.Period, e.Yard)
	for _, p := range e.Problems {
		fmt.Fprintf(&b, "\n  %s %s: %s\n    settled by %s", p.Kind, p.Subject, p.Text, p.Kind.Settled())
	}
	return b.String()
}

// ErrOrder says that a period cannot be closed now, whatever it holds.
var ErrOrder = errors.New("not the period to close")

// ErrClosed says that a period was closed before.
var ErrClosed = errors.New("closed already")

// Closing is what Close needs to know.
type Closing struct {
	Yard   string
	Period ledger.Period
	By     string
	Now    time.Time
	DryRun bool // do everything, and keep nothing

	// Entered is called with the number of entries sealed so far; it may be nil.
	Entered func(n int)
}

// Close seals a period of a yard: its entries, balances, comparisons and rules are stored with a hash
// over them and with the head of the log that they rest on, and are never derived again. It is refused,
// with every reason at once, while something blocks it.
func Close(ctx context.Context, store *sqlite.Book, c Closing) (*Month, error) {
	tx, err := store.Begin(ctx, c.By, c.Now)
	if err != nil {
		return nil, err
	}
	defer tx.Rollback()
	r, err := ReadRecent(ctx, store, time.Time{})
	if err != nil {
		return nil, err
	}
	h, err := r.history(ctx, c.Yard)
	if err != nil {
		return nil, err
	}
	if err := h.mayClose(c.Period, c.Now); err != nil {
		return nil, err
	}
	m, err := r.seal(ctx, tx, h, c)
	if err = cmp.Or(r.Err(), err); err != nil || c.DryRun {
		return m, err
	}
	return m, tx.Commit()
}

func (h *history) mayClose(p ledger.Period, now time.Time) error {
	switch {
	case h.open == (ledger.Period{}):
		return fmt.Errorf("%w: yard %s holds no records", ErrOrder, h.yard)
	case h.sealed(p) >= 0:
		return fmt.Errorf("%s of yard %s: %w", p, h.yard, ErrClosed)
	case p != h.open:
		return fmt.Errorf("%w: %s of yard %s comes after %s, which is still open", ErrOrder, p, h.yard, h.open)
	case now.Before(p.End(h.zone)):
		return fmt.Errorf("%w: %s of yard %s has not ended yet", ErrOrder, p, h.yard)
	}
	return nil
}

func (r *Reader) seal(ctx context.Context, tx *sqlite.Tx, h *history, c Closing) (*Month, error) {
	opening, err := r.openingOf(ctx, h, c.Period)
	if err != nil {
		return nil, err
	}
	w, err := tx.Seal(h.yard, c.Period)
	if err != nil {
		return nil, err
	}
	n := 0
	m, err := r.gather(ctx, h, c.Period, opening, func(e *ledger.Entry) error {
		if n++; c.Entered != nil {
			c.Entered(n)
		}
		return w.Entry(e)
	})
	if err != nil {
		return nil, err
	}
	if err := r.refuse(ctx, m); err != nil {
		return nil, err
	}
	if err := w.State(m.Closing); err != nil {
		return nil, err
	}
	for _, l := range m.SealLines() {
		if err := w.Line(l.Kind, l.Text); err != nil {
			return nil, err
		}
	}
	if err := r.sealValue(ctx, w, h, m); err != nil {
		return nil, err
	}
	rec, err := w.Finish(c.Now)
	return &Month{Month: m.Month, Register: r.reg, recent: r.recent, Closed: true, Close: rec}, err
}

// sealValue seals what the month's stock is worth, where the yard gives costs and nobody has waived that they give no value.
func (r *Reader) sealValue(ctx context.Context, w *sqlite.Sealer, h *history, m *Month) error {
	if m.tally == nil {
		return nil
	}
	v, err := r.value(ctx, h, m.Month, m.tally)
	var unvalued *UnvaluedError
	if errors.As(err, &unvalued) || err == nil && v == nil {
		return nil
	}
	if err != nil {
		return err
	}
	for _, line := range v.Closing().SealLines() {
		if err := w.Line(valuation.SealKind, line); err != nil {
			return err
		}
	}
	return nil
}

// refuse returns a *RefusedError if anything blocks the close.
func (r *Reader) refuse(ctx context.Context, m *Month) error {
	blocking, err := r.Blocking(ctx, m)
	if err != nil || len(blocking) == 0 {
		return err
	}
	return &RefusedError{m.Yard.Code, m.Period, blocking}
}

// Blocking returns every reason why a month may not be closed, without what has been waived.
func (r *Reader) Blocking(ctx context.Context, m *Month) ([]ledger.Problem, error) {
	gates, err := r.Gates(ctx, m)
	if err != nil {
		return nil, err
	}
	var blocking []ledger.Problem
	for _, g := range gates {
		if g.State != GateWaived {
			blocking = append(blocking, g.Problem)
		}
	}
	return blocking, nil
}

// describe puts differences into one line.
func describe(differences []ledger.Difference) string {
	parts := make([]string, len(differences))
	for i, d := range differences {
		parts[i] = fmt.Sprintf("%s: held %q, came in as %q", d.Field, d.Held, d.Incoming)
	}
	return strings.Join(parts, "; ")
}
