package sqlite

import (
	"cmp"
	"context"
	"encoding/hex"
	"fmt"
	"slices"
	"time"

	"github.com/ncruces/go-sqlite3"

	"repose/ledger"
)

// dictionary holds the small tables that records refer to. They only grow, so what has been read stays
// true; the rest is read when a record needs it. IDs count from 1 without a gap.
type dictionary struct {
	words     []word          // by id - 1
	sources   []ledger.Source // by id - 1; Row is 0
	batches   []batch         // by size
	wordIDs   map[string]int64
	sourceIDs map[ledger.Source]int64
}

// word is a text, and the kind of record that it names, if it does.
type word struct {
	text string
	kind ledger.Kind
}

// batch says who appended the records before size, since the batch before, and when.
type batch struct {
	size       int64
	recordedAt time.Time
	recordedBy string
}

// load reads what other programs, or this one, have added since the last time.
func (b *Book) load(ctx context.Context) error {
	d := &b.dict
	if d.wordIDs == nil {
		d.wordIDs, d.sourceIDs = map[string]int64{}, map[ledger.Source]int64{}
	}
	inOrder := func(table string, id int64, have int) error {
		if id != int64(have)+1 {
			return fmt.Errorf("%w: table %s has %d after %d", ErrDamaged, table, id, have)
		}
		return nil
	}
	err := b.each(ctx, "SELECT id, text FROM word WHERE id > ? ORDER BY id", []any{len(d.words)}, func(s *sqlite3.Stmt) error {
		d.addWord(s.ColumnText(1))
		return inOrder("word", s.ColumnInt64(0), len(d.words)-1)
	})
	if err != nil {
		return err
	}
	err = b.each(ctx, `SELECT s.id, f.sha256, s.sheet FROM source s JOIN file f ON f.id = s.file
		WHERE s.id > ? ORDER BY s.id`, []any{len(d.sources)}, func(s *sqlite3.Stmt) error {
		d.addSource(ledger.Source{File: hex.EncodeToString(s.ColumnRawBlob(1)), Sheet: s.ColumnText(2)})
		return inOrder("source", s.ColumnInt64(0), len(d.sources)-1)
	})
	if err != nil {
		return err
	}
	return b.each(ctx, "SELECT size, recorded_at, recorded_by FROM batch WHERE size > ? ORDER BY size", []any{d.logged()},
		func(s *sqlite3.Stmt) error {
			by, err := at(d.words, s.ColumnInt64(2), "word")
			if err == nil {
				d.batches = append(d.batches, batch{s.ColumnInt64(0), instant(s.ColumnInt64(1)), by.text})
			}
			return err
		})
}

// logged returns how many records the batches account for.
func (d *dictionary) logged() int64 {
	if len(d.batches) == 0 {
		return 0
	}
	return d.batches[len(d.batches)-1].size
}

func (d *dictionary) addWord(text string) {
	k, _ := ledger.ParseKind(text) // most words are not kinds
	d.words = append(d.words, word{text, k})
	d.wordIDs[text] = int64(len(d.words))
}

func (d *dictionary) addSource(s ledger.Source) {
	d.sources = append(d.sources, s)
	d.sourceIDs[s] = int64(len(d.sources))
}

// mark remembers how far the dictionary went before a transaction.
type mark struct{ words, sources int }

func (d *dictionary) mark() mark { return mark{len(d.words), len(d.sources)} }

// cut forgets what a transaction added that is rolled back.
func (d *dictionary) cut(m mark) {
	for _, w := range d.words[m.words:] {
		delete(d.wordIDs, w.text)
	}
	for _, s := range d.sources[m.sources:] {
		delete(d.sourceIDs, s)
	}
	d.words, d.sources = d.words[:m.words], d.sources[:m.sources]
}

// at returns the element that an id stands for.
func at[T any](list []T, id int64, what string) (v T, err error) {
	if id < 1 || id > int64(len(list)) {
		return v, fmt.Errorf("%w: no %s %d", ErrDamaged, what, id)
	}
	return list[id-1], nil
}

// batchOf returns the batch of a record and the place of the first record of the batch; ok is false where the batches end
// before it.
func batchOf(batches []batch, seq int64) (from int64, b batch, ok bool) {
	i, _ := slices.BinarySearchFunc(batches, seq+1, func(b batch, size int64) int { return cmp.Compare(b.size, size) })
	if i == len(batches) {
		return 0, batch{}, false
	}
	if i > 0 {
		from = batches[i-1].size
	}
	return from, batches[i], true
}
