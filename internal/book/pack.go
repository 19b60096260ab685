package book

import (
	"context"
	"fmt"
	"io"

	"repose/internal/pack"
	"repose/internal/report"
	"repose/ledger"
)

// PackContents returns what the pack of a closed month is made of, beside its workbook, which write makes from the
// month's report.
func (r *Reader) PackContents(ctx context.Context, yard string, p ledger.Period, write func(io.Writer, *report.Close) error) (*pack.Contents, error) {
	h, err := r.history(ctx, yard)
	if err != nil {
		return nil, err
	}
	i := h.sealed(p)
	if i < 0 {
		return nil, fmt.Errorf("%w: %s of yard %s is not closed, and a pack is of a closed month", ErrOrder, p, yard)
	}
	c, err := r.CloseReport(ctx, yard, p)
	if err != nil {
		return nil, err
	}
	rec := h.seals[i].Record
	return &pack.Contents{Program: "Repose", Close: rec,
		Records:  r.store.At(rec.Seq + 1).Records(ctx),
		Seal:     func(of *ledger.Record, w io.Writer) error { return r.store.WriteSeal(ctx, of, w) },
		Entries:  r.store.SealedEntries(ctx, rec),
		Original: func(sha string, w io.Writer) error { return r.store.FileContent(ctx, sha, w) },
		Workbook: func(w io.Writer) error { return write(w, c) },
		Tables:   packTables(c)}, nil
}

// packTables returns the tables of a month that hold what its reports show, so that they can be read without a
// spreadsheet program.
func packTables(c *report.Close) []pack.Table {
	tables := []pack.Table{
		{Name: "inventory", Write: func(t *pack.CSV) error { return packInventory(t, c) }},
		{Name: "surveys", Write: func(t *pack.CSV) error { return packSurveys(t, c) }},
		{Name: "problems", Write: func(t *pack.CSV) error { return packProblems(t, c) }},
	}
	if c.Screening != nil {
		tables = append(tables, pack.Table{Name: "exceptions", Write: func(t *pack.CSV) error { return packExceptions(t, c) }})
	}
	if c.Value != nil {
		tables = append(tables, pack.Table{Name: "value", Write: func(t *pack.CSV) error { return packValue(t, c.Value) }})
	}
	return tables
}

func packHead(t *pack.CSV, names ...string) error {
	cells := make([]pack.Cell, len(names))
	for i, n := range names {
		cells[i] = pack.Text(n)
	}
	return t.Row(cells...)
}

func packInventory(t *pack.CSV, c *report.Close) error {
	if err := packHead(t, "pile", "product", "solids_g", "water_g", "as_is_g", "moisture_adjusted_g"); err != nil {
		return err
	}
	for _, l := range c.Reconciliation.Piles {
		if err := t.Row(pack.Text(l.Pile), pack.Text(l.Product), pack.Grams(l.ClosingSolids.Mass()), pack.Grams(l.ClosingWater.Mass()),
			pack.Grams(l.ClosingAsIs.Mass()), pack.Grams(l.ClosingAdjusted.Mass())); err != nil {
			return err
		}
	}
	return nil
}

func packSurveys(t *pack.CSV, c *report.Close) error {
	if err := packHead(t, "survey", "pile", "ended", "net_volume_m3", "density_test", "dry_bulk_density_t_per_m3", "survey_solids_g", "book_solids_g", "shrinkage_g", "decision"); err != nil {
		return err
	}
	for _, x := range c.Month.Comparisons {
		test, dry := "", ""
		if x.HasDensity {
			test, dry = x.Density.Key(), x.Density.Dry().String()
		}
		if err := t.Row(pack.Text(x.Survey.Survey), pack.Text(x.Pile.Code), pack.Text(x.Survey.End.UTC().Format("2006-01-02T15:04:05Z")), pack.Number(x.Survey.NetM3().String()),
			pack.Text(test), pack.Number(dry), pack.Grams(x.Found.Solids), pack.Grams(x.Book.Solids), pack.Grams(x.Difference()), pack.Text(x.Outcome.String())); err != nil {
			return err
		}
	}
	return nil
}

func packProblems(t *pack.CSV, c *report.Close) error {
	if err := packHead(t, "id", "text", "waived_by", "reason", "approved_by"); err != nil {
		return err
	}
	for _, x := range c.Reconciliation.Problems {
		if err := t.Row(pack.Text(x.ID), pack.Text(x.Text), pack.Text(x.WaivedBy), pack.Text(x.Reason), pack.Text(x.ApprovedBy)); err != nil {
			return err
		}
	}
	return nil
}

func packExceptions(t *pack.CSV, c *report.Close) error {
	if err := packHead(t, "id", "rule", "status", "time", "pile", "mass_g", "seen", "records", "settled_by", "how", "reason"); err != nil {
		return err
	}
	for _, x := range c.Screening.Exceptions.Exceptions {
		records := ""
		for i, id := range x.Records {
			if i > 0 {
				records += " "
			}
			records += id
		}
		if err := t.Row(pack.Text(x.ID), pack.Text(x.Rule), pack.Text(x.Status), pack.Text(x.Time.UTC().Format("2006-01-02T15:04:05Z")), pack.Text(x.Pile),
			pack.Grams(x.Mass.Mass()), pack.Text(x.Seen), pack.Text(records), pack.Text(x.By), pack.Text(x.How), pack.Text(x.Reason)); err != nil {
			return err
		}
	}
	return nil
}

func packValue(t *pack.CSV, v *report.Value) error {
	if err := packHead(t, "product", "what", "solids_g", "cost", "currency"); err != nil {
		return err
	}
	row := func(product, what string, solids report.Tonnes, cost report.Amount) error {
		return t.Row(pack.Text(product), pack.Text(what), pack.Grams(solids.Mass()), pack.Number(cost.String()), pack.Text(v.Currency))
	}
	for _, l := range v.Products {
		if err := row(l.Product, "opening", l.OpeningSolids, l.Opening); err != nil {
			return err
		}
		for _, m := range l.Moves {
			if err := row(l.Product, m.What, m.Solids, m.Cost); err != nil {
				return err
			}
		}
		if err := row(l.Product, "closing", l.Solids, l.Closing); err != nil {
			return err
		}
	}
	return nil
}
