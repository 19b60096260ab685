package sqlite

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"runtime"

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

// addParts deflates a file part by part and returns its SHA-256 and its length. As many parts are deflated at once as there
// are processors.
func (tx *Tx) addParts(id int64, r io.Reader) (sum []byte, size int64, err error) {
	insert, _, err := tx.book.conn.Prepare("INSERT INTO file_part (file, n, deflated) VALUES (?, ?, ?)")
	if err != nil {
		return nil, 0, err
	}
	defer insert.Close()
	h := sha256.New()
	var waiting []chan deflated
	n := 0
	write := func() error {
		part := <-waiting[0]
		waiting = waiting[1:]
		if part.err != nil {
			return part.err
		}
		n++
		return run(insert, id, n-1, part.bytes)
	}
	for {
		part := make([]byte, partBytes)
		read, ended := io.ReadFull(r, part)
		size += int64(read)
		if read > 0 {
			h.Write(part[:read])
			done := make(chan deflated, 1)
			go func() { done <- deflate(part[:read]) }()
			if waiting = append(waiting, done); len(waiting) > runtime.GOMAXPROCS(0) {
				if err := write(); err != nil {
					return nil, 0, err
				}
			}
		}
		switch {
		case ended == io.EOF || ended == io.ErrUnexpectedEOF:
			for len(waiting) > 0 {
				if err := write(); err != nil {
					return nil, 0, err
				}
			}
			return h.Sum(nil), size, nil
		case ended != nil:
			return nil, 0, &bookError{ended} // the reader's own, not the book's
		}
	}
}

// deflated is a part of a file, or why there is none.
type deflated struct {
	bytes []byte
	err   error
}

func deflate(part []byte) deflated {
	var b bytes.Buffer
	w, err := flate.NewWriter(&b, flate.BestSpeed)
	if err != nil {
		return deflated{err: err}
	}
	_, err = w.Write(part)
	err = errors.Join(err, w.Close())
	return deflated{b.Bytes(), err}
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
