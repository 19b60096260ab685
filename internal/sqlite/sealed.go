package sqlite

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"iter"
	"math"
	"slices"

	"github.com/ncruces/go-sqlite3"

	"repose/ledger"
)

// Seal is a sealed period of a yard.
type Seal struct {
	Yard   string
	Close  ledger.Close
	Record *ledger.Record // of the close
}

// sealsOf names what Seals was asked for: a command asks more than once.
type sealsOf struct {
	View
	yard string
}

// Seals returns the sealed periods of a yard that stand, in order of their months: without those that were reopened. They may
// be returned again, and must not be changed.
func (v View) Seals(ctx context.Context, yard string) ([]Seal, error) {
	of := sealsOf{v, yard}
	if seals, ok := v.book.seals[of]; ok {
		return seals, nil
	}
	seals, err := v.readSeals(ctx, yard)
	if err == nil && v.size < math.MaxInt64 {
		if v.book.seals == nil {
			v.book.seals = map[sealsOf][]Seal{}
		}
		v.book.seals[of] = seals
	}
	return seals, err
}

func (v View) readSeals(ctx context.Context, yard string) ([]Seal, error) {
	var records []*ledger.Record
	infos, err := v.book.blockInfos(ctx, `SELECT `+infoColumns+` FROM block INDEXED BY block_by_place
		WHERE yard = (SELECT id FROM word WHERE text = ?1) AND first_seq < ?2
		AND kind IN (SELECT w.id FROM json_each(?3) j JOIN word w ON w.text = j.value) ORDER BY first_seq`, yard, v.size,
		kindList(ledger.KindCloseRecord, ledger.KindReopeningRecord, ledger.KindApprovalRecord))
	if err != nil {
		return nil, err
	}
	for rec, err := range v.known(v.book.recordsInLog(ctx, infos, every)) {
		if err != nil {
			return nil, err
		}
		records = append(records, rec)
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

// allEntries selects the blocks of a seal.
const allEntries = "SELECT n, entries, packed FROM sealed_block WHERE seal = ? ORDER BY n"

// SealedEntries returns the entries that a close sealed in order, each with its record.
func (b *Book) SealedEntries(ctx context.Context, rec *ledger.Record) iter.Seq2[*ledger.Entry, error] {
	return b.sealed(ctx, rec, wholeRecords)
}

// SealedLegs is SealedEntries for who has the records: those of the entries say nothing but their place in the log.
func (b *Book) SealedLegs(ctx context.Context, rec *ledger.Record) iter.Seq2[*ledger.Entry, error] {
	return b.sealed(ctx, rec, placesOnly)
}

func (b *Book) sealed(ctx context.Context, rec *ledger.Record, have recordsOf) iter.Seq2[*ledger.Entry, error] {
	return func(yield func(*ledger.Entry, error) bool) {
		id, err := b.sealOf(ctx, rec)
		if err != nil {
			yield(nil, err)
			return
		}
		b.entriesOf(ctx, rec, have, -1, allEntries, id)(yield)
	}
}

// SealedEntry returns the latest entry that the record of an ID caused and one of some closes sealed, or nil.
func (v View) SealedEntry(ctx context.Context, id string, seals []Seal) (*ledger.Entry, error) {
	rec, err := v.book.byID(ctx, id)
	if err != nil || rec == nil {
		return nil, err
	}
	latest := slices.SortedFunc(slices.Values(seals), func(s, t Seal) int { return cmp.Compare(t.Record.Seq, s.Record.Seq) })
	for _, seal := range latest {
		if seal.Record.Seq >= v.size || seal.Yard != rec.Yard {
			continue
		}
		n, err := v.book.sealOf(ctx, seal.Record)
		if err != nil {
			return nil, err
		}
		at := nanos(rec.At)
		for e, err := range v.book.entriesOf(ctx, seal.Record, wholeRecords, rec.Seq, `SELECT n, entries, packed FROM sealed_block
			WHERE seal = ? AND first_at <= ? AND last_at >= ? ORDER BY n`, n, at, at) {
			return e, err
		}
	}
	return nil, nil
}

// WriteSeal writes the text that a close sealed, whose SHA-256 is in the close's record. [Sealer] describes it.
func (b *Book) WriteSeal(ctx context.Context, rec *ledger.Record, w io.Writer) error {
	id, err := b.sealOf(ctx, rec)
	if err != nil {
		return err
	}
	_, err = b.sealText(ctx, rec, id, w, func(*ledger.Entry) error { return nil })
	return err
}

// sealText writes the text of a seal, shows its entries to a function, and returns the closing state.
func (b *Book) sealText(ctx context.Context, rec *ledger.Record, seal int64, w io.Writer, entry func(*ledger.Entry) error) (ledger.State, error) {
	var text []byte
	for e, err := range b.entriesOf(ctx, rec, wholeRecords, -1, allEntries, seal) {
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
