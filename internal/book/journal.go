package book

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"time"

	"repose/internal/pack"
	"repose/internal/report"
	"repose/internal/sqlite"
	"repose/ledger"
)

// ErrExported says that the journal of a close was given out before.
var ErrExported = errors.New("given out already")

// Exporting is what Export needs to know.
type Exporting struct {
	Yard   string // may be empty where the book holds one
	Period ledger.Period
	By     string
	Now    time.Time
	Copy   bool // write what was given out before once more
	DryRun bool
}

// Exported is the file of a journal.
type Exported struct {
	Journal *report.Journal
	File    []byte
	SHA256  string
}

// ExportJournal returns the journal of a closed month and records that it was given out. A second time is ErrExported,
// unless only a copy is asked for, which is the same to the byte. Who closed the month does not give its journal out.
func ExportJournal(ctx context.Context, store *sqlite.Book, x Exporting) (*Exported, error) {
	tx, err := store.Begin(ctx, x.By, x.Now)
	if err != nil {
		return nil, err
	}
	defer tx.Rollback()
	r, y, err := readYard(ctx, store, x.Yard)
	if err != nil {
		return nil, err
	}
	h, err := r.history(ctx, y.Code)
	if err != nil {
		return nil, err
	}
	i := h.sealed(x.Period)
	if i < 0 {
		return nil, fmt.Errorf("%w: %s of yard %s is not closed", ErrOrder, x.Period, y.Code)
	}
	rec := h.seals[i].Record
	before, err := r.exportOf(ctx, rec)
	if err != nil {
		return nil, err
	}
	approved := x.By
	switch {
	case before == nil && x.Copy:
		return nil, fmt.Errorf("the journal of %s was never given out, so that there is nothing to copy", rec.ID())
	case before != nil && !x.Copy:
		f := before.Fact.(ledger.Export)
		return nil, fmt.Errorf("the journal of %s: %w, by %s on %s, SHA-256 %s; --copy writes it once more", rec.ID(), ErrExported, before.By, before.Recorded.Format(time.DateOnly), f.SHA256)
	case before != nil:
		approved = before.By
	case ledger.SamePerson(rec.By, x.By):
		return nil, fmt.Errorf("%s was closed by %s: %w", rec.ID(), rec.By, ErrSelf)
	}
	out, err := r.journal(ctx, y.Code, x.Period, rec, approved)
	if err != nil || before != nil || x.DryRun {
		return out, err
	}
	if err := put(tx, y.Code, ledger.Export{Of: rec.ID(), SHA256: out.SHA256, Lines: len(out.Journal.Value.Journal), Decided: x.Now.UTC()}); err != nil {
		return nil, err
	}
	return out, tx.Commit()
}

func (r *Reader) journal(ctx context.Context, yard string, p ledger.Period, rec *ledger.Record, approved string) (*Exported, error) {
	v, err := r.Value(ctx, yard, p)
	if err != nil {
		return nil, err
	}
	zone, _ := r.reg.Zone(yard)
	j := &report.Journal{Value: v, Close: rec.ID(), Number: rec.Revision + 1, Date: p.End(zone).Add(-1).In(zone).Format(time.DateOnly),
		Prepared: rec.By, Approved: approved}
	var file bytes.Buffer
	if err := writeJournal(pack.NewCSV(&file), j); err != nil {
		return nil, err
	}
	sum := sha256.Sum256(file.Bytes())
	return &Exported{j, file.Bytes(), hex.EncodeToString(sum[:])}, nil
}

// writeJournal writes two rows for every line, the debit and the credit, under one reference.
func writeJournal(t *pack.CSV, j *report.Journal) error {
	if err := packHead(t, "reference", "date", "account", "debit", "credit", "currency", "solids t", "product", "text", "prepared by", "approved by", "close"); err != nil {
		return err
	}
	for i, l := range j.Value.Journal {
		for side, account := range []string{l.Debit, l.Credit} {
			amounts := [2]pack.Cell{}
			amounts[side] = pack.Number(l.Amount.String())
			if err := t.Row(pack.Text(j.Reference(i)), pack.Text(j.Date), pack.Text(account), amounts[0], amounts[1], pack.Text(j.Value.Currency),
				pack.Number(l.Solids.Mass().Tonnes()), pack.Text(l.Product), pack.Text(l.Text), pack.Text(j.Prepared), pack.Text(j.Approved), pack.Text(j.Close)); err != nil {
				return err
			}
		}
	}
	return nil
}

// exportOf returns the record of a close's journal being given out; nil where it was not.
func (r *Reader) exportOf(ctx context.Context, rec *ledger.Record) (*ledger.Record, error) {
	for e, err := range r.view.Records(ctx, ledger.KindExportRecord) {
		if err != nil || e.Fact.(ledger.Export).Of == rec.ID() {
			return e, err
		}
	}
	return nil, nil
}
