package sqlite

import (
	"context"
	"fmt"
	"iter"
	"strconv"
	"strings"

	"github.com/ncruces/go-sqlite3"

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

// revision returns nil where there is no such record.
func (b *Book) revision(ctx context.Context, kind, yard, key string, revision int) (*ledger.Record, error) {
	seq := int64(-1)
	err := b.each(ctx, "SELECT seq FROM name WHERE text = ? AND revision = ?", []any{kind + ":" + yard + ":" + key, revision}, func(s *sqlite3.Stmt) error {
		seq = s.ColumnInt64(0)
		return nil
	})
	if err != nil || seq < 0 {
		return nil, err
	}
	return b.at(ctx, kind, yard, seq)
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
	// By the whole key, and else by its last part or a survey's number.
	for _, query := range []string{
		`substr(text, -length(?1) - 1) = ':' || ?1`,
		`substr(text, -length(?1) - 1) = '/' || ?1 OR text LIKE 'survey:%' AND instr(text, ':' || ?1 || '/') > 0`,
	} {
		found, err := b.named(ctx, query, text)
		if len(found) > 0 || err != nil {
			return found, err
		}
	}
	return nil, nil
}

// named returns the records whose names a condition on name.text selects and that text is a part of: the key, what follows
// its last slash, or the number of a survey. They come by place in the log.
func (b *Book) named(ctx context.Context, condition, text string) (found []*ledger.Record, err error) {
	type name struct {
		text string
		seq  int64
	}
	var names []name
	err = b.each(ctx, "SELECT text, seq FROM name WHERE "+condition+" ORDER BY seq", []any{text}, func(s *sqlite3.Stmt) error {
		names = append(names, name{s.ColumnText(0), s.ColumnInt64(1)})
		return nil
	})
	if err != nil {
		return nil, err
	}
	for _, n := range names {
		parts := strings.SplitN(n.text, ":", 3)
		if len(parts) < 3 {
			return nil, b.explain(ctx, fmt.Errorf("%w: a record is called %q", ErrDamaged, n.text))
		}
		kind, yard, key := parts[0], parts[1], parts[2]
		if key != text && !strings.HasSuffix(key, "/"+text) && !(kind == ledger.KindSurveyRecord.String() && strings.HasPrefix(key, text+"/")) {
			continue
		}
		rec, err := b.at(ctx, kind, yard, n.seq)
		if err != nil {
			return nil, err
		}
		found = append(found, rec)
	}
	return found, nil
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
		records, err := collect(b.fromRow(ctx, f.SHA256, row))
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

// fromRow returns the records of a row of a file, by place in the log.
func (b *Book) fromRow(ctx context.Context, sha string, row int) iter.Seq2[*ledger.Record, error] {
	infos, err := b.blockInfos(ctx, `SELECT DISTINCT `+infoColumns+` FROM (
		SELECT b.id, b.kind, b.yard, b.records, NULL AS packed, b.first_seq, b.first_at, b.last_at FROM file f
		CROSS JOIN source s ON s.file = f.id
		CROSS JOIN tally t ON t.source = s.id
		CROSS JOIN block b ON b.kind = t.kind AND b.first_seq <= t.last_seq AND b.last_seq >= t.first_seq
		WHERE f.sha256 = unhex(?)) ORDER BY first_seq`, sha)
	if err != nil {
		return failed(err)
	}
	return b.recordsInLog(ctx, infos, func(bl *block, i int) (bool, error) {
		if bl.rows[i] != int64(row) || bl.sources[i] == 0 {
			return false, nil
		}
		s, err := at(bl.known.sources, bl.sources[i], "source")
		return err == nil && s.File == sha, err
	})
}
