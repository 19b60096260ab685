package sqlite

import (
	"bytes"
	"cmp"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"time"

	"github.com/ncruces/go-sqlite3"
)

// Mode says what a book is opened for.
type Mode uint8

// The modes.
const (
	ReadOnly  Mode = iota + 1 // the file is not touched
	ReadWrite                 // the book must exist
	Create                    // as ReadWrite, and a missing book is made
)

// busyTimeout is how long to wait for another program that has locked the book.
const busyTimeout = 10 * time.Second

// Limits of a connection.
const (
	cacheKiB     = 4096    // pages kept in memory; more gains nothing when keys arrive nearly in order
	maxCellBytes = 8 << 20 // longest text or blob; the largest the program writes is a file part of 1 MiB
)

// checksumBytes is how much of every page of a new book is set apart. By this number SQLite's checksum
// extension, which the driver has built in, knows that it shall keep a checksum there and test it whenever
// the page is read.
const checksumBytes = 8

// Open opens a book, or makes one. A write that was cut short is undone first, whatever the mode. The
// errors are ErrNotABook for a foreign, empty or truncated file, ErrNewer, ErrOlder, ErrBusy, ErrFull,
// ErrDamaged and ErrReadOnlyFile; a missing file is fs.ErrNotExist.
func Open(ctx context.Context, path string, mode Mode) (*Book, error) {
	return open(ctx, path, mode, schemaFiles)
}

func open(ctx context.Context, path string, mode Mode, steps fs.FS) (*Book, error) {
	if err := inspect(path, mode); err != nil {
		return nil, err
	}
	b := &Book{path: path, blockRows: blockRows}
	err := b.connect(ctx, mode)
	if mode == ReadOnly && errors.Is(err, sqlite3.READONLY_ROLLBACK) {
		undone := undoUnfinished(ctx, path)
		switch {
		case undone == nil:
			err = b.connect(ctx, mode)
		case !isReadOnly(undone):
			err = undone
		}
	}
	if err == nil {
		err = b.identify(ctx, mode, steps)
	}
	if isDamage(err) {
		err = cmp.Or(checkLength(path), err) // says more
	}
	if err != nil {
		return nil, errors.Join(b.explain(ctx, err), b.Close())
	}
	return b, nil
}

// Close closes the book. What has not been committed is gone.
func (b *Book) Close() error {
	if b.conn == nil {
		return nil
	}
	var undone error
	if b.tx != nil {
		undone = b.tx.Rollback()
	}
	b.fetch.Close()
	b.fetch, b.small, b.held = nil, nil, nil
	err := b.conn.Close()
	if err == nil {
		b.conn = nil
	}
	return errors.Join(undone, b.explain(context.Background(), err))
}

// The fields of an SQLite header that tell a book (SQLite, "Database File Format", section 1.3).
const (
	headerBytes         = 100
	headerMagic         = "SQLite format 3\x00"
	headerPageSize      = 16 // two bytes, big-endian
	headerPages         = 28 // four bytes
	headerApplicationID = 68 // four bytes
)

// inspect looks at the first bytes of the file without locking it, so that a foreign file is left alone
// and can be described.
func inspect(path string, mode Mode) error {
	found := func(format string, args ...any) error {
		return fmt.Errorf("%s: %w: found %s", path, ErrNotABook, fmt.Sprintf(format, args...))
	}
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist) && mode == Create:
		return nil
	case err != nil:
		return err
	case info.IsDir():
		return found("a folder")
	case !info.Mode().IsRegular():
		return found("something that is not a plain file")
	case info.Size() == 0 && (mode == Create || hasJournal(path)):
		return nil
	}
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	head := make([]byte, headerBytes)
	n, err := io.ReadFull(f, head)
	switch head = head[:n]; {
	case err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF):
		return err
	case n == 0:
		return found("an empty file")
	case n < headerBytes && bytes.HasPrefix([]byte(headerMagic), head[:min(n, len(headerMagic))]):
		return found("only the first %d bytes of one: the file has been truncated", n)
	case bytes.HasPrefix(head, []byte("PK\x03\x04")):
		return found("a zip archive, such as a workbook")
	case !bytes.HasPrefix(head, []byte(headerMagic)):
		return found("a file that begins with %q", head[:min(n, 24)])
	}
	if id := binary.BigEndian.Uint32(head[headerApplicationID:]); id != applicationID {
		return found("a database of another program (application id %#x)", id)
	}
	return nil
}

func hasJournal(path string) bool {
	_, err := os.Stat(path + "-journal")
	return err == nil
}

// connect opens the connection and reads from it once, which undoes a write that was cut short.
func (b *Book) connect(ctx context.Context, mode Mode) error {
	if err := b.Close(); err != nil {
		return err
	}
	flags := sqlite3.OPEN_READONLY
	switch mode {
	case ReadWrite:
		flags = sqlite3.OPEN_READWRITE
	case Create:
		flags = sqlite3.OPEN_READWRITE | sqlite3.OPEN_CREATE
	}
	c, err := connectFile(b.path, flags)
	if err != nil {
		return err
	}
	b.conn = c
	if err := configure(c); err != nil {
		return err
	}
	if err := each(ctx, c, "SELECT count(*) FROM sqlite_schema", nil, ignore); err != nil {
		return err
	}
	if mode == ReadOnly {
		return nil
	}
	if readOnly, _ := c.ReadOnly("main"); readOnly {
		return sqlite3.READONLY
	}
	return c.Exec("PRAGMA journal_mode = DELETE; PRAGMA synchronous = FULL")
}

func ignore(*sqlite3.Stmt) error { return nil }

// configure sets what does not touch the file. The schema of a book that came from elsewhere is not
// trusted: it may not call functions with effects, nor write to itself.
func configure(c *sqlite3.Conn) error {
	if err := c.BusyTimeout(busyTimeout); err != nil {
		return err
	}
	for _, option := range []struct {
		name sqlite3.DBConfig
		on   bool
	}{
		{sqlite3.DBCONFIG_DEFENSIVE, true},
		{sqlite3.DBCONFIG_TRUSTED_SCHEMA, false},
		{sqlite3.DBCONFIG_DQS_DML, false},
		{sqlite3.DBCONFIG_DQS_DDL, false},
	} {
		if _, err := c.Config(option.name, option.on); err != nil {
			return err
		}
	}
	c.Limit(sqlite3.LIMIT_LENGTH, maxCellBytes)
	return c.Exec(fmt.Sprintf(`PRAGMA foreign_keys = ON; PRAGMA cell_size_check = ON;
		PRAGMA temp_store = FILE; PRAGMA cache_size = -%d`, cacheKiB))
}

// undoUnfinished opens the book for writing once, so that a write that was cut short is undone; a
// connection that only reads cannot do that.
func undoUnfinished(ctx context.Context, path string) error {
	b := Book{path: path}
	err := b.connect(ctx, ReadWrite)
	return errors.Join(err, b.Close())
}

// identify checks that the file is a whole book of a format that this program knows, after making or
// migrating it where the mode allows.
func (b *Book) identify(ctx context.Context, mode Mode, steps fs.FS) error {
	last, err := newest(steps)
	if err != nil {
		return err
	}
	v, err := version(ctx, b.conn)
	if err != nil {
		return err
	}
	if err := b.refuseUnreleased(ctx); err != nil {
		return err
	}
	if v < last && mode != ReadOnly && (v > 0 || mode == Create) {
		if v == 0 {
			if _, err := b.conn.FileControl("main", sqlite3.FCNTL_RESERVE_BYTES, checksumBytes); err != nil {
				return err
			}
		}
		if err := migrate(ctx, b.conn, steps); err != nil {
			return err
		}
		v = last
	}
	switch {
	case v <= 0:
		return fmt.Errorf("%w: it does not say which format it has", ErrNotABook)
	case v > last:
		return fmt.Errorf("%w: its format is %d, and this one knows formats up to %d", ErrNewer, v, last)
	case v < last:
		return fmt.Errorf("%w: its format is %d, and this one needs %d; open it once for writing", ErrOlder, v, last)
	}
	if err := b.conn.Exec("BEGIN; SELECT count(*) FROM sqlite_schema"); err != nil { // keeps writers off
		return err
	}
	return errors.Join(checkLength(b.path), rollBack(b.conn))
}

// refuseUnreleased finds a book of a build before the first release, which says that it has format 1 too and kept a row a
// record.
func (b *Book) refuseUnreleased(ctx context.Context) error {
	found := false
	err := each(ctx, b.conn, "SELECT 1 FROM sqlite_schema WHERE type = 'table' AND name = 'record'", nil, func(*sqlite3.Stmt) error {
		found = true
		return nil
	})
	if err == nil && found {
		err = fmt.Errorf("%w, before its first release, and no longer read: take the files that it was made of into a new book", ErrOlder)
	}
	return err
}

// checkLength finds a file that has lost its end, which SQLite itself does not always notice. No program
// may be writing to it meanwhile.
func checkLength(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	head := make([]byte, headerBytes)
	if _, err := io.ReadFull(f, head); err != nil {
		return err
	}
	info, err := f.Stat()
	if err != nil {
		return err
	}
	pageSize := int64(binary.BigEndian.Uint16(head[headerPageSize:]))
	if pageSize == 1 {
		pageSize = 1 << 16 // which does not fit its two bytes
	}
	want := pageSize * int64(binary.BigEndian.Uint32(head[headerPages:]))
	if info.Size() < want {
		return fmt.Errorf("%w: found the first %d bytes of a book of %d: the file has been truncated", ErrNotABook, info.Size(), want)
	}
	return nil
}
