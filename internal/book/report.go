package book

import (
	"cmp"
	"context"
	"errors"
	"iter"
	"time"

	"repose/internal/measure"
	"repose/internal/report"
	"repose/internal/sqlite"
	"repose/ledger"
)

// CloseReport returns everything that the workbook of a month shows.
func (r *Reader) CloseReport(ctx context.Context, yard string, p ledger.Period) (*report.Close, error) {
	m, x, err := r.readThrough(ctx, yard, p, maxScreened)
	if err != nil {
		return nil, err
	}
	rec, err := r.Reconciliation(ctx, m)
	if err != nil {
		return nil, err
	}
	c := &report.Close{Month: m.Month, Register: m.Register, Closed: m.Closed, At: m.At, Reconciliation: rec,
		RollForward: report.RollForward(m.Register, m.Month), Entries: r.entries(ctx, yard, p)}
	size := r.size
	if m.Closed {
		size = m.Close.Seq + 1
		c.Seal, c.ClosedBy, c.ClosedAt = m.Close.Fact.(ledger.Close).SealSHA256, m.Close.By, m.Close.Recorded
		c.Number = m.Close.Revision + 1
		if c.Restates, err = r.restates(ctx, m.Close); err != nil {
			return nil, err
		}
	}
	root, err := r.store.RootAt(ctx, size)
	if err != nil {
		return nil, err
	}
	c.Head = report.Head{Size: size, Root: root}
	if c.Files, err = r.files(ctx, size); err != nil {
		return nil, err
	}
	if c.Causes, err = r.causes(ctx, m, yard, p); err != nil {
		return nil, err
	}
	if err := r.lookThrough(ctx, c, m, x); err != nil {
		return nil, err
	}
	c.Value, err = r.valueOf(ctx, m)
	var unvalued *UnvaluedError
	if errors.As(err, &unvalued) {
		err = nil
	}
	return c, err
}

// Reconciliation reports a month with everything that stands in the way of its close. The month may be of another reader.
func (r *Reader) Reconciliation(ctx context.Context, m *Month) (*report.Reconciliation, error) {
	rec, err := r.reconciliation(ctx, m)
	if err = cmp.Or(m.recent.failure(), r.Err(), err); err != nil {
		return nil, err
	}
	return rec, nil
}

func (r *Reader) reconciliation(ctx context.Context, m *Month) (*report.Reconciliation, error) {
	uncertain, err := measurementErrors(m)
	if err != nil {
		return nil, err
	}
	rec, err := report.NewReconciliation(m.Register, m.Month, m.Closed, uncertain)
	if err != nil {
		return nil, err
	}
	if !m.At.IsZero() { // a part of a month has no close to stand in the way of
		rec.AsAt(m.At)
		return rec, nil
	}
	gates, err := r.Gates(ctx, m)
	if err != nil {
		return nil, err
	}
	rec.Problems = []report.Problem{}
	for _, g := range gates {
		rec.Problems = append(rec.Problems, g.report())
	}
	for _, p := range m.Problems {
		if !p.Kind.Blocks() {
			rec.Problems = append(rec.Problems, report.NewProblem(p))
		}
	}
	return rec, nil
}

// measurementErrors returns the error of each balance that ends in a month, from the uncertainties that
// were on record when the month was sealed, or are now.
func measurementErrors(m *Month) (map[string]report.MeasurementError, error) {
	var balances []ledger.Balance
	for _, c := range m.Comparisons {
		if b, ok := c.Balance(); ok {
			balances = append(balances, b)
		}
	}
	observed, err := measure.Build(m.Register, m.Yard.Code, balances,
		[]measure.MonthPairs{{Period: m.Period, Pairs: m.Pairs}})
	if err != nil {
		return nil, err
	}
	figures, err := observed.Judge(1)
	if err != nil {
		return nil, err
	}
	uncertain := map[string]report.MeasurementError{}
	for survey, f := range figures {
		uncertain[survey] = report.MeasurementError{Sigma: f.Sigma, Z: f.Z, MDL: f.MDL, Inside: f.Inside(),
			DensityU: f.DensityU, DensityStock: f.DensityStock, DensityResidual: f.DensityResidual}
	}
	return uncertain, nil
}

// entries yields the entries of a month in order, as often as it is asked to.
func (r *Reader) entries(ctx context.Context, yard string, p ledger.Period) iter.Seq2[*ledger.Entry, error] {
	return func(yield func(*ledger.Entry, error) bool) {
		_, err := r.month(ctx, yard, p, r.derive, func(e *ledger.Entry) error {
			if !yield(e, nil) {
				return errStop
			}
			return nil
		})
		if err != nil && !errors.Is(err, errStop) {
			yield(nil, err)
		}
	}
}

// files returns the files that the log's first size records came from.
func (r *Reader) files(ctx context.Context, size int64) ([]report.SourceFile, error) {
	infos, err := r.store.At(size).Files(ctx)
	if err != nil {
		return nil, err
	}
	files := make([]report.SourceFile, len(infos))
	for i, f := range infos {
		files[i] = report.SourceFile{Name: f.Name, SHA256: f.SHA256, Bytes: f.Bytes, TakenIn: f.RecordedAt,
			By: f.RecordedBy, Map: f.Map, Records: kindTotals(f)}
	}
	return files, nil
}

func kindTotals(f sqlite.FileInfo) []report.KindTotal {
	var totals []report.KindTotal
	for _, t := range f.Tallies {
		totals = append(totals, report.KindTotal{Kind: t.Kind, Records: int(t.Records), Net: t.Net, First: t.First, Last: t.Last})
	}
	return totals
}

// EntryOf returns what a record did to the book, sealed or derived; nil if it did nothing.
func (r *Reader) EntryOf(ctx context.Context, rec *ledger.Record) (*ledger.Entry, error) {
	if rec.At.IsZero() || rec.Yard == "" {
		return nil, nil
	}
	h, err := r.history(ctx, rec.Yard)
	if err != nil {
		return nil, err
	}
	e, err := r.view.SealedEntry(ctx, rec.ID(), h.seals)
	if err != nil || e != nil {
		return e, err
	}
	p := ledger.PeriodOf(rec.At, h.zone)
	if p.Before(h.open) {
		p = h.open
	}
	for e, err := range r.entries(ctx, rec.Yard, p) {
		switch {
		case errors.Is(err, ErrPeriod): // asked as of an instant before it
			return nil, nil
		case err != nil:
			return nil, err
		}
		if e.Record.Seq == rec.Seq {
			return e, nil
		}
	}
	return nil, nil
}

// Sum returns the sum over all accounts of all yards at an instant, which is zero in a book that holds.
func (r *Reader) Sum(ctx context.Context, at time.Time) (ledger.Amount, error) {
	var sum ledger.Amount
	for _, y := range r.reg.Yards() {
		b, err := r.balancesAt(ctx, y.Code, at)
		if err != nil {
			return sum, err
		}
		s := b.Sum()
		sum.Solids += s.Solids
		sum.Water += s.Water
	}
	return sum, nil
}
