package sqlite

import (
	"context"
	"fmt"
	"iter"
	"strconv"
	"strings"

	"repose/ledger"
)

// ByID returns the record of an ID, or ErrNoRecord.
func (b *Book) ByID(ctx context.Context, id string) (*ledger.Record, error) {
	rec, err := b.byID(ctx, id)
	if err == nil && rec == nil {
		err = b.explain(ctx, fmt.Errorf("%w: %q", ErrNoRecord, id))
	}
	return rec, err
}

// byID returns nil for an ID that the book does not hold. A key may end in a number sign and a number of
// its own, so the ID is tried as it stands first.
func (b *Book) byID(ctx context.Context, id string) (*ledger.Record, error) {
	parts := strings.SplitN(id, ":", 3)
	if len(parts) < 3 {
		return nil, nil
	}
	kind, yard, key := parts[0], parts[1], parts[2]
	rec, err := b.revision(ctx, kind, yard, key, 0)
	if rec != nil || err != nil {
		return rec, err
	}
	i := strings.LastIndexByte(key, '#')
	if i < 0 {
		return nil, nil
	}
	n, err := strconv.Atoi(key[i+1:])
	if err != nil || n < 2 {
		return nil, nil
	}
	return b.revision(ctx, kind, yard, key[:i], n-1)
}

func (b *Book) revision(ctx context.Context, kind, yard, key string, revision int) (*ledger.Record, error) {
	found, err := collect(b.records(ctx, `SELECT `+recordColumns+` FROM record r
		WHERE r.kind = (SELECT id FROM word WHERE text = ?1) AND r.yard = (SELECT id FROM word WHERE text = ?2)
		AND r.key = ?3 AND r.revision = ?4`, kind, yard, key, revision))
	if len(found) == 0 {
		return nil, err
	}
	return found[0], err
}

func collect(records iter.Seq2[*ledger.Record, error]) ([]*ledger.Record, error) {
	var list []*ledger.Record
	for rec, err := range records {
		if err != nil {
			return nil, err
		}
		list = append(list, rec)
	}
	return list, nil
}

// Lookup finds records by what a person knows of them: the ID, else the natural key, else the last part of
// the key, such as a ticket number, or the number of a survey. All revisions of a key are returned; none is no error.
func (b *Book) Lookup(ctx context.Context, text string) ([]*ledger.Record, error) {
	switch rec, err := b.byID(ctx, text); {
	case err != nil:
		return nil, err
	case rec != nil:
		return []*ledger.Record{rec}, nil
	}
	found, err := collect(b.records(ctx, `SELECT `+recordColumns+` FROM record r WHERE r.seq IN (
		SELECT seq FROM record WHERE key = ?1) ORDER BY r.seq`, text))
	if len(found) > 0 || err != nil {
		return found, err
	}
	return collect(b.records(ctx, `SELECT `+recordColumns+` FROM record r WHERE r.seq IN (
		SELECT seq FROM record WHERE substr(key, -length(?1) - 1) = '/' || ?1 OR kind = (SELECT id FROM word WHERE text = ?2) AND substr(key, 1, length(?1) + 1) = ?1 || '/')
		ORDER BY r.seq`, text, ledger.KindSurveyRecord.String()))
}

// BySource returns the records of a row, counted from 1, of the files that a text names: their name, its
// last part, or the beginning of their SHA-256 in hex, from six digits on.
func (b *Book) BySource(ctx context.Context, file string, row int) ([]*ledger.Record, error) {
	files, err := b.Latest().Files(ctx)
	if err != nil {
		return nil, err
	}
	var found []*ledger.Record
	named := false
	for _, f := range files {
		if !f.isNamed(file) {
			continue
		}
		named = true
		records, err := collect(b.records(ctx, `SELECT `+recordColumns+` FROM file f
			CROSS JOIN source s ON s.file = f.id
			CROSS JOIN tally t ON t.source = s.id
			CROSS JOIN record r NOT INDEXED ON r.seq BETWEEN t.first_seq AND t.last_seq AND r.kind = t.kind AND r.source = s.id
			WHERE f.sha256 = unhex(?) AND r.row = ? ORDER BY r.seq`, f.SHA256, row))
		if err != nil {
			return nil, err
		}
		found = append(found, records...)
	}
	if !named {
		return nil, b.explain(ctx, fmt.Errorf("%w: %q", ErrNoFile, file))
	}
	return found, nil
}
