package sqlite

import (
	"context"
	"errors"
	"fmt"

	"github.com/ncruces/go-sqlite3"

	"repose/ledger"
)

// Verify reads the whole book and checks that it is what was written: the database's structure; that
// every record's line, made again from what is stored, has the hash in the log and its body is canonical;
// the Merkle tree head of every batch; the bytes of every file; the hash of every seal; and that opening
// balances and sealed legs give the closing balances, with sums of zero over all accounts.
//
// What does not hold is a Fault, also where the file is so damaged that it cannot be read to its end. The
// error is for what keeps Verify from telling, such as a context that is done. Other programs cannot
// commit to the book meanwhile. progress, if not nil, is called now and then.
func (b *Book) Verify(ctx context.Context, progress func(done, total int64)) (found Verification, err error) {
	if b.tx != nil {
		return Verification{}, b.explain(ctx, errors.New("a transaction is open: commit it before verifying"))
	}
	b.conn.SetInterrupt(ctx)
	if err := b.conn.Exec("BEGIN"); err != nil {
		return Verification{}, b.explain(ctx, err)
	}
	defer func() { err = errors.Join(err, b.explain(ctx, rollBack(b.conn))) }()
	v := &verifier{book: b, ctx: ctx, progress: progress, trail: map[string][]*ledger.Record{}}
	for _, part := range []struct {
		area  Area
		check func() error
	}{
		{AreaStructure, v.countSteps},
		{AreaStructure, v.checkChecksums},
		{AreaStructure, v.checkPages},
		{AreaStructure, v.checkReferences},
		{AreaStructure, v.checkSchema},
		{AreaLog, v.checkLog},
		{AreaFiles, v.checkFiles},
		{AreaSeals, v.checkSeals},
	} {
		if err := part.check(); isDamage(err) {
			v.found.add(Fault{Area: part.area, Seq: -1, Text: err.Error()})
		} else if err != nil {
			return v.found, b.explain(ctx, err)
		}
	}
	v.report()
	return v.found, nil
}

// verifier is one run of Verify.
type verifier struct {
	book        *Book
	ctx         context.Context
	found       Verification
	progress    func(done, total int64)
	done, total int64
	fileNames   map[string]string // by SHA-256
	files       []*ledger.Record  // records of files
	closes      []*ledger.Record
	trail       map[string][]*ledger.Record // closes, reopenings and approvals of a yard, by place in the log
	whole       bool                        // whether the log could be read to its end
}

// stepsPerReport is how many records or parts pass between two calls of progress.
const stepsPerReport = 10_000

func (v *verifier) step() {
	if v.done++; v.done%stepsPerReport == 0 {
		v.report()
	}
}

func (v *verifier) report() {
	if v.progress != nil {
		v.progress(v.done, max(v.done, v.total))
	}
}

// fault notes what is wrong with a record, or with the book as a whole where rec is nil.
func (v *verifier) fault(area Area, rec *ledger.Record, format string, args ...any) {
	f := Fault{Area: area, Seq: -1, Text: fmt.Sprintf(format, args...)}
	if rec != nil {
		f.Seq, f.Source, f.File = rec.Seq, rec.Source, v.fileNames[rec.Source.File]
		if rec.Fact != nil {
			f.ID = rec.ID()
		}
	}
	v.found.add(f)
}

// countSteps finds out how much there is to do, and what the files are called.
func (v *verifier) countSteps() error {
	v.fileNames = map[string]string{}
	for rec, err := range v.book.Latest().Records(v.ctx, ledger.KindSourceRecord) {
		if err != nil {
			return err
		}
		f := rec.Fact.(ledger.SourceFile)
		v.fileNames[f.SHA256] = f.Name
	}
	return v.each(`SELECT (SELECT total(records) FROM block) + (SELECT count(*) FROM file_part) + (SELECT total(entries) FROM sealed_block)`,
		func(s *sqlite3.Stmt) error {
			v.total = s.ColumnInt64(0)
			return nil
		})
}

func (v *verifier) each(sql string, row func(*sqlite3.Stmt) error, args ...any) error {
	return v.book.each(v.ctx, sql, args, row)
}

// checkPages has SQLite check every page, and every index against its table. A connection that only reads
// does not look at CHECK constraints; what they say is checked here in other ways.
func (v *verifier) checkPages() error {
	return v.each(fmt.Sprintf("PRAGMA integrity_check(%d)", maxFaults), func(s *sqlite3.Stmt) error {
		if text := s.ColumnText(0); text != "ok" {
			v.fault(AreaStructure, nil, "%s", text)
		}
		return nil
	})
}

// checkReferences looks for rows that refer to none.
func (v *verifier) checkReferences() error {
	return v.each("PRAGMA foreign_key_check", func(s *sqlite3.Stmt) error {
		v.fault(AreaStructure, nil, "row %d of table %s refers to a row of table %s that is not there",
			s.ColumnInt64(1), s.ColumnText(0), s.ColumnText(2))
		return nil
	})
}

// checkSchema compares the tables, indexes and triggers with those of a new book.
func (v *verifier) checkSchema() error {
	c, err := sqlite3.OpenContext(v.ctx, ":memory:")
	if err != nil {
		return err
	}
	defer c.Close()
	if err := migrate(v.ctx, c, schemaFiles); err != nil {
		return err
	}
	want, err := schemaOf(v.ctx, c)
	if err != nil {
		return err
	}
	got, err := schemaOf(v.ctx, v.book.conn)
	if err != nil {
		return err
	}
	for name, sql := range want {
		if got[name] != sql {
			v.fault(AreaStructure, nil, "%s: not as this program makes it", name)
		}
		delete(got, name)
	}
	for name := range got {
		v.fault(AreaStructure, nil, "%s: not part of a book", name)
	}
	return nil
}

func schemaOf(ctx context.Context, c *sqlite3.Conn) (map[string]string, error) {
	objects := map[string]string{}
	err := each(ctx, c, "SELECT type || ' ' || name, sql FROM sqlite_schema", nil, func(s *sqlite3.Stmt) error {
		objects[s.ColumnText(0)] = s.ColumnText(1)
		return nil
	})
	return objects, err
}
