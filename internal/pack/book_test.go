package pack

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"

	"repose/internal/sqlite"
	"repose/ledger"
)

const testYard = "NORTH"

func day(m time.Month, d, hour int) time.Time { return time.Date(2026, m, d, hour, 0, 0, 0, time.UTC) }

func moisture(t testing.TB, s string) ledger.DryBasis {
	m, err := ledger.NewDryBasis(decimal.RequireFromString(s))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func period(t testing.TB, m time.Month) ledger.Period {
	p, err := ledger.NewPeriod(2026, m)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func load(ticket string, at time.Time, pile string, tonnes int) ledger.Load {
	return ledger.Load{At: at, Loader: "L1", Ticket: ticket, Pile: pile, Product: "14-20", Net: ledger.Mass(tonnes) * ledger.Tonne,
		Purpose: ledger.PurposeSale}
}

// testBook is a real book in a file.
type testBook struct {
	testing.TB
	*sqlite.Book
	path string
}

func newBook(t testing.TB) *testBook {
	path := filepath.Join(t.TempDir(), "a.book")
	book, err := sqlite.Open(context.Background(), path, sqlite.Create)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { book.Close() })
	return &testBook{t, book, path}
}

// within does something in a transaction.
func (b *testBook) within(now time.Time, do func(tx *sqlite.Tx) error) {
	b.Helper()
	tx, err := b.Begin(context.Background(), "A. Clerk (office)", now)
	if err != nil {
		b.Fatal(err)
	}
	defer tx.Rollback()
	if err := do(tx); err != nil {
		b.Fatal(err)
	}
	if err := tx.Commit(); err != nil {
		b.Fatal(err)
	}
}

// takeIn appends facts of a yard as the rows of a file of that name.
func (b *testBook) takeIn(now time.Time, yard, name string, facts ...ledger.Fact) {
	b.Helper()
	b.within(now, func(tx *sqlite.Tx) error {
		sha, _, err := tx.AddFile(name, strings.NewReader("the rows of "+name+"\r\n"), "")
		if err != nil {
			return err
		}
		for i, f := range facts {
			owner := yard
			if f.Kind() == ledger.KindProductRecord {
				owner = ""
			}
			rec, err := ledger.NewRecord(owner, f)
			if err != nil {
				return err
			}
			rec.Source = ledger.Source{File: sha, Row: i + 2}
			if _, _, err := tx.Append(&rec); err != nil {
				return err
			}
		}
		return nil
	})
}

// close seals a month as a close does.
func (b *testBook) close(m time.Month, opening ledger.State) (*ledger.Record, ledger.State) {
	b.Helper()
	p, ctx := period(b, m), context.Background()
	records, err := b.Latest().Registers(ctx)
	if err != nil {
		b.Fatal(err)
	}
	reg, err := ledger.NewRegister(records)
	if err != nil {
		b.Fatal(err)
	}
	var rec *ledger.Record
	var month *ledger.Month
	b.within(p.End(time.UTC).Add(9*time.Hour), func(tx *sqlite.Tx) error {
		s, err := tx.Seal(testYard, p)
		if err != nil {
			return err
		}
		month, err = ledger.Derive(ledger.Input{Register: reg, Yard: testYard, Period: p, Opening: opening,
			Records: b.Latest().Movements(ctx, testYard, p.Start(time.UTC), p.End(time.UTC)),
			Entered: func(string) (*ledger.Entry, error) { return nil, nil }}, s.Entry)
		if err != nil {
			return err
		}
		if err := s.State(month.Closing); err != nil {
			return err
		}
		if err := s.Line("comparison", fmt.Sprintf(`{"surveys":"%d"}`, len(month.Comparisons))); err != nil {
			return err
		}
		rec, err = s.Finish(p.End(time.UTC).Add(9 * time.Hour))
		return err
	})
	return rec, month.Closing
}

// contents is what the caller of Write has to do with a book.
func (b *testBook) contents(rec *ledger.Record) Contents { return contentsOf(b.Book, rec) }

func contentsOf(b *sqlite.Book, rec *ledger.Record) Contents {
	ctx := context.Background()
	return Contents{
		Program:  "repose test",
		Close:    rec,
		Records:  b.At(rec.Seq + 1).Records(ctx),
		Seal:     func(of *ledger.Record, w io.Writer) error { return b.WriteSeal(ctx, of, w) },
		Entries:  b.SealedEntries(ctx, rec),
		Original: func(sha string, w io.Writer) error { return b.FileContent(ctx, sha, w) },
		Workbook: func(w io.Writer) error {
			_, err := io.WriteString(w, "in place of a workbook\n")
			return err
		},
		Tables: []Table{{"surveys", func(w *CSV) error {
			if err := w.Row(Text("survey"), Text("volume_m3")); err != nil {
				return err
			}
			return w.Row(Text("=S1"), Number("3550"))
		}}},
	}
}

// smallBook is a book of two yards in which October and November of one are closed. Files have names that no folder
// should take as they are.
func smallBook(t testing.TB) (b *testBook, october, november *ledger.Record) {
	b = newBook(t)
	b.takeIn(day(time.October, 1, 6), testYard, "../../register.csv",
		ledger.Yard{Code: testYard, Name: "North Pit", Zone: "Etc/UTC", Unit: ledger.UnitTonne},
		ledger.Product{Code: "14-20", Reference: moisture(t, "3")},
		ledger.Pile{Code: "P1", Product: "14-20"}, ledger.Pile{Code: "P2", Product: "14-20"},
		ledger.Policy{Name: ledger.PolicyAdjust, Value: "always", From: day(time.October, 1, 0)},
		ledger.Opening{Pile: "P1", At: day(time.October, 1, 0), Solids: 5000 * ledger.Tonne, IsSolids: true})
	b.takeIn(day(time.October, 1, 7), "SOUTH", "south.csv", ledger.Yard{Code: "SOUTH", Zone: "Etc/UTC", Unit: ledger.UnitTonne})
	b.takeIn(day(time.October, 31, 18), testYard, `C:\yard\october week 40.csv`,
		ledger.MoistureTest{Pile: "P1", Taken: day(time.October, 1, 1), Moisture: moisture(t, "4.2"), Tests: 3},
		ledger.Production{At: day(time.October, 2, 18), Belt: "B1", Pile: "P1", Net: 900 * ledger.Tonne},
		load("1", day(time.October, 3, 9), "P1", 24), load("2", day(time.October, 3, 9), "P1", 27), load("3", day(time.October, 3, 10), "P 9", 20),
		ledger.Transfer{At: day(time.October, 5, 7), Loader: "L1", Ticket: "90", From: "P1", To: "P2", Net: 300 * ledger.Tonne},
		ledger.DensityTest{Product: "14-20", Taken: day(time.October, 20, 9), MoistTPerM3: decimal.RequireFromString("1.6"),
			Moisture: moisture(t, "3"), Compaction: decimal.NewFromInt(1)},
		ledger.Survey{Survey: "S1", Pile: "P1", Start: day(time.October, 31, 8), End: day(time.October, 31, 9), VolumeM3: decimal.NewFromInt(3550)})
	october, opening := b.close(time.October, ledger.NewState())
	b.takeIn(day(time.November, 15, 18), testYard, "con", load("4", day(time.November, 7, 9), "P1", 25), load(`"5", the last`, day(time.November, 7, 10), "P2", 26))
	b.takeIn(day(time.November, 30, 18), testYard, "Kies Süd.csv", load("6", day(time.November, 30, 9), "P2", 21))
	b.takeIn(day(time.November, 30, 19), "SOUTH", "south november.csv", load("6", day(time.November, 30, 9), "P7", 22))
	november, _ = b.close(time.November, opening)
	return b, october, november
}

// smallPack writes the pack of November and returns its folder.
func smallPack(t testing.TB) string {
	t.Helper()
	book, _, november := smallBook(t)
	dir := filepath.Join(t.TempDir(), "pack")
	if _, err := Write(context.Background(), dir, book.contents(november), nil); err != nil {
		t.Fatal(err)
	}
	return dir
}

func mustVerify(t testing.TB, dir string) *Result {
	t.Helper()
	r, err := Verify(context.Background(), dir, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func read(t testing.TB, dir, name string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(name)))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func write(t testing.TB, dir, name, text string) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(dir, filepath.FromSlash(name)), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}
