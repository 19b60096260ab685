package sqlite

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"github.com/ncruces/go-sqlite3"

	"repose/internal/merkle"
	"repose/internal/packed"
	"repose/ledger"
)

// blockRows is how many records a block holds at most. More take less room each, and longer to find one of.
const blockRows = 512

// blockBytes is after how many bytes of lines a block takes no more records.
const blockBytes = 1 << 20

// blockKey is what all records of a block have in common, by the ids of the words.
type blockKey struct{ kind, yard int64 }

// place is what a record is in a block besides its fields.
type place struct {
	seq, revision int64
	at            int64 // nanoseconds, where hasAt
	hasAt         bool
	source, row   int64 // 0 for none
	replaces      bool
}

// blockWriter collects the records of one kind and yard until they are a block.
type blockWriter struct {
	blockKey
	limit                          int // of records
	seqs, revisions, sources, rows []int64
	leaves                         []byte
	columns                        []*textColumn
	firstAt, lastAt                int64
	instants, replacing, size      int
}

// textColumn holds the values of a field, empty where a record has none of that name: no field is empty.
type textColumn struct {
	name string
	packed.Texts
}

func (w *blockWriter) len() int { return len(w.seqs) }

// add adds a record whose fields lie at the spans of a text. ok is false, and nothing is added, where the block is full, or
// they stand in an order that no order of columns keeps.
func (w *blockWriter) add(p place, leaf merkle.Hash, text []byte, fields []ledger.Span) (ok bool) {
	if w.len() >= w.limit || w.size > blockBytes {
		return false
	}
	if w.len() == 0 && !w.fits(fields) {
		w.columns = nil // of the blocks before
	}
	if !w.fits(fields) {
		return false
	}
	for _, c := range w.columns {
		if len(fields) > 0 && fields[0].Name == c.name {
			c.Add(text[fields[0].Start:fields[0].End])
			fields = fields[1:]
		} else {
			c.Add(nil)
		}
	}
	w.seqs, w.revisions = append(w.seqs, p.seq), append(w.revisions, p.revision)
	w.sources, w.rows = append(w.sources, p.source), append(w.rows, p.row)
	w.leaves = append(w.leaves, leaf[:]...)
	if p.hasAt {
		if w.instants == 0 {
			w.firstAt, w.lastAt = p.at, p.at
		}
		w.firstAt, w.lastAt = min(w.firstAt, p.at), max(w.lastAt, p.at)
		w.instants++
	}
	if p.replaces {
		w.replacing++
	}
	return true
}

// fits makes room for the fields' names among the columns, in their order. It is false where that cannot be.
func (w *blockWriter) fits(fields []ledger.Span) bool {
	same := len(fields) == len(w.columns)
	for i := 0; same && i < len(fields); i++ {
		same = fields[i].Name == w.columns[i].name
	}
	if same {
		return true
	}
	c := 0
	for _, f := range fields {
		if c < len(w.columns) && w.columns[c].name == f.Name {
			c++
			continue
		}
		at := -1
		for i, column := range w.columns {
			if column.name == f.Name {
				at = i
			}
		}
		switch {
		case at >= c:
			c = at + 1
		case at >= 0:
			return false
		default:
			w.columns = slices.Insert(w.columns, c, &textColumn{name: f.Name})
			w.columns[c].Pad(w.len())
			c++
		}
	}
	return true
}

// find returns which record of the block has a place in the log, or -1.
func find(seqs []int64, seq int64) int {
	if i, ok := slices.BinarySearch(seqs, seq); ok {
		return i
	}
	return -1
}

// one returns a block of one of the records that have been collected.
func (w *blockWriter) one(i int) (*block, error) {
	b := &block{blockKey: w.blockKey, seqs: w.seqs[i : i+1], revisions: w.revisions[i : i+1], sources: w.sources[i : i+1], rows: w.rows[i : i+1]}
	for _, c := range w.columns {
		values := []string{string(c.At(i))}
		if err := unescape(values); err != nil {
			return nil, err
		}
		b.columns = append(b.columns, blockColumn{c.name, values})
	}
	return b, nil
}

// reset empties the writer for the next block of its kind and yard.
func (w *blockWriter) reset() {
	for _, c := range w.columns {
		c.Reset()
	}
	w.seqs, w.revisions, w.sources, w.rows, w.leaves = w.seqs[:0], w.revisions[:0], w.sources[:0], w.rows[:0], w.leaves[:0]
	w.instants, w.replacing, w.size = 0, 0, 0
}

// appendTo appends the block's bytes.
func (w *blockWriter) appendTo(b []byte) []byte {
	b = packed.AppendCount(b, w.len())
	for _, column := range [][]int64{w.seqs, w.revisions, w.sources, w.rows} {
		b = packed.AppendInts(b, column)
	}
	b = append(b, w.leaves...)
	used := 0
	for _, c := range w.columns {
		if c.Size() > 0 {
			used++
		}
	}
	b = packed.AppendCount(b, used)
	for _, c := range w.columns {
		if c.Size() > 0 {
			b = c.AppendTo(packed.AppendText(b, c.name))
		}
	}
	return b
}

// block is a block that was read.
type block struct {
	blockKey
	kindWord                       ledger.Kind
	yardWord                       string
	seqs, revisions, sources, rows []int64
	leaves                         string
	known                          knowledge
	rest                           *packed.Reader // the columns of fields, until they are needed
	columns                        []blockColumn
	instants                       []string       // the column that says when, once it has been looked for
	fields                         []ledger.Field // of the record that was made last
	memo                           ledger.FieldMemo
}

type blockColumn struct {
	name   string
	values []string
}

// openBlock reads all of a block but its fields.
func openBlock(key blockKey, data []byte) (*block, error) {
	r := packed.NewReader(data)
	b := &block{blockKey: key, rest: r}
	n := r.Count(packed.MaxRows)
	b.seqs, b.revisions, b.sources, b.rows = r.Ints(n), r.Ints(n), r.Ints(n), r.Ints(n)
	b.leaves = r.Bytes(n * merkle.Size)
	return b, r.Err()
}

func (b *block) leaf(i int) (h merkle.Hash) {
	copy(h[:], b.leaves[i*merkle.Size:])
	return h
}

// unpack reads the columns of fields, once.
func (b *block) unpack() error {
	if b.rest == nil {
		return nil
	}
	r, n := b.rest, len(b.seqs)
	columns := make([]blockColumn, r.Count(packed.MaxRows))
	for i := range columns {
		columns[i] = blockColumn{r.Text(), r.Texts(n)}
		if r.Err() != nil {
			break
		}
		if err := unescape(columns[i].values); err != nil {
			return err
		}
	}
	if err := r.End(); err != nil {
		return err
	}
	b.columns, b.rest = columns, nil
	return nil
}

// unescape makes values of what a line has between its quotes.
func unescape(values []string) error {
	for i, v := range values {
		for j := range len(v) {
			if v[j] != '\\' {
				continue
			}
			text, err := ledger.UnescapeJSON(v)
			if err != nil {
				return err
			}
			values[i] = text
			break
		}
	}
	return nil
}

// replaces reports whether a record replaces another.
func (b *block) replaces(i int) (bool, error) {
	if b.revisions[i] > 0 {
		return true, nil
	}
	err := b.unpack()
	column := b.column("replaces")
	return column != nil && column[i] != "", err
}

// column returns the values of a field, once the block is unpacked; nil where no record has it.
func (b *block) column(name string) []string {
	for _, c := range b.columns {
		if c.name == name {
			return c.values
		}
	}
	return nil
}

// fieldsOf returns the fields of a record in order. They are valid until the next call.
func (b *block) fieldsOf(i int) ([]ledger.Field, error) {
	if err := b.unpack(); err != nil {
		return nil, err
	}
	b.fields = b.fields[:0]
	for _, c := range b.columns {
		if v := c.values[i]; v != "" {
			b.fields = append(b.fields, ledger.Field{Name: c.name, Value: v})
		}
	}
	return b.fields, nil
}

// record makes a record of a block. It is safe beside other uses of the book, and of other blocks.
func (b *block) record(i int, rec *ledger.Record) error {
	*rec = ledger.Record{Seq: b.seqs[i], Revision: int(b.revisions[i]), Yard: b.yardWord}
	fields, err := b.fieldsOf(i)
	if err == nil {
		err = rec.SetFields(b.kindWord, fields, &b.memo)
	}
	if err != nil {
		return recordError(rec.Seq, fmt.Errorf("%w: %v", ErrDamaged, err))
	}
	if source := b.sources[i]; source != 0 {
		if rec.Source, err = at(b.known.sources, source, "source"); err != nil {
			return recordError(rec.Seq, err)
		}
		rec.Source.Row = int(b.rows[i])
	}
	return b.known.setIntake(rec)
}

// knowledge is what a book knew when a block was read: what its records refer to.
type knowledge struct {
	sources []ledger.Source
	batches []batch
	from    int64 // where the batch that was found last begins
	in      batch

	pending int64 // the first record of the open transaction, which took them in; the largest number where there is none
	now     time.Time
	by      string
}

// setIntake sets when the record was taken in and by whom: the batch says so, or the open transaction.
func (k *knowledge) setIntake(rec *ledger.Record) error {
	if rec.Seq >= k.pending {
		rec.Recorded, rec.By = k.now, k.by
		return nil
	}
	if rec.Seq < k.from || rec.Seq >= k.in.size { // most are of the batch of the one before
		var ok bool
		if k.from, k.in, ok = batchOf(k.batches, rec.Seq); !ok {
			return recordError(rec.Seq, fmt.Errorf("%w: no batch accounts for it", ErrDamaged))
		}
	}
	rec.Recorded, rec.By = k.in.recordedAt, k.in.recordedBy
	return nil
}

func (b *Book) knowledge() knowledge {
	k := knowledge{sources: b.dict.sources, batches: b.dict.batches, pending: math.MaxInt64}
	if b.tx != nil {
		k.pending, k.now, k.by = b.tx.first, b.tx.now, b.tx.by
	}
	return k
}

// scanBlock reads a block from a row that selects blockColumns.
func (b *Book) scanBlock(ctx context.Context, s *sqlite3.Stmt) (*block, error) {
	bl, err := openBlock(blockKey{s.ColumnInt64(1), s.ColumnInt64(2)}, s.ColumnRawBlob(3))
	blockError := func(err error) error { return fmt.Errorf("block %d: %w", s.ColumnInt64(0), err) }
	if err != nil {
		return nil, blockError(damaged(err))
	}
	if !b.reaches(bl) {
		if err := b.load(ctx); err != nil { // another program may have appended it since
			return nil, err
		}
	}
	if err := b.tie(bl); err != nil {
		return nil, blockError(err)
	}
	return bl, nil
}

// tie gives a block what its records refer to.
func (b *Book) tie(bl *block) error {
	kind, err := at(b.dict.words, bl.kind, "word")
	if err != nil {
		return err
	}
	yard, err := at(b.dict.words, bl.yard, "word")
	if err != nil {
		return err
	}
	bl.kindWord, bl.yardWord, bl.known = kind.kind, yard.text, b.knowledge()
	return nil
}

// reaches reports whether the dictionary has all that a block refers to.
func (b *Book) reaches(bl *block) bool {
	n := len(bl.seqs)
	if n == 0 {
		return true
	}
	return max(bl.kind, bl.yard) <= int64(len(b.dict.words)) && slices.Max(bl.sources) <= int64(len(b.dict.sources)) &&
		(bl.seqs[n-1] < b.dict.logged() || b.tx != nil && bl.seqs[0] >= b.tx.first)
}

// blockColumns is what scanBlock reads, in its order.
const blockColumns = "id, kind, yard, packed"
