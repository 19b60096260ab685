package sqlite

import (
	"context"
	"fmt"
	"iter"
	"math"

	"github.com/ncruces/go-sqlite3"

	"repose/internal/packed"
	"repose/ledger"
)

// entryWriter collects sealed entries until they are a block.
type entryWriter struct {
	seqs, flags, legs, solids, water []int64
	kinds, moistures, from, to       packed.Texts
	firstAt, lastAt                  int64
	text                             []byte
}

func (w *entryWriter) len() int { return len(w.seqs) }

func (w *entryWriter) add(e *ledger.Entry) {
	at := nanos(e.Record.At)
	if w.len() == 0 {
		w.firstAt, w.lastAt = at, at
	}
	w.firstAt, w.lastAt = min(w.firstAt, at), max(w.lastAt, at)
	w.seqs, w.flags, w.legs = append(w.seqs, e.Record.Seq), append(w.flags, int64(e.Flags)), append(w.legs, int64(len(e.Legs)))
	w.addText(&w.kinds, e.Record.Fact.Kind().String())
	moisture := ""
	if m := e.Moisture.Percent(); !m.IsZero() {
		moisture = m.String()
	}
	w.addText(&w.moistures, moisture)
	for _, l := range e.Legs {
		w.addText(&w.from, l.From.String())
		w.addText(&w.to, l.To.String())
		w.solids, w.water = append(w.solids, int64(l.Solids)), append(w.water, int64(l.Water))
	}
}

func (w *entryWriter) addText(t *packed.Texts, s string) {
	w.text = append(w.text[:0], s...)
	t.Add(w.text)
}

func (w *entryWriter) reset() {
	w.seqs, w.flags, w.legs, w.solids, w.water = w.seqs[:0], w.flags[:0], w.legs[:0], w.solids[:0], w.water[:0]
	for _, t := range []*packed.Texts{&w.kinds, &w.moistures, &w.from, &w.to} {
		t.Reset()
	}
}

// appendTo appends the block's bytes: what is one an entry, then what is one a leg.
func (w *entryWriter) appendTo(b []byte) []byte {
	b = packed.AppendCount(packed.AppendCount(b, w.len()), w.from.Len())
	b = packed.AppendInts(w.kinds.AppendTo(packed.AppendInts(b, w.seqs)), w.flags)
	b = packed.AppendInts(w.moistures.AppendTo(b), w.legs)
	b = w.to.AppendTo(w.from.AppendTo(b))
	return packed.AppendInts(packed.AppendInts(b, w.solids), w.water)
}

// entryBlock is a block of sealed entries that was read.
type entryBlock struct {
	seqs, flags, legs, solids, water []int64
	kinds, moistures, from, to       []string
	leg                              int // of the next entry, its first
}

// maxLegs is how many legs a block's entries have at most.
const maxLegs = packed.MaxRows

func openEntries(data []byte) (*entryBlock, error) {
	r := packed.NewReader(data)
	n, legs := r.Count(packed.MaxRows), r.Count(maxLegs)
	b := &entryBlock{seqs: r.Ints(n), kinds: r.Texts(n), flags: r.Ints(n), moistures: r.Texts(n), legs: r.Ints(n),
		from: r.Texts(legs), to: r.Texts(legs), solids: r.Ints(legs), water: r.Ints(legs)}
	sum := int64(0)
	for _, l := range b.legs {
		if l < 0 || l > maxLegs {
			sum = math.MinInt64 / 2
		}
		sum += l
	}
	if err := r.End(); err != nil {
		return nil, err
	}
	if sum != int64(legs) {
		return nil, fmt.Errorf("%w: its entries have %d legs, want %d", packed.ErrPacked, sum, legs)
	}
	return b, nil
}

// recordsOf says what the records of entries hold.
type recordsOf uint8

const (
	wholeRecords recordsOf = iota + 1
	placesOnly             // nothing but their places in the log
)

// entriesOf yields the entries of blocks of a close that a query selects, in order: all, or those of one place in the log.
func (b *Book) entriesOf(ctx context.Context, c *ledger.Record, have recordsOf, only int64, sql string, args ...any) iter.Seq2[*ledger.Entry, error] {
	return func(yield func(*ledger.Entry, error) bool) {
		f, ok := c.Fact.(ledger.Close)
		if !ok {
			yield(nil, b.explain(ctx, fmt.Errorf("%s: %w", c.ID(), ErrNotSealed)))
			return
		}
		next := int64(0)
		err := b.each(ctx, sql, args, func(s *sqlite3.Stmt) error {
			data := s.ColumnRawBlob(2)
			bl, err := openEntries(data)
			if err == nil && (len(bl.seqs) != s.ColumnInt(1) || only < 0 && s.ColumnInt64(0) != next) {
				err = fmt.Errorf("%w: want %d entries, from %d on", ErrDamaged, s.ColumnInt(1), next)
			}
			if err != nil {
				return fmt.Errorf("sealed entries from %d on: %w", s.ColumnInt64(0), damaged(err))
			}
			next = s.ColumnInt64(0) + int64(len(bl.seqs))
			for i := range bl.seqs {
				from := bl.leg
				bl.leg += int(bl.legs[i])
				if only >= 0 && bl.seqs[i] != only {
					continue
				}
				e, err := b.entry(ctx, c.Yard, bl, i, from, have)
				if err != nil {
					return err
				}
				if e.Period = f.Period; !yield(e, nil) {
					return errStop
				}
			}
			return nil
		})
		if err != nil {
			yield(nil, err)
		}
	}
}

// entry makes an entry of a block, whose legs begin at from.
func (b *Book) entry(ctx context.Context, yard string, bl *entryBlock, i, from int, have recordsOf) (*ledger.Entry, error) {
	rec := &ledger.Record{Seq: bl.seqs[i]}
	var err error
	if have == wholeRecords {
		if rec, err = b.at(ctx, bl.kinds[i], yard, bl.seqs[i]); err != nil {
			return nil, err
		}
	}
	bad := func(err error) error {
		return fmt.Errorf("sealed entry of record %d: %w: %v", rec.Seq, ErrDamaged, err)
	}
	e := &ledger.Entry{Record: rec, Flags: ledger.Flags(bl.flags[i]), Legs: make([]ledger.Leg, 0, bl.legs[i])}
	if text := bl.moistures[i]; text != "" {
		if e.Moisture, err = b.moisture(text); err != nil {
			return nil, bad(err)
		}
	}
	for j := from; j < bl.leg; j++ {
		leg, err := b.leg(bl, j)
		if err != nil {
			return nil, bad(err)
		}
		e.Legs = append(e.Legs, leg)
	}
	return e, nil
}

func (b *Book) leg(bl *entryBlock, j int) (ledger.Leg, error) {
	from, err := b.account(bl.from[j])
	if err != nil {
		return ledger.Leg{}, err
	}
	to, err := b.account(bl.to[j])
	if err != nil {
		return ledger.Leg{}, err
	}
	return ledger.NewLeg(from, to, ledger.Amount{Solids: ledger.Mass(bl.solids[j]), Water: ledger.Mass(bl.water[j])})
}

// maxParsed bounds how many texts are remembered with what they mean.
const maxParsed = 10_000

// account reads an account. A yard has few, so what was read is remembered.
func (b *Book) account(text string) (ledger.Account, error) {
	if a, ok := b.accounts[text]; ok {
		return a, nil
	}
	a, err := ledger.ParseAccount(text)
	if err == nil {
		if b.accounts == nil || len(b.accounts) >= maxParsed {
			b.accounts = map[string]ledger.Account{}
		}
		b.accounts[text] = a
	}
	return a, err
}

// moisture reads a moisture in the same way.
func (b *Book) moisture(text string) (ledger.DryBasis, error) {
	if m, ok := b.moistures[text]; ok {
		return m, nil
	}
	var m ledger.DryBasis
	pct, err := ledger.ParseDecimal(text)
	if err == nil {
		m, err = ledger.NewDryBasis(pct)
	}
	if err == nil {
		if b.moistures == nil || len(b.moistures) >= maxParsed {
			b.moistures = map[string]ledger.DryBasis{}
		}
		b.moistures[text] = m
	}
	return m, err
}
