package sqlite

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"

	"github.com/ncruces/go-sqlite3"

	"repose/ledger"
)

// checkFiles inflates every file and compares its bytes with their record.
func (v *verifier) checkFiles() error {
	for _, rec := range v.files {
		f := rec.Fact.(ledger.SourceFile)
		v.found.Files++
		var id int64
		err := v.each("SELECT id FROM file WHERE sha256 = unhex(?) AND bytes = ?", func(s *sqlite3.Stmt) error {
			id = s.ColumnInt64(0)
			return nil
		}, f.SHA256, f.Bytes)
		h := sha256.New()
		var n int64
		if err == nil {
			n, err = v.book.inflate(v.ctx, id, h, v.step)
		}
		switch got := hex.EncodeToString(h.Sum(nil)); {
		case isDamage(err):
			v.fileFault(rec, f, "%v", err)
		case err != nil:
			return err
		case n != f.Bytes || got != f.SHA256:
			v.fileFault(rec, f, "the book holds %d bytes with SHA-256 %s, want %d bytes with %s", n, got, f.Bytes, f.SHA256)
		}
	}
	return v.checkCount(AreaFiles, "SELECT count(*) FROM file", v.found.Files, "files")
}

func (v *verifier) fileFault(rec *ledger.Record, f ledger.SourceFile, format string, args ...any) {
	v.found.add(Fault{Area: AreaFiles, Seq: rec.Seq, ID: rec.ID(), File: f.Name, Text: fmt.Sprintf(format, args...)})
}

// checkCount compares a table's rows with the records in the log that speak for them, if those are known.
func (v *verifier) checkCount(area Area, sql string, want int64, what string) error {
	if !v.whole {
		return nil
	}
	return v.each(sql, func(s *sqlite3.Stmt) error {
		if got := s.ColumnInt64(0); got != want {
			v.fault(area, nil, "the book holds %d %s, and its log speaks of %d", got, what, want)
		}
		return nil
	})
}

// sealedMonth is a month of a yard.
type sealedMonth struct {
	yard   string
	period ledger.Period
}

// checkSeals checks the closes in the order of the log, each against the month sealed before it.
func (v *verifier) checkSeals() error {
	closing := map[sealedMonth]ledger.Balances{}
	for _, rec := range v.closes {
		v.found.Seals++
		month := sealedMonth{rec.Yard, rec.Fact.(ledger.Close).Period}
		balances, err := v.checkSeal(rec, openingOf(closing, month))
		switch {
		case isDamage(err):
			v.fault(AreaSeals, rec, "%v", err)
		case err != nil:
			return err
		default:
			closing[month] = balances
		}
	}
	return v.checkCount(AreaSeals, "SELECT count(*) FROM seal", v.found.Seals, "seals")
}

// openingOf returns what the last month sealed before a month of the same yard left, or nothing.
func openingOf(closing map[sealedMonth]ledger.Balances, month sealedMonth) ledger.Balances {
	var last sealedMonth
	for m := range closing {
		if m.yard == month.yard && m.period.Before(month.period) && last.period.Before(m.period) {
			last = m
		}
	}
	opening := ledger.Balances{}
	maps.Copy(opening, closing[last])
	return opening
}

// checkSeal writes the text of a seal again and posts its legs to the opening balances. It returns the
// closing balances as they are sealed.
func (v *verifier) checkSeal(rec *ledger.Record, balances ledger.Balances) (ledger.Balances, error) {
	c := rec.Fact.(ledger.Close)
	var id int64
	err := v.each("SELECT id FROM seal WHERE record = ?", func(s *sqlite3.Stmt) error {
		id = s.ColumnInt64(0)
		return nil
	}, rec.Seq)
	if err != nil {
		return nil, err
	}
	h := sha256.New()
	entries := 0
	blocks, err := v.sealedBlocks(id)
	if err != nil {
		return nil, err
	}
	state, err := v.book.sealText(v.ctx, rec, id, h, func(e *ledger.Entry) error {
		v.step()
		entries++
		if !blocks.covers(nanos(e.Record.At)) {
			v.fault(AreaSeals, rec, "the block of the entry of %s does not say from when on and until when its entries are", e.Record.ID())
		}
		if e.Record.Yard != rec.Yard || e.Record.Seq >= rec.Seq {
			v.fault(AreaSeals, rec, "it seals an entry of %s, which is not of the yard or not older than the close", e.Record.ID())
		}
		if err := balances.Post(e.Legs...); err != nil {
			v.fault(AreaSeals, rec, "entry of %s: %v", e.Record.ID(), err)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if got := hex.EncodeToString(h.Sum(nil)); got != c.SealSHA256 || entries != c.Entries {
		v.fault(AreaSeals, rec, "the seal has %d entries and SHA-256 %s, want %d and %s", entries, got, c.Entries, c.SealSHA256)
	}
	if !maps.Equal(balances, state.Balances) {
		v.fault(AreaSeals, rec, "the balances before it and its entries do not give its closing balances")
	}
	if sum := state.Balances.Sum(); !sum.IsZero() {
		v.fault(AreaSeals, rec, "its closing balances sum to %v of solids and %v of water, want zero", sum.Solids, sum.Water)
	}
	return state.Balances, nil
}

// sealedBlocks are the blocks of a seal in order, as their rows have them.
type sealedBlocks []sealedBlock

type sealedBlock struct {
	entries         int64 // that have not been seen
	first, last     int64
	atFirst, atLast bool // whether an entry has that instant
}

func (v *verifier) sealedBlocks(seal int64) (blocks sealedBlocks, err error) {
	err = v.each("SELECT entries, first_at, last_at FROM sealed_block WHERE seal = ? ORDER BY n", func(s *sqlite3.Stmt) error {
		blocks = append(blocks, sealedBlock{entries: s.ColumnInt64(0), first: s.ColumnInt64(1), last: s.ColumnInt64(2)})
		return nil
	}, seal)
	return blocks, err
}

// covers reports whether the next entry, of an instant, lies within the instants of its block, and, where it is the last of
// the block, whether some entry has the first of them and some the last.
func (b *sealedBlocks) covers(at int64) bool {
	if len(*b) == 0 {
		return true // the number of entries tells
	}
	block := &(*b)[0]
	block.atFirst, block.atLast = block.atFirst || at == block.first, block.atLast || at == block.last
	block.entries--
	ok := at >= block.first && at <= block.last
	if block.entries == 0 {
		ok = ok && block.atFirst && block.atLast
		*b = (*b)[1:]
	}
	return ok
}
