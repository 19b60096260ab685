package sqlite_test

import (
	"context"
	"fmt"
	"iter"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"repose/internal/merkle"
	"repose/internal/sqlite"
	"repose/ledger"
)

// model is the book as a list in memory.
type model struct {
	log     []ledger.Record
	batches []modelBatch
	files   []string // SHA-256 of each
}

type modelBatch struct {
	size int64
	at   time.Time
}

// append says what should become of a record, and enters it if it is new.
func (m *model) append(rec ledger.Record, by string, now time.Time) (sqlite.Outcome, *ledger.Record) {
	var latest *ledger.Record
	for i := range m.log {
		held := &m.log[i]
		if held.Yard != rec.Yard || held.Fact.Kind() != rec.Fact.Kind() || held.Fact.Key() != rec.Fact.Key() {
			continue
		}
		if string(held.AppendBody(nil)) == string(rec.AppendBody(nil)) {
			return sqlite.Held, held
		}
		latest = held
	}
	if latest != nil && rec.Replaces != rec.Fact.Key() {
		return sqlite.Conflicting, latest
	}
	if latest != nil {
		rec.Revision = latest.Revision + 1
	} else if rec.Replaces == rec.Fact.Key() {
		rec.Replaces = "" // there is nothing to replace
	}
	rec.Seq, rec.By, rec.Recorded = int64(len(m.log)), by, now
	m.log = append(m.log, rec)
	return sqlite.New, nil
}

func (m *model) head() sqlite.Head {
	var f merkle.Frontier
	for i := range m.log {
		f.Append(merkle.LeafHash(m.log[i].AppendLine(nil)))
	}
	return sqlite.Head{Size: f.Size(), Root: f.Root().String()}
}

// lines are records as a reader of a failed test wants to see them.
func lines(records iter.Seq2[*ledger.Record, error]) []string {
	var out []string
	for rec, err := range records {
		if err != nil {
			return append(out, "error: "+err.Error())
		}
		out = append(out, string(rec.AppendLine(nil)))
	}
	return out
}

// where selects from the first size records of the log, in the log's order.
func (m *model) where(size int64, keep func(*ledger.Record) bool) []ledger.Record {
	var list []ledger.Record
	for _, rec := range m.log[:size] {
		if keep(&rec) {
			list = append(list, rec)
		}
	}
	return list
}

func inLogOrder(list []ledger.Record) iter.Seq2[*ledger.Record, error] {
	return func(yield func(*ledger.Record, error) bool) {
		for i := range list {
			if !yield(&list[i], nil) {
				return
			}
		}
	}
}

func inEntryOrder(list []ledger.Record) iter.Seq2[*ledger.Record, error] {
	list = slices.Clone(list)
	slices.SortFunc(list, func(a, b ledger.Record) int { return a.Compare(&b) })
	return inLogOrder(list)
}

var registerKinds = []ledger.Kind{ledger.KindYardRecord, ledger.KindProductRecord, ledger.KindPileRecord,
	ledger.KindInstrumentRecord, ledger.KindHoursRecord, ledger.KindPolicyRecord, ledger.KindMoistureRecord,
	ledger.KindDensityRecord, ledger.KindSurveyRecord}

// check compares everything that can be read with the model, as of the first size records.
func (m *model) check(t *rapid.T, book *sqlite.Book, size int64) {
	ctx := context.Background()
	view := book.At(size)
	compare := func(what string, want, got []string) {
		if d := cmp.Diff(want, got); d != "" {
			t.Fatalf("%s of %d records (-want +got):\n%s", what, size, d)
		}
	}
	all := m.where(size, func(*ledger.Record) bool { return true })
	compare("log", lines(inLogOrder(all)), lines(view.Records(ctx)))
	kinds := []ledger.Kind{ledger.KindLoadRecord, ledger.KindDecisionRecord}
	compare("two kinds", lines(inLogOrder(m.where(size, func(r *ledger.Record) bool { return slices.Contains(kinds, r.Fact.Kind()) }))),
		lines(view.Records(ctx, kinds...)))
	registers, err := view.Registers(ctx)
	if err != nil {
		t.Fatal(err)
	}
	compare("registers", lines(inLogOrder(m.where(size, func(r *ledger.Record) bool {
		return slices.Contains(registerKinds, r.Fact.Kind()) || r.Replaces != ""
	}))), lines(inLogOrder(registers)))
	from, until := epoch().Add(time.Hour), epoch().Add(3*time.Hour)
	bare, err := view.BareRegisters(ctx)
	if err != nil {
		t.Fatal(err)
	}
	compare("bare registers", lines(inLogOrder(m.where(size, func(r *ledger.Record) bool {
		return slices.Contains(registerKinds, r.Fact.Kind()) && !ledger.IsMeasured(r.Fact.Kind()) || r.Replaces != ""
	}))), lines(inLogOrder(bare)))
	measured, err := view.Measured(ctx, "SOUTH", from, until)
	if err != nil {
		t.Fatal(err)
	}
	compare("measured", lines(inLogOrder(m.where(size, func(r *ledger.Record) bool {
		return r.Yard == "SOUTH" && ledger.IsMeasured(r.Fact.Kind()) && r.Replaces == "" && !r.At.Before(from) && r.At.Before(until)
	}))), lines(inLogOrder(measured)))
	for _, kind := range []ledger.Kind{ledger.KindMoistureRecord, ledger.KindDensityRecord} {
		for _, beginning := range []string{"pile/P1/", "product/P2/"} {
			older := m.where(size, func(r *ledger.Record) bool {
				return r.Yard == "NORTH" && r.Fact.Kind() == kind && strings.HasPrefix(r.Fact.Key(), beginning) && r.At.Before(from)
			})
			if has, err := view.HasOlder(ctx, kind, "NORTH", beginning, from); err != nil || has != (len(older) > 0) {
				t.Fatalf("%v of %s before %v of %d records: %v (%v), want %d", kind, beginning, from, size, has, err, len(older))
			}
		}
	}
	var tested time.Time
	for _, r := range m.where(size, func(r *ledger.Record) bool { return r.Yard == "SOUTH" && ledger.IsMeasured(r.Fact.Kind()) }) {
		if r.At.After(tested) {
			tested = r.At
		}
	}
	if last, err := view.LastMeasured(ctx, "SOUTH"); err != nil || last.Before(tested) || size == int64(len(m.log)) && !last.Equal(tested) {
		t.Fatalf("no test or survey of %d records after %v (%v), want %v", size, last, err, tested)
	}
	compare("movements", lines(inEntryOrder(m.where(size, func(r *ledger.Record) bool {
		return r.Yard == "NORTH" && !r.At.IsZero() && !r.At.Before(from) && r.At.Before(until)
	}))), lines(view.Movements(ctx, "NORTH", from, until)))
	fromSeq := size / 2
	compare("late", lines(inEntryOrder(m.where(size, func(r *ledger.Record) bool {
		return r.Yard == "SOUTH" && !r.At.IsZero() && r.At.Before(until) && r.Seq >= fromSeq
	}))), lines(view.Late(ctx, "SOUTH", until, fromSeq)))
}

// checkRecords looks every record up by its ID and by where it was read.
func (m *model) checkRecords(t *rapid.T, book *sqlite.Book) {
	ctx := context.Background()
	for i := range m.log {
		want := &m.log[i]
		got, err := book.ByID(ctx, want.ID())
		if err != nil {
			t.Fatal(err)
		}
		if first := m.firstOfID(want.ID()); string(got.AppendLine(nil)) != string(first.AppendLine(nil)) {
			t.Fatalf("record of ID %s:\n%s\nwant\n%s", want.ID(), got.AppendLine(nil), first.AppendLine(nil))
		}
		if want.Source.File == "" {
			continue
		}
		of := func(r *ledger.Record) bool {
			return r.Source.File == want.Source.File && r.Source.Row == want.Source.Row
		}
		bySource, err := book.BySource(ctx, want.Source.File[:8], want.Source.Row)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(lines(inLogOrder(m.where(int64(len(m.log)), of))), lines(pointers(bySource))); d != "" {
			t.Fatalf("records of row %d (-want +got):\n%s", want.Source.Row, d)
		}
	}
}

// firstOfID returns the record that an ID names: a key may end as if it were a revision, and then the
// record whose whole key that is comes first.
func (m *model) firstOfID(id string) *ledger.Record {
	var found *ledger.Record
	for i := range m.log {
		if rec := &m.log[i]; rec.ID() == id && (found == nil || rec.Revision == 0) {
			found = rec
		}
	}
	return found
}

func pointers(list []*ledger.Record) iter.Seq2[*ledger.Record, error] {
	return func(yield func(*ledger.Record, error) bool) {
		for _, rec := range list {
			if !yield(rec, nil) {
				return
			}
		}
	}
}

// batch takes some records in, in the book and in the model, and commits or rolls back.
func (m *model) batch(t *rapid.T, book *sqlite.Book) {
	ctx := context.Background()
	by := rapid.SampledFrom([]string{"clerk", "other clerk"}).Draw(t, "by")
	now := epoch().Add(time.Duration(len(m.batches)) * 24 * time.Hour)
	before := model{slices.Clone(m.log), m.batches, slices.Clone(m.files)}
	tx, err := book.Begin(ctx, by, now)
	if err != nil {
		t.Fatal(err)
	}
	defer tx.Rollback()
	if rapid.Bool().Draw(t, "with a file") {
		m.addFile(t, tx, by, now)
	}
	for range rapid.IntRange(0, 7).Draw(t, "records") {
		rec := someRecord(t, m.files)
		want, wantHeld := m.append(rec, by, now)
		got, held, err := tx.Append(&rec)
		if err != nil {
			t.Fatal(err)
		}
		if got != want || (held == nil) != (wantHeld == nil) || held != nil && held.Seq != wantHeld.Seq {
			t.Fatalf("outcome of %s: %v, held %v; want %v, held %v", rec.ID(), got, held, want, wantHeld)
		}
		if last := m.log[max(len(m.log)-1, 0):]; want == sqlite.New && string(rec.AppendLine(nil)) != string(last[0].AppendLine(nil)) {
			t.Fatalf("record is set to\n%s\nwant\n%s", rec.AppendLine(nil), last[0].AppendLine(nil))
		}
	}
	if head := m.head(); tx.Head() != head {
		t.Fatalf("head in the transaction: %v, want %v", tx.Head(), head)
	}
	if rapid.Bool().Draw(t, "read before the end") { // what is not committed yet is seen
		m.check(t, book, int64(len(m.log)))
	}
	if rapid.IntRange(0, 3).Draw(t, "rollback") == 0 {
		*m = before
		if err := tx.Rollback(); err != nil {
			t.Fatal(err)
		}
		return
	}
	if err := tx.Commit(); err != nil {
		t.Fatal(err)
	}
	if len(m.log) > len(before.log) {
		m.batches = append(m.batches, modelBatch{int64(len(m.log)), now})
	}
}

func (m *model) addFile(t *rapid.T, tx *sqlite.Tx, by string, now time.Time) {
	text := fmt.Sprintf("file %d", rapid.IntRange(0, 3).Draw(t, "content"))
	sha, isNew, err := tx.AddFile("day/loads.csv", strings.NewReader(text), "")
	if err != nil {
		t.Fatal(err)
	}
	if known := slices.Contains(m.files, sha); isNew == known {
		t.Fatalf("file %q is new: %v, and it was known: %v", text, isNew, known)
	}
	if isNew {
		m.files = append(m.files, sha)
		rec, err := ledger.NewRecord("", ledger.SourceFile{Name: "day/loads.csv", SHA256: sha, Bytes: int64(len(text))})
		if err != nil {
			t.Fatal(err)
		}
		m.append(rec, by, now)
	}
}

func TestBookAgreesWithModel(t *testing.T) {
	dir := t.TempDir()
	n := 0
	rapid.Check(t, func(t *rapid.T) {
		ctx := context.Background()
		n++
		path := filepath.Join(dir, fmt.Sprintf("%d.book", n))
		rows := rapid.SampledFrom([]int{1, 2, 5, 512}).Draw(t, "rows of a block")
		book := openFast(t, path, sqlite.Create)
		book.SetBlockRows(rows)
		defer func() { book.Close() }()
		var m model
		for range rapid.IntRange(1, 4).Draw(t, "batches") {
			m.batch(t, book)
			if rapid.Bool().Draw(t, "reopen") {
				book.Close()
				book = openFast(t, path, sqlite.ReadWrite)
				book.SetBlockRows(rows)
			}
		}
		m.check(t, book, rapid.Int64Range(0, int64(len(m.log))).Draw(t, "known"))
		m.checkRecords(t, book)
		head, err := book.Head(ctx)
		if want := m.head(); err != nil || head != want {
			t.Fatalf("head %v, error %v, want %v", head, err, want)
		}
		for _, b := range m.batches {
			if size, err := book.SizeKnownAt(ctx, b.at); size != b.size || err != nil {
				t.Fatalf("size known at %v: %d, error %v, want %d", b.at, size, err, b.size)
			}
		}
		v, err := book.Verify(ctx, nil)
		if err != nil || !v.OK() || v.Records != head.Size || v.Head != head && head.Size > 0 {
			t.Fatalf("verification %+v, error %v", v, err)
		}
	})
}

// fataler is a *testing.T or a *rapid.T.
type fataler interface {
	Helper()
	Fatal(...any)
}

func mustOpen(t fataler, path string, mode sqlite.Mode) *sqlite.Book {
	t.Helper()
	book, err := sqlite.Open(context.Background(), path, mode)
	if err != nil {
		t.Fatal(err)
	}
	return book
}

// openFast opens a book that does not wait for the disk.
func openFast(t fataler, path string, mode sqlite.Mode) *sqlite.Book {
	t.Helper()
	book := mustOpen(t, path, mode)
	if err := book.Exec("PRAGMA synchronous = OFF"); err != nil {
		t.Fatal(err)
	}
	return book
}
