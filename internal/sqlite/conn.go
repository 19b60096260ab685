package sqlite

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/ncruces/go-sqlite3"
)

// errStop ends each before its last row, and is not reported.
var errStop = errors.New("stop")

// each runs a statement and calls row for every row of its result. The statement may be left in the
// middle by an error of row, and other statements may run while it is under way.
func each(ctx context.Context, c *sqlite3.Conn, sql string, args []any, row func(*sqlite3.Stmt) error) error {
	c.SetInterrupt(ctx)
	s, _, err := c.Prepare(sql)
	if err != nil {
		return err
	}
	defer s.Close()
	if err := bind(s, args...); err != nil {
		return err
	}
	for s.Step() {
		if err := row(s); err != nil {
			return err
		}
		c.SetInterrupt(ctx) // row may have run a statement under another context
	}
	return s.Err()
}

// rawText is text in a buffer that is used again.
type rawText []byte

// bind sets the parameters of a statement in order.
func bind(s *sqlite3.Stmt, args ...any) error {
	for i, a := range args {
		var err error
		switch v := a.(type) {
		case nil:
			err = s.BindNull(i + 1)
		case int:
			err = s.BindInt(i+1, v)
		case int64:
			err = s.BindInt64(i+1, v)
		case string:
			err = s.BindText(i+1, v)
		case []byte:
			err = s.BindBlob(i+1, v)
		case rawText:
			err = s.BindRawText(i+1, v)
		default:
			err = fmt.Errorf("parameter %d has type %T", i+1, a)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// run executes a prepared statement that returns no rows.
func run(s *sqlite3.Stmt, args ...any) error {
	if err := bind(s, args...); err != nil {
		return err
	}
	return s.Exec()
}

// each is the function each on the book's connection, with its errors explained.
func (b *Book) each(ctx context.Context, sql string, args []any, row func(*sqlite3.Stmt) error) error {
	err := each(ctx, b.conn, sql, args, row)
	if err == nil || errors.Is(err, errStop) {
		return nil
	}
	return b.explain(ctx, err)
}

// explain leaves alone what has been explained already.
func (b *Book) explain(ctx context.Context, err error) error {
	var explained *bookError
	if err == nil || errors.As(err, &explained) {
		return err
	}
	return &bookError{explain(ctx, b.path, err)}
}

// bookError marks an error that names its book and its cause.
type bookError struct{ error }

func (e *bookError) Unwrap() error { return e.error }

// Seconds since 1970 between which an instant is stored to the nanosecond: in 1677 and in 2262.
const firstSecond, lastSecond = -9223372036, 9223372036

// fits reports whether an instant can be stored.
func fits(t time.Time) bool { return t.Unix() > firstSecond && t.Unix() < lastSecond }

// nanos returns an instant in nanoseconds since 1970, or, where it does not fit, the nearest that does.
func nanos(t time.Time) int64 {
	switch {
	case fits(t):
		return t.UnixNano()
	case t.Unix() <= firstSecond:
		return firstSecond * int64(time.Second)
	}
	return lastSecond * int64(time.Second)
}

func instant(nanos int64) time.Time { return time.Unix(0, nanos).UTC() }
