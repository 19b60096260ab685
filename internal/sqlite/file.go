package sqlite

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/klauspost/compress/flate"
	"github.com/ncruces/go-sqlite3"

	"repose/ledger"
)

// FileInfo is what the book knows of a file that was taken in.
type FileInfo struct {
	Name       string
	SHA256     string // lower-case hex
	Bytes      int64
	Map        string // SHA-256 of the column map it was read with; empty for none
	RecordedAt time.Time
	RecordedBy string
	Seq        int64   // of its own record in the log
	Tallies    []Tally // of the records that came from it and were new, by kind
}

// Tally counts the records of a kind that came from a file.
type Tally struct {
	Kind    ledger.Kind
	Records int64
	Net     ledger.Mass // as weighed, the sum of what loads, deck tickets and other movements state; void rows count nothing

	// First and Last are the natural keys of the first and the last of them in the log.
	First, Last string
}

// minPrefix is how many hex digits of a SHA-256 are taken to mean it.
const minPrefix = 6

// isNamed reports whether a text means the file: its name, the last part of its name, or the beginning of
// its SHA-256.
func (f FileInfo) isNamed(text string) bool {
	return text != "" && (f.Name == text || strings.HasSuffix(f.Name, "/"+text)) ||
		len(text) >= minPrefix && strings.HasPrefix(f.SHA256, strings.ToLower(text))
}

// Files returns the files that were taken in, in that order.
func (v View) Files(ctx context.Context) ([]FileInfo, error) {
	var files []FileInfo
	for rec, err := range v.Records(ctx, ledger.KindSourceRecord) {
		if err != nil {
			return nil, err
		}
		f := rec.Fact.(ledger.SourceFile)
		info := FileInfo{Name: f.Name, SHA256: f.SHA256, Bytes: f.Bytes, Map: f.Map,
			RecordedAt: rec.Recorded, RecordedBy: rec.By, Seq: rec.Seq}
		if info.Tallies, err = v.tallies(ctx, f.SHA256); err != nil {
			return nil, err
		}
		files = append(files, info)
	}
	return files, nil
}

// tallies sums what the batches within the view took from a file.
func (v View) tallies(ctx context.Context, sha string) ([]Tally, error) {
	var list []Tally
	err := v.book.each(ctx, `SELECT w.text, t.records, t.net_g, t.first_key, t.last_key
		FROM file f
		CROSS JOIN source s ON s.file = f.id
		CROSS JOIN tally t ON t.source = s.id
		JOIN word w ON w.id = t.kind
		WHERE f.sha256 = unhex(?) AND t.batch <= ? ORDER BY t.kind, t.first_seq`, []any{sha, v.size}, func(s *sqlite3.Stmt) error {
		kind, err := ledger.ParseKind(s.ColumnText(0))
		if err != nil {
			return fmt.Errorf("%w: %v", ErrDamaged, err)
		}
		t := Tally{kind, s.ColumnInt64(1), ledger.Mass(s.ColumnInt64(2)), s.ColumnText(3), s.ColumnText(4)}
		if n := len(list) - 1; n >= 0 && list[n].Kind == kind { // of another batch, or sheet
			t.Records, t.Net, t.First = t.Records+list[n].Records, t.Net+list[n].Net, list[n].First
			list = list[:n]
		}
		list = append(list, t)
		return nil
	})
	return list, err
}

// FileContent writes the bytes of a file, named by its SHA-256 in hex, as they were taken in. Bytes that
// do not have that hash, and so are not those, end in ErrDamaged after they have been written.
func (b *Book) FileContent(ctx context.Context, sha string, w io.Writer) error {
	id, bytes, err := b.file(ctx, sha)
	if err != nil {
		return err
	}
	h := sha256.New()
	n, err := b.inflate(ctx, id, io.MultiWriter(h, w), func() {})
	if err != nil {
		return err
	}
	if got := hex.EncodeToString(h.Sum(nil)); n != bytes || got != sha {
		return b.explain(ctx, fmt.Errorf("file %s: %w: %d bytes with SHA-256 %s, want %d bytes", sha, ErrDamaged, n, got, bytes))
	}
	return nil
}

// file returns the id and the length of a file.
func (b *Book) file(ctx context.Context, sha string) (id, bytes int64, err error) {
	err = b.each(ctx, "SELECT id, bytes FROM file WHERE sha256 = unhex(?)", []any{sha}, func(s *sqlite3.Stmt) error {
		id, bytes = s.ColumnInt64(0), s.ColumnInt64(1)
		return nil
	})
	if err == nil && id == 0 {
		err = b.explain(ctx, fmt.Errorf("%w: %q", ErrNoFile, sha))
	}
	return id, bytes, err
}

// inflate writes the parts of a file and returns how many bytes they have.
func (b *Book) inflate(ctx context.Context, file int64, w io.Writer, after func()) (int64, error) {
	var total, parts int64
	r := flate.NewReader(nil)
	err := b.each(ctx, "SELECT n, deflated FROM file_part WHERE file = ? ORDER BY n", []any{file}, func(s *sqlite3.Stmt) error {
		if n := s.ColumnInt64(0); n != parts {
			return fmt.Errorf("%w: part %d of a file is missing", ErrDamaged, parts)
		}
		parts++
		deflated := bytes.NewReader(s.ColumnBlob(1, nil))
		if err := r.(flate.Resetter).Reset(deflated, nil); err != nil {
			return err
		}
		part, err := io.ReadAll(io.LimitReader(r, partBytes+1))
		if err != nil || len(part) > partBytes || deflated.Len() > 0 {
			return fmt.Errorf("%w: part %d of a file cannot be inflated", ErrDamaged, parts-1)
		}
		n, err := w.Write(part)
		total += int64(n)
		if err != nil {
			return &bookError{err} // the reader's own, not the book's
		}
		after()
		return nil
	})
	return total, err
}
