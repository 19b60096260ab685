package sqlite

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"iter"
	"math"
	"slices"
	"time"

	"github.com/ncruces/go-sqlite3"

	"repose/ledger"
)

// View is the book as it stood when its log held a number of records. It answers the same for ever,
// whatever is appended later.
type View struct {
	book *Book
	size int64
	at   int64 // nanoseconds; what happened later is left out
}

// At returns the book as it stood when its log held size records.
func (b *Book) At(size int64) View { return View{b, size, math.MaxInt64} }

// Latest returns the book as it stands at each moment, with what an open transaction has appended.
func (b *Book) Latest() View { return b.At(math.MaxInt64) }

// Until returns the view without what happened after an instant. What has no instant, such as a policy or a decision,
// stays.
func (v View) Until(at time.Time) View {
	v.at = nanos(at)
	return v
}

func recordError(seq int64, err error) error { return fmt.Errorf("record %d: %w", seq, err) }

// knows reports whether the view holds the record.
func (v View) knows(rec *ledger.Record) bool {
	return rec.Seq < v.size && (rec.At.IsZero() || rec.At.UnixNano() <= v.at)
}

// known yields the records of a sequence that the view holds.
func (v View) known(records iter.Seq2[*ledger.Record, error]) iter.Seq2[*ledger.Record, error] {
	return func(yield func(*ledger.Record, error) bool) {
		for rec, err := range records {
			if err == nil && !v.knows(rec) {
				continue
			}
			if !yield(rec, err) {
				return
			}
		}
	}
}

// failed is a sequence of an error alone.
func failed(err error) iter.Seq2[*ledger.Record, error] {
	return func(yield func(*ledger.Record, error) bool) { yield(nil, err) }
}

// every is for recordsInLog.
func every(*block, int) (bool, error) { return true, nil }

// ofKinds selects the blocks of kinds, in the order of the log.
const ofKinds = `SELECT ` + infoColumns + ` FROM block
	WHERE kind IN (SELECT w.id FROM json_each(?1) j JOIN word w ON w.text = j.value) AND first_seq < ?2`

// registerKinds are the kinds that a ledger.Register is built from.
var registerKinds = []ledger.Kind{ledger.KindYardRecord, ledger.KindProductRecord, ledger.KindPileRecord, ledger.KindInstrumentRecord,
	ledger.KindHoursRecord, ledger.KindPolicyRecord, ledger.KindMoistureRecord, ledger.KindDensityRecord,
	ledger.KindSurveyRecord, ledger.KindAdjustmentRecord}

// bareKinds are those of them that are no tests or surveys; measuredKinds are the others, for json_each.
var (
	bareKinds     = slices.DeleteFunc(slices.Clone(registerKinds), ledger.IsMeasured)
	measuredKinds = kindList(slices.DeleteFunc(slices.Clone(registerKinds), func(k ledger.Kind) bool { return !ledger.IsMeasured(k) })...)
)

// Registers returns what a ledger.Register is built from: all yards, products, piles, instruments, hours,
// policies, tests, surveys and what was decided about them, and every record that replaces another, by place in the log.
// They may be returned again, and must not be changed.
func (v View) Registers(ctx context.Context) ([]ledger.Record, error) {
	return v.registersOf(ctx, false)
}

// BareRegisters is Registers without the tests and surveys that replace no other. Measured returns those.
func (v View) BareRegisters(ctx context.Context) ([]ledger.Record, error) {
	return v.registersOf(ctx, true)
}

func (v View) registersOf(ctx context.Context, bare bool) ([]ledger.Record, error) {
	kinds := registerKinds
	if bare {
		kinds = bareKinds
	}
	last := v.book.registers
	if last.size > v.size || last.at != v.at || last.bare != bare {
		last = registers{}
	}
	if last.size == v.size && last.records != nil {
		return last.records, nil
	}
	infos, err := v.book.blockInfos(ctx, ofKinds+" AND last_seq >= ?3 ORDER BY first_seq", kindList(kinds...), v.size, last.size)
	if err != nil {
		return nil, err
	}
	replacing, err := v.book.blockInfos(ctx, `SELECT `+infoColumns+` FROM block INDEXED BY block_of_replacing
		WHERE replacing > 0 AND first_seq < ? AND last_seq >= ? ORDER BY first_seq`, v.size, last.size)
	if err != nil {
		return nil, err
	}
	if len(replacing) > 0 {
		infos = append(infos, replacing...)
		slices.SortFunc(infos, func(x, y blockInfo) int { return cmp.Or(cmp.Compare(x.firstSeq, y.firstSeq), cmp.Compare(x.id, y.id)) })
		infos = slices.CompactFunc(infos, func(x, y blockInfo) bool { return x.id == y.id })
	}
	made, err := collect(v.known(v.book.recordsInLog(ctx, infos, func(bl *block, i int) (bool, error) {
		if bl.seqs[i] < last.size {
			return false, nil
		}
		if slices.Contains(kinds, bl.kindWord) {
			return true, nil
		}
		return bl.replaces(i)
	})))
	if err != nil {
		return nil, err
	}
	records := appendRecords(append(make([]ledger.Record, 0, len(last.records)+len(made)), last.records...), made)
	if v.size < math.MaxInt64 {
		v.book.registers = registers{v.size, v.at, bare, records}
	}
	return records, nil
}

func appendRecords(to []ledger.Record, made []*ledger.Record) []ledger.Record {
	for _, rec := range made {
		to = append(to, *rec)
	}
	return to
}

// registers are what registersOf returned last, for which view: a command asks more than once, and the log only grows.
type registers struct {
	size, at int64
	bare     bool
	records  []ledger.Record
}

// measuredOfYard selects the blocks of tests and surveys of a yard.
const measuredOfYard = `FROM block INDEXED BY block_by_place
	WHERE yard = (SELECT id FROM word WHERE text = ?1) AND first_seq < ?2
	AND kind IN (SELECT w.id FROM json_each(?3) j JOIN word w ON w.text = j.value)`

// Measured returns the tests and surveys of a yard in [from, until) that replace no other, by place in the log.
func (v View) Measured(ctx context.Context, yard string, from, until time.Time) ([]ledger.Record, error) {
	in := window{first: nanos(from), last: min(nanos(until)-1, v.at), size: v.size}
	infos, err := v.book.blockInfos(ctx, "SELECT "+infoColumns+" "+measuredOfYard+" AND last_at >= ?4 AND first_at <= ?5 ORDER BY first_seq",
		yard, v.size, measuredKinds, in.first, in.last)
	if err != nil {
		return nil, err
	}
	made, err := collect(v.book.recordsInLog(ctx, infos, func(bl *block, i int) (bool, error) {
		if replaces, err := bl.replaces(i); err != nil || replaces {
			return false, err
		}
		return bl.within(in, i)
	}))
	return appendRecords(make([]ledger.Record, 0, len(made)), made), err
}

// LastMeasured returns the instant of the last test or survey of a yard, or of one that came into the book with the last of the
// view, which may be later; zero where there is none.
func (v View) LastMeasured(ctx context.Context, yard string) (last time.Time, err error) {
	if err := v.book.settle(ctx); err != nil {
		return last, err
	}
	err = v.book.each(ctx, "SELECT max(last_at) "+measuredOfYard, []any{yard, v.size, measuredKinds}, func(s *sqlite3.Stmt) error {
		if s.ColumnType(0) != sqlite3.NULL {
			last = time.Unix(0, min(s.ColumnInt64(0), v.at)).UTC()
		}
		return nil
	})
	return last, err
}

// HasOlder reports whether the book may hold a record of a kind and yard whose key is a beginning and an instant before another,
// which is one of whole seconds: in such keys, the order of texts is that of instants.
func (v View) HasOlder(ctx context.Context, k ledger.Kind, yard, beginning string, since time.Time) (has bool, err error) {
	if err := v.book.settle(ctx); err != nil {
		return false, err
	}
	from := k.String() + ":" + yard + ":" + beginning
	err = v.book.each(ctx, "SELECT 1 FROM name WHERE text >= ? AND text < ? AND seq < ? LIMIT 1",
		[]any{from, from + since.UTC().Format("2006-01-02T15:04:05"), v.size}, func(*sqlite3.Stmt) error {
			has = true
			return nil
		})
	return has, err
}

// Movements returns the records of a yard whose instant lies in [from, until), but for those of some kinds, in the order of
// ledger.Record.Compare.
func (v View) Movements(ctx context.Context, yard string, from, until time.Time, but ...ledger.Kind) iter.Seq2[*ledger.Record, error] {
	first, last := nanos(from), min(nanos(until)-1, v.at)
	infos, err := v.book.blockInfos(ctx, `SELECT `+infoColumns+` FROM block INDEXED BY block_by_instant
		WHERE yard = (SELECT id FROM word WHERE text = ?1) AND last_at >= ?2 AND first_at <= ?3 AND first_seq < ?4
		AND kind NOT IN (SELECT w.id FROM json_each(?5) j JOIN word w ON w.text = j.value)
		ORDER BY first_at, id`, yard, first, last, v.size, kindList(but...))
	if err != nil {
		return failed(err)
	}
	return v.book.recordsInTime(ctx, infos, window{first: first, last: last, size: v.size})
}

// LastInstant returns the instant of the last record of a yard that has one; zero where there is none.
func (v View) LastInstant(ctx context.Context, yard string) (last time.Time, err error) {
	if err := v.book.settle(ctx); err != nil {
		return last, err
	}
	err = v.book.each(ctx, `SELECT id, last_at FROM block INDEXED BY block_by_instant
		WHERE yard = (SELECT id FROM word WHERE text = ?1) AND last_at IS NOT NULL AND first_at <= ?2 AND first_seq < ?3
		ORDER BY last_at DESC`, []any{yard, v.at, v.size}, func(s *sqlite3.Stmt) error {
		if !last.IsZero() && s.ColumnInt64(1) <= last.UnixNano() {
			return errStop
		}
		var recs []*ledger.Record
		bl, err := v.book.readBlock(ctx, s.ColumnInt64(0))
		if err == nil {
			recs, err = bl.inTime(window{first: math.MinInt64, last: v.at, size: v.size})
		}
		if err == nil && len(recs) > 0 && recs[len(recs)-1].At.After(last) {
			last = recs[len(recs)-1].At
		}
		return err
	})
	return last, err
}

// Late returns the records of a yard whose instant lies before an instant and whose place in the log is
// fromSeq or later, in the order of ledger.Record.Compare. It reads the log from fromSeq on, and nothing
// before it.
func (v View) Late(ctx context.Context, yard string, before time.Time, fromSeq int64) iter.Seq2[*ledger.Record, error] {
	last := min(nanos(before)-1, v.at)
	infos, err := v.book.blockInfos(ctx, `SELECT `+infoColumns+` FROM block INDEXED BY block_by_place
		WHERE yard = (SELECT id FROM word WHERE text = ?1) AND last_seq >= ?2 AND first_at <= ?3 AND first_seq < ?4
		ORDER BY first_at, id`, yard, fromSeq, last, v.size)
	if err != nil {
		return failed(err)
	}
	return v.book.recordsInTime(ctx, infos, window{first: math.MinInt64, last: last, fromSeq: fromSeq, size: v.size})
}

// Records returns the records of some kinds, or all records where none is named, by place in the log.
func (v View) Records(ctx context.Context, kinds ...ledger.Kind) iter.Seq2[*ledger.Record, error] {
	query, args := `SELECT `+infoColumns+` FROM block WHERE first_seq < ? ORDER BY first_seq`, []any{v.size}
	if len(kinds) > 0 {
		query, args = ofKinds+" ORDER BY first_seq", []any{kindList(kinds...), v.size}
	}
	infos, err := v.book.blockInfos(ctx, query, args...)
	if err != nil {
		return failed(err)
	}
	return v.known(v.book.recordsInLog(ctx, infos, every))
}

// kindList is a JSON array of the names of kinds, for json_each.
func kindList(kinds ...ledger.Kind) string {
	names := make([]string, len(kinds))
	for i, k := range kinds {
		names[i] = k.String()
	}
	list, _ := json.Marshal(names) // strings always marshal
	return string(list)
}
