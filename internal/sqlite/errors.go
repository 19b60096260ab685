package sqlite

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"syscall"

	"github.com/ncruces/go-sqlite3"
)

// The causes of errors of this package. Each comes wrapped with the path of the book.
var (
	ErrNotABook     = errors.New("not a book")
	ErrNewer        = errors.New("made by a newer version of this program")
	ErrOlder        = errors.New("made by an older version of this program")
	ErrBusy         = errors.New("the book is in use")
	ErrFull         = errors.New("no space left: nothing was changed")
	ErrReadOnlyFile = errors.New("the book cannot be written")
	ErrDamaged      = errors.New("the book is damaged")

	ErrNoRecord  = errors.New("no such record in the book")
	ErrNoFile    = errors.New("no such file in the book")
	ErrSealed    = errors.New("the period is closed")
	ErrNotSealed = errors.New("the period is not closed")

	ErrTx = errors.New("the transaction is over")
)

// explain turns an error of the database into one of the causes above, in plain words.
func explain(ctx context.Context, path string, err error) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, sqlite3.INTERRUPT) && ctx.Err() != nil:
		return fmt.Errorf("%s: %w", path, context.Cause(ctx))
	case errors.Is(err, sqlite3.BUSY) || errors.Is(err, sqlite3.LOCKED):
		return fmt.Errorf("%s: %w: waited %v for another program that writes to it or reads it", path, ErrBusy, busyTimeout)
	case errors.Is(err, ErrDamaged):
		return fmt.Errorf("%s: %w", path, err)
	case errors.Is(err, sqlite3.FULL):
		return fmt.Errorf("%s: %w (%v)", path, ErrFull, err)
	case isDamage(err):
		return fmt.Errorf("%s: %w: %v", path, ErrDamaged, err)
	case errors.Is(err, sqlite3.READONLY_ROLLBACK):
		return fmt.Errorf("%s: %w, and it must be: a write was cut short and has to be undone from %s-journal; "+
			"open the book once where it can be written", path, ErrReadOnlyFile, path)
	case isReadOnly(err):
		return fmt.Errorf("%s: %w: check the permissions of the file and of its folder", path, ErrReadOnlyFile)
	}
	return fmt.Errorf("%s: %w", path, err)
}

// isReadOnly reports whether the file, or the folder that its journal is written to, may only be read.
func isReadOnly(err error) bool {
	return errors.Is(err, sqlite3.READONLY) ||
		errors.Is(err, sqlite3.CANTOPEN) && (errors.Is(err, fs.ErrPermission) || errors.Is(err, syscall.EROFS))
}

// isDamage reports whether the file does not hold what was written to it: a broken structure, a page whose
// checksum fails, or tables that are not those of a book, so that a query of this package is an error.
func isDamage(err error) bool {
	return errors.Is(err, ErrDamaged) || errors.Is(err, sqlite3.CORRUPT) || errors.Is(err, sqlite3.NOTADB) ||
		errors.Is(err, sqlite3.IOERR_DATA) || errors.Is(err, sqlite3.IOERR_CORRUPTFS) || errors.Is(err, sqlite3.ERROR)
}
