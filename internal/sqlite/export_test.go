package sqlite

import (
	"context"
	"io/fs"
	"time"
)

// OpenWithSteps is Open for a program whose formats are others.
func OpenWithSteps(ctx context.Context, path string, mode Mode, steps fs.FS) (*Book, error) {
	return open(ctx, path, mode, steps)
}

// SchemaFiles are the program's own steps.
func SchemaFiles() fs.FS { return schemaFiles }

// PartBytes is the size of a file's parts.
const PartBytes = partBytes

// Exec runs SQL on the book's own connection.
func (b *Book) Exec(sql string) error { return b.conn.Exec(sql) }

// SetBusyTimeout sets how long the book waits for other programs.
func (b *Book) SetBusyTimeout(d time.Duration) error { return b.conn.BusyTimeout(d) }

// Checksum is checksum, for tests that forge pages.
func Checksum(content []byte) [checksumBytes]byte { return checksum(content) }
