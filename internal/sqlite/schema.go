package sqlite

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"io/fs"

	"github.com/ncruces/go-sqlite3"
)

// schemaFiles holds the steps from an empty file to the newest format of a book: 1.sql, 2.sql and so on.
// A step that has been released is never edited.
//
//go:embed schema/*.sql
var schemaFiles embed.FS

// applicationID marks a file as a book: "Rpse" in ASCII. It is set by schema/1.sql.
const applicationID = 0x52707365

// version returns the format of a database: 0 for an empty one.
func version(ctx context.Context, c *sqlite3.Conn) (int, error) {
	var v int
	err := each(ctx, c, "PRAGMA user_version", nil, func(s *sqlite3.Stmt) error {
		v = s.ColumnInt(0)
		return nil
	})
	return v, err
}

// newest returns the number of the last step.
func newest(steps fs.FS) (int, error) {
	names, err := fs.Glob(steps, "schema/*.sql")
	return len(names), err
}

// migrate brings a database to the newest format, in one transaction. Two programs may try it at once:
// the second one waits and finds nothing left to do.
func migrate(ctx context.Context, c *sqlite3.Conn, steps fs.FS) (err error) {
	c.SetInterrupt(ctx)
	last, err := newest(steps)
	if err != nil {
		return err
	}
	if err := c.Exec("BEGIN IMMEDIATE"); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, rollBack(c)) }()
	v, err := version(ctx, c)
	if err != nil {
		return err
	}
	for v++; v <= last; v++ {
		sql, err := fs.ReadFile(steps, fmt.Sprintf("schema/%d.sql", v))
		if err != nil {
			return err
		}
		if err := c.Exec(string(sql)); err != nil {
			return fmt.Errorf("format %d: %w", v, err)
		}
		if err := c.Exec(fmt.Sprintf("PRAGMA user_version = %d", v)); err != nil {
			return err
		}
	}
	return c.Exec("COMMIT")
}

// rollBack ends a transaction without a trace, also after the context is done. It does nothing where there
// is none: after a commit, or where SQLite has rolled back by itself.
func rollBack(c *sqlite3.Conn) error {
	if c.GetAutocommit() {
		return nil
	}
	c.SetInterrupt(context.Background())
	return c.Exec("ROLLBACK")
}
