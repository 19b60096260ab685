package sqlite

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"iter"

	"github.com/ncruces/go-sqlite3"

	"repose/ledger"
)

// Seal is a sealed period of a yard.
type Seal struct {
	Yard   string
	Close  ledger.Close
	Record *ledger.Record // of the close
}

// Seals returns the sealed periods of a yard that stand, in order of their months: without those that were reopened.
func (v View) Seals(ctx context.Context, yard string) ([]Seal, error) {
	var records []*ledger.Record
	for rec, err := range v.Records(ctx, ledger.KindCloseRecord, ledger.KindReopeningRecord, ledger.KindApprovalRecord) {
		if err != nil {
			return nil, err
		}
		if rec.Yard == yard {
			records = append(records, rec)
		}
	}
	var seals []Seal
	for _, rec := range ledger.Standing(records) {
		seals = append(seals, Seal{rec.Yard, rec.Fact.(ledger.Close), rec})
	}
	return seals, nil
}

// sealOf returns the id of the seal that a close made, or ErrNotSealed.
func (b *Book) sealOf(ctx context.Context, rec *ledger.Record) (id int64, err error) {
	err = b.each(ctx, "SELECT id FROM seal WHERE record = ?", []any{rec.Seq}, func(s *sqlite3.Stmt) error {
		id = s.ColumnInt64(0)
		return nil
	})
	if err == nil && id == 0 {
		err = b.explain(ctx, fmt.Errorf("%s: %w", rec.ID(), ErrNotSealed))
	}
	return id, err
}

// SealedState returns the state at the end of a period as a close sealed it.
func (b *Book) SealedState(ctx context.Context, rec *ledger.Record) (ledger.State, error) {
	lines, err := b.SealedLines(ctx, rec, stateKind)
	if err != nil {
		return ledger.State{}, err
	}
	return b.parseState(ctx, lines)
}

// SealedLines returns the lines of a kind that a close sealed, in order.
func (b *Book) SealedLines(ctx context.Context, rec *ledger.Record, kind string) ([]string, error) {
	id, err := b.sealOf(ctx, rec)
	if err != nil {
		return nil, err
	}
	var lines []string
	err = b.sealedLines(ctx, id, func(k, line string) error {
		if k == kind {
			lines = append(lines, line)
		}
		return nil
	})
	return lines, err
}

func (b *Book) sealedLines(ctx context.Context, seal int64, line func(kind, line string) error) error {
	return b.each(ctx, "SELECT kind, line FROM sealed_line WHERE seal = ? ORDER BY n", []any{seal}, func(s *sqlite3.Stmt) error {
		return line(s.ColumnText(0), s.ColumnText(1))
	})
}

// SealedEntries returns the entries that a close sealed in order, each with its record.
func (b *Book) SealedEntries(ctx context.Context, rec *ledger.Record) iter.Seq2[*ledger.Entry, error] {
	return func(yield func(*ledger.Entry, error) bool) {
		id, err := b.sealOf(ctx, rec)
		if err != nil {
			yield(nil, err)
			return
		}
		b.entries(ctx, selectEntries+"WHERE e.seal = ? ORDER BY e.n", id)(yield)
	}
}

// SealedEntry returns the latest entry that the record of an ID caused and one of some closes sealed, or nil.
func (v View) SealedEntry(ctx context.Context, id string, seals []Seal) (*ledger.Entry, error) {
	rec, err := v.book.byID(ctx, id)
	if err != nil || rec == nil {
		return nil, err
	}
	closes := make([]int64, len(seals))
	for i, s := range seals {
		closes[i] = s.Record.Seq
	}
	list, _ := json.Marshal(closes) // numbers always marshal
	for e, err := range v.book.entries(ctx, selectEntries+`WHERE e.record = ? AND c.seq < ? AND c.seq IN (SELECT value FROM json_each(?))
		ORDER BY e.seal DESC LIMIT 1`, rec.Seq, v.size, string(list)) {
		return e, err
	}
	return nil, nil
}

// The columns of selectEntries.
const (
	sealColumn = iota + nextColumn
	entryColumn
	flagsColumn
	moistureColumn
	periodColumn
)

// selectEntries selects entries of finished seals, with the key of the close, which is the period.
const selectEntries = `SELECT ` + recordColumns + `, e.seal, e.n, e.flags, e.moisture_pct, c.key
	FROM sealed_entry e
	CROSS JOIN record r ON r.seq = e.record
	CROSS JOIN seal s ON s.id = e.seal
	CROSS JOIN record c ON c.seq = s.record `

const selectLegs = `SELECT f.text, t.text, l.solids_g, l.water_g FROM sealed_leg l
	CROSS JOIN word f ON f.id = l.from_account
	CROSS JOIN word t ON t.id = l.to_account
	WHERE l.seal = ? AND l.entry = ? ORDER BY l.n`

// entries returns the entries that a query beginning with selectEntries finds.
func (b *Book) entries(ctx context.Context, sql string, args ...any) iter.Seq2[*ledger.Entry, error] {
	return func(yield func(*ledger.Entry, error) bool) {
		legs, _, err := b.conn.Prepare(selectLegs)
		if err != nil {
			yield(nil, b.explain(ctx, err))
			return
		}
		defer legs.Close()
		err = b.each(ctx, sql, args, func(s *sqlite3.Stmt) error {
			e, err := b.scanEntry(ctx, s, legs)
			if err == nil && !yield(e, nil) {
				err = errStop
			}
			return err
		})
		if err != nil {
			yield(nil, err)
		}
	}
}

func (b *Book) scanEntry(ctx context.Context, s, legs *sqlite3.Stmt) (*ledger.Entry, error) {
	rec, err := b.scan(ctx, s)
	if err != nil {
		return nil, err
	}
	e := &ledger.Entry{Record: rec, Flags: ledger.Flags(s.ColumnInt64(flagsColumn))}
	damaged := func(err error) error { return fmt.Errorf("sealed entry of %s: %w: %v", rec.ID(), ErrDamaged, err) }
	if text := s.ColumnText(moistureColumn); text != "" {
		pct, err := ledger.ParseDecimal(text)
		if err != nil {
			return nil, damaged(err)
		}
		if e.Moisture, err = ledger.NewDryBasis(pct); err != nil {
			return nil, damaged(err)
		}
	}
	if e.Period, err = ledger.ParsePeriod(s.ColumnText(periodColumn)); err != nil {
		return nil, damaged(err)
	}
	defer legs.Reset()
	if err := bind(legs, s.ColumnInt64(sealColumn), s.ColumnInt64(entryColumn)); err != nil {
		return nil, err
	}
	for legs.Step() {
		leg, err := scanLeg(legs)
		if err != nil {
			return nil, damaged(err)
		}
		e.Legs = append(e.Legs, leg)
	}
	return e, legs.Err()
}

func scanLeg(s *sqlite3.Stmt) (ledger.Leg, error) {
	from, err := ledger.ParseAccount(s.ColumnText(0))
	if err != nil {
		return ledger.Leg{}, err
	}
	to, err := ledger.ParseAccount(s.ColumnText(1))
	if err != nil {
		return ledger.Leg{}, err
	}
	amount := ledger.Amount{Solids: ledger.Mass(s.ColumnInt64(2)), Water: ledger.Mass(s.ColumnInt64(3))}
	return ledger.NewLeg(from, to, amount)
}

// WriteSeal writes the text that a close sealed, whose SHA-256 is in the close's record. [Sealer] describes it.
func (b *Book) WriteSeal(ctx context.Context, rec *ledger.Record, w io.Writer) error {
	id, err := b.sealOf(ctx, rec)
	if err != nil {
		return err
	}
	_, err = b.sealText(ctx, id, w, func(*ledger.Entry) error { return nil })
	return err
}

// sealText writes the text of a seal, shows its entries to a function, and returns the closing state.
func (b *Book) sealText(ctx context.Context, seal int64, w io.Writer, entry func(*ledger.Entry) error) (ledger.State, error) {
	var text []byte
	for e, err := range b.entries(ctx, selectEntries+"WHERE e.seal = ? ORDER BY e.n", seal) {
		if err == nil {
			err = entry(e)
		}
		if err != nil {
			return ledger.State{}, err
		}
		text = appendEntry(text[:0], e)
		if _, err := w.Write(text); err != nil {
			return ledger.State{}, err
		}
	}
	var state []string
	err := b.sealedLines(ctx, seal, func(kind, line string) error {
		if kind == stateKind {
			state = append(state, line)
		}
		text = appendLine(text[:0], kind, line)
		if _, err := w.Write(text); err != nil {
			return &bookError{err} // the reader's own, not the book's
		}
		return nil
	})
	if err != nil {
		return ledger.State{}, err
	}
	return b.parseState(ctx, state)
}

func (b *Book) parseState(ctx context.Context, lines []string) (ledger.State, error) {
	state, err := ledger.ParseState(lines)
	if err != nil {
		return ledger.State{}, b.explain(ctx, fmt.Errorf("%w: %v", ErrDamaged, err))
	}
	return state, nil
}
