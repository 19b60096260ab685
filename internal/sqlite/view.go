package sqlite

import (
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

// recordColumns is what scan reads, in its order.
const recordColumns = "r.seq, r.kind, r.yard, r.revision, r.source, r.row, r.body"

const (
	seqColumn = iota
	kindColumn
	yardColumn
	revisionColumn
	sourceColumn
	rowColumn
	bodyColumn
	nextColumn // the first that a query selects after recordColumns
)

// scan reads a record from a row of recordColumns. Each call returns a new one.
func (b *Book) scan(ctx context.Context, s *sqlite3.Stmt) (*ledger.Record, error) {
	rec := &ledger.Record{Seq: s.ColumnInt64(seqColumn), Revision: s.ColumnInt(revisionColumn)}
	kindID, yardID, sourceID := s.ColumnInt64(kindColumn), s.ColumnInt64(yardColumn), s.ColumnInt64(sourceColumn)
	if err := b.know(ctx, rec.Seq, max(kindID, yardID), sourceID); err != nil {
		return nil, err
	}
	kind, err := at(b.dict.words, kindID, "word")
	if err != nil {
		return nil, recordError(rec.Seq, err)
	}
	yard, err := at(b.dict.words, yardID, "word")
	if err != nil {
		return nil, recordError(rec.Seq, err)
	}
	if err := rec.SetBody(kind.kind, s.ColumnRawText(bodyColumn)); err != nil {
		return nil, recordError(rec.Seq, fmt.Errorf("%w: %v", ErrDamaged, err))
	}
	rec.Yard = yard.text
	if sourceID != 0 {
		if rec.Source, err = at(b.dict.sources, sourceID, "source"); err != nil {
			return nil, recordError(rec.Seq, err)
		}
		rec.Source.Row = s.ColumnInt(rowColumn)
	}
	return rec, b.setIntake(rec)
}

func recordError(seq int64, err error) error { return fmt.Errorf("record %d: %w", seq, err) }

// know makes sure that the dictionary reaches as far as a record needs.
func (b *Book) know(ctx context.Context, seq, word, source int64) error {
	pending := b.tx != nil && seq >= b.tx.first
	if word <= int64(len(b.dict.words)) && source <= int64(len(b.dict.sources)) && (pending || seq < b.dict.logged()) {
		return nil
	}
	return b.load(ctx)
}

// setIntake sets when the record was taken in and by whom: the batch says so, or the open transaction.
func (b *Book) setIntake(rec *ledger.Record) error {
	if b.tx != nil && rec.Seq >= b.tx.first {
		rec.Recorded, rec.By = b.tx.now, b.tx.by
		return nil
	}
	batch, ok := b.dict.batchOf(rec.Seq)
	if !ok {
		return recordError(rec.Seq, fmt.Errorf("%w: no batch accounts for it", ErrDamaged))
	}
	rec.Recorded, rec.By = batch.recordedAt, batch.recordedBy
	return nil
}

// Registers returns what a ledger.Register is built from: all yards, products, piles, instruments, hours,
// policies, tests, surveys and what was decided about them, and every record that replaces another, by place in the log.
func (v View) Registers(ctx context.Context) ([]ledger.Record, error) {
	kinds := kindList(ledger.KindYardRecord, ledger.KindProductRecord, ledger.KindPileRecord, ledger.KindInstrumentRecord,
		ledger.KindHoursRecord, ledger.KindPolicyRecord, ledger.KindMoistureRecord, ledger.KindDensityRecord,
		ledger.KindSurveyRecord, ledger.KindAdjustmentRecord)
	var records []ledger.Record
	for rec, err := range v.book.records(ctx, `SELECT `+recordColumns+` FROM record r WHERE r.seq IN (
			SELECT seq FROM record WHERE kind IN (SELECT w.id FROM json_each(?1) j JOIN word w ON w.text = j.value)
			UNION SELECT seq FROM record INDEXED BY record_by_replaced WHERE replaces IS NOT NULL)
		AND r.seq < ?2 AND (r.at IS NULL OR r.at <= ?3) ORDER BY r.seq`, kinds, v.size, v.at) {
		if err != nil {
			return nil, err
		}
		records = append(records, *rec)
	}
	return records, nil
}

// Movements returns the records of a yard whose instant lies in [from, until), in the order of
// ledger.Record.Compare.
func (v View) Movements(ctx context.Context, yard string, from, until time.Time) iter.Seq2[*ledger.Record, error] {
	return inOrder(v.book.records(ctx, `SELECT `+recordColumns+` FROM record r INDEXED BY record_by_instant
		WHERE r.yard = (SELECT id FROM word WHERE text = ?1) AND r.at >= ?2 AND r.at < ?3 AND r.at <= ?5 AND r.seq < ?4
		ORDER BY r.at`, yard, nanos(from), nanos(until), v.size, v.at))
}

// LastInstant returns the instant of the last record of a yard that has one; zero where there is none.
func (v View) LastInstant(ctx context.Context, yard string) (time.Time, error) {
	for rec, err := range v.book.records(ctx, `SELECT `+recordColumns+` FROM record r INDEXED BY record_by_instant
		WHERE r.yard = (SELECT id FROM word WHERE text = ?1) AND r.at <= ?3 AND r.seq < ?2 ORDER BY r.at DESC LIMIT 1`, yard, v.size, v.at) {
		if err != nil {
			return time.Time{}, err
		}
		return rec.At, nil
	}
	return time.Time{}, nil
}

// Late returns the records of a yard whose instant lies before an instant and whose place in the log is
// fromSeq or later, in the order of ledger.Record.Compare. It reads the log from fromSeq on, and nothing
// before it.
func (v View) Late(ctx context.Context, yard string, before time.Time, fromSeq int64) iter.Seq2[*ledger.Record, error] {
	return inOrder(v.book.records(ctx, `SELECT `+recordColumns+` FROM record r NOT INDEXED
		WHERE r.seq >= ?1 AND r.seq < ?2 AND r.yard = (SELECT id FROM word WHERE text = ?3) AND r.at < ?4 AND r.at <= ?5
		ORDER BY r.at`, fromSeq, v.size, yard, nanos(before), v.at))
}

// Records returns the records of some kinds, or all records where none is named, by place in the log.
func (v View) Records(ctx context.Context, kinds ...ledger.Kind) iter.Seq2[*ledger.Record, error] {
	if len(kinds) == 0 {
		return v.book.records(ctx, `SELECT `+recordColumns+` FROM record r WHERE r.seq < ? AND (r.at IS NULL OR r.at <= ?) ORDER BY r.seq`, v.size, v.at)
	}
	return v.book.records(ctx, `SELECT `+recordColumns+` FROM record r WHERE r.seq IN (
			SELECT seq FROM record WHERE kind IN (SELECT w.id FROM json_each(?1) j JOIN word w ON w.text = j.value))
		AND r.seq < ?2 AND (r.at IS NULL OR r.at <= ?3) ORDER BY r.seq`, kindList(kinds...), v.size, v.at)
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

// inOrder sorts records of one instant, which come in an order of instants, as the ledger enters them.
func inOrder(records iter.Seq2[*ledger.Record, error]) iter.Seq2[*ledger.Record, error] {
	return func(yield func(*ledger.Record, error) bool) {
		var same []*ledger.Record
		flush := func() bool {
			slices.SortFunc(same, (*ledger.Record).Compare)
			for _, rec := range same {
				if !yield(rec, nil) {
					return false
				}
			}
			same = same[:0]
			return true
		}
		for rec, err := range records {
			if err != nil {
				if flush() {
					yield(nil, err)
				}
				return
			}
			if len(same) > 0 && !same[0].At.Equal(rec.At) && !flush() {
				return
			}
			same = append(same, rec)
		}
		flush()
	}
}
