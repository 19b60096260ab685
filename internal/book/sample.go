package book

import (
	"cmp"
	"context"
	"fmt"
	"path"

	"github.com/shopspring/decimal"

	"repose/internal/audit"
	"repose/internal/report"
	"repose/internal/sqlite"
	"repose/ledger"
)

// Drawing is how a sample is drawn.
type Drawing struct {
	Method audit.Method
	Seed   string
	Size   int
}

// DrawingMethods returns the methods by the words that name them.
func DrawingMethods() map[string]audit.Method {
	return map[string]audit.Method{"random": audit.MethodRandom, "stratum": audit.MethodStratified, "mass": audit.MethodMassUnit}
}

func (d Drawing) draw(items []audit.Item) (*audit.Sample, error) {
	switch d.Method {
	case audit.MethodStratified:
		return audit.Stratified(d.Seed, d.Size, items)
	case audit.MethodMassUnit:
		return audit.MassUnit(d.Seed, d.Size, items)
	default:
		return audit.Random(d.Seed, d.Size, items)
	}
}

// SampleEntries draws entries of a month that moved stone, each with the row that it came from: from the book to the
// evidence. The strata are the kinds of record.
func (r *Reader) SampleEntries(ctx context.Context, yard string, p ledger.Period, d Drawing) (*report.Sample, error) {
	drawn, records, err := r.drawEntries(ctx, yard, p, d)
	if err != nil {
		return nil, err
	}
	return r.sampleReport(ctx, yard, p, drawn, records)
}

// Project draws the same sample and says what the masses that an auditor found for its items, by record, mean for all.
// Confidence is in per cent.
func (r *Reader) Project(ctx context.Context, yard string, p ledger.Period, d Drawing, found map[string]ledger.Mass, confidence decimal.Decimal) (*report.Projection, error) {
	drawn, records, err := r.drawEntries(ctx, yard, p, d)
	if err != nil {
		return nil, err
	}
	projection, err := drawn.Project(found)
	if err != nil {
		return nil, err
	}
	sample, err := r.sampleReport(ctx, yard, p, drawn, records)
	if err != nil {
		return nil, err
	}
	var upper *ledger.Mass
	if d.Method == audit.MethodMassUnit {
		most, err := projection.Upper(confidence.Shift(-2).InexactFloat64())
		if err != nil {
			return nil, err
		}
		upper = &most
	}
	return report.NewProjection(sample, projection, upper, confidence), nil
}

// SizeFor returns how many items of a sample by mass show, with a confidence in per cent, that the book is wrong by no more
// than a tolerable mass, where errors of an expected mass may come up.
func (r *Reader) SizeFor(ctx context.Context, yard string, p ledger.Period, tolerable, expected ledger.Mass, confidence decimal.Decimal) (int, error) {
	items, _, err := r.items(ctx, yard, p)
	if err != nil {
		return 0, err
	}
	var all ledger.Mass
	for _, i := range items {
		all += i.Mass
	}
	return audit.SampleSize(audit.Plan{Population: all, Tolerable: tolerable, Expected: expected, Confidence: confidence.Shift(-2).InexactFloat64()})
}

// items returns the entries of a month that moved stone, with their records.
func (r *Reader) items(ctx context.Context, yard string, p ledger.Period) ([]audit.Item, map[string]*ledger.Record, error) {
	var items []audit.Item
	records := map[string]*ledger.Record{}
	_, err := r.Month(ctx, yard, p, func(e *ledger.Entry) error {
		var moved ledger.Mass
		for _, l := range e.Legs {
			if l.From.Kind != ledger.KindWeather && l.To.Kind != ledger.KindWeather {
				moved = max(moved, l.Solids)
			}
		}
		if moved > 0 {
			items = append(items, audit.Item{ID: e.Record.ID(), Mass: moved, Stratum: e.Record.Fact.Kind().String()})
			records[e.Record.ID()] = e.Record
		}
		return nil
	})
	return items, records, err
}

func (r *Reader) drawEntries(ctx context.Context, yard string, p ledger.Period, d Drawing) (*audit.Sample, map[string]*ledger.Record, error) {
	items, records, err := r.items(ctx, yard, p)
	if err != nil {
		return nil, nil, err
	}
	s, err := d.draw(items)
	return s, records, err
}

func (r *Reader) sampleReport(ctx context.Context, yard string, p ledger.Period, s *audit.Sample, records map[string]*ledger.Record) (*report.Sample, error) {
	names, err := r.fileNames(ctx)
	if err != nil {
		return nil, err
	}
	return report.NewSample(yard, p, "entries", s, func(id string) (to, text string, err error) {
		rec := records[id]
		return cmp.Or(sourceOf(rec, names), "no file: written by "+rec.By), string(rec.AppendBody(nil)), nil
	})
}

// Row is a row of an original file, counted and read without the program that made records of it.
type Row struct {
	Name string // of the file, with the sheet where it has some
	SHA  string
	Row  int // from 1
	Text string
}

// ID names the row.
func (w Row) ID() string { return fmt.Sprintf("%s:%d", w.Name, w.Row) }

// SampleRows draws rows of original files, each with the records that it became: from the evidence to the book. The strata
// are the files. A row has no mass here: what it weighs is for whoever reads it to say.
func (r *Reader) SampleRows(ctx context.Context, yard string, p ledger.Period, rows []Row, d Drawing) (*report.Sample, error) {
	if d.Method == audit.MethodMassUnit {
		return nil, fmt.Errorf("rows of files have no mass yet: draw them at random or by stratum")
	}
	items := make([]audit.Item, len(rows))
	byID := map[string]Row{}
	for i, row := range rows {
		items[i] = audit.Item{ID: row.ID(), Stratum: row.Name}
		if _, twice := byID[row.ID()]; twice { // two files of one name
			items[i].ID = row.SHA[:12] + " " + row.ID()
		}
		byID[items[i].ID] = row
	}
	s, err := d.draw(items)
	if err != nil {
		return nil, err
	}
	return report.NewSample(yard, p, "files", s, func(id string) (to, text string, err error) {
		row := byID[id]
		records, err := r.store.BySource(ctx, row.SHA, row.Row)
		if err != nil {
			return "", "", err
		}
		for _, rec := range records {
			if to != "" {
				to += ", "
			}
			to += rec.ID()
		}
		if to == "" {
			to = "no record of its own: a title or a header, or a row that the book held already"
		}
		return to, row.Text, nil
	})
}

// FilesOf returns the files that a month rests on: those that any record of it came from, and those that were taken in
// between the close of the month before and its own, also where they brought nothing new. A file of several months is
// among those of each.
func (r *Reader) FilesOf(ctx context.Context, yard string, p ledger.Period) ([]sqlite.FileInfo, error) {
	h, err := r.history(ctx, yard)
	if err != nil {
		return nil, err
	}
	from, until := int64(0), r.size
	i := h.sealed(p)
	switch {
	case i >= 0:
		until = h.seals[i].Close.LogSize
	case len(h.seals) > 0:
		i = len(h.seals)
	}
	if i > 0 {
		from = h.seals[i-1].Close.LogSize
	}
	of := map[string]bool{}
	for rec, err := range r.view.Movements(ctx, yard, p.Start(h.zone), p.End(h.zone)) {
		if err != nil {
			return nil, err
		}
		of[rec.Source.File] = true
	}
	all, err := r.view.Files(ctx)
	if err != nil {
		return nil, err
	}
	var files []sqlite.FileInfo
	for _, f := range all {
		if of[f.SHA256] || f.Seq >= from && f.Seq < until && path.Ext(f.Name) != ".toml" {
			files = append(files, f)
		}
	}
	return files, nil
}
