package sqlite

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"

	"github.com/klauspost/compress/flate"

	"repose/ledger"
)

// partBytes is how much of a file is deflated into one part.
const partBytes = 1 << 20

// AddFile keeps the bytes of a file that records are about to be read from, and appends a record of it.
// It returns their SHA-256 in lower-case hex, which is what Source.File of those records holds. Bytes that
// the book holds already, under whatever name, are not kept again, and isNew is false. mapSHA is the
// SHA-256 of the column map that the file is read with, or empty.
func (tx *Tx) AddFile(name string, r io.Reader, mapSHA string) (sha string, isNew bool, err error) {
	if err := tx.usable(); err != nil {
		return "", false, err
	}
	sha, isNew, err = tx.addFile(name, r, mapSHA)
	if err != nil {
		return "", false, tx.fail(fmt.Errorf("file %q: %w", name, err))
	}
	return sha, isNew, nil
}

// addFile writes the parts as they are read, and takes them back if the hash at the end turns out to be
// known: so a file of any size is read once, and never held in memory.
func (tx *Tx) addFile(name string, r io.Reader, mapSHA string) (sha string, isNew bool, err error) {
	if err := tx.exec("SAVEPOINT file"); err != nil {
		return "", false, err
	}
	id, err := tx.number("SELECT coalesce(max(id), 0) + 1 FROM file")
	if err != nil {
		return "", false, err
	}
	sum, size, err := tx.addParts(id, r)
	if err != nil {
		return "", false, err
	}
	sha = hex.EncodeToString(sum)
	known, err := tx.number("SELECT count(*) FROM file WHERE sha256 = ?", sum)
	if err != nil {
		return "", false, err
	}
	if known > 0 {
		return sha, false, tx.book.conn.Exec("ROLLBACK TO file; RELEASE file")
	}
	if err := tx.exec("INSERT INTO file (id, sha256, bytes) VALUES (?, ?, ?)", id, sum, size); err != nil {
		return "", false, err
	}
	if err := tx.exec("RELEASE file"); err != nil {
		return "", false, err
	}
	_, err = tx.appendOwn("", ledger.SourceFile{Name: name, SHA256: sha, Bytes: size, Map: mapSHA})
	return sha, true, err
}

// addParts deflates a file part by part and returns its SHA-256 and its length.
func (tx *Tx) addParts(id int64, r io.Reader) (sum []byte, size int64, err error) {
	insert, _, err := tx.book.conn.Prepare("INSERT INTO file_part (file, n, deflated) VALUES (?, ?, ?)")
	if err != nil {
		return nil, 0, err
	}
	defer insert.Close()
	var deflated bytes.Buffer
	w, err := flate.NewWriter(&deflated, flate.DefaultCompression)
	if err != nil {
		return nil, 0, err
	}
	h := sha256.New()
	part := make([]byte, partBytes)
	for n := 0; ; n++ {
		read, err := io.ReadFull(r, part)
		size += int64(read)
		if read > 0 {
			h.Write(part[:read])
			deflated.Reset()
			w.Reset(&deflated)
			if _, err := w.Write(part[:read]); err != nil {
				return nil, 0, err
			}
			if err := w.Close(); err != nil {
				return nil, 0, err
			}
			if err := run(insert, id, n, deflated.Bytes()); err != nil {
				return nil, 0, err
			}
		}
		switch {
		case err == io.EOF || err == io.ErrUnexpectedEOF:
			return h.Sum(nil), size, nil
		case err != nil:
			return nil, 0, &bookError{err} // the reader's own, not the book's
		}
	}
}

// appendOwn appends a record that the book writes itself.
func (tx *Tx) appendOwn(yard string, f ledger.Fact) (*ledger.Record, error) {
	rec, err := ledger.NewRecord(yard, f)
	if err != nil {
		return nil, err
	}
	outcome, _, err := tx.append(&rec)
	if err == nil && outcome != New {
		err = fmt.Errorf("record %s: the book holds one already", rec.ID())
	}
	return &rec, err
}
